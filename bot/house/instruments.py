"""What the house's Brix come from: asked once, when it first matters, and kept."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from bot.cellar.log.acts import Act, Gravity, Instrument
from bot.cellar.log.refracted import in_ferment
from bot.house.turn import Turn
from bot.say import instruments as words
from bot.store.press import ChooseOption, Labelled
from bot.store.queries.people import MemberRow
from bot.store.queries.questions import AskedRow
from bot.understand import instrument_meant

_BOTH: tuple[Instrument, ...] = ("refractometer", "hydrometer")


def asks(turn: Turn, acts: Sequence[Act], member: MemberRow, said_at: datetime, until: datetime) -> bool:
    """Asks which instrument it was, where nothing can be written before that is known."""
    if turn.home.row.brix_by or not any(_depends(turn, act, said_at) for act in acts):
        return False
    options = [tuple(_read_with(act, instrument) for act in acts) for instrument in _BOTH]
    asked = turn.unit.questions.ask(turn.home.id, turn.source, member, options, said_at=said_at, until=until)
    buttons: list[Labelled] = [
        (
            words.NAMES[instrument],
            ChooseOption(asked=asked, option=number, strikes=turn.strikes),
        )
        for number, instrument in enumerate(_BOTH)
    ]
    turn.reply(words.WHICH, buttons, must=True)
    return True


def chosen(turn: Turn, question: AskedRow) -> int | None:
    """The option that names the instrument in the message, where the question was for that."""
    told = [
        next((act.instrument for act in option if isinstance(act, Gravity) and act.brix is not None), None)
        for option in question.options
    ]
    meant = instrument_meant(turn.incoming.text or "", turn.home.row.language)
    return told.index(meant) if tuple(told) == _BOTH and meant is not None else None


def keep(turn: Turn, acts: Sequence[Act]) -> str:
    """Keeps for the house what its Brix come from, the first time that it is known; the words for that."""
    known = next((a.instrument for a in acts if isinstance(a, Gravity) and a.brix and a.instrument), None)
    if known is None or turn.home.row.brix_by:
        return ""
    turn.home.settle(brix_by=known)
    return words.kept(known)


def told(turn: Turn) -> bool:
    """Takes "our brix come from a refractometer"; False for any other message."""
    text, incoming = turn.incoming.text or "", turn.incoming
    meant = instrument_meant(text, turn.home.row.language, stated=True)
    if meant is None or incoming.forwarded:
        return False
    turn.home.settle(brix_by=meant)
    turn.reply(words.kept(meant))
    return True


def _depends(turn: Turn, act: Act, said_at: datetime) -> bool:
    if not isinstance(act, Gravity) or act.brix is None or act.instrument is not None:
        return False
    view = turn.home.view.named(act.of)
    return view is not None and in_ferment(view, act.sg, act.at or said_at)


def _read_with(act: Act, instrument: Instrument) -> Act:
    if isinstance(act, Gravity) and act.brix is not None and act.instrument is None:
        return msgspec.structs.replace(act, instrument=instrument)
    return act
