"""Whatever is written: no crash, nothing outside the contract; and an act put into words is read back."""

import random
from datetime import UTC, datetime
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Bottles,
    Gravity,
    Ph,
    Question,
    Remind,
    Step,
    Temperature,
    Volume,
)
from bot.cellar.log.lengths import overlong
from bot.cellar.log.plain import from_plain, to_plain, to_row
from bot.cellar.log.subjects import About
from bot.understand import meaning, understand
from bot.understand.judge.answers import pick
from bot.understand.scene import ReplyTo, Scene, SceneBatch, SceneVessel
from bot.understand.text.lexicon import lexicon
from bot.understand.verdict import Doubt
from tests.understand.labelled import house, labelled
from tests.understand.rendered import render

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
HOUSES = [house(name) for name in ("harbour", "solo", "empty", "b_names", "b_us")]
PLAIN = Scene(
    timezone="Europe/London",
    vessels=(SceneVessel(name="bucket 1"), SceneVessel(name="bucket 2"), SceneVessel(name="bucket 3")),
    batches=(
        SceneBatch(name="plum", colour="red", vessel="bucket 2", litres=23.0),
        SceneBatch(name="harbour white", colour="white", vessel="bucket 1", litres=23.0),
        SceneBatch(name="old rosé", colour="rosé", bottled=NOW.date(), bottles_left=300),
    ),
)
WORDS = sorted(
    {word for message in labelled() for word in message.message["text"].split()}
    | set(lexicon("en").singles())
)
PIECES = st.sampled_from(
    [*WORDS, "\n", "?", "1.012", "1012", "b2", "plum", "-", "half", "21c", "at", "/", "🍷", "@bot"]
)
SALAD = st.lists(PIECES, max_size=14).map(" ".join)
ANYTHING = st.one_of(st.text(max_size=200), SALAD, st.text(alphabet="1.,:/-+ @b2c°\n", max_size=60))


ABOUT = [name for names in get_args(About) for name in get_args(names) or [names]]


def check(acts: tuple[Act, ...]) -> None:
    """Every act is in the contract's vocabulary, with values in range."""
    for act in acts:
        assert from_plain(to_plain(act)) == from_plain(to_row(act)) == act
        if isinstance(act, Gravity):
            assert 0.98 <= act.sg <= 1.2
        if isinstance(act, Ph):
            assert 2 <= act.ph <= 5
        if isinstance(act, Acidity):
            assert 0 < act.g_per_l <= 25
        if isinstance(act, Volume):
            assert 0 < act.litres <= 1000
        if isinstance(act, Addition) and act.amount is not None:
            assert act.amount >= 0
            assert act.what
        if act.at is not None:
            assert act.at.tzinfo is not None
        if isinstance(act, Question):
            assert act.about in ABOUT
        if isinstance(act, Remind) and act.about is not None:
            assert act.about
        assert overlong(act) is None


@given(text=ANYTHING, which=st.integers(0, len(HOUSES) - 1), addressed=st.booleans(), reply=st.booleans())
@settings(max_examples=600, deadline=None)
def test_any_text_is_judged(text: str, which: int, addressed: bool, reply: bool) -> None:
    replying = ReplyTo(of="plum", step="degas") if reply else None
    verdict = understand(text, HOUSES[which], NOW, addressed=addressed, replying_to=replying)
    if verdict.doubt is Doubt.OUT_OF_RANGE:
        # The value as said is shown for what it is, and no button offers to write it down.
        assert (verdict.verdict, verdict.options) == ("ask", ())
    else:
        check(verdict.acts)
    for option in verdict.options:
        check(option)
    assert verdict.why
    assert (verdict.verdict == "act") <= bool(verdict.acts or verdict.answers)
    assert (verdict.verdict == "ignore") <= (not verdict.acts)
    assert (verdict.verdict == "ask") == (verdict.doubt is not None)
    if verdict.verdict == "act":
        assert all(-5 <= act.temp_c <= 110 for act in verdict.acts if isinstance(act, Temperature))
        assert all(act.at is None or act.at <= NOW.replace(hour=20) for act in verdict.acts)


@given(text=ANYTHING)
@settings(max_examples=200, deadline=None)
def test_any_answer_is_picked_or_not(text: str) -> None:
    options = ((Gravity(of="plum", sg=1.012),), (Gravity(of="harbour white", sg=1.012),))
    assert pick(text, options, HOUSES[0]) in (None, 0, 1)


ofs = st.sampled_from(["plum", "harbour white"])
tenths = st.integers(50, 300).map(lambda value: value / 10)
things = st.sampled_from(["sulphite", "sorbate", "nutrient", "tannin", "bentonite", "oak"])
steps = st.sampled_from(["mix", "stir", "degas", "stabilise", "fine", "filter", "label", "top_up"])
ACTS = st.one_of(
    st.builds(
        Gravity,
        of=ofs,
        sg=st.integers(9800, 11300).map(lambda value: value / 10000),
        temp_c=st.one_of(st.none(), tenths),
    ),
    st.builds(Temperature, of=ofs, temp_c=tenths),
    st.builds(Ph, of=ofs, ph=st.integers(250, 480).map(lambda value: value / 100)),
    st.builds(Acidity, of=ofs, g_per_l=st.integers(30, 120).map(lambda value: value / 10)),
    st.builds(Volume, of=ofs, litres=st.integers(1000, 3000).map(lambda value: value / 100)),
    st.builds(Addition, of=ofs, what=things, amount=st.none(), unit=st.none()),
    st.builds(
        Addition,
        of=ofs,
        what=things,
        amount=st.integers(1, 2).map(float),
        unit=st.sampled_from(["g", "tsp", "sachet"]),
    ),
    st.builds(Step, of=ofs, step=steps),
    st.builds(Step, of=ofs, step=st.just("rack"), to=st.just("bucket 3")),
    st.builds(Step, of=ofs, step=st.just("bottle"), bottles=st.integers(2, 36)),
    st.builds(
        Bottles,
        of=st.just("old rosé"),
        change=st.integers(-12, -1),  # more at once may be asked about
        reason=st.sampled_from(["drank", "gave", "broke"]),
    ),
    st.builds(Bottles, of=st.just("old rosé"), change=st.integers(1, 12), reason=st.just("found")),
)


@given(act=ACTS, comma=st.booleans(), capitals=st.booleans())
@settings(max_examples=400, deadline=None)
def test_an_act_in_words_is_read_back(act: Act, comma: bool, capitals: bool) -> None:
    verdict = understand(render(act, comma=comma, capitals=capitals), PLAIN, NOW)
    assert (verdict.verdict, verdict.acts) == ("act", (act,))


@given(first=ACTS, second=ACTS)
@settings(max_examples=150, deadline=None)
def test_two_lines_are_read_as_two_facts(first: Act, second: Act) -> None:
    verdict = meaning(f"{render(first)}\n{render(second)}", PLAIN, NOW)
    if type(first) is not type(second):
        assert verdict.acts == (first, second)


@pytest.mark.parametrize("seed", range(5))
def test_chatter_with_its_words_shuffled_writes_nothing_down(seed: int) -> None:
    """Words of chatter in any order stay chatter, nearly always: an act now and then is the price of hearing."""
    shuffler = random.Random(seed)
    chatter = [
        message
        for message in labelled()
        if message.message["verdict"] == "ignore" and not message.message.get("or")
    ]
    heard = 0
    for message in chatter:
        words = message.message["text"].split()
        shuffler.shuffle(words)
        heard += understand(" ".join(words), message.scene(), NOW).verdict == "act"
    assert heard <= 0.025 * len(chatter)
