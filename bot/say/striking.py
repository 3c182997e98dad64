"""What is said before and after something is struck out."""

from collections.abc import Sequence

from bot.cellar.log.acts import Act
from bot.cellar.log.fold import Entry
from bot.say.facts import fact
from bot.say.manner import Manner, listed, name, said

_LOST = "Everything that is written about {names} goes with it."
_WITH_IT = "With it I write:"


def strike_out(
    entries: Sequence[Entry], manner: Manner, *, me: str, also: Sequence[Act] = (), lost: Sequence[str] = ()
) -> str:
    """The question whether these entries, of one person and time, are to be struck out. `me` is who asked for it,
    `also` what "yes" writes besides, `lost` the batches that would go with them."""
    first = entries[0]
    whose = "your" if first.by == me else f"{said(first.by)}'s"
    when = manner.when(first.said_at)
    if len(entries) == 1:
        lines = [f"Strike out {whose} {fact(first.act, manner)}, {when}?"]
    else:
        lines = [
            f"Strike out all of this, {whose} of {when}?",
            *(f"· {fact(e.act, manner)}" for e in entries),
        ]
    if lost:
        lines.append(_LOST.format(names=listed([name(one) for one in lost])))
    if also:
        lines += [_WITH_IT, *(f"· {fact(act, manner)}" for act in also)]
    return "\n".join(lines)


def without_yeast(of: str, pitch_c: tuple[float, float], manner: Manner) -> str:
    """What follows for a must whose yeast was struck out. Temperatures in °C."""
    low, high = (manner.temperature(temp_c) for temp_c in pitch_c)
    return f"So by what I know there is no yeast in {name(of)}. Put it in now: the must at {low} to {high}."
