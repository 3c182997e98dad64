"""Wines that are told by their order, their age or the letter they begin with: "second 1.036, first is 1.018", "the old one
.996", "mixed A + B". The words are data: `order` in `sayings.toml`."""

from collections.abc import Sequence

from bot.understand.scene import Scene
from bot.understand.text.clauses import reads_gravity
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
    if len(under_way) < _FEWEST or any(batch.started is None for batch in under_way):
        return
    began = sorted(under_way, key=lambda batch: (batch.started is None, batch.started, batch.name))
    names = [batch.name for batch in began]
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
    beside = [spans[place] for place in (at - 1, at + 1) if 0 <= place < len(spans)]
    if not beside:
        return False
    after = spans[at + 1] if at + 1 < len(spans) else None
    ends = after is None or after.kind == "mark" or after.qty is not None or after.has("join")
    led = at > 0 and (
        spans[at - 1].qty is not None or spans[at - 1].has("step") or spans[at - 1].is_("part", "in")
    )
    article = spans[at].fold in ("a", "i")
    return ends or (led and not article)


def _place(word: str, many: int, words: Order) -> int | None:
    """Which in order a word is, of so many."""
    place = words.places.get(word)
    if place is None and many == _THREE and word in words.middle:
        place = 1
    if place is None and many > 1 and (word in words.newest or (many == _FEWEST and word in words.newer)):
        place = many - 1
    if place is None and (word in words.oldest or (many == _FEWEST and word in words.older)):
        place = 0
    return place if place is not None and place < many else None


def _points(spans: Sequence[Span], at: int, words: Order) -> bool | None:
    """Whether such a word points at a wine, and whether "one" follows: "the old one", "second 1.036", "yeast in first"."""
    before = spans[at - 1] if at else None
    after = _at(spans, at + 1)
    if after is not None and after.fold in words.ones:
        beyond = _at(spans, at + 2)
        value = beyond is not None and (_value(beyond) or beyond.has("filler") or beyond.kind == "mark")
        return True if beyond is None or value else None
    ends = after is None or after.kind == "mark" or after.has("join")
    if (
        before is not None
        and ends
        and (before.is_("part", "in") or before.fold in words.led or _value(before))
    ):
        return False
    moved = before is not None and (before.has("move") or before.has("put"))
    if moved and after is not None and after.is_("part", "in"):
        return False
    opens = before is None or before.kind in ("mark", "line")
    leads = before is None or opens or before.has("join") or before.fold in words.articles
    told = after if after is None or after.fold not in words.is_ else _at(spans, at + 2)
    return False if leads and told is not None and _value(told) else None


def _at(spans: Sequence[Span], place: int) -> Span | None:
    return spans[place] if place < len(spans) else None


def _value(span: Span) -> bool:
    return span.qty is not None and reads_gravity(span.qty)


def _named(span: Span, name: str) -> None:
    span.kind, span.tags, span.ref = "ref", (), Ref("batch", name, _SURE)


def _one(span: Span) -> None:
    """ "One" after it counts nothing."""
    span.kind, span.qty, span.ref = "phrase", None, None
    span.tags = (Tag("filler", "link", ""),)
