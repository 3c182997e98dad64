"""Raw updates in the house's words. Field names: the Bot API's own reference, from memory and from the library."""

import copy
import json
import math
import time
from datetime import UTC, datetime
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.edges.telegram.reading import NotForUs, opened, press_id, read_update, without_words
from bot.edges.telegram.updates import ALLOWED_UPDATES, Update
from bot.house.talk import ANONYMOUS, Incoming

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
DATE = 1_772_000_000
ANA = {"id": 11, "is_bot": False, "first_name": "Ana", "username": "ana_k"}
BOT = {"id": 77, "is_bot": True, "first_name": "Bucketside", "username": "House_Bot"}
GROUP = {"id": -5, "type": "group", "title": "The cellar"}
PRIVATE = {"id": 11, "type": "private", "first_name": "Ana"}


def read(update: dict[str, Any]) -> Incoming | NotForUs:
    return read_raw({"update_id": 1, **update})


def read_raw(update: Any) -> Incoming | NotForUs:
    known = opened(json.dumps(update))
    return known if isinstance(known, NotForUs) else read_update(known, "house_bot", 77, NOW)


def update_of(update: dict[str, Any]) -> Update:
    known = opened(json.dumps({"update_id": 1, **update}))
    assert isinstance(known, Update)
    return known


def message(**fields: Any) -> dict[str, Any]:
    return {"message_id": 3, "date": DATE, "chat": GROUP, "from": ANA, **fields}


def said(**fields: Any) -> Incoming:
    incoming = read({"message": message(**fields)})
    assert isinstance(incoming, Incoming), incoming
    return incoming


def skipped(update: dict[str, Any]) -> str:
    skip = read(update)
    assert isinstance(skip, NotForUs), skip
    return skip.why


def test_a_plain_message() -> None:
    assert said(text="sg 1.012 bucket 2") == Incoming(
        update_id=1,
        chat_id=-5,
        private=False,
        chat_title="The cellar",
        sender_id=11,
        sender_name="Ana",
        message_id=3,
        sent_at=datetime.fromtimestamp(DATE, UTC),
        text="sg 1.012 bucket 2",
    )


def test_a_private_message() -> None:
    incoming = said(chat=PRIVATE, text="how's the plum?")
    assert incoming.private
    assert incoming.chat_title == ""


def test_a_caption_counts_as_words() -> None:
    assert said(caption="sg 1.012", photo=[{"file_id": "x"}]).text == "sg 1.012"
    assert skipped({"message": message(photo=[{"file_id": "x"}])}) == "no words in it"


def test_an_edit_keeps_its_message_and_its_moment() -> None:
    incoming = read({"edited_message": message(text="sg 1.010", edit_date=DATE + 60)})
    assert isinstance(incoming, Incoming)
    assert incoming.edited
    assert (incoming.message_id, incoming.sent_at) == (3, datetime.fromtimestamp(DATE, UTC))


@pytest.mark.parametrize(
    ("text", "heard", "addressed"),
    [
        ("@house_bot sg 1.012", "sg 1.012", True),
        ("@House_Bot, sg 1.012", "sg 1.012", True),
        ("@house_bot: -2 C", "-2 C", True),
        ("sg 1.012 @house_bot", "sg 1.012", True),
        ("tell @house_bot sg 1.012", "tell sg 1.012", True),
        ("@house_bot\nsg 1.012\ntemp 21", "sg 1.012\ntemp 21", True),
        ("😀😀 @house_bot sg 1.012", "😀😀 sg 1.012", True),
        ("@house_bot", "", True),
        ("@house_bottle sg 1.012", "@house_bottle sg 1.012", False),
        ("write to me@house_bot", "write to me@house_bot", False),
        ("@another_bot sg 1.012", "@another_bot sg 1.012", False),
        ("/sg 1.012 b2", "/sg 1.012 b2", True),
        ("/sg@house_bot 1.012 b2", "/sg 1.012 b2", True),
        ("/SG@HOUSE_BOT 1.012", "/SG 1.012", True),
        ("/sg@house_bot", "/sg", True),
        ("/sg@house_bot\n1.012", "/sg\n1.012", True),
        ("1/2 tsp yeast nutrient", "1/2 tsp yeast nutrient", False),
        ("/ 5 bottles", "/ 5 bottles", False),
        ("sg  1.012", "sg  1.012", False),
    ],
)
def test_mentions_and_commands(text: str, heard: str, addressed: bool) -> None:
    incoming = said(text=text)
    assert (incoming.text, incoming.addressed) == (heard, addressed)


def test_a_command_for_another_bot_is_not_ours() -> None:
    assert skipped({"message": message(text="/sg@another_bot 1.012")}) == "a command for another bot"


def test_replies() -> None:
    assert said(text="later", reply_to_message=message(message_id=2, **{"from": BOT})).reply_to == 2
    assert said(text="later", reply_to_message=message(message_id=1, text="sg 1.050")).reply_to == 1
    assert said(text="later", reply_to_message={}).reply_to is None


def test_topics() -> None:
    root = {"message_id": 9, "date": DATE, "chat": GROUP, "forum_topic_created": {"name": "Plum"}}
    in_topic = said(text="sg 1.012", is_topic_message=True, message_thread_id=9, reply_to_message=root)
    assert (in_topic.thread_id, in_topic.reply_to) == (9, None)
    answer = said(
        text="later", is_topic_message=True, message_thread_id=9, reply_to_message={"message_id": 12}
    )
    assert (answer.thread_id, answer.reply_to) == (9, 12)
    thread = said(text="later", message_thread_id=12, reply_to_message={"message_id": 12})
    assert (thread.thread_id, thread.reply_to) == (None, 12), "a reply thread outside a forum is no topic"


def test_forwarded_messages_say_so() -> None:
    origin = {"type": "hidden_user", "sender_user_name": "Someone", "date": DATE}
    assert said(text="sg 1.012", forward_origin=origin).forwarded
    assert said(text="sg 1.012", forward_date=DATE).forwarded
    assert not said(text="sg 1.012").forwarded


@pytest.mark.parametrize(
    "fields",
    [
        {"from": BOT},
        {"from": {"id": 1087968824, "is_bot": True}, "sender_chat": {"id": -9}},
        {"from": {"id": 136817688, "is_bot": True}, "sender_chat": {"id": -9, "type": "channel"}},
        {"from": {"id": 777000, "is_bot": False, "first_name": "T"}, "sender_chat": {"id": -9}},
        {"from": None},
        {"from": {"id": 11}},
    ],
)
def test_what_no_person_wrote_is_skipped(fields: dict[str, Any]) -> None:
    assert skipped({"message": message(text="sg 1.012", **fields)}) == "no person wrote it"


def test_channels_and_unasked_kinds_are_skipped() -> None:
    channel = message(text="sg 1.012", chat={"id": -100, "type": "channel", "title": "News"})
    assert "channel" in skipped({"message": channel})
    assert "not asked for" in skipped({"channel_post": channel})
    assert "update_id" in str(read_raw({"update_id": True, "message": message(text="x")}))


@pytest.mark.parametrize("date", [0, -1, 2**33, 10**18, 2**62, 2**64, 1.5, True, None, "1"])
def test_dates_that_no_clock_shows_are_refused(date: Any) -> None:
    assert "date" in skipped({"message": message(text="sg 1.012", date=date)})


def test_a_pressed_button() -> None:
    carrier = message(**{"from": BOT}, text="Which?", is_topic_message=True, message_thread_id=9)
    update = {"callback_query": {"id": "q1", "from": ANA, "message": carrier, "data": "b:7"}}
    incoming = read(update)
    assert incoming == Incoming(
        update_id=1,
        chat_id=-5,
        private=False,
        chat_title="The cellar",
        sender_id=11,
        sender_name="Ana",
        message_id=3,
        sent_at=NOW,
        press="b:7",
        thread_id=9,
    )
    assert press_id(update_of(update)) == "q1"
    assert press_id(update_of({"message": message(text="x")})) is None


@pytest.mark.parametrize(
    ("chat", "public"),
    [
        (GROUP, False),
        (GROUP | {"username": "the_cellar", "type": "supergroup"}, True),
        (PRIVATE | {"username": "ana_k"}, False),
    ],
)
def test_a_press_says_whether_anybody_may_look_in(chat: dict[str, Any], public: bool) -> None:
    carrier = message(**{"from": BOT}, text="Which?", chat=chat)
    incoming = read({"callback_query": {"id": "q1", "from": ANA, "message": carrier, "data": "b:7"}})
    assert isinstance(incoming, Incoming)
    assert incoming.public is public


def test_a_button_on_a_message_that_the_platform_no_longer_has() -> None:
    carrier = {"chat": GROUP, "message_id": 3, "date": 0}
    incoming = read({"callback_query": {"id": "q1", "from": ANA, "message": carrier, "data": "b:7"}})
    assert isinstance(incoming, Incoming)
    assert (incoming.press, incoming.message_id, incoming.sent_at) == ("b:7", 3, NOW)


def test_buttons_without_chat_or_data_are_skipped() -> None:
    assert "no chat" in skipped({"callback_query": {"id": "q", "from": ANA, "inline_message_id": "x"}})
    assert "without data" in skipped({"callback_query": {"id": "q", "from": ANA, "message": message()}})


MUTED = {"status": "restricted", "is_member": True, "can_send_messages": False}


def change(before: dict[str, Any], after: dict[str, Any], **fields: Any) -> dict[str, Any]:
    return {
        "my_chat_member": {
            "chat": GROUP,
            "from": ANA,
            "date": DATE,
            "old_chat_member": {"user": BOT, **before},
            "new_chat_member": {"user": BOT, **after},
            **fields,
        }
    }


@pytest.mark.parametrize(
    ("before", "after", "what"),
    [
        ({"status": "left"}, {"status": "member"}, "joined"),
        ({"status": "kicked"}, {"status": "administrator"}, "joined"),
        ({"status": "left"}, {"status": "restricted", "is_member": True}, "joined"),
        ({"status": "left"}, {"status": "restricted", "is_member": False}, "removed"),
        ({"status": "member"}, {"status": "left"}, "removed"),
        ({"status": "member"}, {"status": "kicked"}, "removed"),
        ({"status": "member"}, {"status": "administrator"}, "opened"),
        (MUTED, {"status": "member"}, "opened"),
        ({"status": "member"}, MUTED, None),
        ({"status": "member"}, {"status": "dreaming"}, None),
        ({}, {}, None),
    ],
)
def test_being_added_and_removed(before: dict[str, Any], after: dict[str, Any], what: str | None) -> None:
    incoming = read(change(before, after))
    assert isinstance(incoming, Incoming) == (what is not None)
    if isinstance(incoming, Incoming):
        happened = {"joined": incoming.joined, "removed": incoming.removed, "opened": incoming.opened}
        assert [name for name, so in happened.items() if so] == [what]
        assert (incoming.text, incoming.sender_name) == (None, "Ana")


def test_a_private_chat_that_opens_is_no_group_and_one_that_closes_is_told() -> None:
    opened = read(change({"status": "kicked"}, {"status": "member"}, chat=PRIVATE))
    assert isinstance(opened, Incoming)
    assert (opened.opened, opened.joined) == (True, False)
    closed = read(change({"status": "member"}, {"status": "kicked"}, chat=PRIVATE))
    assert isinstance(closed, Incoming)
    assert (closed.removed, closed.private) == (True, True)


def test_an_anonymous_admin_is_somebody_of_the_group() -> None:
    anonymous = {"id": 1087968824, "is_bot": True, "first_name": "Group"}
    incoming = said(text="sg 1.012", **{"from": anonymous, "sender_chat": GROUP})
    assert (incoming.sender_id, incoming.sender_name) == (ANONYMOUS, "an admin")
    signed = said(text="x", author_signature="Cook", **{"from": anonymous, "sender_chat": GROUP})
    assert signed.sender_name == "Cook"
    added = read(change({"status": "left"}, {"status": "member"}, **{"from": anonymous}))
    assert isinstance(added, Incoming)
    assert (added.joined, added.sender_id) == (True, ANONYMOUS)


def test_who_left_the_group_is_told_unless_it_was_a_bot() -> None:
    incoming = said(left_chat_member={"id": 12, "is_bot": False, "first_name": "Bo"})
    assert (incoming.left, incoming.text) == (12, None)
    assert "no person" in skipped({"message": message(left_chat_member=BOT)})


def test_a_move_is_told_even_when_no_person_is_named() -> None:
    for sender in (ANA, BOT, None):
        incoming = said(**{"from": sender}, migrate_to_chat_id=-1005)
        assert (incoming.chat_id, incoming.moved_to) == (-5, -1005)
    new = said(chat={**GROUP, "id": -1005}, migrate_from_chat_id=-5)
    assert (new.chat_id, new.moved_to) == (-5, -1005), "told in the new chat too"


@pytest.mark.parametrize(
    ("sender", "name"),
    [
        ({"first_name": "  Ana \n Maria "}, "Ana Maria"),
        ({"first_name": ""}, "ana_k"),
        ({"first_name": None, "username": None}, "someone"),
        ({"first_name": "A\u202ena"}, "Ana"),
        ({"first_name": "\ud83d Ana\x00"}, "\ufffd Ana\ufffd"),
        ({"first_name": "👩\u200d🌾"}, "👩\u200d🌾"),
        ({"first_name": "x" * 500}, "x" * 64),
    ],
)
def test_names_are_tidied(sender: dict[str, Any], name: str) -> None:
    assert said(text="hi", **{"from": ANA | sender}).sender_name == name


def test_text_is_fit_for_any_database() -> None:
    text = said(text="sg\x00 1.012 \udc00 😀").text
    assert text == "sg\ufffd 1.012 \ufffd 😀"


# Hostile JSON: anything at all, and good updates with a part replaced by anything.

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5) | st.just("id"), inner, max_size=4)
    ),
    max_leaves=8,
)
GOOD: list[dict[str, Any]] = [
    {
        "update_id": 1,
        "message": message(
            text="@house_bot sg",
            reply_to_message=message(message_id=2),
            is_topic_message=True,
            message_thread_id=9,
            forward_origin={},
        ),
    },
    {"update_id": 2, "edited_message": message(caption="/sg@house_bot 1")},
    {"update_id": 3, "message": message(migrate_to_chat_id=-1005)},
    {"update_id": 6, "message": message(migrate_from_chat_id=-1005)},
    {"update_id": 7, "message": message(left_chat_member=ANA)},
    {"update_id": 4, "callback_query": {"id": "q", "from": ANA, "message": message(), "data": "b:7"}},
    {"update_id": 5} | change({"status": "left"}, {"status": "member"}),
]


def paths(value: Any, prefix: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [prefix] if prefix else []
    for key, inner in value.items() if isinstance(value, dict) else ():
        found += paths(inner, (*prefix, key))
    return found


@st.composite
def spoilt(draw: st.DrawFn) -> Any:
    update = copy.deepcopy(draw(st.sampled_from(GOOD)))
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(paths(update)))
        owner = update
        for key in path[:-1]:
            owner = owner[key]
        if draw(st.booleans()):
            del owner[path[-1]]
        else:
            owner[path[-1]] = draw(JSON | st.integers(-(2**70), 2**70))
        if not update:
            break
    return update


@given(JSON | st.dictionaries(st.sampled_from(["update_id", *ALLOWED_UPDATES]), JSON) | spoilt())
def test_hostile_json_is_never_an_error(raw: Any) -> None:
    outcome = read_raw(raw)
    assert isinstance(outcome, Incoming | NotForUs)
    if isinstance(outcome, Incoming):
        sound = msgspec.json.decode(msgspec.json.encode(outcome), type=Incoming)  # types and encodable text
        assert sound == outcome
        numbers = (outcome.update_id, outcome.chat_id, outcome.sender_id, outcome.message_id)
        assert all(abs(number) < 2**63 for number in numbers)
        assert outcome.sent_at.utcoffset() is not None
    else:
        assert outcome.why
        assert len(outcome.why) < 100


@given(st.text(st.characters(), max_size=60))
def test_any_text_survives_but_for_the_mention(text: str) -> None:
    incoming = read({"message": message(text=text)})
    assert isinstance(incoming, Incoming)
    if not incoming.addressed:
        assert incoming.text is not None
        assert len(incoming.text) == len(text)


@pytest.mark.parametrize(
    "piece", [" ", "\t", "\u2003", "@house_bot ", "@house_bo ", "a@house_bot ", "@house_bot\n"]
)
def test_twice_the_text_takes_about_twice_the_time(piece: str) -> None:
    def took(length: int) -> float:
        text = "@house_bot" + (piece * length)[:length] + "x"
        update = update_of({"message": message(text=text)})
        best = 9.0
        for _ in range(3):
            begun = time.process_time()
            assert isinstance(read_update(update, "house_bot", 77, NOW), Incoming)
            best = min(best, time.process_time() - begun)
        return best

    assert took(40_000) < 10 * max(took(10_000), 0.005)


def test_json_that_is_not_quite_json_is_read_too() -> None:
    assert isinstance(read_raw({"message": message(date=math.nan, chat={"id": math.inf})}), NotForUs)
    read = read_raw({"update_id": 1, "message": message(text="sg 1.012", location={"latitude": math.nan})})
    assert isinstance(read, Incoming)
    assert read.text == "sg 1.012"


def test_where_an_update_is_odd_is_told_without_what_is_there() -> None:
    assert skipped({"message": message(text=["sg 1.012"])}) == "message.text is of another kind"
    assert read_raw(["sg 1.012"]) == NotForUs("all of it is of another kind")


def test_what_is_given_up_is_told_to_its_writer_unread() -> None:
    fields = {"text": "sg 1.012", "migrate_to_chat_id": -7, "reply_to_message": {"message_id": 2}}
    bare = without_words(update_of({"message": message(**fields), "edited_message": message(caption="x")}))
    incoming = read_update(bare, "house_bot", 77, NOW)
    assert isinstance(incoming, Incoming)
    assert (incoming.text, incoming.moved_to, incoming.reply_to) == ("-", None, None)
    assert (incoming.chat_id, incoming.sender_id, incoming.message_id) == (-5, 11, 3)
    assert bare.edited_message is not None
    assert bare.edited_message.caption is None
