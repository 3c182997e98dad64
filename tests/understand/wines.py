"""Two wines for tests of what is told of them: one that ferments, and one in bottles."""

from datetime import datetime, timedelta

from bot.understand.scene import SceneBatch


def falling(now: datetime, *read: tuple[float, float]) -> SceneBatch:
    """A red that was begun with its first reading: so many days ago, this gravity."""
    readings = tuple((now - timedelta(days=ago), sg) for ago, sg in read)
    return SceneBatch(
        name="damson",
        colour="red",
        vessel="bucket 1",
        litres=23,
        started=readings[0][0],
        next=("gravity", "rack"),
        readings=readings,
    )


def kept(now: datetime) -> SceneBatch:
    """A white that was bottled two months ago, not half of it left."""
    bottled = (now - timedelta(days=60)).date()
    return SceneBatch(
        name="medlar", colour="white", litres=23, bottled=bottled, bottles_left=12, bottles_made=29
    )
