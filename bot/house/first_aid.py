"""What a message says that may hurt somebody is answered, whatever else it says and whatever becomes of that: before
anything else where it is an emergency, beneath the answer where it is not."""

from datetime import UTC, datetime, time

import msgspec

from bot.house.talk import Incoming
from bot.house.turn import FirstAid, Turn
from bot.say.dangers import first_aid, urgent
from bot.understand import Danger, dangers_beside, meaning
from bot.understand.scene import Scene


def with_aid(turn: Turn, found: tuple[Danger, ...]) -> Turn:
    """The turn, whose first answer tells what to do about these dangers: in short where the chat was told today, or
    where it is not sure that it is one. What an edit says for the first time is a message of its own, since a changed
    one goes unnoticed."""
    if not found:
        return turn
    topics = [danger.topic for danger in found]
    answered = _answered_before(turn)
    said = _said_today(turn) - answered
    unsure = _unsure(found)
    at_once = [topic for topic in topics if urgent(topic) and topic not in unsure]
    others = [topic for topic in topics if topic not in at_once]
    aid = FirstAid(
        before=first_aid(at_once, said), after=first_aid(others, said | unsure), topics=tuple(topics)
    )
    afresh = turn.edits is not None and not answered.issuperset(topics)
    return msgspec.structs.replace(turn, aid=aid, edits=None if afresh else turn.edits)


def at_the_door(incoming: Incoming | None) -> tuple[str, list[str]]:
    """What to do about the dangers in a message of which the household is not known yet, and their topics."""
    text = incoming.text or "" if incoming is not None else ""
    if incoming is None or not text:
        return "", []
    scene = Scene()
    verdict = meaning(text, scene, incoming.sent_at, addressed=True, forwarded=incoming.forwarded)
    found = dangers_beside(text, scene, verdict, None, spoken=True)
    topics = [danger.topic for danger in found]
    return first_aid(topics, _unsure(found)), topics


def _unsure(found: tuple[Danger, ...]) -> set[str]:
    return {danger.topic for danger in found if not danger.sure}


def _said_today(turn: Turn) -> set[str]:
    midnight = datetime.combine(turn.home.manner.date_of(turn.now), time(), turn.home.zone).astimezone(UTC)
    rows = turn.unit.post.refers_since(turn.home.id, turn.incoming.chat_id, midnight)
    return {topic for refers in rows for topic in refers.dangers}


def _answered_before(turn: Turn) -> set[str]:
    """The dangers of the answer that an edit changes."""
    if turn.edits is None:
        return set()
    sent = turn.unit.post.sent_message(turn.home.id, turn.incoming.chat_id, turn.edits)
    return set(sent.refers.dangers) if sent is not None else set()
