"""A short way to tell a batch's story in tests: entries in the order they were said."""

from datetime import UTC, datetime, timedelta

from bot.cellar.log.acts import Act, Addition, Begin, Gravity, Step, StepName, Temperature, Undo
from bot.cellar.log.fold import Batch, Entry, fold

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


def hours(number: float) -> datetime:
    """That many hours after the batch began."""
    return START + timedelta(hours=number)


class Story:
    """Entries of one house; each call adds one and returns its number."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []

    def tell(
        self, act: Act, at: float = 0, *, batch: int | None = 1, strikes: int | None = None, by: str = "ana"
    ) -> int:
        number = len(self.entries) + 1
        self.entries.append(
            Entry(
                entry=number,
                act=act,
                by=by,
                said_at=hours(at),
                at=hours(at),
                batch=None if isinstance(act, Begin) else batch,
                strikes=strikes,
            )
        )
        return number

    def begin(self, days: int = 14, vessel: str = "bucket 2") -> int:
        return self.tell(Begin(of="plum", name="plum", litres=23.0, days=days, colour="red", vessel=vessel))

    def sg(self, value: float, at: float, temp_c: float | None = None) -> int:
        return self.tell(Gravity(sg=value, of="plum", temp_c=temp_c), at)

    def temp(self, value: float, at: float) -> int:
        return self.tell(Temperature(temp_c=value, of="plum"), at)

    def step(self, step: StepName, at: float, to: str | None = None, bottles: int | None = None) -> int:
        return self.tell(Step(step=step, of="plum", to=to, bottles=bottles), at)

    def add(self, what: str, at: float) -> int:
        return self.tell(Addition(what=what, of="plum"), at)

    def undo(self, entry: int, at: float = 0) -> int:
        return self.tell(Undo(), at, strikes=entry)

    @property
    def view(self) -> Batch:
        (view,) = fold(self.entries).batches
        return view


def fermented_out(days: int = 14) -> Story:
    """Begun, pitched, and proved settled 150 hours later."""
    story = Story()
    story.begin(days)
    story.step("sanitise", 0)
    story.step("mix", 0)
    story.sg(1.080, 1)
    story.step("pitch", 2)
    story.sg(1.030, 50)
    story.sg(0.995, 100)
    story.sg(0.994, 150)
    return story
