"""What "undo" means, and when it is asked about first: another's entry, or one's own that is not fresh."""

from collections.abc import Sequence
from datetime import timedelta

from bot.cellar.log.acts import Act, Begin, Undo
from bot.cellar.log.fold import Entry, standing
from bot.house.ask import offer
from bot.house.turn import Turn
from bot.say import striking
from bot.store.press import StrikeOut

FRESH = timedelta(minutes=5)
"""One's own entry so long ago is struck out without a question."""


def meant(turn: Turn, act: Undo) -> list[Entry]:
    """The entries that "undo" means, oldest first: the one named, else those of the message replied to, else of
    the last message: the speaker's own when it is fresh, else anybody's."""
    home = turn.home
    stand = sorted(standing(home.entries), key=lambda entry: entry.entry)
    if act.entry is not None:
        return [entry for entry in stand if entry.entry == act.entry]
    wrote = replied(turn)
    if wrote is not None:
        return [entry for entry in stand if entry.entry in wrote]
    stand = [entry for entry in stand if not isinstance(entry.act, Undo)]
    if not stand:
        return []
    own = [entry for entry in stand if _own(turn, entry) and _fresh(turn, entry)]
    last = (own or stand)[-1]
    sources = turn.unit.log.sources(home.id, [entry.entry for entry in stand])
    where = (sources[last.entry].chat_id, sources[last.entry].message_id)
    return [e for e in stand if (sources[e.entry].chat_id, sources[e.entry].message_id) == where]


def replied(turn: Turn) -> set[int] | None:
    """The entries that the message replied to wrote, or would strike out by its button, standing or not; None
    where it is about none."""
    incoming, home = turn.incoming, turn.home
    if incoming.reply_to is None:
        return None
    sent = turn.unit.post.sent_message(home.id, incoming.chat_id, incoming.reply_to)
    told: set[int] = set()
    if sent is not None:
        by_button = [n for _, does in sent.buttons if isinstance(does, StrikeOut) for n in does.entries]
        told = set(by_button or sent.refers.entries)
    wrote = turn.unit.log.entries_of_message(home.id, incoming.chat_id, incoming.reply_to)
    told |= {entry.entry for entry in wrote if not isinstance(entry.act, Undo)}
    return told or None


def asked_first(turn: Turn, acts: Sequence[Act]) -> bool:
    """Whether what the acts strike out has to be confirmed; then that is asked."""
    undos = [act for act in acts if isinstance(act, Undo)]
    if not any(act.entry is None for act in undos):
        return False
    entries = {entry.entry: entry for act in undos for entry in meant(turn, act)}
    if not any(_doubtful(turn, entry) for entry in entries.values()):
        return False
    plain: list[Act] = [Undo(entry=entry) for entry in entries]
    plain += [act for act in acts if not isinstance(act, Undo)]
    html = striking.strike_out(
        list(entries.values()),
        turn.home.manner,
        me=turn.member.name,
        also=plain[len(entries) :],
        lost=[entry.act.of or "" for entry in entries.values() if _holds(turn, entry)],
    )
    offer(turn, html, [plain], turn.incoming.sent_at)
    return True


def _doubtful(turn: Turn, entry: Entry) -> bool:
    pointed = turn.incoming.reply_to is not None and replied(turn) is not None
    return not _own(turn, entry) or not (pointed or _fresh(turn, entry)) or _holds(turn, entry)


def _own(turn: Turn, entry: Entry) -> bool:
    return entry.by == turn.member.name


def _fresh(turn: Turn, entry: Entry) -> bool:
    return turn.now - entry.said_at <= FRESH


def _holds(turn: Turn, entry: Entry) -> bool:
    """Whether a batch with more than its beginning would go with it."""
    if not isinstance(entry.act, Begin):
        return False
    return any(
        e.batch == (entry.batch or entry.entry) and e is not entry for e in standing(turn.home.entries)
    )
