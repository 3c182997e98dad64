"""What may hurt somebody, and what to do about a wine that is not well, in a few words each.

Customary advice (common practice, no source). It is no doctor's, and the pack, the leaflet and local rules go first.
"""

from bot.cellar.signs import Sign

_EMERGENCY = "If somebody is unwell, call your emergency number."

DANGERS: dict[str, str] = {
    "unwell": "<b>Leave the room now and get into fresh air.</b> A ferment gives off carbon dioxide: it cannot be "
    "smelt, and lies low. Nobody goes back in before it has been aired, and never alone. " + _EMERGENCY,
    "gas": "Better not: a ferment gives off carbon dioxide, which cannot be smelt and gathers low, most of all in a "
    "small closed room. Nobody, and no pet, sleeps there: keep it aired. Dizzy or short of breath: out at once, into "
    "fresh air. " + _EMERGENCY,
    "burn": "<b>Rinse at once with plenty of running water</b>, an eye for at least 15 minutes. Swallowed: no vomiting. "
    "Breathed in: fresh air. Have the pack in hand and call a poison line or a doctor; if it is bad, your emergency number.",
    "cleaners": "<b>No: never mix cleaners.</b> Chlorine bleach with vinegar, acid, sulphite or ammonia gives off "
    "poisonous gas. One at a time, rinsed well between, with gloves, goggles for anything caustic, and fresh air; the "
    "pack goes first. If it was mixed: leave, air the room. " + _EMERGENCY,
    "sulphite": "Careful: sulphite (campden) can bring on asthma, as dust and fumes and in the finished wine; some are "
    "allergic to it. Somebody else should handle it, in fresh air, and the wine holds it too: ask a doctor before "
    "drinking it. Short of breath: fresh air, the inhaler, and your emergency number if it does not pass.",
    "bottles": "<b>Careful: bottles under pressure can burst.</b> Goggles, thick gloves and long sleeves before you go "
    "near; keep people and pets away. Stand them upright in a box or under a thick blanket, in the cool, and shake none. "
    "When they are cold, ease one open under a cloth, pointing away; then the others, back under an airlock. If "
    "in doubt, leave them covered and ask somebody with practice.",
    "glass": "Thick gloves and shoes for broken glass, and throw away the wine that stood in it. A cut that bleeds: press "
    "on it and hold it up; if it does not stop or is deep, see a doctor or call your emergency number.",
    "lifting": "A full bucket is about 25 kg, a demijohn slips and shatters: do not lift it alone. Fill it where it will "
    "stand, move it with two, or draw it off in parts; no demijohn by its neck.",
}
"""By topic: what to do first, then why."""

SIGNS: dict[Sign, str] = {
    "film": "A film means that air gets at it: draw the wine from under it into a clean, sanitised vessel, full to the "
    "neck, and close it.",
    "vinegar": "Vinegar comes with air, and does not go back: close it, top it up, keep fruit flies out and it away from "
    "your other wine. If it is strong, it is lost.",
    "mould": "Mould: do not taste it. If it is furry or coloured, the wine is better thrown away.",
    "eggs": "A smell of eggs comes from tired yeast and often passes: see to the temperature, and draw it off its lees "
    "when that is due.",
    "rotten": "A foul smell: see that it is closed and off its lees; do not drink what smells rotten.",
    "open": "Lid and airlock clean, sanitised and back on. See that the airlock is not blocked: a lid pops when the gas "
    "has no way out.",
}

LEAFLET_FIRST = "The leaflet in your kit goes first."


def danger(topic: str) -> str:
    """What to do about it."""
    return DANGERS[topic]


def signs(found: tuple[Sign, ...]) -> str:
    """What to do about what was told."""
    return "\n".join(SIGNS[sign] for sign in found)
