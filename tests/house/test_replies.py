"""Replies in words to a reminder's letter: which of its things is meant, and what then."""

from datetime import UTC, datetime, timedelta

import pytest

from bot.cellar.log.acts import Gravity, PutOff, Step, TakeOn
from bot.house.talk import Letter
from bot.say.manner import plain
from bot.understand.claims.reminders import Reply, letter_reply, mixed_reply, plain_reply
from bot.understand.scene import Scene, SceneBatch, SceneVessel
from tests.house.room import Room

START = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)

SCENE = Scene(
    members=("ana", "bo"),
    batches=(
        SceneBatch(name="plum", vessel="bucket 1", colour="red"),
        SceneBatch(name="pear", vessel="bucket 2", colour="white"),
    ),
    vessels=tuple(SceneVessel(name=f"bucket {number}") for number in (1, 2, 3)),
)
PLUM, PEAR = frozenset({"plum", "bucket 1"}), frozenset({"pear", "bucket 2"})


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("done", (Reply(action="done"),)),
        ("Done!", (Reply(action="done"),)),
        ("👍", (Reply(action="done"),)),
        ("later please", (Reply(action="later"),)),
        ("I'll do it", (Reply(action="mine"),)),
        ("done the plum", (Reply(action="done", of=PLUM),)),
        ("the plum one is done", (Reply(action="done", of=PLUM),)),
        ("bucket 2 done", (Reply(action="done", of=PEAR),)),
        ("the red is done", (Reply(action="done", of=PLUM),)),
        ("I'll do the pear", (Reply(action="mine", of=PEAR),)),
        ("plum done, pear later", (Reply(action="done", of=PLUM), Reply(action="later", of=PEAR))),
        ("plum, pear done", (Reply(action="done", of=PLUM | PEAR),)),
        ("both done", (Reply(action="done", every=True),)),
        ("all of them later", (Reply(action="later", every=True),)),
        ("all done", (Reply(action="done", every=True),)),
        ("degassed", (Reply(action="done", step="degas"),)),
        ("degassed the pear", (Reply(action="done", step="degas", of=PEAR),)),
        ("done the gravity", (Reply(action="done", measure="gravity"),)),
        # For the grammar of facts, or for nobody.
        ("sg 1.012 plum", ()),
        ("racked the plum into bucket 3", ()),
        ("bottled the plum, 28 bottles", ()),
        ("is the plum done?", ()),
        ("plum", ()),
        ("not done", ()),
        ("what a lovely photo of the garden", ()),
        ("haven't degassed it", ()),
        ("99999999999 days", ()),
        ("in 999999999 hours", ()),
        ("9999999 days", ()),
    ],
)
def test_what_a_reply_says(text: str, meant: tuple[Reply, ...]) -> None:
    assert letter_reply(text, SCENE, START) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("the plum", (Reply(action="later", of=PLUM),)),
        ("both", (Reply(action="later", every=True),)),
        ("the gravity", (Reply(action="later", measure="gravity"),)),
        ("done the plum", (Reply(action="done", of=PLUM),)),
        ("plum 1.012", ()),
    ],
)
def test_which_one_answers_what_was_asked(text: str, meant: tuple[Reply, ...]) -> None:
    assert letter_reply(text, SCENE, START, "later") == meant


FRIDAY_SIX = datetime(2026, 3, 6, 18, 0, tzinfo=UTC)
TOMORROW = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("bo can do it", (Reply(action="mine", whom="bo"),)),
        ("Bo'll do it", (Reply(action="mine", whom="bo"),)),
        ("bo will", (Reply(action="mine", whom="bo"),)),
        ("ok, bo can do the plum", (Reply(action="mine", whom="bo", of=PLUM),)),
        ("ana can do both", (Reply(action="mine", whom="ana", every=True),)),
        ("I can't, bo will", (Reply(action="mine", whom="bo"),)),
        ("not me", (Reply(action="release"),)),
        ("sorry, can't", (Reply(action="release"),)),
        ("can't, I'm away till sunday", (Reply(action="later", until=datetime(2026, 3, 8, 10, tzinfo=UTC)),)),
        ("not tonight", (Reply(action="later", until=TOMORROW),)),
        ("can't do it tonight", (Reply(action="later", until=TOMORROW),)),
        ("not tonight, friday after work", (Reply(action="later", until=FRIDAY_SIX),)),
        ("we have plenty of corks", (Reply(action="done", goods=frozenset({"corks"})),)),
        ("got the bottles and corks", (Reply(action="done", goods=frozenset({"corks", "bottles"})),)),
        ("done the corks", (Reply(action="done", goods=frozenset({"corks"})),)),
        ("got them", (Reply(action="done", goods=frozenset()),)),
        ("done, and no gas left", (Reply(action="done", step="degas", enough=True),)),
        ("no more gas rises", (Reply(action="done", step="degas", enough=True),)),
        ("still a bit of gas", (Reply(action="done", step="degas", enough=False),)),
        # Not of the letter, or a question.
        ("bo will be late", ()),
        ("bo can do his homework", ()),
        ("can bo do it?", ()),
        ("zed can do it", ()),
        ("we have 2 bottles", ()),
        ("we have no corks", ()),
        ("got milk", ()),
        ("done with work", ()),
    ],
)
def test_handing_over_and_other_answers(text: str, meant: tuple[Reply, ...]) -> None:
    assert letter_reply(text, SCENE, START) == meant


@pytest.mark.parametrize(
    "text",
    ["done", "Did it!", "got them", "done the corks", "bought the corks", "later", "ok, tomorrow", "not tonight",
     "I'll do it", "I've got it", "done the plum", "tomorrow at 9", "done thanks", "both done", "this evening",
     "we have plenty of corks", "no more gas rises", "degassed"],
)  # fmt: skip
def test_what_is_an_answer_without_a_reply(text: str) -> None:
    assert plain_reply(text, SCENE, START) == letter_reply(text, SCENE, START) != ()


@pytest.mark.parametrize(
    "text",
    ["done with work", "later, love", "see you later", "I'm done", "we're done here", "on friday", "bo will", "can't",
     "not me", "bo can do it", "busy", "mine", "done?", "👍", "done my homework", "tomorrow we go to nan", "later mate",
     "done deal", "ok", "thanks", "no", "plum", "finished work", "tomorrow is fine by me", "got it from the shop"],
)  # fmt: skip
def test_what_is_talk_without_a_reply(text: str) -> None:
    assert plain_reply(text, SCENE, START) == ()


@pytest.mark.parametrize(
    ("text", "meant", "facts"),
    [
        ("plum 1.050, pear later", (Reply(action="later", of=PEAR),), ("plum 1.050",)),
        ("pear done, plum at 1.050 at 20c", (Reply(action="done", of=PEAR),), ("plum at 1.050 at 20c",)),
        ("plum 1.050, later", (), ()),
        ("plum 1.050", (), ()),
        ("pear later", (), ()),
    ],
)
def test_facts_beside_an_answer(text: str, meant: tuple[Reply, ...], facts: tuple[str, ...]) -> None:
    assert mixed_reply(text, SCENE, START) == (meant, facts)


def gathered(room: Room) -> Letter:
    """A letter that says a chore of the plum, and one of the pear."""
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    room.say("new batch: pear, white, 23 l in bucket 2, 14 day kit")
    room.say("sanitised bucket 2")
    room.say("pear mixed")
    room.say("sg 1.080 bucket 2")
    return ring(room, hours=24)


def ring(room: Room, **later: float) -> Letter:
    """The latest that the bot says by then."""
    room.now += timedelta(**later)
    room.desk.wake(room.now)
    letters = [letter for letter in room.deliver() if letter.edits is None]
    return letters[-1]


def reply(room: Room, letter: Letter, text: str) -> list[Letter]:
    return room.say(text, reply_to=room.message_of[letter.letter_id])


def labels(letter: Letter) -> list[str]:
    return [button.label for button in letter.buttons]


def test_a_bare_reply_asks_which(room: Room) -> None:
    letter = gathered(room)
    assert plain(letter.html).splitlines()[0] == "Today:"
    (question,) = reply(room, letter, "done")
    assert plain(question.html) == "Which one is done?"
    assert labels(question) == ["plum, clean and sanitise", "pear, pitch the yeast", "All of them"]
    answer, changed = room.press(question, "pear, pitch the yeast")
    assert answer.edits == room.message_of[question.letter_id]
    assert room.acts()[-1] == Step(step="pitch", of="pear")
    assert "✓ Done, ana." in changed.html
    assert room.press(question, "All of them") == []
    assert room.answer == "Somebody was quicker: see above."


def test_all_of_them(room: Room) -> None:
    (question,) = reply(room, gathered(room), "done")
    answer, changed = room.press(question, "All of them")
    assert room.acts()[-2:] == [Step(step="sanitise", of="plum"), Step(step="pitch", of="pear")]
    assert "Undo" in labels(answer)
    assert changed.buttons == ()


def test_a_chore_that_leaves_something_to_ask_is_not_done_with_all(room: Room) -> None:
    room.now = START
    for name, bucket in (("plum", 1), ("pear", 2)):
        room.say(f"new batch: {name}, red, 23 l in bucket {bucket}, 14 day kit")
        for words in ("mixed the", "sg 1.080", "pitched the"):
            room.say(f"{words} {name}")
    letter = ring(room, hours=48)
    (question,) = reply(room, letter, "done")
    assert labels(question) == ["plum, gravity", "pear, gravity"]
    (question,) = reply(room, letter, "later")
    assert labels(question) == ["plum, gravity", "pear, gravity", "All of them"]
    answer, changed = room.press(question, "All of them")
    assert plain(answer.html).splitlines() == [
        "plum, gravity",
        "pear, gravity",
        "⏳ I will ask again today 12:00.",
    ]
    assert changed.edits is not None
    first = next(act for act in room.acts() if isinstance(act, PutOff))
    assert (first.what, first.of) == ("reading", "plum")


def test_the_next_thing_said_says_which(room: Room) -> None:
    reply(room, gathered(room), "later")
    answer, _ = room.say("the plum", sender_id=2, sender_name="bo")
    assert "⏳ I will ask again today 12:00." in answer.html
    assert room.say("the pear") == []  # it was answered, and this is not a reply


def test_an_hour_later_only_a_reply_answers_the_question(room: Room) -> None:
    (question,) = reply(room, gathered(room), "later")
    room.now += timedelta(hours=1, minutes=1)
    assert room.say("the plum") == []
    answer, _ = reply(room, question, "the plum")
    assert "I will ask again" in answer.html


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("done the plum", Step(step="sanitise", of="plum")),
        ("pitched", Step(step="pitch", of="pear")),
        ("the white one is done", Step(step="pitch", of="pear")),
    ],
)
def test_a_name_or_a_chore_says_which(room: Room, text: str, act: Step) -> None:
    answer, changed = reply(room, gathered(room), text)
    assert room.acts()[-1] == act
    assert "✓" in answer.html
    assert "✓ Done, ana." in changed.html


def test_where_only_one_is_open_it_is_that_one(room: Room) -> None:
    letter = gathered(room)
    reply(room, letter, "done the plum")
    reply(room, letter, "done")
    assert room.acts()[-1] == Step(step="pitch", of="pear")


def test_what_is_settled_gets_a_kind_line(room: Room) -> None:
    letter = gathered(room)
    reply(room, letter, "all done")
    before = len(room.acts())
    for text in ("done", "later", "done the pear"):
        (answer,) = reply(room, letter, text)
        assert plain(answer.html) == "That is seen to already, thank you."
    assert len(room.acts()) == before


def test_a_letter_of_one_chore_that_is_settled_gets_it_too(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    letter = ring(room, hours=24)
    reply(room, letter, "done")
    assert room.acts()[-1] == Step(step="sanitise", of="plum")
    (answer,) = reply(room, letter, "done")
    assert plain(answer.html) == "That is seen to already, thank you."


def test_after_a_press_a_reply_says_that_it_is_settled(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    letter = ring(room, hours=24)
    room.press(letter, "Done")
    (answer,) = reply(room, letter, "done")
    assert plain(answer.html) == "That is seen to already, thank you."


def test_a_number_in_reply_is_the_number(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    room.say("sg 1.080 plum")
    room.say("pitched the plum")
    room.say("new batch: pear, white, 23 l in bucket 2, 14 day kit")
    letter = ring(room, hours=48)
    reply(room, letter, "1.050 plum")
    assert room.acts()[-1] == Gravity(sg=1.050, of="plum")


def test_done_to_a_reading_asks_for_its_number(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    room.say("sg 1.080 plum")
    room.say("pitched the plum")
    letter = ring(room, hours=48)
    (question,) = reply(room, letter, "done")
    assert "What does it read?" in question.html
    reply(room, question, "1.050")
    assert room.acts()[-1] == Gravity(sg=1.050, of="plum")


def test_what_nobody_read_can_be_put_off_in_words(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 14 day kit")
    room.say("sg 1.080 plum")
    room.say("pitched the plum")
    ring(room, hours=48)
    letter = ring(room, hours=24)
    assert "nobody has read it since" in letter.html
    answer, *_ = reply(room, letter, "tomorrow at 6pm")
    assert "I will ask again tomorrow 18:00" in answer.html


def test_talk_beside_the_letter_is_nobodys_business(room: Room) -> None:
    letter = gathered(room)
    before = len(room.acts())
    for text in ("lovely, thanks", "haha not again", "home at six for dinner then"):
        for answer in reply(room, letter, text):
            assert "I did not get that" in answer.html or "Good to hear" in answer.html, text
    assert len(room.acts()) == before


def test_talk_after_the_question_is_no_answer_to_it(room: Room) -> None:
    reply(room, gathered(room), "later")
    before = len(room.acts())
    for text in ("see you at eight", "later then", "we both liked it so much last night"):
        assert room.say(text) == [], text
    assert len(room.acts()) == before


def test_without_a_reply_only_the_latest_letter_and_while_it_is_fresh(room: Room) -> None:
    gathered(room)
    room.now += timedelta(hours=3)
    assert room.say("done") == []
    ring(room, hours=96)
    room.say("what's next?")
    assert room.say("done") == []


def test_without_a_reply_a_fresh_letter_is_answered_like_with_one(room: Room) -> None:
    gathered(room)
    room.now += timedelta(minutes=10)
    (question,) = room.say("done")
    assert plain(question.html) == "Which one is done?"
    assert room.say("see you later") == []
    answer, _ = room.say("the pear")
    assert "pear: yeast pitched" in plain(answer.html)
    # What the bot has answered meanwhile belongs to the letter: its other things can still be named.
    answer, _ = room.say("plum later")
    assert plain(answer.html).startswith("plum, clean and sanitise")


def test_somebody_else_takes_it_on(room: Room) -> None:
    letter = gathered(room)
    room.say("hello", sender_id=2, sender_name="otto")
    (question,) = reply(room, letter, "otto can do it")
    assert plain(question.html) == "Which one will otto do?"
    _, changed = room.press(question, "pear, pitch the yeast")
    assert "✋ otto will do it." in plain(changed.html)
    act = room.acts()[-1]
    assert isinstance(act, TakeOn)
    assert (act.whom, act.of) == ("otto", "pear")


def test_that_is_enough_ends_the_repeats_until_it_is_undone(room: Room) -> None:
    room.now = START
    room.say("new batch: plum, red, 23 l in bucket 1, 7 day kit")
    room.say("sg 1.080 bucket 1")
    room.say("pitched plum")
    for days, sg in ((5, "0.995"), (2, "0.995")):
        room.now += timedelta(days=days)
        room.say(f"{sg} bucket 1")
    room.say("racked plum into bucket 2")
    room.say("added sulphite and sorbate to plum")
    letter = ring(room, hours=25)
    assert "degas" in letter.html
    answer, _ = reply(room, letter, "done, no more gas rises")
    assert "Next: add the finings" in plain(answer.html)
    room.press(answer, "Undo")
    assert "Next: degas." in plain(room.say("what's next?")[0].html)


def test_whoever_speaks_to_the_bot_may_say_more_without_a_reply(room: Room) -> None:
    gathered(room)
    assert room.say("not me") == []
    (question,) = room.say("not me", addressed=True)
    assert plain(question.html) == "Which one not?"
    answer, _ = room.press(question, "pear, pitch the yeast")
    assert "I will ask again" in plain(answer.html)
