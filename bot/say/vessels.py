"""Vessels in words."""

from collections.abc import Sequence

from bot.cellar.home.vessels import VesselView
from bot.say.manner import Manner, listed, name, said

WHERE_TO = "Where to?"
NONE_FREE = "Where to? No vessel is free here. Tell me like: <code>racked plum into bucket 4</code>"
LIKE = "A new one: <code>new bucket 4, 25 l, with a tap</code>. Washed one: <code>washed bucket 1</code>"


def freed(vessels: Sequence[str]) -> str:
    """What was emptied."""
    names = listed([name(vessel) for vessel in vessels])
    return f"{names} {'is' if len(vessels) == 1 else 'are'} free, and dirty: wash before use."


def one(view: VesselView, manner: Manner) -> str:
    """A vessel in a line: what it is, and how it stands."""
    told = [
        manner.volume(view.litres) if view.litres else "",
        "" if view.tap is None else "tap" if view.tap else "no tap",
    ]
    size = ", ".join(filter(None, told))
    return f"{name(view.name)}{f' ({size})' if size else ''}: {_state(view, manner)}"


def _state(view: VesselView, manner: Manner) -> str:
    when = manner.day(view.since) if view.since is not None else ""
    if view.batch is not None:
        holds = f", {manner.volume(view.holds)}" if view.holds else ""
        return f"in use, {said(view.batch.name)}{holds}"
    return {
        "sanitised": f"free, sanitised {when}",
        "stale": f"free, sanitised {when}: stale, do it again",
        "clean": f"free, clean (washed {when})",
        "dirty": f"free, dirty since {when}",
    }.get(view.state, "free")


def every(vessels: Sequence[VesselView], manner: Manner, *, free: bool = False) -> str:
    """The vessels, a line each; where only the `free` ones were asked for, they may be none."""
    if free and not vessels:
        return f"None is free. {LIKE}"
    if not vessels:
        return f"No vessels yet. {LIKE}"
    return "\n".join(one(view, manner) for view in vessels)
