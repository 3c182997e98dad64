"""Whatever people call things: every message that the bot sends is sound markup, and shows their words as typed."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.cellar.home.due import Due
from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Begin,
    Bottles,
    Done,
    Gravity,
    Look,
    Nickname,
    Note,
    Ph,
    PutOff,
    Remind,
    Step,
    TakeOn,
    Temperature,
    Timer,
    Undo,
    Volume,
)
from bot.cellar.log.due_key import AskedKey
from bot.cellar.log.fold import Entry
from bot.house import outbox
from bot.house.talk import Letter
from bot.say import company, doubts, facts, reminders, welcome
from bot.say.manner import Manner
from bot.say.pages import LONGEST_CAPTION
from bot.store.press import StrikeOut
from bot.store.queries.postbox import File, Outgoing
from bot.store.refers import Refers
from bot.understand.verdict import Doubt
from tests.botapi.markup import plain_text, utf16_length
from tests.house.room import NOW, Room

EVIL = "<b>&amp;</i>\"'<script>"
NAMES = [
    EVIL,
    "<",
    "&lt;",
    "</b>",
    "a & b",
    "<a href='x'>y</a>",
    "x" * 64,
    "🍷<🍷",
    "%s{0}{name}",
    "\u202ereversed",
]
ALLOWED = re.compile(r"</?(?:b|i|code)>")


def check(letter: Letter) -> str:
    """The letter's plain text, if the platform would take the letter."""
    return check_html(letter.html)


def check_html(html: str) -> str:
    words = plain_text(html)  # raises for markup that is not sound
    assert utf16_length(words) <= 4096
    assert "<" not in ALLOWED.sub("", html), html
    assert not re.search(r"&(?!lt;|gt;|amp;|quot;|#x27;)", html), html
    return words


@pytest.mark.parametrize("word", NAMES)
def test_every_message_of_a_whole_life_is_sound(room: Room, word: str) -> None:
    ana = {"sender_name": word, "chat_title": word}
    bo = {"sender_id": 2, "sender_name": word, "chat_title": word}
    seen: list[str] = []

    def say(text: str | None = None, **more: object) -> list[Letter]:
        room.now += timedelta(seconds=10)  # else it would be a flood
        letters = room.say(text, **(ana | more))
        seen.extend(check(letter) for letter in letters)
        return letters

    say(joined=True)
    for text in (
        f"new batch: {word}, red, 23 l in bucket 2, 14 day kit",
        "new batch: plum, white, 10 l in bucket 1, 7 day kit",
        f"/vessel {word}",
        "/vessel bucket 7 25 l",
        f"/zone {word}",
        f"/units {word}",
        f"note plum: {word}",
        f"call bucket 1 {word}",
        f"call the plum {word}",
        f"added 5 g of {word} to the plum",
        "added 5 g of yeast to the plum",
        "pitched the plum",
        f"sg 1.080 {word}",
        "sg 1.080 plum at 22c",
        "sg 1.070",
        f"racked plum into {word}",
        "sanitised bucket 3",
        "remind me tomorrow at 9 to stir the plum",
        f"readings of {word}",
        "readings of the plum",
        "additions plum",
        "who did what",
        "overview",
        "whats next",
        "calendar",
        f"calendar for the {word}",
        "how strong is the plum",
        "why?",
        "/house",
        "/help",
        "/invite",
        "/start",
        "/houses",
        "/remove",
        f"/remove {word}",
        f"/readmit {word}",
        f"/{word}",
    ):
        say(text)
        say(text, addressed=True)
    say("hello", **bo)
    say("sg 1.060 plum", **bo)
    say("/remove x", **bo)
    for text in (f"/remove {word}", f"/readmit {word}", "/remove nobody", "/readmit nobody"):
        say(text)
    for number in range(30):  # a flood
        seen.extend(check(letter) for letter in room.say(f"{15 + number / 10:.1f}c in the plum", **ana))
    private = {"private": True, "chat_id": 9, "sender_id": 9, "chat_title": ""}
    say("hello", **private)
    code = next(found[1] for text in seen if (found := re.search(r"/start ([\w-]{20,})", text)))
    say("/start wrong", **private)
    say("hello", **(private | {"chat_id": -9, "private": False, "chat_title": word}))
    say(f"/start {code}", **private)
    say("/houses", **private)
    room.desk.give_up(room.incoming("x", **ana), "failed", room.now)
    seen.extend(check(letter) for letter in room.deliver())
    with room.units.read() as unit:
        newest = unit.post.connection.exec_driver_sql("SELECT max(id) FROM outbox").scalar()
    for letter in range(1, newest + 1):
        for number in range(4):
            say(press=f"{letter}:{number}", message_id=10**6 + letter)
    for _ in range(40):
        room.now += timedelta(hours=8)
        room.desk.wake(room.now)
        seen.extend(check(letter) for letter in room.deliver())
    assert len(seen) > 80
    assert any("time" in text for text in seen), "reminders were among them"


MANNER = Manner(zone=ZoneInfo("UTC"), now=NOW)
ACTS: list[Act] = [
    Gravity(sg=1.05, of=EVIL, temp_c=20),
    Temperature(temp_c=20, of=EVIL),
    Ph(ph=3.4, of=EVIL),
    Acidity(g_per_l=6, of=EVIL),
    Volume(litres=23, of=EVIL),
    Addition(what=EVIL, amount=3, unit="tablet", of=EVIL),
    Addition(what=EVIL, of=EVIL),
    Step(step="rack", of=EVIL, to=EVIL),
    Begin(of=EVIL, name=EVIL, vessel=EVIL, litres=23),
    Bottles(change=-2, reason="gave", of=EVIL),
    Note(text=EVIL, of=EVIL),
    Nickname(name=EVIL, of=EVIL),
    Undo(of=EVIL),
    PutOff(of=EVIL, until=NOW, step="rack"),
    Remind(of=EVIL, until=NOW, about=EVIL, whom=EVIL),
    TakeOn(of=EVIL, step="rack", whom=EVIL),
    Done(of=EVIL, what="asked 1"),
    Look(of=EVIL, what="clear", found="cloudy", until=NOW),
    Timer(of=EVIL, step="degas", until=NOW),
]


@pytest.mark.parametrize("act", ACTS, ids=lambda act: type(act).__name__)
def test_facts_and_doubts_show_words_as_typed(act: Act) -> None:
    entry = Entry(entry=1, act=act, by=EVIL, said_at=NOW, at=NOW, batch=None, strikes=None)
    said = [facts.fact(act, MANNER), facts.struck(entry, MANNER), facts.noted(act, MANNER, replaces=True)]
    said += [facts.back_in(act, MANNER)]
    for kind in Doubt:
        said.append(doubts.doubt(kind.value, [act], MANNER, about=EVIL, vessels=[EVIL], batches=[EVIL]))
    for html in said:
        check_html(html)
    assert any(EVIL in check_html(html) for html in said)


ASKED = Due(
    batch=0, key=AskedKey(entry=1), at=NOW, kind="asked", whose=EVIL, of=EVIL, about=EVIL, asked_by="ana"
)


def test_words_about_company_show_names_as_typed() -> None:
    said = [
        company.this_house(EVIL),
        company.one_house(EVIL),
        company.joined(EVIL),
        company.in_already(EVIL),
        company.invitation(EVIL, "code", "a_bot", "today"),
        company.invitation(EVIL, "code", "", "today"),
        company.only_owner(EVIL),
        company.whom("/remove", [EVIL, EVIL]),
        company.several(EVIL),
        company.removed(EVIL),
        company.readmitted(EVIL),
        company.flooding(EVIL),
        company.could_not(EVIL, "19:30"),
        welcome.ask_members(EVIL),
        welcome.no_such_zone(EVIL),
        welcome.vessel_added(EVIL),
        welcome.vessel_known(EVIL),
        welcome.settled(EVIL, "us", "C", "L", EVIL, EVIL, "hours", 10, "invites", "wine"),
        reminders.taken(EVIL),
        reminders.reminder(ASKED, None, MANNER),
        reminders.asked_for([(ASKED, EVIL)], MANNER),
        reminders.done(EVIL),
    ]
    for html in said:
        assert EVIL in check_html(html)


def test_a_message_longer_than_the_platform_takes_comes_in_pieces(room: Room) -> None:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    html = "\n".join(f"<b>line {number}</b> &lt;&amp;&gt;" for number in range(600))
    buttons = (("Undo", StrikeOut(entries=(1,))),)
    letter = Outgoing(chat_id=-5, html=html, buttons=buttons, edits=7, refers=Refers(of="plum"))
    with room.units.begin() as unit:
        outbox.post(unit, 1, letter, room.now)
    letters = room.deliver()
    assert "\n".join(letter.html for letter in letters) == html
    assert [bool(letter.buttons) for letter in letters] == [False] * (len(letters) - 1) + [True]
    assert [letter.edits for letter in letters] == [7] + [None] * (len(letters) - 1)
    assert all(check(letter) for letter in letters)
    (struck,) = room.press(letters[-1], "Undo")
    assert "Struck out" in struck.html


@pytest.mark.parametrize("lines", [1, 60, 190, 600])
def test_the_file_of_a_long_message_goes_with_its_last_piece(room: Room, lines: int) -> None:
    room.say("hello")
    html = "\n".join(f"<b>line {number}</b> &lt;&amp;&gt;" for number in range(lines))
    file = File(name="x.ics", media_type="text/calendar", kind="calendar", content=b"x")
    buttons = (("Undo", StrikeOut(entries=(1,))),)
    letter = Outgoing(chat_id=-5, html=html, buttons=buttons, edits=7, file=file)
    with room.units.begin() as unit:
        last = outbox.post(unit, 1, letter, room.now)
    letters = room.desk.unsent(room.now)
    assert "\n".join(letter.html for letter in letters) == html
    assert [letter.file is not None for letter in letters] == [False] * (len(letters) - 1) + [True]
    assert [bool(letter.buttons) for letter in letters] == [False] * (len(letters) - 1) + [True]
    assert letters[-1].letter_id == last
    assert utf16_length(plain_text(letters[-1].html)) <= LONGEST_CAPTION
    assert all(letter.edits is None for letter in letters), "a file needs a message of its own"
    make = room.desk.file(last)
    assert make is not None
    assert make() == b"x"
