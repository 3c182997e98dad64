"""A part of a wine that was moved, whatever else is told beside it: "moved half of plum into demijohn 1, it was 1.012". What
only heard of a racking took it for all of the wine."""

from collections.abc import Sequence

import msgspec

from bot.cellar.log.acts import Act, Split, Step
from bot.understand.claims.readings import litres
from bot.understand.forms.vessels import parted
from bot.understand.judge.offers import WHY
from bot.understand.text.clauses import VOLUMES
from bot.understand.text.message import Message
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt, Verdict

_BETWEEN = 3
"""Words that may stand between how much it was and the wine: "half of the"."""


def of_a_part(verdict: Verdict, message: Message) -> Verdict:
    """The reading with every racking of a part as one. Where it is not told how much that was, it is asked about: as much as
    the vessel holds, where that is known and less than there is, else half."""
    acts: list[Act] = []
    doubt, unread = None, verdict.unread
    for act in verdict.acts:
        part = _part_moved(act, message.spans) if isinstance(act, Step) and act.step == "rack" else None
        if part is None or not isinstance(act, Step):
            acts.append(act)
            continue
        split = _split(act, part, message)
        acts += [split] if split is not None else []
        if split is None:
            doubt, unread = Doubt.HALF_UNDERSTOOD, message.words_of([part])
        elif _vague(part):
            doubt = doubt or Doubt.UNSURE
    if tuple(acts) == verdict.acts:
        return verdict
    told = msgspec.structs.replace(verdict, acts=tuple(acts), unread=unread)
    return (
        told if doubt is None else msgspec.structs.replace(told, verdict="ask", doubt=doubt, why=WHY[doubt])
    )


def _part_moved(act: Step, spans: Sequence[Span]) -> Span | None:
    """How much of the wine is said to have gone to the goal of a racking, where that is not all of it."""
    goal = max(
        (at for at, span in enumerate(spans) if span.ref is not None and span.ref.name == act.to), default=0
    )
    start = max((at for at, span in enumerate(spans[:goal]) if span.kind in ("mark", "line")), default=0)
    for at in range(start, goal):
        after = spans[at + 1 : min(at + 1 + _BETWEEN, goal)]
        names = next((span for span in after if span.ref is not None or not span.has("part")), None)
        if (
            _is_part(spans[at])
            and names is not None
            and (names.ref is not None or names.is_("batchword", "it"))
        ):
            return spans[at]
    return None


def _is_part(span: Span) -> bool:
    volume = span.qty is not None and span.qty.unit in VOLUMES
    return volume or _vague(span) or (span.has("amount") and float(span.value("amount") or 1) < 1)


def _vague(part: Span) -> bool:
    return part.is_("vague", "amount")


def _split(act: Step, part: Span, message: Message) -> Split | None:
    """The wine in two vessels; None where it is not known how much is in each."""
    batch = next((batch for batch in message.scene.under_way if batch.name == act.of), None)
    if batch is None or batch.vessel is None or batch.also_in or batch.litres is None or act.to is None:
        return None
    holds = next((vessel.litres for vessel in message.scene.vessels if vessel.name == act.to), None)
    if part.qty is not None:
        moved = litres(part.qty.value, part.qty.unit, message.scene)
    elif _vague(part):
        moved = holds if holds is not None and holds < batch.litres else batch.litres / 2
    else:
        moved = round(batch.litres * float(part.value("amount") or 1), 3)
    if not 0 < moved < batch.litres:
        return None
    return Split(of=act.of, at=act.at, into=parted(batch.vessel, batch.litres, act.to, moved))
