"""The words file: written so that each phrase means what it looks like."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

import bot.understand
from bot.understand.text.language import add_tables
from bot.understand.text.lexicon import expand, lexicon, nearest

FILES = sorted((Path(bot.understand.__file__).parent / "words" / "en").glob("*.toml"))
MOST_WAYS = 400
LONG_LIST = 14
"""More alternatives than this belong in a phrase of their own, else a space among them cuts the list in two."""


def phrases(table: object) -> Iterator[str]:
    if isinstance(table, dict):
        for inner in table.values():
            yield from phrases(inner)
    elif isinstance(table, list):
        yield from (item for item in table if isinstance(item, str))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_space_hides_in_a_list_of_alternatives(path: Path) -> None:
    tables = tomllib.loads(path.read_text(encoding="utf-8")).get("words", {})
    listed = {kind: table for kind, table in tables.items() if kind not in ("settings", "time", "chatter")}
    for phrase in phrases(listed):
        slots = phrase.split(" ")
        assert len(expand(phrase)) <= MOST_WAYS or len(slots) == 1, phrase
        longest = max(len(slot.split("|")) for slot in slots)
        assert len(slots) == 1 or longest <= 2 * LONG_LIST, phrase


def test_every_subject_has_its_file() -> None:
    assert {"readings", "chores", "vessels", "reminders", "common"} <= {path.stem for path in FILES}


def test_a_table_may_lie_in_several_files_and_a_phrase_in_one() -> None:
    whole: dict[str, object] = {}
    add_tables(whole, {"words": {"mood": {"note": ["note"]}}}, "notes.toml")
    add_tables(whole, {"words": {"mood": {"later": ["later"]}}}, "reminders.toml")
    assert whole == {"words": {"mood": {"note": ["note"], "later": ["later"]}}}
    with pytest.raises(ValueError, match=r"common.toml: words: mood: note is told in another file"):
        add_tables(whole, {"words": {"mood": {"note": ["nb"]}}}, "common.toml")


def test_phrases_expand() -> None:
    assert expand("the? red one|wine") == [
        ("red", "one"),
        ("red", "wine"),
        ("the", "red", "one"),
        ("the", "red", "wine"),
    ]
    assert expand("what's next?") == [("whats",), ("whats", "next")]


def test_an_unknown_language_falls_back_to_english() -> None:
    assert lexicon("xx").tags("racked") == lexicon("en").tags("racked")
    assert lexicon("../en").tags("racked") == lexicon("en").tags("racked")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("demijon", "demijohn"), ("buckte", "bucket"), ("sulphte", "sulphite"), ("degased", "degased")],
)
def test_slips_of_the_finger_are_mended(typed: str, meant: str) -> None:
    assert lexicon("en").near(typed) == meant or lexicon("en").tags(typed)


@pytest.mark.parametrize(
    "word", ["battle", "basket", "ranked", "mining", "lst", "carbon", "transform", "stirling"]
)
def test_real_words_are_left_alone(word: str) -> None:
    assert lexicon("en").near(word) is None


def test_nearest_prefers_the_closer_word() -> None:
    assert nearest("bottlin", ["bottling", "battling"]) == "bottling"
    assert nearest("wine", ["wind", "vine"]) == "wind"
