"""A chore put off or taken on in any words ("not now, up a ladder, remind me at 8"): what was learned of each piece of the
message, and what the grammar knows, held against how likely it was said to the letter at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import cast

from bot.cellar.log.acts import StepName
from bot.understand.claims.labels import LabelledSaying, labelled, model_of
from bot.understand.claims.reminders import LetterWords, Reply, lengths, letter_words, until
from bot.understand.scene import Scene
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings
from bot.understand.text.spans import Span
from bot.understand.text.times import TimeSaid

TO_THE_BOT = 0.25
"""How likely a piece has to put off or take on, in a reply to the letter."""
FOR_WINE = 0.5
"""The same in a chat for the wine alone."""
AT_ONCE, SOON = timedelta(minutes=20), timedelta(hours=1)
AMONG_PEOPLE = ((AT_ONCE, 0.4, 0.9), (SOON, 0.9, 0.3))
"""The same where people talk of other things as well: so long after the letter, and how likely all of it may be talk."""
OF_THE_WINE = (None, 0.9, 0.2)
"""The same at any time, of what names a chore or what it needs, or asks to be asked again."""
_IN_ITS_WORDS = 0.9
"""How likely a piece puts off that is nothing but words for that: "can't tonight"."""
_LONGEST = 40
"""Words of such an answer: a longer one tells a story."""
_NEXT_DAY = TimeSaid(days=1)


@dataclass(frozen=True, slots=True)
class _PieceOfAnswer:
    clause: Clause
    said: str
    later: float
    mine: float
    whom: str | None = None

    @property
    def most(self) -> float:
        return max(self.later, self.mine)


def postponed(message: Message, *, ago: timedelta | None, replied: bool, for_wine: bool) -> Reply | None:
    """What the message puts off or takes on of the letter it answers; None where it does neither, or is not likely
    enough said to the bot. It names no thing of the letter but by a batch or vessel, whose names are in `of`. `ago` is
    None where no letter is open: then the message has to say something of the wine."""
    scene = message.scene
    words = letter_words(scene.language)
    found = sayings(message)
    if not found or len(message.tokens) > _LONGEST:
        return None
    said, whole = labelled(found, message, model_of(scene.language))
    pieces = [_piece(one, words, scene) for one in said]
    replied = replied or message.addressed
    best = max(pieces, key=lambda piece: piece.most)
    if any(said_done(piece.clause) for piece in pieces):
        return None
    if any(_asks(piece) and not words.puts_off(piece.said) for piece in pieces):
        return None
    handed = next((piece.whom for piece in pieces if piece.whom is not None), None)
    if handed is not None and (replied or for_wine):
        return Reply(action="mine", whom=handed, of=_names(pieces, message))
    when = _when(pieces, message.sent_at, scene)
    trade = _of_the_wine(message, words)
    if ago is None and not trade:
        return None
    again = [piece for piece in pieces if words.asks_again(piece.said)]
    trade = trade or bool(again)
    talk = whole.share("talk")
    if ago is not None and ago <= AT_ONCE and any(piece.clause.spans[-1].kind == "time" for piece in again):
        talk = 0.0  # whom else would one ask to be asked again at eight
    if not _to_letter(best, talk, ago=ago, trade=trade, replied=replied, for_wine=for_wine):
        # A time and no more, said to the bot, can only be when it is to ask again.
        if when is None or not (replied or (for_wine and _only_when(message))):
            return None
        return Reply(action="later", until=when, of=_names(pieces, message))
    later = max(piece.later for piece in pieces)
    mine = max(piece.mine for piece in pieces)
    return Reply(action="mine" if mine > later else "later", until=when, of=_names(pieces, message))


def _asks(piece: _PieceOfAnswer) -> bool:
    """ "Was that Tuesday", with or without its mark."""
    return piece.clause.asked or moods.asks(piece.clause) or _helps(piece.clause.spans[0])


def _helps(span: Span) -> bool:
    return span.is_("mood", "aux") and not span.is_("mood", "plan")


def said_done(clause: Clause) -> bool:
    """Whether it says that something is done."""
    told = clause.means("mood", "done") or clause.any("step", "done")
    return told and not (moods.denied(clause) or moods.planned(clause) or moods.asks(clause))


def _to_letter(
    best: _PieceOfAnswer, talk: float, *, ago: timedelta | None, trade: bool, replied: bool, for_wine: bool
) -> bool:
    """Whether a message is likely enough said to the letter, by the piece that most puts off or takes on."""
    if replied or for_wine:
        return best.most >= (TO_THE_BOT if replied else FOR_WINE)
    return not best.clause.any("chatter") and any(
        (within is None or (ago is not None and ago <= within)) and best.most >= least and talk < most
        for within, least, most in (*AMONG_PEOPLE, *((OF_THE_WINE,) if trade else ()))
    )


def _piece(one: LabelledSaying, words: LetterWords, scene: Scene) -> _PieceOfAnswer:
    clause = Clause(list(one.saying.spans), asked=one.saying.asked)
    said = words.said(clause.spans)
    later, mine = one.share("later"), one.share("mine")
    if words.puts_off(said):
        later = 1.0
    elif words.takes_on(said):
        mine, later = 1.0, 0.0
    elif all(span.is_("mood", "later") or span.has("filler") for span in clause.spans):
        later = max(later, _IN_ITS_WORDS if clause.means("mood", "later") else 0.0)
    return _PieceOfAnswer(clause, said, later, mine, words.handed_to(said, scene.members))


def _when(pieces: Sequence[_PieceOfAnswer], sent_at: datetime, scene: Scene) -> datetime | None:
    """The time that was said for it: in a piece that puts off before any other, and never the one at which it cannot
    be done, of which the next day is meant."""
    words = letter_words(scene.language)
    told: list[tuple[bool, datetime]] = []
    cannot = False
    for piece in pieces:
        moments = [*piece.clause.moments, *lengths(piece.clause.spans)]
        if piece.clause.means("mood", "not_today"):
            cannot = True
        elif words.cannot(piece.said) and not words.lasts(piece.said):
            cannot = cannot or any(until([moment], sent_at, scene) is not None for moment in moments)
        elif (
            when := until(moments, sent_at, scene) or until(_until_then(piece.clause, words), sent_at, scene)
        ) is not None:
            told.append((piece.most >= FOR_WINE, when))
    if told:
        return max(told, key=lambda one: one[0])[1]
    return until([_NEXT_DAY], sent_at, scene) if cannot else None


def _until_then(clause: Clause, words: LetterWords) -> list[TimeSaid]:
    """ "On a train till eight": a time of something else, and until when that lasts."""
    return [span.moment for span in clause.spans if span.moment is not None and words.lasts(span.fold)]


def _only_when(message: Message) -> bool:
    """Whether it says a time, and beside it nothing but names and small words."""
    spans = [span for span in message.spans if span.kind not in ("mark", "line")]
    small = [span for span in spans if span.kind != "time" and span.ref is None]
    others = ("correct", "answer", "hedge")
    return len(small) < len(spans) and all(
        span.has("filler") and not span.is_("mood", "aux") and not any(span.has(kind) for kind in others)
        for span in small
    )


def _of_the_wine(message: Message, words: LetterWords) -> bool:
    """Whether it names a batch, a chore, what is measured, or what is bought for it."""
    return any(
        (span.ref is not None and span.ref.kind not in ("every", "unknown"))
        or span.has("measure")
        or (span.step is not None and span.has("step"))
        or words.good.fullmatch(span.fold) is not None
        or words.reads.fullmatch(span.fold) is not None
        for span in message.spans
    )


def waited_for(message: Message, reply: Reply) -> tuple[str, StepName | None, str] | None:
    """Of what no letter asks, the one thing that the plans wait for and the message can be about: its batch, its chore and
    its key."""
    steps = {span.step for span in message.spans if span.step is not None}
    words = letter_words(message.scene.language)
    measured = any(span.has("measure") or words.reads.fullmatch(span.fold) for span in message.spans)
    found = []
    for batch in message.scene.batches:
        if reply.of and batch.name not in reply.of:
            continue
        first = [
            one
            for one in batch.next[:_SOON]
            if (one in steps or (measured and one == "gravity") or not (steps or measured))
        ]
        found += [(batch.name, one) for one in first[:1]]
    if len(found) != 1:
        return None
    ((name, one),) = found
    if one == "gravity":
        return name, None, "reading"
    return name, cast(StepName, one), one


_SOON = 3
"""So many of what a plan waits for can be what is put off."""


def _names(pieces: Sequence[_PieceOfAnswer], message: Message) -> frozenset[str]:
    """What is named where something is put off or taken on, or else anywhere."""
    said = [piece for piece in pieces if piece.most >= TO_THE_BOT] or pieces
    return frozenset(
        name
        for piece in said
        for ref in piece.clause.refs
        if ref.kind not in ("every", "unknown")
        for target in message.targets.of(ref)
        for name in (target.of, target.vessel, *target.choices)
        if name is not None
    )
