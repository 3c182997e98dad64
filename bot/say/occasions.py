"""When to begin for an occasion, in words."""

from datetime import timedelta

from bot.cellar.home.occasions import MOST_KITS, Schedule, Start, clearing_days, rest_days
from bot.cellar.log.subjects import Wish
from bot.say.manner import Manner, listed, name, said
from bot.science import practice

_NONE_BIG = (
    "No vessel here is big enough for a kit. Tell me of one: <code>new bucket 4, 25 l, with a tap</code>"
)


def occasion(found: Schedule, manner: Manner) -> str:
    """The latest starts, or what is in the way."""
    if found.vessels == 0:
        return _NONE_BIG
    if found.too_many:
        return f"That is more than {MOST_KITS} kits. Ask me for fewer bottles at a time."
    if found.starts:
        return "\n".join(
            [*(_wish(found, number, manner) for number in range(len(found.wishes))), *_last(found)]
        )
    return "\n".join(_in_the_way(found, manner))


def _wish(found: Schedule, number: int, manner: Manner) -> str:
    wish, days = found.wishes[number], found.days[number]
    starts = [start for start in found.starts if start.wish == number]
    first = starts[0]
    kits = f"{len(starts)} kits" if len(starts) > 1 else "one kit"
    lines = [
        f"{_asked(wish, manner)}: {kits} of {days} days. <b>Start by {manner.calendar(first.start)}</b>"
        f"{_where(starts, manner)}.",
        f"Then {days} days with {clearing_days(days)} of clearing, bottle by {manner.calendar(max(s.bottle for s in starts))}, "
        f"{rest_days(wish)} days of rest.",
    ]
    return "\n".join(lines)


def _where(starts: list[Start], manner: Manner) -> str:
    if len({start.start for start in starts}) == 1:
        return f" in {listed([name(start.vessel) for start in starts])}"
    return f": {listed([f'{name(start.vessel)} {manner.calendar(start.start)}' for start in starts])}"


def _last(found: Schedule) -> list[str]:
    return [f"Reckoned with kits of {practice.KIT_LITRES.value:g} l; sooner is safer."]


def _asked(wish: Wish, manner: Manner) -> str:
    what = f"{wish.bottles} bottles{f' of {wish.colour}' if wish.colour else ''}"
    return f"{what} for {manner.calendar(wish.by)}"


def _in_the_way(found: Schedule, manner: Manner) -> list[str]:
    asked = listed([_asked(wish, manner) for wish in found.wishes])
    lines = [f"<b>Not in time</b>: {asked}."]
    for wish, days, late in zip(found.wishes, found.days, found.alone, strict=True):
        own = "" if len(found.wishes) == 1 else f"{_asked(wish, manner)}: "
        way = f"a kit of {days} days and {rest_days(wish)} of rest in the bottle"
        if late == 0:
            lines.append(f"{own}by itself, in time.")
        elif late is not None:
            lines.append(
                _first(f"{own}{way}; ready {manner.calendar(wish.by + timedelta(days=late))} at the soonest.")
            )
    if found.busy:
        held = [
            f"{name(one.vessel)} ({said(one.batch)}) until about {manner.calendar(one.until)}"
            for one in found.busy
        ]
        lines.append(f"In use: {listed(held)}.")
    if len(found.wishes) > 1 and found.late_days:
        lines.append(f"All of it together: {found.late_days} day{'s' * (found.late_days != 1)} late.")
    lines.append("A shorter kit, another bucket or fewer bottles would help.")
    return lines


def _first(line: str) -> str:
    return line[0].upper() + line[1:]
