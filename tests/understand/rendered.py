"""Acts put back into words, for reading them again."""

from bot.cellar.log.acts import Acidity, Act, Addition, Bottles, Gravity, Ph, Step, Temperature, Volume

_DONE = {
    "sanitise": "sanitised",
    "mix": "mixed",
    "pitch": "pitched the yeast in",
    "stir": "stirred",
    "degas": "degassed",
    "stabilise": "stabilised",
    "fine": "fined",
    "rack": "racked",
    "top_up": "topped up",
    "filter": "filtered",
    "bottle": "bottled",
    "label": "labelled",
}
_VERBS = {"drank": "drank", "gave": "gave away", "broke": "broke", "found": "found", None: ""}
_UNITS = {
    "g": "g",
    "ml": "ml",
    "l": "litres",
    "tsp": "tsp",
    "tablet": "tablets",
    "sachet": "sachets",
    None: "",
}


def render(act: Act, *, comma: bool = False, capitals: bool = False) -> str:
    """One way to say an act."""
    text = _said(act)
    if comma:
        text = text.replace(".", ",")
    return text.upper() if capitals else text


def _said(act: Act) -> str:
    if isinstance(act, Gravity):
        sample = f" at {act.temp_c:.1f}c" if act.temp_c is not None else ""
        return (
            f"{act.of} sg {act.sg:.4f}{sample}"
            if round(act.sg, 3) != act.sg
            else f"{act.of} sg {act.sg:.3f}{sample}"
        )
    if isinstance(act, Temperature):
        return f"{act.of} temp {act.temp_c:.1f} c"
    if isinstance(act, Ph):
        return f"ph of {act.of} is {act.ph:.2f}"
    if isinstance(act, Acidity):
        return f"{act.of} ta {act.g_per_l:.1f} g/l"
    if isinstance(act, Volume):
        return f"volume of {act.of} is {act.litres:.2f} litres"
    if isinstance(act, Addition):
        amount = f"{act.amount:g} {_UNITS[act.unit]} " if act.amount is not None else ""
        return f"added {amount}{act.what} to {act.of}"
    if isinstance(act, Step):
        to = f" to {act.to}" if act.to else ""
        bottles = f", {act.bottles} bottles" if act.bottles else ""
        return f"{_DONE[act.step]} {act.of}{to}{bottles}"
    assert isinstance(act, Bottles)
    return f"{_VERBS[act.reason]} {abs(act.change)} bottles of {act.of}"
