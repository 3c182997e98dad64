"""What follows from a batch's facts alone is worked out once: the view remembers it, for one fold.

A view never changes, so what was found stays true for as long as it lives; the next fold makes a new one, and so does
`msgspec.structs.replace`. What depends on `now` too is not remembered: a view may live through many messages.
"""

from collections.abc import Callable
from functools import wraps
from typing import TypeVar, cast

from bot.cellar.log.views import Batch

T = TypeVar("T")


def once(work: Callable[[Batch], T]) -> Callable[[Batch], T]:
    """The same function, which works it out the first time that it is asked of a view. What it raises is not kept."""
    name = f"{work.__module__}.{work.__qualname__}"

    @wraps(work)
    def remembered(view: Batch) -> T:
        known = view.__dict__
        if name not in known:
            known[name] = work(view)
        return cast(T, known[name])

    return remembered
