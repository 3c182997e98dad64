"""Long messages in pieces that the chat service takes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.say.manner import plain, said
from bot.say.pages import LONGEST, pages
from tests.botapi.markup import plain_text, utf16_length


def test_a_short_one_stays_whole() -> None:
    assert pages("<b>plum</b>\n1.050") == ["<b>plum</b>\n1.050"]


def test_it_is_cut_at_the_end_of_a_line() -> None:
    lines = [f"line {number}: <b>1.{number:03}</b> &amp; more" for number in range(400)]
    found = pages("\n".join(lines))
    assert len(found) > 1
    assert "\n".join(found) == "\n".join(lines)
    assert all(utf16_length(plain_text(page)) <= LONGEST for page in found)


@pytest.mark.parametrize(
    ("html", "longest", "expected"),
    [
        ("one two three", 8, ["one two ", "three"]),
        ("abcdefgh", 3, ["abc", "def", "gh"]),
        ("<b>abcd</b>", 2, ["<b>ab</b>", "<b>cd</b>"]),
        ("a&amp;b&lt;", 2, ["a&amp;", "b&lt;"]),
        ("🍷🍷", 3, ["🍷", "🍷"]),
        ("<i><b>ab\ncd</b></i>", 3, ["<i><b>ab</b></i>", "<i><b>cd</b></i>"]),
    ],
)
def test_where_there_is_no_end_of_a_line(html: str, longest: int, expected: list[str]) -> None:
    assert pages(html, longest) == expected


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=300), st.integers(2, 40))
def test_every_page_is_sound_and_nothing_is_lost(text: str, longest: int) -> None:
    found = pages(f"<b>{said(text)}</b>", longest)
    assert all(utf16_length(plain_text(page)) <= longest for page in found)
    if len(found) > 1:
        assert "".join("".join(plain(page).split()) for page in found) == "".join(text.split())
