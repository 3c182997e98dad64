"""Cautions in words: kind, with what to do first."""

from bot.cellar.advice import Caution
from bot.cellar.plans import Plan
from bot.say.manner import Manner

WORDS: dict[Caution, str] = {
    Caution.STIRRED_AFTER_YEAST: "No more stirring from here, please: after the yeast, air only spoils it.",
    Caution.NO_STARTING_GRAVITY: "There is no starting gravity yet. Read it now, before the yeast wakes: "
    "without it I cannot work out the strength.",
    Caution.PITCHED_WARM: "That was warmer than {cool} to {warm}. Bring it down gently.",
    Caution.PITCHED_COLD: "That was colder than {cool} to {warm}. Bring it up gently; it may start slowly.",
    Caution.TOO_WARM: "Over {high}: move it somewhere cooler, gently. Yeast dislikes a jump.",
    Caution.TOO_COLD: "Under {low}: move it somewhere warmer, gently. Cold yeast stops early.",
    Caution.RACKED_EARLY: "The gravity has not settled yet: keep the airlock on and go on reading.",
    Caution.STABILISED_EARLY: "The gravity has not settled yet, and stabiliser does not stop a running "
    "ferment: keep the airlock on and read again in two days.",
    Caution.BOTTLED_EARLY: "<b>Careful: the gravity was not proved steady, and such bottles can burst.</b> "
    "Stand them upright in the cool, covered, away from people; gloves and eyes first when you touch them.",
    Caution.NOT_CORRECTED: "Not corrected for temperature. Next time add it: “sg 1.080 at 24c”.",
}


def caution(found: Caution, plan: Plan, manner: Manner) -> str:
    """One or two short sentences."""
    low, high = (manner.temperature(value) for value in plan.ferment_c)
    cool, warm = (manner.temperature(value) for value in plan.pitch_c)
    return WORDS[found].format(low=low, high=high, cool=cool, warm=warm)
