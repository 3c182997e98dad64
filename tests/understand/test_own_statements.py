"""What says something of its own is never an answer to what happens to be asked."""

from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from bot.cellar.log.acts import Act, Gravity, Question, Undo
from bot.understand import understand
from bot.understand.judge.answers import declines, pick
from tests.understand.labelled import Labelled, house, labelled
from tests.understand.rendered import render
from tests.understand.test_properties import ACTS, PLAIN

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
HARBOUR = house("harbour")


def _telling() -> list[Labelled]:
    return [
        message
        for message in labelled()
        if message.message.get("house", "harbour") == "harbour"
        and message.message["verdict"] == "act"
        and not any(message.message.get(key) for key in ("replying_to", "addressed", "sent_at"))
    ]


TELLING = _telling()
OPTIONS = st.lists(st.lists(ACTS, min_size=1, max_size=3).map(tuple), min_size=1, max_size=3).map(tuple)


def _told(acts: tuple[Act, ...]) -> list[dict[str, object]]:
    """The acts without the batch and the time, which an option may complete."""
    plain = [{name: getattr(act, name) for name in act.__struct_fields__} for act in acts]
    return [{key: value for key, value in fields.items() if key not in ("of", "at")} for fields in plain]


@given(message=st.sampled_from(TELLING), options=OPTIONS, others=st.booleans())
@settings(max_examples=1500, deadline=None)
def test_what_is_written_is_what_was_said(
    message: Labelled, options: tuple[tuple[Act, ...], ...], others: bool
) -> None:
    text = message.message["text"]
    verdict = understand(text, HARBOUR, NOW)
    chosen = pick(text, options, HARBOUR, verdict, others=others)
    assert not declines(text, HARBOUR)
    if chosen is not None:
        assert _told(options[chosen]) == _told(verdict.acts)


def _value(option: tuple[Act, ...]) -> list[Act]:
    """What it tells, without a sample's temperature: a bare value need not repeat that."""
    return [replace(act, temp_c=None) if isinstance(act, Gravity) else act for act in option]


@given(act=ACTS, options=OPTIONS, doubted=st.booleans())
@settings(max_examples=600, deadline=None)
def test_a_statement_takes_only_the_option_that_says_the_same(
    act: Act, options: tuple[tuple[Act, ...], ...], doubted: bool
) -> None:
    text = render(act)
    if doubted:
        options = ((act,), *(option for option in options if _value(option) != _value((act,))))
    chosen = pick(text, options, PLAIN, understand(text, PLAIN, NOW))
    assert chosen is None or _value(options[chosen]) == _value((act,))
    assert not doubted or chosen == 0


@given(act=ACTS, options=OPTIONS)
@settings(max_examples=300, deadline=None)
def test_nobody_else_answers_but_with_yes(act: Act, options: tuple[tuple[Act, ...], ...]) -> None:
    text = render(act)
    assert pick(text, options, PLAIN, understand(text, PLAIN, NOW), others=True) is None
    assert pick("plum", options, PLAIN, None, others=True) is None


@given(message=st.sampled_from(TELLING), option=ACTS)
@settings(max_examples=300, deadline=None)
def test_a_question_answers_nothing(message: Labelled, option: Act) -> None:
    verdict = understand(message.message["text"], HARBOUR, NOW)
    if any(isinstance(act, Question | Undo) for act in verdict.acts):
        assert pick(message.message["text"], ((option,),), HARBOUR, verdict) is None


def test_no_and_neither_decline() -> None:
    assert all(declines(text, HARBOUR) for text in ("no", "No thanks", "neither", "cancel"))
    assert not any(
        declines(text, HARBOUR) for text in ("yes", "no, 1.012", "no 4 tablets", "not the plum", "")
    )
