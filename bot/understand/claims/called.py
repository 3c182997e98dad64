"""What is called by less than its name: vessels by their numbers alone ("racked 3 into 1", "sanitised 1 and 2"), wines by
how their names begin."""

from collections.abc import Collection, Sequence

from bot.understand.scene import Scene
from bot.understand.text.clauses import is_packet
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, calls_vessel, measured
from bot.understand.text.spans import Quantity, Span

ARROWS = frozenset({">", "->", "→", "- >"})
_MOST = 40
"""No vessel has this number."""
_TWO_AND_TO = 3
"""Spans of "3 to 1"."""
_STAYS = frozenset({"step:pitch", "step:stir", "step:degas", "step:stabilise", "step:fine"})
"""Chores that are done to a wine where it is: "yeast in 2"."""
_MEASURED = frozenset({"step", "ask", "note", "gravity", "temperature"})
_DONE = frozenset({"step", "add", "bottles"})
_LIKELIEST = "bucket"
"""The kind of vessel that is called by its number before any other."""


class Called:
    """Finds what a message calls by less than its name, and gives its spans what they point at."""

    def __init__(self, message: Message) -> None:
        self.message = message
        self.scene: Scene = message.scene

    def find(self, part: Saying, label: str) -> None:
        """Finds it in a saying of that label: "1 is 1052", "995 2", "can 1 come off" where several are in use."""
        if from_to(part):
            return
        if label == "step:sanitise" and self._listed(part):
            return
        told = any(span.qty is not None and measured(span) for span in part.spans)
        moved = any(
            span.has("move") or span.has("step") or (_led_in(span) and not told) for span in part.spans
        )
        stays = label.startswith("add:") or label in _STAYS
        if (moved or not told) and not stays:
            self._goal(part)
        refs = [span.ref for span in part.spans if span.ref is not None]
        if len(self.scene.under_way) < 2 or any(ref.kind not in ("vessel", "unknown") for ref in refs):
            return
        kind = label.partition(":")[0]
        if (told or kind in _DONE) and self._begun_with(part):
            return
        if not refs and (told or kind in _MEASURED):
            self._in_use(part, label, stays=stays)

    def _in_use(self, part: Saying, label: str, *, stays: bool) -> None:
        """A vessel that wine is in, by the number at the head or the end of a saying, or after "in"."""
        for place, span in enumerate(part.spans):
            if span.qty is None or span.qty.spoken or not (names := self._numbered(span.qty)):
                continue
            first, last = place == 0, place == len(part.spans) - 1
            led = place > 0 and part.spans[place - 1].fold in self.message.small.numbered_after
            busy = [name for name in names if name in self.message.targets.in_vessel]
            if stays and len(busy) > 1:
                busy = [name for name in busy if _kind(name) == _LIKELIEST]
            if (first or last or led) and len(busy) == 1 and not (label == "step:bottle" and not first):
                _points_at(span, Ref("vessel", busy[0]))
                return

    def _listed(self, part: Saying) -> bool:
        """Vessels that were cleaned, by their numbers, the first perhaps by its name: "sanitised buckets 1 and 2", "1, 2 and
        3 sanitised"; False where there are not two."""
        numbers = [
            span
            for at, span in enumerate(part.spans)
            if self._numbered(span.qty) and calls_vessel(part.spans, at)
        ]
        named = [span.ref.name for span in part.spans if span.ref is not None and span.ref.kind == "vessel"]
        if not numbers or len(numbers) + len(named) < 2:
            return False
        if any(span.qty is not None and span not in numbers for span in part.spans):
            return False  # "sanitised 1 and 2 for 10 minutes"
        kinds = [_kind(name) for name in named[-1:]] or self._kinds_with(numbers)
        if not kinds:
            return False
        for span in numbers:
            name = next(each for each in self._numbered(span.qty) if _kind(each) in kinds)
            _points_at(span, Ref("vessel", name))
        return True

    def _kinds_with(self, numbers: Sequence[Span]) -> list[str]:
        """The kind of vessel of which the house has all these numbers, the likeliest of several."""
        each = [{_kind(name) for name in self._numbered(span.qty)} for span in numbers]
        found = sorted(set.intersection(*each), key=lambda kind: (kind != _LIKELIEST, kind))
        return found[:1]

    def between(self, part: Saying, left: Collection[str]) -> None:
        """ "3 to 1", "2>1": of two vessels by their numbers, the first in use, the second free or one that wine just
        `left`."""
        if not from_to(part):
            return
        spans = part.spans
        busy = [name for name in self._vessels_of(spans[0]) if name in self.message.targets.in_vessel]
        free = [
            name
            for name in self._vessels_of(spans[2])
            if name not in self.message.targets.in_vessel or name in left
        ]
        kinds = {_kind(name) for name in busy}
        free = [name for name in free if _kind(name) in kinds] if len(free) > 1 else free
        number = spans[2].qty
        if len(busy) == 1 and not free and number is not None and number.value.is_integer():
            new = Ref("unknown", f"{_kind(busy[0])} {int(number.value)}", 1.5)
            if self.message.targets.one_more(new):
                _points_at(spans[0], Ref("vessel", busy[0]))
                _points_at(spans[2], new)
            return
        if len(busy) == len(free) == 1 and busy != free:
            for span, name in ((spans[0], busy[0]), (spans[2], free[0])):
                _points_at(span, Ref("vessel", name))

    def free(self, numbers: Sequence[Span]) -> Ref | None:
        """ "Racked, 2 now": the free vessel of that number, of the kind that is in use."""
        names = self._numbered(numbers[0].qty) if len(numbers) == 1 else ()
        free = self._free(names, {_kind(name) for name in self.message.targets.in_vessel})
        return Ref("vessel", free[0]) if len(free) == 1 else None

    def _goal(self, part: Saying) -> None:
        """ "Scaff into 2", "in 3 now": a vessel to go to, called by its number alone."""
        spans = part.spans
        dosed = any(span.has("substance") or is_packet(span) for span in spans)
        for place, span in enumerate(spans):
            if place == 0 or not (names := self._numbered(span.qty)):
                continue
            before = spans[place - 1]
            if place > 1 and before.has("numbermark"):
                before = spans[place - 2]  # "into number 2"
            cleaned = before.step == "sanitise" or before.fold in self.message.small.washed
            led = _led_in(before) or before.fold in ARROWS or cleaned
            free = self._free(names, self._kinds(part))
            ends = place == len(spans) - 1 or (not dosed and _small_after(spans[place + 1]))
            if led and len(free) == 1 and ends:
                _points_at(span, Ref("vessel", free[0]))

    def _free(self, names: Sequence[str], kinds: Collection[str]) -> list[str]:
        """Those of the vessels in which there is no wine; of several those of these kinds."""
        free = [name for name in names if name not in self.message.targets.in_vessel]
        return [name for name in free if _kind(name) in kinds] if len(free) > 1 else free

    def _kinds(self, part: Saying) -> set[str]:
        """The kinds of vessel that the wines named in a saying stand in; all that are in use where it names none."""
        homes = [
            target.vessel
            for span in part.spans
            if span.ref is not None and span.ref.kind in ("batch", "colour")
            for target in self.message.targets.of(span.ref)
        ]
        return {_kind(home) for home in homes or self.message.targets.in_vessel if home}

    def _vessels_of(self, span: Span) -> Sequence[str]:
        """The vessels that a name or a bare number can be."""
        if span.ref is not None:
            return [span.ref.name] if span.ref.kind == "vessel" else []
        return self._numbered(span.qty)

    def _numbered(self, quantity: Quantity | None) -> Sequence[str]:
        """The house's vessels of a bare number."""
        if quantity is None or quantity.unit is not None or quantity.decimals or quantity.value >= _MOST:
            return ()
        return self.message.targets.names.numbered(int(quantity.value))

    def _begun_with(self, part: Saying) -> bool:
        """ "Snow 1.037": a batch called by how its name begins."""
        for span in part.spans:
            if (
                span.hi != span.lo + 1
                or self.message.tokens[span.lo].owner
                or span.qty is not None
                or span.has("step")
                or span.has("substance")
            ):
                continue
            strange = span.kind == "word" and span is part.spans[0]  # "ru stirred"
            ref = self.message.targets.names.begun_with(span.fold, strange=strange)
            if ref is not None:
                span.ref, span.kind = ref, "ref"
                return True
        return False


def from_to(part: Saying) -> bool:
    """Whether it is two numbers or names and "to" between them."""
    if len(part.spans) != _TWO_AND_TO:
        return False
    start, to, end = part.spans
    numbers = all(
        span.ref is not None or (span.qty is not None and span.qty.unit is None) for span in (start, end)
    )
    return numbers and (to.fold in ARROWS or to.fold == "to" or to.is_("part", "into"))


def _points_at(span: Span, ref: Ref) -> None:
    """Makes a name of a number."""
    span.ref, span.kind, span.qty = ref, "ref", None


def _kind(vessel: str) -> str:
    """The kind of a vessel, by the first word of its name."""
    return vessel.split()[0]


def _led_in(span: Span) -> bool:
    """Whether a vessel's number can stand right after it: "into", "is in", "went in"."""
    return any(span.is_("part", kind) for kind in ("into", "isin")) or (
        span.is_("part", "inside") and span.has("put")
    )


def _small_after(span: Span) -> bool:
    """Whether a number ends before it: what follows counts nothing."""
    return span.moment is not None or span.has("filler") or span.has("join") or span.has("mood")
