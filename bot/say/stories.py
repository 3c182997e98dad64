"""A batch told: its story in ten lines, and what it cost."""

from bot.cellar.answers import CostAnswer
from bot.cellar.batch.story import Happened
from bot.cellar.home.costs import Costs
from bot.cellar.log.fold import Added, Batch, Chore, Reading
from bot.cellar.log.views import Mixed, Move, Said
from bot.say.facts import STEP_DONE, dose
from bot.say.litres import moved, small
from bot.say.manner import Manner, listed, money, name, said, sg

MOST_LINES = 10


def story(view: Batch, events: tuple[Happened, ...], manner: Manner) -> str:
    """What happened, a line a day and person, in ten lines at most: the middle is drawn together."""
    days: list[tuple[str, str, list[str]]] = []
    for event in events:
        day = manner.short(event.at)
        what = told(event, view, manner)
        if days and days[-1][:2] == (day, event.by):
            days[-1][2].append(what)
        else:
            days.append((day, event.by, [what]))
    lines = [
        f"{day}, {said(by)}: {', '.join(what)}" if by else f"{day}: {', '.join(what)}"
        for day, by, what in days
    ]
    room = MOST_LINES - 1
    if len(lines) > room:
        first = 4
        left_out = len(lines) - room + 1
        lines = [*lines[:first], f"… {left_out} more days of it …", *lines[first + left_out :]]
    return "\n".join([f"{name(view.name)}, {_who(events)}", *lines])


def _who(events: tuple[Happened, ...]) -> str:
    people = list(dict.fromkeys(event.by for event in events if event.by))
    return f"by {listed([said(person) for person in people])}"


def told(event: Happened, view: Batch, manner: Manner) -> str:
    """One thing that happened, in a few words."""
    match event.fact:
        case Reading(sg=value):
            return sg(value)
        case Chore() as chore:
            to = f" into {said(chore.to)}" if chore.to else ""
            count = f" {chore.bottles} bottles" if chore.bottles else ""
            return f"{STEP_DONE[chore.step]}{to}{count}"
        case Added() as added:
            return f"{dose(added)} in"
        case Said(text=text):
            return f"“{said(text)}”"
        case Mixed() as mixed:
            some = f"{small(mixed.litres, manner)} of " if mixed.litres is not None else ""
            return f"{some}{said(mixed.other.name)} poured in"
        case Move() as move:
            return moved(move, manner)
        case _:
            if event.kind == "gone":
                return "thrown away" if view.given_up else "poured into another batch"
            litres = next((move.total for move in view.moves if move.total), None)
            return f"begun{f', {manner.volume(litres)}' if litres else ''}"


def costs(found: CostAnswer) -> str:
    """What each batch cost, and a bottle of it."""
    if not any(one.spent for _, one in found.costs):
        of = said(found.costs[-1][0].name) if found.costs else "plum"
        return f"Tell me what you spent, like: <code>{of} kit cost 45</code> or <code>corks for {of} cost 6</code>"
    lines = [_cost(view, one) for view, one in found.costs if one.spent]
    if len(lines) > 1:
        lines.append(f"{money(sum(one.kit + one.extras for _, one in found.costs))} altogether.")
    return "\n".join(lines)


def _cost(view: Batch, found: Costs) -> str:
    parts = [
        f"kit {money(found.kit)}" if found.kit else "",
        f"extras {money(found.extras)}" if found.extras else "",
    ]
    whole = found.kit + found.extras
    line = f"{name(view.name)}: {money(whole)} in all ({', '.join(filter(None, parts))})."
    if found.per_bottle is None:
        return f"{line} Tell me the litres or the bottles and I can divide."
    of = f"{found.bottles} bottles" if found.made else f"about {found.bottles} bottles to come"
    return f"{line} <b>{found.per_bottle:.2f} a bottle</b>, {of}."
