"""Messages that begin a batch or give a nickname: they carry somebody's own words."""

from collections.abc import Sequence

import msgspec

from bot.cellar.log.acts import Begin, Colour, Nickname
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import litres
from bot.understand.scene import Scene
from bot.understand.text.clauses import VOLUMES, chatter
from bot.understand.text.lexicon import Lexicon
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.scan import fold, scan, tidy
from bot.understand.text.spans import Quantity, Span, colour_among
from bot.understand.verdict import Doubt

DAYS_OF = {"day": 1, "week": 7, "month": 30}
"""Days in what a kit's length is told in."""
_MOST_WORDS = 4
JOINTS = frozenset({":", "-", ",", "=", ">", "."})


class OwnWords:
    """Reads begin and nickname, which keep the writer's own spelling."""

    def __init__(self, message: Message) -> None:
        self.scene = message.scene
        self.tokens = message.tokens
        self.text = message.text
        self.words = message.words

    def said(self, first: Span, last: Span) -> str:
        """The text from one span to another, as written."""
        return self.text[self.tokens[first.lo].start : self.tokens[last.hi - 1].end]

    # ------------------------------------------------------------------ beginnings

    def begins(self, spans: Sequence[Span]) -> bool:
        """Whether a new batch is spoken of at all."""
        return any(span.is_("begin", "explicit") for span in spans)

    def begin(self, spans: Sequence[Span]) -> Draft | None:
        """ "New batch: elder red, 23 litres in bucket 3, 14 day kit", in one message."""
        at = next((index for index, span in enumerate(spans) if span.has("begin")), None)
        if at is None:
            return None
        explicit = any(span.is_("begin", "explicit") for span in spans)
        strong = explicit or any(span.is_("begin", "strong") for span in spans)
        before = spans[:at]
        lets = any(span.has("naming") for span in spans) and len(before) == 1
        if any(_mood(span, "negation", "unreal", "plan", "ask", "request") for span in before) and not lets:
            return None
        vessel = next((span.ref for span in spans if span.ref is not None and _is_vessel(span.ref)), None)
        volume = next((span.qty for span in spans if span.qty is not None and span.qty.unit in VOLUMES), None)
        volume = volume or _named_volume(spans)
        days = self._days(spans)
        kit = any(span.has("kitword") or span.has("batchword") for span in spans)
        titled = explicit and (vessel or volume or days) and self._titled(spans, at + 1) is not None
        if (chatter(spans) >= 1.5 and not titled) or (
            not strong and any(span.has("step", "done") for span in spans)
        ):
            return None
        first, end = self._run(before, 0)
        name = first if end == at and _ends_at(spans, at) else None
        name = name or self._name(spans, at)[0] or first
        colour = self._colour(spans, name)
        if name is not None:
            name = self._without_colour(name)
        if name is not None and fold(name) in {"red", "white", "rose", "new"}:
            name = None
        amount = litres(volume.value, volume.unit, self.scene) if volume else None
        act = Begin(
            name=name, litres=amount, days=days, colour=colour, vessel=vessel.name if vessel else None
        )
        told = (vessel is not None) + (volume is not None) + (days is not None)
        if not strong and (not told or told + kit + (name is not None) < 2):
            return None
        introduced = at + 1 < len(spans) and (joint(spans[at + 1]) or spans[at + 1].kind == "line")
        named = any(span.is_("mood", "call") or span.has("naming") for span in spans)
        if not told and not introduced and not named and name is None:
            small = all(
                _plain(span) or span.has("filler") or span.kind == "mark"
                for span in (*before, *spans[at + 1 :])
            )
            return Draft(Begin(), 3.0, "nothing", doubt=Doubt.HALF_UNDERSTOOD) if explicit and small else None
        draft = Draft(act, 3.0 if strong else 2.0, "nothing")
        after = spans[at + 1].fold if at + 1 < len(spans) else ""
        if not told and not introduced and not named and after == "of":
            return None
        if not told and not introduced and not named and not explicit:
            draft.doubt = Doubt.UNSURE
        if name is None and introduced:
            word = next((span for span in spans[at + 1 :] if not joint(span)), None)
            if word is not None and (word.has("step") or word.has("measure") or word.has("mood")):
                draft.doubt, draft.about = Doubt.NAME_REFUSED, word.fold
        draft.moments = [
            span.moment for span in spans if span.moment is not None and not self._within(span, name)
        ]
        draft.to = vessel
        if amount is not None and not 0 < amount <= 1000:
            draft.doubt, draft.about = Doubt.OUT_OF_RANGE, volume.text if volume else None
        if any(
            span.qty is None and (span.is_("unit", "day") or (span.is_("unit", "litre") and volume is None))
            for span in spans
        ):
            draft.doubt = Doubt.HALF_UNDERSTOOD
        if days is not None and not 1 <= days <= 400:
            draft.doubt, draft.about = Doubt.OUT_OF_RANGE, str(days)
        if name is not None and refused(name, self.words, self.scene):
            draft.doubt, draft.about = Doubt.NAME_REFUSED, name
        return draft

    def _without_colour(self, name: str) -> str | None:
        """The name without its colour, where only the rest is written as a name is: "white Nebel"; none in "it is white"."""
        first, *rest = name.split()
        if not rest:
            return name
        tags = self.words.tags(fold(first))
        if any(tag.kind == "batchword" and tag.value == "it" for tag in tags):
            return None
        named = first.islower() and rest[0][:1].isupper() and colour_among(tags) is not None
        return " ".join(rest) if named else name

    def _days(self, spans: Sequence[Span]) -> int | None:
        for span in spans:
            if span.qty is not None and span.qty.unit in DAYS_OF:
                return round(span.qty.value * DAYS_OF[span.qty.unit])
        return None

    def _colour(self, spans: Sequence[Span], name: str | None) -> Colour | None:
        """The colour said, first in the words that begin ("new white:"), last in the name itself."""
        begins = [word for span in spans if span.has("begin") for word in span.fold.split()]
        named = [token.fold for token in scan(tidy(name))] if name is not None else []
        found = [colour_among(self.words.tags(word)) for word in begins]
        found += [span.colour for span in spans]
        found += [colour_among(self.words.tags(word)) for word in named]
        return next((colour for colour in found if colour is not None), None)

    def _name(self, spans: Sequence[Span], at: int) -> tuple[str | None, int]:
        """The name that the batch is given: after "called", else the first words that are nothing else."""
        called = next(
            (i for i, span in enumerate(spans) if span.is_("mood", "call") or span.has("naming")), None
        )
        if called is None:
            titled = self._titled(spans, at + 1)
            if titled is not None:
                return titled, len(spans)
        if called is not None and called + 1 < len(spans):
            given = self._given(spans, called + 1)
            if given:
                return given, len(spans)
            found = self._run(spans, called + 1)
            if found[0]:
                return found
        index = at + 1
        while index < len(spans):
            found = self._run(spans, index)
            if found[0]:
                return found
            index = max(found[1], index + 1)
        return None, len(spans)

    def _titled(self, spans: Sequence[Span], at: int) -> str | None:
        """The words between "new batch:" and the next comma, where they are a name that `_run` could not know to
        be one: "the big one", "Auntie", "midnight red"."""
        start = at
        while start < len(spans) and joint(spans[start]):
            start += 1
        end = start
        while end < len(spans) and not (spans[end].kind in ("mark", "line") or _into_vessel(spans, end)):
            end += 1
        words = spans[start:end]
        if start == at or not 1 <= len(words) <= _MOST_WORDS or end == len(spans):
            return None
        if any(_counted(span) or (span.ref is not None and _is_vessel(span.ref)) for span in words):
            return None
        if len(words) == 1 and (words[0].has("step") or words[0].has("measure") or words[0].has("undo")):
            return None
        if any(_mood(span, "ask", "plan", "negation", "request", "unreal", "want", "call") for span in words):
            return None
        if any(span.has("naming") or span.is_("part", "into") for span in words):
            return None
        if all(span.has("colour") or span.has("batchword") or span.has("kitword") for span in words):
            return None
        if words[-1].has("kitword") or (words[-1].is_("batchword", "batch") and len(words) == 2):
            return None
        return self.said(words[0], words[-1])

    def _given(self, spans: Sequence[Span], at: int) -> str | None:
        """All that follows "called", up to a mark, a number or a vessel: any words can be a name."""
        start = at
        while start < len(spans) and (spans[start].kind == "mark" or spans[start].has("batchword")):
            start += 1
        end = start
        while end < len(spans) and end - start < _MOST_WORDS:
            span = spans[end]
            ends = span.kind in ("mark", "line", "qty", "time") or (
                span.ref is not None and _is_vessel(span.ref)
            )
            if ends or span.is_("part", "into"):
                break
            end += 1
        return self.said(spans[start], spans[end - 1]) if end > start else None

    def _run(self, spans: Sequence[Span], at: int) -> tuple[str | None, int]:
        index = at
        while index < len(spans) and (
            spans[index].has("filler") or joint(spans[index]) or spans[index].has("mood")
        ):
            index += 1
        first = index
        while (
            index < len(spans)
            and index - first < _MOST_WORDS
            and (_names(spans[index]) or (index > first and _joins(spans, index)))
        ):
            index += 1
        joined = first > at and index > first and _plain(spans[first - 1])
        if joined and (spans[first].has("colour") or self._owner(spans[first - 1])):
            first -= 1
        while index > first and (spans[index - 1].has("kitword") or spans[index - 1].has("batchword")):
            index -= 1
        if index - first > 1 and spans[first].has("colour") and " " in spans[first].fold:
            first += 1  # "a white wine tern"
        words = list(spans[first:index])
        if not words or not any(_telling(span) for span in words):
            if len(words) == 1 and words[0].has("colour"):
                return None, index
            return None, index
        return self.said(words[0], words[-1]), index

    def _within(self, span: Span, name: str | None) -> bool:
        """Whether a time is a word of the batch's name: "midnight red"."""
        return name is not None and self.said(span, span) in name

    def _owner(self, span: Span) -> bool:
        """ "Nan's Best": whether a word was said with an apostrophe and s."""
        return bool(self.tokens[span.hi - 1].owner)

    # ------------------------------------------------------------------ nicknames

    def nickname(self, spans: Sequence[Span]) -> Draft | None:
        """ "Call bucket 2 Big Blue": learned only when told."""
        at = next((index for index, span in enumerate(spans) if span.is_("mood", "call")), None)
        if at is None or any(_mood(span, "negation") for span in spans):
            return None
        refs = [(index, span) for index, span in enumerate(spans) if span.ref is not None]
        if not refs or any(span.qty is not None and span.qty.unit is not None for span in spans):
            return None
        place, target = refs[0]
        assert target.ref is not None
        start = max(place, at) + 1
        while start < len(spans) and (
            spans[start].has("as")
            or spans[start].kind == "mark"
            or spans[start].has("batchword")
            or spans[start].is_("mood", "subject")
        ):
            start += 1
        end = start
        while end < len(spans) and not (spans[end].kind == "line" or spans[end].fold in '.!?;,"'):
            end += 1
        while end > start and (spans[end - 1].is_("part", "tail") or spans[end - 1].is_("mood", "call")):
            end -= 1
        if end <= start or end - start > _MOST_WORDS + 1 or place > at + 3:
            return None
        name = self.said(spans[start], spans[end - 1]).strip(" \"'")
        own = place < at and not any(span.kind == "word" for span in spans[:at])
        if not (place > at or own) or not name:
            return None
        draft = Draft(Nickname(name=name), 2.5, "anything", [target.ref])
        if refused(name, self.words, self.scene):
            draft.doubt, draft.about = Doubt.NAME_REFUSED, name
        return draft


def refused(name: str, words: Lexicon, scene: Scene) -> bool:
    """Whether a name would be taken for a number or a word of the grammar, or is somebody else's already."""
    tokens = [token for token in scan(tidy(name)) if token.kind != "mark"]
    if not tokens or any(token.kind in ("phone", "link", "date") for token in tokens):
        return True
    taken = {fold(other) for batch in scene.batches for other in (batch.name, *batch.nicknames)}
    taken |= {fold(other) for vessel in scene.vessels for other in (vessel.name, *vessel.nicknames)}
    if fold(name) in taken:
        return True
    if all(token.kind == "num" for token in tokens):
        return True
    kinds = {
        "step",
        "measure",
        "unit",
        "vessel",
        "undo",
        "mood",
        "question",
        "put",
        "correct",
        "number",
        "bottles",
        "begin",
    }
    kinds |= {"substance", "amount", "batchword", "colour", "answer"}
    if len(tokens) == 1:
        return any(tag.kind in kinds for tag in words.tags(tokens[0].fold)) or _only_filler(
            tokens[0].fold, words
        )
    vessel = any(tag.kind == "vessel" for tag in words.tags(tokens[0].fold))
    return vessel and tokens[-1].kind == "num"


def _only_filler(word: str, words: Lexicon) -> bool:
    return any(tag.kind == "filler" and tag.value == "link" for tag in words.tags(word))


def _mood(span: Span, *values: str) -> bool:
    return any(tag.kind == "mood" and tag.value in values for tag in span.tags)


def _counted(span: Span) -> bool:
    """A number, unless it is only the "one" of "the big one"."""
    return span.qty is not None and not (span.qty.spoken and span.qty.unit is None)


def _named_volume(spans: Sequence[Span]) -> Quantity | None:
    """ "Litres: 23", as on a form."""
    for index, span in enumerate(spans[:-1]):
        unit = span.value("unit")
        after = spans[index + 1 : index + 3]
        number = next((item for item in after if item.qty is not None), None)
        close = number is not None and (number is after[0] or joint(after[0]))
        if span.qty is None and unit in VOLUMES and close and number is not None and number.qty is not None:
            return msgspec.structs.replace(number.qty, unit=unit) if number.qty.unit is None else None
    return None


def _ends_at(spans: Sequence[Span], at: int) -> bool:
    """Whether nothing follows a word at once: "beetroot started - 1 gal"."""
    follows = spans[at + 1] if at + 1 < len(spans) else None
    return follows is None or joint(follows) or follows.kind in ("line", "time")


def joint(span: Span) -> bool:
    return span.kind == "mark" and span.fold in JOINTS


def _into_vessel(spans: Sequence[Span], at: int) -> bool:
    """Whether "in bucket 3" stands here: a name ends before it, as before a comma."""
    after = spans[at + 1].ref if at + 1 < len(spans) else None
    return spans[at].is_("part", "into") and after is not None and _is_vessel(after)


def _is_vessel(ref: Ref) -> bool:
    return ref.kind in ("vessel", "unknown")


def _is_batch(span: Span) -> bool:
    return span.ref is not None and span.ref.kind in ("batch", "colour")


def _names(span: Span) -> bool:
    """Whether a span can be part of a new batch's name."""
    if span.kind == "word":
        return True
    if span.ref is not None:
        return _is_batch(span)
    if span.kind != "phrase":
        return False
    return (
        span.has("colour")
        or span.has("kitword")
        or span.has("batchword", None)
        or span.has("substance")
        or (span.has("chatter"))
    )


def _telling(span: Span) -> bool:
    """Whether a span makes a name of what would else be a colour or a small word."""
    if span.kind == "word" or span.has("substance") or _plain(span) or span.has("chatter"):
        return True
    return span.ref is not None and span.ref.kind == "batch"


def _joins(spans: Sequence[Span], at: int) -> bool:
    """ "And" between two words of a name: "fig and honey"."""
    return spans[at].has("join") and at + 1 < len(spans) and spans[at + 1].kind == "word"


def _plain(span: Span) -> bool:
    """A small word that a name may still begin with: "cellar red"."""
    return span.is_("filler", "reading") or span.is_("filler", "social")
