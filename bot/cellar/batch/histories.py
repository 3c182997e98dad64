"""What was read, measured, added and done, and by whom: lists out of the log."""

from typing import Literal

import msgspec

from bot.cellar.batch.place import true_sg
from bot.cellar.batch.story import Happened, story
from bot.cellar.log.views import BatchView

HistoryAbout = Literal["readings", "chart", "temperature", "additions", "who"]


class HistoryAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What was read, measured, added or done. `figures` are the readings at 20 °C, in order."""

    about: HistoryAbout
    views: tuple[BatchView, ...]
    figures: tuple[tuple[float, ...], ...] = ()
    did: tuple[tuple[Happened, ...], ...] = ()
    """For `about="who"`: what everybody did, oldest first."""


def history(about: HistoryAbout, views: tuple[BatchView, ...]) -> HistoryAnswer:
    """What the batches' log tells of it."""
    figures = tuple(tuple(true_sg(view, reading) for reading in view.readings) for view in views)
    did = tuple(tuple(one for one in story(view) if one.by) for view in views) if about == "who" else ()
    return HistoryAnswer(about=about, views=views, figures=figures, did=did)
