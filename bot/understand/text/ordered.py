"""Wines that are told by their order, their age or the letter they begin with: "second 1.036, first is 1.018", "the old one
.996", "mixed A + B". The words are data: `order` in `sayings.toml`."""

from collections.abc import Sequence

from bot.understand.scene import Scene
from bot.understand.text.clauses import tells_gravity
from bot.understand.text.lexicon import Tag
from bot.understand.text.names import Ref
from bot.understand.text.scan import Token
from bot.understand.text.small_words import Order
from bot.understand.text.spans import Span

_SURE = 1.2
_FEWEST, _THREE = 2, 3


def told_in_order(
    spans: Sequence[Span], tokens: Sequence[Token], text: str, words: Order, scene: Scene
) -> None:
    """Makes names of the words that tell which of several wines under way is meant."""
    under_way = scene.under_way
    if len(under_way) < _FEWEST:  # "two of the old": of wines in bottles
        under_way = tuple(each for each in scene.batches if each.bottled is None or each.bottles_left)
    if len(under_way) < _FEWEST or any(batch.started is None for batch in under_way):
        return
    names = [batch.name for batch in sorted(under_way, key=lambda batch: (batch.started, batch.name))]
    initials = _initials(names)
    shown = [text[token.start : token.end] for token in tokens]
    loud = any(each.isupper() and len(each) > 1 for each in shown)
    packets = loud or any(span.has("packet") or span.has("substance") for span in spans)
    for at, span in enumerate(spans):
        if span.ref is not None or span.qty is not None or span.hi != span.lo + 1:
            continue
        if not packets and (name := initials.get(shown[span.lo])) and _stands_alone(spans, at):
            _named(span, name)
            continue
        place = _place(span.fold, len(names), words)
        if place is not None and (ones := _points(spans, at, words)) is not None:
            _named(span, names[place])
            if ones:
                _one(spans[at + 1])


def _initials(names: Sequence[str]) -> dict[str, str]:
    """The wines by their capital letters, where no two begin alike."""
    letters = [name[:1].upper() for name in names]
    return dict(zip(letters, names, strict=True)) if len(set(letters)) == len(letters) else {}


def _stands_alone(spans: Sequence[Span], at: int) -> bool:
    """Whether a capital letter is no article: beside a number, a mark, another such letter, or at the end."""
    before, after = _at(spans, at - 1), _at(spans, at + 1)
    if before is None and after is None:
        return False
    led = before is not None and (before.qty is not None or before.has("step") or before.is_("part", "in"))
    article = spans[at].fold in ("a", "i")
    return _ends(after) or (after is not None and after.qty is not None) or (led and not article)


def _place(word: str, many: int, words: Order) -> int | None:
    """Which in order a word is, of so many."""
    place = words.places.get(word)
    if place is None and many == _THREE and word in words.middle:
        place = 1
    if place is None and (word in words.newest or (many == _FEWEST and word in words.newer)):
        place = many - 1
    if place is None and (word in words.oldest or (many == _FEWEST and word in words.older)):
        place = 0
    return place if place is not None and place < many else None


def _points(spans: Sequence[Span], at: int, words: Order) -> bool | None:
    """Whether such a word points at a wine, and whether "one" follows: "the old one", "second 1.036", "yeast in first"."""
    before, after = _at(spans, at - 1), _at(spans, at + 1)
    if after is not None and after.fold in words.ones:
        beyond, thing = _at(spans, at + 2), _at(spans, at + 3)
        if thing is not None and (thing.has("substance") or thing.has("packet")):
            return None  # "second lot of finings"
        value = beyond is not None and (
            tells_gravity(beyond) or beyond.has("filler") or beyond.kind == "mark"
        )
        return True if beyond is None or value else None
    led = before is not None and (
        before.is_("part", "in") or before.fold in words.led or tells_gravity(before)
    )
    moved = before is not None and (before.has("move") or before.has("put"))
    goes_in = moved and after is not None and after.is_("part", "in")
    leads = before is None or _ends(before) or before.kind == "line" or before.fold in words.articles
    told = after if after is None or after.fold not in words.is_ else _at(spans, at + 2)
    valued = leads and told is not None and tells_gravity(told)
    too = after is not None and after.fold in words.too and _ends(_at(spans, at + 2))  # "in second also"
    does = (
        leads
        and after is not None
        and after.fold.split()[0] in words.does
        and _tells(spans[at + 1 : at + _NEAR])
    )
    return False if (led and (too or _ends(after))) or goes_in or valued or does else None


_NEAR = 5
"""So many spans after it what it got, or where it went, is told."""


def _tells(spans: Sequence[Span]) -> bool:
    """Whether a chore, a thing put in, a vessel, bottles or a gravity is told: "first is in demijohn 1 now"."""
    return any(
        span.has("step")
        or span.has("substance")
        or span.is_("unit", "bottle")
        or tells_gravity(span)
        or (span.ref is not None and span.ref.kind == "vessel")
        for span in spans
    )


def _ends(span: Span | None) -> bool:
    """Whether nothing more is said of a word before it."""
    return span is None or span.kind == "mark" or span.has("join")


def _at(spans: Sequence[Span], place: int) -> Span | None:
    return spans[place] if 0 <= place < len(spans) else None


def _named(span: Span, name: str) -> None:
    span.kind, span.tags, span.ref = "ref", (), Ref("batch", name, _SURE)


def _one(span: Span) -> None:
    """ "One" after it counts nothing."""
    span.kind, span.qty, span.ref = "phrase", None, None
    span.tags = (Tag("filler", "link", ""),)
