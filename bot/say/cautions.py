"""Cautions in words: kind, with what to do first."""

from bot.cellar.batch.advice import Caution, Heed
from bot.cellar.home.vessels import Fit, VesselState
from bot.cellar.log.fold import Batch
from bot.say.manner import STEADY_FOR, Manner, name, said, sg
from bot.science import practice

WORDS: dict[Caution, str] = {
    Caution.STIRRED_AFTER_YEAST: "No more stirring from here, please: after the yeast, air only spoils it.",
    Caution.NO_STARTING_GRAVITY: "There is no starting gravity yet. Read it now, before the yeast wakes: "
    "without it I cannot work out the strength.",
    Caution.PITCHED_WARM: "That was warmer than {cool} to {warm}. Bring it down gently.",
    Caution.PITCHED_COLD: "That was colder than {cool} to {warm}. Bring it up gently; it may start slowly.",
    Caution.TOO_WARM_TO_PITCH: "{temp} is too warm for the yeast. Lid on, and let it come down to {cool} to {warm} "
    "before the yeast goes in.",
    Caution.PITCHED_HOT: "{temp} hurts yeast, and from about {deadly} it dies. Bring it down to {cool} to {warm} now: "
    "stand the vessel in cool water. If the gravity has not moved in two days, pitch fresh yeast.",
    Caution.TOO_HOT: "<b>{temp} hurts the yeast</b>, and from about {deadly} it dies. Heat off, stand the vessel in "
    "cool water, down to {low} to {high}. Read the gravity tomorrow: if it no longer moves, it may want fresh yeast.",
    Caution.TOO_WARM: "Over {high}: move it somewhere cooler, gently. Yeast dislikes a jump.",
    Caution.TOO_COLD: "Under {low}: move it somewhere warmer, gently. Cold yeast stops early.",
    Caution.RACKED_EARLY: "The gravity has not settled yet: keep the airlock on and go on reading.",
    Caution.STABILISED_EARLY: "The gravity has not settled yet, and stabiliser does not stop a running "
    "ferment: keep the airlock on and read again in two days.",
    Caution.BOTTLED_EARLY: "<b>Careful: the gravity was not proved steady, and such bottles can burst.</b> "
    "Stand them upright in the cool, covered, away from people; gloves and eyes first when you touch them.",
    Caution.NOT_CORRECTED: "Not corrected for temperature. Next time add it: “sg 1.080 at 24c”.",
    Caution.NOT_STARTED: "{when} since the yeast and still {sg}: it has not begun. First see that it is at "
    "{low} to {high}; if it is and nothing moves by tomorrow, start fresh yeast in a cup of lukewarm must.",
    Caution.SLOW: "That is slow for {sg}. First the temperature: is it at {low} to {high}? Warm it gently and "
    "read again in two days.",
    Caution.STUCK: "It has stood at {sg} since {day}: stuck, too high to be finished. First the temperature: "
    "bring it gently to {high} at most and keep it there. Do not bottle it: it may begin again and burst bottles. "
    "More, step by step: <code>how do I restart it?</code>",
    Caution.SWING: "A jump of {jump} since {day}. Yeast dislikes that: move it somewhere steady.",
    Caution.DOUBLED: "{About} went in before: {by}, {day}. If this is the same one, tap Undo.",
    Caution.FORGOTTEN: "Before that the plan has “{about}”, and nobody has said so. Did it go in?",
    Caution.SULPHITE_OVER: "<b>Do not drink it as it is</b>: that makes {mg} mg/l of sulphur dioxide in {where}, over the "
    "{limit} mg/l allowed in wine for sale. Add no more. Blend it with wine that has none, {times} times as much of it in "
    "all, or rack it with splashing and wait some weeks; drink it only after a test of the total says {limit} or less. "
    "Keep it from anyone with asthma. If it was a slip of the pen, tap Undo.",
    Caution.SORBATE_OVER: "<b>Do not drink it as it is</b>: that makes {mg} mg/l as sorbic acid in {where}, over the {limit} mg/l allowed "
    "in wine. Blend it, {times} times as much in all, with wine that has none. If it was a slip of the pen, tap Undo.",
    Caution.FIRST_SULPHITE: "Of a first dose about {about} binds within days: it does not all stay free. Test again before "
    "you count on it.",
    Caution.SWEETENED: "<b>Stabilise first, then sweeten</b>: sugar wakes what yeast is left, and corked bottles burst. If "
    "sulphite and sorbate are not in, put them in now, airlock on, and bottle only after a week in which the gravity "
    "stands still.",
    Caution.FERMENT_GOES_ON: "For me it is still fermenting: stabiliser does not stop that, so the plan stays at the ferment, and "
    "what comes after waits for a steady gravity. Airlock on, and read again in two days.",
    Caution.REFRACTED: "That is about SG {sg} ({limit} to {top}): an estimate, since alcohol bends light too. It is never "
    "proof of an end: only the hydrometer is.",
    Caution.SORBATE_MALO: "Sorbate with malolactic bacteria gives a smell of geraniums: no sorbate, please.",
    Caution.BLENDED_WORKING: "Not both had stopped: take it for fermenting. Airlock on, and no bottles before two "
    f"new readings {STEADY_FOR} apart agree, or they can burst.",
    Caution.BROKEN_GLASS: "Mind the glass: thick gloves, and shoes on. If it burst by itself, others may: goggles on, "
    "keep people away, stand the rest upright and covered in the cool, and ask me <code>bottles bursting</code>.",
    Caution.YEAST_INFERRED: "The yeast must be in: {fallen}. Nobody said so, so I take it that it went in about {day}, "
    "and watch it from there. If you know better: <code>pitched {about} on Monday</code>",
    Caution.NO_AIR: "Gently and no splashing: after the ferment, whipped-in air spoils it. Keep the room aired.",
}


def caution(found: Heed, view: Batch, manner: Manner) -> str:
    """One or two short sentences."""
    low, high = (manner.temperature(value) for value in view.follows.ferment_c)
    cool, warm = (manner.temperature(value) for value in view.follows.pitch_c)
    days = (manner.now - found.at).days if found.at is not None else 0
    return WORDS[found.caution].format(
        low=low,
        high=high,
        cool=cool,
        warm=warm,
        temp=manner.temperature(found.figure),
        deadly=manner.temperature(practice.KILLS_YEAST_C.value),
        sg=sg(found.figure),
        fallen=f"it has come down from {sg(found.figure)}"
        if found.figure >= practice.STARTS_AT_LEAST.value
        else f"no must starts as low as {sg(found.figure)}",
        when=f"{days} days" if days > 1 else "A day",
        day=manner.day(found.at) if found.at is not None else "",
        jump=manner.degrees(found.figure),
        about=said(found.about),
        About=said(found.about[:1].upper() + found.about[1:]),
        by=said(found.by),
        mg=round(found.figure),
        where=name(found.vessel) if found.vessel is not None else "all",
        limit=sg(round(found.limit, 3)) if found.caution is Caution.REFRACTED else round(found.limit),
        top=sg(round(2 * found.figure - found.limit, 3)),
        times=f"{max(2.0, found.figure / found.limit):.1f}".removesuffix(".0") if found.limit else "",
    )


def fit(found: Fit, manner: Manner) -> str:
    """A vessel too full, or with too much air above the wine."""
    holds, size = manner.volume(found.holds), manner.volume(found.litres)
    vessel = name(found.vessel)
    if found.trouble == "overfull":
        return f"{vessel} holds {size}, and {holds} do not fit. Is the volume right?"
    if found.trouble == "foam":
        return f"{vessel} ({size}) is very full with {holds}: leave a tenth free while it foams, or it comes out."
    return f"Too much air above it: {holds} in {vessel} ({size}). Top it up with a like wine, or use a smaller vessel."


def not_ready(vessel: str, state: VesselState) -> str:
    """A vessel that was filled though it was not sanitised, as far as anybody said; else nothing."""
    if state == "dirty":
        return f"Nobody said that {name(vessel)} was washed and sanitised. If it was not, watch this wine closely."
    if state == "stale":
        return f"{name(vessel)} was sanitised over a day ago: that goes stale. Next time do it just before."
    if state == "clean":
        return f"{name(vessel)} was washed, but nobody said sanitised."
    return ""


def too_short(minutes: int, wanted: int) -> str:
    """The sanitiser had less time than it wants."""
    had = f"{minutes} minutes" if minutes != 1 else "a minute"
    return f"The sanitiser had only {had}, of the {wanted} it wants. The pack's time goes first."
