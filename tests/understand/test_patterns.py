"""No text keeps the bot busy: neither a single expression, nor the whole of understanding."""

import json
import random
import re
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.cellar.log.acts import Note
from bot.cellar.log.lengths import MESSAGE
from bot.understand import joined, signs_of, understand
from bot.understand.claims.questions import asks_why
from bot.understand.claims.reminders import letter_reply, mixed_reply, plain_reply
from bot.understand.forms.readings import clearness
from bot.understand.judge.answers import declines, pick
from bot.understand.judge.reminders import only_a_time, reminder_words
from bot.understand.text.lexicon import lexicon
from bot.understand.text.message import MOST_TOKENS
from tests.understand.attacks import TooLong, cpu_seconds, seeds, text_of
from tests.understand.labelled import FIXTURES, house

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
HARBOUR = house("harbour")

SHORT, HALF, LONG = 300, 1200, 2400
WORST = 3
QUICK = 0.06
"""Seconds for LONG characters, below which nobody asks how they grow."""
AT_ONCE = 0.2
"""Seconds for SHORT characters: a hundred times what they take."""
CAP = 1.0
"""Seconds for LONG characters, however slow the machine."""
GROWTH = 6.0
"""Twice the text may take so many times the work: four is the square, eight the cube."""
BOUNDED = {"bot.understand.forms.safety": 12.0, "bot.understand.forms.asked": 12.0}
"""Rooms that look at no more than some hundred characters, and may take more."""

COMPILED_LATE = [
    "plan for x:\nday 1 add sachet a\nday 2 rack",
    "remind me in 5 minutes to rack",
    "the lid popped off",
    "120 bottles by christmas",
    "ask bo",
    "new batch: plum, elder plan",
]


@cache
def patterns() -> list[tuple[str, str, int]]:
    """Every expression of the words and of the code: its room, form and flags."""
    listing = subprocess.run(
        [sys.executable, "-m", "tests.understand.pattern_list", str(FIXTURES / "houses" / "harbour.json")],
        input=json.dumps(COMPILED_LATE),
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    return [tuple(json.loads(line)) for line in listing.stdout.splitlines()]


def work(pattern: "re.Pattern[str]", text: str, limit: float = CAP) -> float:
    try:
        return cpu_seconds(pattern, text, limit)
    except TooLong:
        return limit


def worst(form: str, flags: int, most_growth: float) -> str | None:
    """What makes an expression work too hard; None where nothing does."""
    pattern = re.compile(form, flags)
    taken: dict[tuple[str, str], float] = {}
    for seed in seeds(form, flags):
        taken[seed] = work(pattern, text_of(seed, SHORT), AT_ONCE)
        if taken[seed] >= AT_ONCE:
            return f"{seed}: {SHORT} characters take {AT_ONCE} s and more"
    for seed in sorted(taken, key=lambda seed: taken[seed], reverse=True)[:WORST]:
        took = work(pattern, text_of(seed, LONG))
        if took >= CAP:
            return f"{seed}: {LONG} characters take {took:.2f} s and more"
        if took > QUICK:
            before = min(work(pattern, text_of(seed, HALF)) for _ in range(2))
            took = min(took, work(pattern, text_of(seed, LONG)))
            if took > most_growth * max(before, QUICK / most_growth):
                return f"{seed}: {took:.3f} s, and half of it {before:.3f} s"
    return None


def test_every_expression_takes_little_time_on_repetitions_of_its_own_pieces() -> None:
    assert len(patterns()) > 250
    found = {
        f"{owner} {form[:200]}": fault
        for owner, form, flags in patterns()
        if (fault := worst(form, flags, BOUNDED.get(owner, GROWTH))) is not None
    }
    assert found == {}


@pytest.mark.parametrize(
    "form",
    [r"(?:has |just |has just )*gone", r"\(when\s*a?\s*b?\s*c?\s*\d", r"(?:a|aa)+$", r"x.*y.*x.*y.*z"],
)
def test_the_attack_finds_expressions_that_take_too_long(form: str) -> None:
    assert worst(form, 0, GROWTH) is not None


def test_one_word_a_thousand_times_is_over_at_once() -> None:
    """The two texts that stopped the bot for every household."""
    for text in (
        "the lid " + "has just " * 32 + "x",
        "day 1 rack (when" + "\u2003" * 600 + "\nday 2 bottle",
        "the lid " + "has just " * 400,
    ):
        long, ordinary = (readers(each)["understand, spoken to"] for each in (text, ORDINARY))
        assert took(long) < 50 * took(ordinary)


# ---------------------------------------------------------------------- the whole of understanding

STEEPEST = 10
"""Four times the text may take so many times as long: in proportion it is four, squared sixteen."""
ORDINARY = "racked plum into demijohn 1, it was 1.012 and smells of pears"
TRIES = 8


def repeated(*pieces: str) -> Callable[[int], str]:
    return lambda length: ("".join(pieces) * (length // len("".join(pieces)) + 1))[:length]


def shuffled(pieces: list[str], *between: str) -> Callable[[int], str]:
    chance = random.Random(12)

    def text(length: int) -> str:
        said = ""
        while len(said) < length:
            said += chance.choice(pieces) + chance.choice(between)
        return said[:length]

    return text


WORDS = sorted(lexicon("en").singles())
NAMES = [batch.name for batch in HARBOUR.batches] + [vessel.name for vessel in HARBOUR.vessels]
TEXTS: dict[str, Callable[[int], str]] = {
    "all the words": shuffled(WORDS, " "),
    "words in sentences": shuffled(WORDS, " ", " ", ", ", ". ", "\n"),
    "slips": shuffled([word[:-1] + "q" for word in WORDS if len(word) > 5], " "),
    "no words": shuffled(["buckett", "xylophone", "demijohnny", "qqqqqqqqq"], " "),
    "numbers": repeated("1.012 "),
    "digits": repeated("1"),
    "numbers and marks": shuffled(["1", "12", "1.0", "99"], ",", ".", ":", "/", " "),
    "names": shuffled(NAMES, " ", ", "),
    "names and values": shuffled(NAMES, " 1.012, ", " 21c ", " 12 bottles "),
    "brackets": repeated("(["),
    "marks": shuffled(list("?!.,;:-/&+|~*"), "", " "),
    "spaces": repeated(" \u2003\u00a0\t"),
    "spaces in a sentence": lambda length: "day 1 rack (when" + "\u2003" * length,
    "lines": repeated("a\n"),
    "empty lines": repeated(" \r\n"),
    "emojis": repeated("\U0001f377"),
    "families": repeated("\U0001f468\u200d\U0001f469\u200d\U0001f467"),
    "combining marks": lambda length: "e" + "\u0301\u0316\u0345\u0323" * (length // 4),
    "marks on every letter": repeated("e\u0301\u0316\u0345\u0323\u0334"),
    "zero width": repeated("\u200b\u2060\ufeff"),
    "scripts": repeated("葡萄酒", "٣"),
    "one word": repeated("a"),
    "apostrophes": repeated("a'"),
    "mentions": repeated("@bot "),
    "links": repeated("http://a.b/ "),
    "telephones": repeated("+44 20 7946 0958 "),
    "times": shuffled(["tomorrow", "at 5", "half past 7", "on friday", "28 feb", "in an hour"], " "),
    "reminders": repeated("remind me to rack at 5 "),
    "timers": repeated("please, ok set a 5 minute timer "),
    "leaflet": repeated("day 1 add sachet A and stir, then wait. "),
    "leaflet in lines": lambda length: "plan for x:\n" + "day 2: when sg is 1.010 rack\n" * (length // 29),
    "leaflet over and over": repeated("stir twice a day for 3 days and then repeat, "),
    "beginnings": repeated("new batch: elder, 23 l, "),
    "additions": repeated("added 5 g sugar to plum, "),
    "rackings": repeated("racked plum into demijohn 1, "),
    "questions": repeated("when is plum ready? "),
    "corrections": repeated("no 3, not 4, sorry "),
    "nicknames": repeated("call bucket 2 blue "),
    "notes": lambda length: "note plum: " + "x y, " * (length // 5),
    "lids": lambda length: "the lid " + "has just " * (length // 9),
    "dangers": repeated("bleach and vinegar in the bucket, "),
    "sums": repeated("how much sugar for 5 l to 12 % "),
    "bottles": repeated("gave 2 bottles to bo and "),
}  # fmt: skip


def piece_texts(many: int = 60) -> dict[str, Callable[[int], str]]:
    """Some pieces of some expressions."""
    chance = random.Random(7)
    found: dict[str, Callable[[int], str]] = {}
    for _, form, flags in chance.sample(patterns(), many):
        first, piece = chance.choice(seeds(form, flags) or [("", "a")])
        found[f"{first!r} and {piece!r}"] = lambda length, first=first, piece=piece: (
            first + piece * (length // len(piece))
        )
    return found


def readers(text: str) -> dict[str, Callable[[], object]]:
    """What reads a message, one by one."""
    return {
        "understand, spoken to": lambda: understand(text, HARBOUR, NOW, by="ana", addressed=True),
        "understand": lambda: understand(text, HARBOUR, NOW, by="ana"),
        "the rest": lambda: (
            pick(text, [], HARBOUR),
            declines(text, HARBOUR),
            clearness(text, HARBOUR, NOW),
            only_a_time(text, reminder_words("en")),
            asks_why(text),
            joined(text),
        ),
        "a reply to a letter": lambda: letter_reply(text, HARBOUR, NOW),
        "an answer to a letter": lambda: plain_reply(text, HARBOUR, NOW),
        "beside an answer": lambda: mixed_reply(text, HARBOUR, NOW),
        "signs": lambda: signs_of(joined(text)[:MESSAGE], "en"),
    }


def took(read: Callable[[], object], enough: float = 0.0) -> float:
    """Seconds of processor time: the best of some tries, fewer where one was quick enough."""
    best = 9.0
    for _ in range(TRIES):
        begun = time.process_time()
        read()
        best = min(best, time.process_time() - begun)
        if best <= enough:
            break
    return best


def grows_too_fast(name: str, make: Callable[[int], str], length: int) -> list[str]:
    """The readers that four times the text takes out of all proportion longer; what takes no longer than a few ordinary
    messages is let be."""
    found = []
    ordinary = took(readers(ORDINARY)["understand, spoken to"])
    for reader, read in readers(make(length)).items():
        if took(read, STEEPEST * ordinary) <= STEEPEST * ordinary:
            continue
        quarter = took(readers(make(length // 4))[reader])
        if (ratio := took(read, STEEPEST * quarter) / quarter) > STEEPEST:
            found.append(f"{name}, {length} characters, {reader}: {ratio:.0f} times as long")
    return found


@pytest.mark.parametrize("length", [MESSAGE, 10_000])
def test_four_times_the_text_takes_about_four_times_as_long(length: int) -> None:
    assert [fault for name, make in TEXTS.items() for fault in grows_too_fast(name, make, length)] == []


@pytest.mark.parametrize("length", [MESSAGE - 100])
def test_so_do_any_pieces_of_the_expressions(length: int) -> None:
    assert [
        fault for name, make in piece_texts().items() for fault in grows_too_fast(name, make, length)
    ] == []


LONG_SALAD = st.lists(
    st.sampled_from([*WORDS, *NAMES, "1.012", "12", "1e9", "21c", "b2", "x's", "@bot", ",", ".", "\n", "?", "(", "\u0301"])
    | st.text(max_size=8),
    min_size=20,
    max_size=400,
).map(" ".join)  # fmt: skip


@given(text=LONG_SALAD, addressed=st.booleans())
@settings(max_examples=60)
def test_no_long_text_is_too_odd(text: str, addressed: bool) -> None:
    understand(text, HARBOUR, NOW, by="ana", addressed=addressed)
    for read in readers(text).values():
        read()


# ---------------------------------------------------------------------- white space

BLANK = "\u00a0\u2003\u2009\u3000\t \u200b\u2060\ufeff\u00ad\x00\x1f\u3164"
ODD = st.text(alphabet=f"ab1.,é\u0301\ufe0f\u200d\u200c\U0001f468\n\r\u2028{BLANK}", max_size=40)


@given(text=ODD | st.text(max_size=40))
def test_white_space_is_joined_once_and_for_all(text: str) -> None:
    plain = joined(text)
    assert joined(plain) == plain
    assert not re.search(r"[^\S\n ]|  | \n|\n |\n\n\n|^\s|\s$", plain)
    assert not set(plain) & set(BLANK) - {" "}


@pytest.mark.parametrize("blank", ["\u00a0", "\u2003", "\u3000", "\t", "  ", " \u200b", "\u2009\u00a0"])
def test_a_space_of_any_kind_is_a_space(blank: str) -> None:
    for text in (
        "sg 1.012 bucket 2",
        "remind me on friday at 18:00 to buy corks",
        "new batch: elder, 23 l in bucket 3",
    ):
        plain = understand(text, HARBOUR, NOW, by="ana")
        assert plain.acts
        assert understand(text.replace(" ", blank), HARBOUR, NOW, by="ana") == plain


def test_an_emoji_of_several_stays_whole_in_a_note() -> None:
    family = "\U0001f468\u200d\U0001f469\u200d\U0001f467"
    (note,) = understand(f"note plum: smells of pears {family}", HARBOUR, NOW, by="ana").acts
    assert isinstance(note, Note)
    assert family in note.text


# ---------------------------------------------------------------------- long messages


def test_a_long_note_is_kept_to_its_last_word() -> None:
    text = "note plum: " + "smells of pears and a little of smoke. " * 60 + "The end"
    (note,) = understand(text, HARBOUR, NOW, by="ana").acts
    assert isinstance(note, Note)
    assert note.text.endswith("The end")


def test_what_no_message_can_be_is_asked_for_shorter_where_the_bot_is_spoken_to() -> None:
    text = "sg 1.012 bucket 2 " * 300
    assert understand(text, HARBOUR, NOW, by="ana").verdict == "ignore"
    spoken = understand(text, HARBOUR, NOW, by="ana", addressed=True)
    assert (spoken.verdict, spoken.doubt, spoken.acts) == ("ask", "too_long", ())


def test_more_words_than_a_message_has_are_not_read() -> None:
    text = "b2 " * (MOST_TOKENS + 1)
    assert understand(text, HARBOUR, NOW, by="ana").verdict == "ignore"
