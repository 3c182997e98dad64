"""What the bot asks back: no two buttons say the same, and no word of the inside is shown."""

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from bot.cellar.log.acts import Act, Gravity, Step, Temperature
from bot.cellar.log.lengths import LABEL
from bot.edges import script
from bot.say import doubts
from bot.say.manner import Manner
from bot.understand import understand
from bot.understand.verdict import Verdict
from tests import talks
from tests.understand.labelled import SENT_AT, house, labelled

INNER = re.compile(r"\basked\?|struck out\?|asks something|which_batch|half_understood")
TALKS = sorted((Path(__file__).parent.parent / "fixtures" / "talks").glob("seen-*.txt"))[::64]
MANNER = Manner(zone=house("harbour").zone, now=datetime.fromisoformat(SENT_AT))


def _asked(*, for_wine: bool) -> Iterator[tuple[str, Verdict]]:
    for message in labelled():
        line = message.message
        sent_at = datetime.fromisoformat(line.get("sent_at", SENT_AT))
        verdict = understand(
            line["text"], house(line.get("house", "harbour")), sent_at, by=line.get("from"), for_wine=for_wine
        )
        if verdict.verdict == "ask" and verdict.options:
            yield line["text"], verdict


@pytest.mark.parametrize("chat", ["wine", "family"])
def test_no_two_buttons_of_a_question_say_the_same(chat: str) -> None:
    asked = 0
    for text, verdict in _asked(for_wine=chat == "wine"):
        labels = doubts.labels(verdict.options, MANNER)
        assert len(set(labels)) == len(labels), text
        assert not any(INNER.search(f"{label}?") or len(label) > LABEL for label in labels), text
        asked += 1
    assert asked > 200


@pytest.mark.parametrize(
    "options",
    [
        (
            (Gravity(of="plum", sg=1.012), Gravity(of="sloe", sg=1.06)),
            (Gravity(of="sloe", sg=1.012), Gravity(of="plum", sg=1.06)),
        ),
        ((Gravity(of="plum", sg=1.012),), (Gravity(of="plum", sg=1.012, temp_c=20.0),)),
        ((Step(of="plum", step="rack"),), (Step(of="plum", step="stir"),)),
        ((Temperature(of="n" * 60, temp_c=20.0),), (Temperature(of="n" * 60, temp_c=21.0),)),
    ],
)
def test_options_that_share_much_are_told_apart(options: tuple[tuple[Act, ...], ...]) -> None:
    labels = doubts.labels(options, MANNER)
    assert len(set(labels)) == len(labels) == 2
    assert all(0 < len(label) <= LABEL for label in labels)


@pytest.mark.parametrize("path", TALKS, ids=lambda path: path.stem)
def test_no_letter_of_a_talk_has_two_buttons_of_one_label(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    letters: list[script.Heard] = []
    seen = talks._seen

    def shown(message: script.Heard) -> str:
        letters.append(message)
        return seen(message)

    monkeypatch.setattr(talks, "_seen", shown)
    talks.play(path, tmp_path)
    assert any(letter.buttons for letter in letters)
    for letter in letters:
        assert len(set(letter.buttons)) == len(letter.buttons), letter
        assert not INNER.search(letter.text), letter
