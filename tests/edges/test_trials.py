"""The trials of the real process: a full disk, slow calls, a chat that refuses, a household that floods."""

from pathlib import Path

import pytest

from tests.botapi.double import BotApi
from tests.edges import trials
from tests.edges.serving import House


@pytest.mark.parametrize("trial", trials.TRIALS, ids=lambda trial: trial.__name__)
def test_trial(trial: object, api: BotApi, tmp_path: Path) -> None:
    assert callable(trial)
    assert trial(House(api, tmp_path))
