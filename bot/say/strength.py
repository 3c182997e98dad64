"""Strength in words, and its working."""

from bot.cellar.answers import StrengthAnswer
from bot.say.catalogue import words
from bot.say.litres import small
from bot.say.manner import Manner, listed, name, percent, said, sg


def how_strong(found: StrengthAnswer, manner: Manner) -> str:
    """The strength so far, or to be expected."""
    view, strength = found.view, found.strength
    expected = ""
    if found.expected is not None and not found.settled:
        low, high = found.expected.low, found.expected.high
        expected = f"Expected when dry: about {percent(found.expected.abv)} ({low:.1f}-{high:.1f})."
    if strength is None:
        if view.starting is None:
            return _roughly(found)
        return (
            f"{name(view.name)}: nothing read since the start ({sg(view.starting.sg)}).\n{expected}".strip()
        )
    so_far = "" if found.settled else " so far"
    if found.blended:
        return (
            f"{name(view.name)}: <b>{percent(strength.abv)}</b> ({strength.low:.1f}-{strength.high:.1f}), "
            f"blended from {_blend(found, manner)}." + (f"\n{_watered(found, manner)}" if found.water else "")
        )
    lines = [
        f"{name(view.name)}: <b>{percent(strength.abv)}</b>{so_far} ({strength.low:.1f}-{strength.high:.1f}).",
        expected,
        f"By mass balance, {sg(strength.og)} to {sg(strength.fg)}.",
        _watered(found, manner),
        _uncorrected(found),
    ]
    return "\n".join(filter(None, lines))


def _roughly(found: StrengthAnswer) -> str:
    """Without a starting gravity: the least that it is, marked as such, or where else to look."""
    whose, rough = name(found.view.name), found.roughly
    if rough is None:
        return (
            f"{whose}: no starting gravity was written down, so I cannot work the strength out. What the kit aims at stands "
            "on its box."
        )
    so_far = f"at least {percent(rough.so_far)} by now, " if rough.so_far is not None else ""
    return (
        f"{whose}: no starting gravity was written down, so this is rough, from the first reading ({sg(rough.first.sg)}): "
        f"{so_far}at least {percent(rough.dry)} when dry. What had fermented before comes on top; what the kit aims at "
        "stands on its box."
    )


def _watered(found: StrengthAnswer, manner: Manner) -> str:
    """That water is counted: both gravities are as they would be in the thinned wine."""
    if not found.water:
        return ""
    return f"The {small(found.water, manner)} of water since the start are counted: they thin it."


def _uncorrected(found: StrengthAnswer) -> str:
    """Which of the figures are as read: where one of two was told with its temperature, only the other."""
    if not found.uncorrected:
        return ""
    which = f"{sg(found.uncorrected[0].sg)} is not" if found.corrected else "Not"
    return f"{which} corrected for temperature: none was told."


def blended_now(found: StrengthAnswer, manner: Manner) -> str:
    """What a blend has come to."""
    litres = manner.volume(found.view.litres) if found.view.litres else ""
    strength = percent(found.strength.abv) if found.strength is not None else ""
    told = ", ".join(filter(None, (litres, strength)))
    return f"Now {told}." if told else ""


def _blend(found: StrengthAnswer, manner: Manner) -> str:
    return listed(
        [f"{manner.volume(litres)} {said(of)} at {percent(abv)}" for of, litres, abv in found.blended]
    )


def why_strength(found: StrengthAnswer) -> str:
    """Formula, inputs, source and cross-checks of a strength, in at most eight lines."""
    strength = found.strength
    if strength is None:
        return "Strength needs a starting gravity and a later one."
    if found.blended:
        parts = listed([f"{litres:g} l of {said(of)} at {abv:.2f} %" for of, litres, abv in found.blended])
        return (
            f"{parts}, poured together at 20 °C.\nAlcohol and mass are kept, volume is not quite: OIML R 22 tells "
            f"how much it shrinks.\n{strength.abv:.2f} % vol; what ferments afterwards is not counted."
        )
    rules = ", ".join(f"{words().short_rules[rule]} {value:.1f}" for rule, value in strength.rules)
    return "\n".join(
        (
            f"From {strength.og:.4f} to {strength.fg:.4f}, SG 20/20.",
            "Balling: 2.0665 g extract make 1 g alcohol, 0.9565 g gas, 0.11 g yeast.",
            "Tabarié: the wine's gravity less its alcohol's gives the extract left.",
            "Tables: OIML R 22 for alcohol, ICUMSA for sugar; solved together.",
            f"Extract left: {strength.real_extract_g_l:.0f} g/l.",
            f"Band: one point on each reading, and how yields differ: {strength.low:.1f}-{strength.high:.1f}.",
            f"Shorter rules: {said(rules)}.",
        )
    )
