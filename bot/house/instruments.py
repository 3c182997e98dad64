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


def keep(turn: Turn, acts: Sequence[Act]) -> str:
    """Keeps for the house what its Brix come from, the first time that it is known; the words for that."""
    known = next((a.instrument for a in acts if isinstance(a, Gravity) and a.brix and a.instrument), None)
    if known is None or turn.home.row.brix_by:
        return ""
    turn.home.settle(brix_by=known)
    return words.kept(known)


def told(turn: Turn, instrument: Instrument) -> None:
    """Keeps what "our brix come from a refractometer" tells."""
    turn.home.settle(brix_by=instrument)
    turn.reply(words.kept(instrument))


def _depends(turn: Turn, act: Act, said_at: datetime) -> bool:
    if not isinstance(act, Gravity) or act.brix is None or act.instrument is not None:
        return False
    view = turn.home.view.named(act.of)
    return view is not None and in_ferment(view, act.sg, act.at or said_at)


def _read_with(act: Act, instrument: Instrument) -> Act:
    if isinstance(act, Gravity) and act.brix is not None and act.instrument is None:
        return msgspec.structs.replace(act, instrument=instrument)
    return act
