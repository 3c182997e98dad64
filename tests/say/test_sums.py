"""Sums in the chat: whatever is given or left out, no key of the command is shown."""

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bot.say.sums import in_short, missing, working
from bot.science.codes import Measure
from bot.science.limits import BadInput, Lacking
from bot.science.sums.form import Key
from bot.science.sums.reckon import CATALOGUE, reckon
from bot.understand.claims.sums import filled
from bot.understand.scene import Scene

KEYS = {key.name for row in CATALOGUE.values() for key in row.keys}
SHOWN = re.compile(r"\b(?:" + "|".join(sorted(k for k in KEYS if "_" in k)) + r")\b|\w=\S")


def _values(key: Key) -> st.SearchStrategy[float | str]:
    if key.range is None:
        return st.sampled_from((*key.words, "neither"))
    span = key.range.hi - key.range.lo
    near = st.floats(key.range.lo - 0.2 * span, key.range.hi + 0.2 * span, allow_nan=False)
    return near | st.floats(key.range.lo, key.range.hi, allow_nan=False).map(lambda value: round(value, 3))


@st.composite
def asked(draw: st.DrawFn) -> tuple[str, dict[str, float | str]]:
    """A sum of the catalogue with any of its keys, some out of range."""
    row = CATALOGUE[draw(st.sampled_from(sorted(CATALOGUE)))]
    told = draw(st.lists(st.sampled_from(row.keys), unique_by=lambda key: key.name))
    return row.name, {key.name: draw(_values(key)) for key in told}


@given(asked())
@example(("sugar", {"litres": 23, "abv_rise": 1, "sg_from": 1.07, "sg_to": 1.08}))
def test_no_key_of_the_command_is_shown(told: tuple[str, dict[str, float | str]]) -> None:
    name, given_ = told
    try:
        done = reckon(name, given_)
    except BadInput as error:
        words = missing(error, name, ("10 mg/l",))
    else:
        words = f"{in_short(done, 'plum', ('3 friends',))}\n{working(done)}"
        assert "3 friends" in words
    # A formula writes a letter for what it means, such as ρ = m / V: that is no key.
    lines = [line for line in words.splitlines() if not line.startswith("Formula:")]
    assert not SHOWN.search("\n".join(lines)), words


@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_every_key_that_a_sum_lacks_can_be_answered_in_words(name: str) -> None:
    scene, told = Scene(), dict[str, float | str]()
    while (lacks := _lacking(name, told)) is not None:
        row = {key.name: key for key in CATALOGUE[name].keys}
        key = row[lacks[0]]
        assert key.range is not None
        middle = key.range.lo + 0.3 * (key.range.hi - key.range.lo)
        found = filled(name, [key.name], f"{middle:.{3 if key.range.unit is Measure.SG else 1}f}", scene)
        assert set(found) == {key.name}, (name, key.name)
        told |= found


def _lacking(name: str, told: dict[str, float | str]) -> tuple[str, ...] | None:
    """The keys that the sum asks for next; None when it is done, or the figures do not go together."""
    try:
        reckon(name, told)
    except Lacking as error:
        return error.keys
    except BadInput:
        return None
    return None
