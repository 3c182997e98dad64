"""Every labelled message, compared whole and both ways; known misses must fail until their line is deleted."""

from collections import Counter
from pathlib import Path

import pytest

from tests.understand.labelled import Labelled, labelled

KNOWN = Path(__file__).with_name("known_misses.txt")
MESSAGES = list(labelled())


def _known_misses() -> set[str]:
    lines = KNOWN.read_text(encoding="utf-8").splitlines()
    return {line for line in lines if line and not line.startswith("#")}


@pytest.mark.parametrize("message", MESSAGES, ids=lambda item: f"{item.file}:{item.line}")
def test_read_as_labelled(message: Labelled) -> None:
    said = message.read()
    fault = message.fault(said)
    if message.key.replace("\n", "\\n") in _known_misses():
        assert fault is not None, f"it is right now: delete its line from {KNOWN.name}"
        pytest.xfail(fault)
    assert fault is None, f"{fault}: {message.message['text']!r}\n want {message.answers}\n have {said}"


def test_no_message_is_labelled_twice() -> None:
    keys = Counter(
        (
            message.key,
            str(message.message.get("sent_at")),
            str(message.message.get("replying_to")),
            str(message.message.get("from")),
            str(message.message.get("addressed")),
        )
        for message in MESSAGES
    )
    assert [key for key, count in keys.items() if count > 1] == []


def test_known_misses_are_labelled_messages() -> None:
    assert _known_misses() <= {message.key.replace("\n", "\\n") for message in MESSAGES}
