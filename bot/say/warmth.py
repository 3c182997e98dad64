"""How warm it should be, and whether a temperature is right."""

from bot.cellar.answers import LifeStage, RangeAnswer
from bot.cellar.batch.proof import settled
from bot.cellar.log.fold import Batch
from bot.say.dangers import LEAFLET_FIRST
from bot.say.manner import Manner, name, said
from bot.science import practice

_WORKING: tuple[LifeStage, ...] = ("just_pitched", "fermenting")
_BEFORE: tuple[LifeStage, ...] = ("setting_up", "ready_for_yeast")


def right(found: RangeAnswer, manner: Manner) -> str:
    """The range of each batch; with a verdict where a temperature was asked about, or told a while ago."""
    return "\n".join([*(_row(*row, found.at_c, manner) for row in found.rows), LEAFLET_FIRST])


def of_last(view: Batch, manner: Manner) -> str:
    """Whether the temperature that was told last is right for a ferment, or what would be; nothing where it is none."""
    last = _known(view, manner)
    if view.ended_at is not None or settled(view) is not None:
        return ""
    before = view.pitched_at is None and not view.readings
    right_c = view.follows.pitch_c if before else view.follows.ferment_c
    low, high = (manner.temperature(at) for at in right_c)
    wanted = f"{low} to {high} is right {'before the yeast goes in' if before else 'while it ferments'}."
    if last is None:
        return f"{wanted} Tell me what it shows, like <code>21c {said(view.name)}</code>"
    return f"{_verdict(last, right_c, manner)} {wanted}"


def _row(
    view: Batch, moment: LifeStage, right_c: tuple[float, float], at_c: float | None, manner: Manner
) -> str:
    low, high = (manner.temperature(at) for at in right_c)
    whose = name(view.name)
    at_c = at_c if at_c is not None else _known(view, manner)
    if moment not in _WORKING and moment not in _BEFORE:
        cool = f"it has done fermenting; anything cool up to {high} is right now, without frost."
        if at_c is None:
            return f"{whose}: {cool}"
        return f"<b>{'Yes' if at_c <= right_c[1] else 'No'}</b>, {whose}, {manner.temperature(at_c)}: {cool}"
    when = "before the yeast goes in" if moment in _BEFORE else "while it ferments"
    if at_c is None:
        return f"{whose}: {low} to {high} {when}."
    return f"{_verdict(at_c, right_c, manner)}\n{whose}: {low} to {high} {when}."


def _known(view: Batch, manner: Manner) -> float | None:
    fresh = [m for m in view.temperatures if manner.now - m.at <= practice.TEMPERATURE_KNOWN_FOR.value]
    return fresh[-1].value if fresh else None


def _verdict(at_c: float, right_c: tuple[float, float], manner: Manner) -> str:
    shown = manner.temperature(at_c)
    if at_c < right_c[0]:
        return f"<b>{shown} is too cold</b>: it slows, and is not hurt. Warm it gently."
    if at_c > practice.HURTS_YEAST_C.value:
        hurts = manner.temperature(practice.HURTS_YEAST_C.value)
        return f"<b>{shown} is too warm</b>, over {hurts} the yeast is hurt: cool it gently."
    if at_c > right_c[1]:
        return f"<b>{shown} is too warm</b>: cool it gently."
    return f"<b>{shown} is fine</b>."
