"""Litres that came, went, or were shared out: samples, losses, topping up, partial rackings.

They are found in a message seen with capitals in the place of what the grammar knows, by patterns that are data
(`vessels.toml`, under `litres`).
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Literal

import msgspec

from bot.cellar.log.acts import Draw, Share, Split, Step
from bot.science import practice
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import litres
from bot.understand.scene import Scene
from bot.understand.text import moods
from bot.understand.text.clauses import SENTENCE_ENDS, VOLUMES, Clause, of_bottles
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import Tag
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

BOTTLE_LITRES = practice.BOTTLE_LITRES.value

Why = Literal["sample", "lees", "spill", "lost", "out"]
_WHYS: tuple[Why, ...] = ("sample", "lees", "spill", "lost", "out")
_SURE, _SPILT, _LOOSE = 1.9, 1.6, 1.2
_SHARED = 2.0
_ROUND = frozenset({"good", "full", "whole", "big", "small", "generous"})
"""Words between an amount and its unit: "a good litre"."""
LONGEST = 300
"""Characters of a message, or a clause, that are looked through for litres."""
_VESSELS = re.compile(r"\b[KUW]\b")
_MARK = re.compile(r"(?<!\?P)<(\w+)>")
_LETTERS = {"batch": "B", "colour": "B", "vessel": "K", "unknown": "U", "kind": "W"}


class Patterns:
    """The patterns of a language, ready to be matched."""

    def __init__(self, tables: dict[str, Any]) -> None:
        words: dict[str, str] = tables["words"]

        def filled(form: str) -> str:
            while _MARK.search(form):
                form = _MARK.sub(lambda mark: words[mark[1]], form)
            return form

        self.drawn = {why: [re.compile(filled(form)) for form in tables[why]["forms"]] for why in _WHYS}
        self.topping = {name: re.compile(filled(form)) for name, form in tables["top_up"].items()}
        amount = filled("(?:V|N|H|<rest>)")
        whose = r"(?: (?:of )?(?:it|that|B|the wine|the B))?"
        place = filled(r"(?:<go>)(?:(?:in|into|to|onto|inside|over) )+<vessel>")
        named = filled(rf"<vessel>(?: ?\(? ?{amount} ?\)?| <got> {amount}{whose})?")
        share = rf"(?:(?:{amount}{whose} )?{place}(?: ?\( ?V ?\))?|{named})"
        self.shares = re.compile(rf"{share}(?:{filled('<sep>(?:<fill> |left )?')}{share})*")
        self.share = re.compile(rf"{share}")
        self.source = re.compile(r" (?:from|out of) (?:the |our |my )?[BK]\b")
        self.amount, self.rest = re.compile(amount), re.compile(filled("<rest>"))
        self.rack = re.compile(filled(r"\b<rack>\b"))
        self.fill = re.compile(filled(r"\b<fill>\b"))
        self.into = re.compile(filled(r"\b<into>\b|\bbetween\b|\bover\b|\bamong\b"))


@lru_cache(maxsize=8)
def patterns_of(language: str) -> Patterns:
    """The patterns of a language; English where it is not known."""
    return Patterns(tables_of(language, "litres"))


class Piece(msgspec.Struct, frozen=True):
    """A part of the message as patterns see it: where it stands there, its spans, and its litres."""

    lo: int
    hi: int
    spans: tuple[Span, ...]
    litres: float | None = None


class Seen:
    """Spans as patterns see them."""

    def __init__(self, spans: Sequence[Span], scene: Scene) -> None:
        self.pieces: list[Piece] = []
        text = ""
        at = 0
        while at < len(spans):
            word, taken, amount = _seen(spans, at, scene)
            if word:
                text += " " if text else ""
                self.pieces.append(
                    Piece(len(text), len(text) + len(word), tuple(spans[at : at + taken]), amount)
                )
                text += word
            at += taken
        self.text = text

    def within(self, found: re.Match[str] | tuple[int, int]) -> list[Piece]:
        """The pieces that a match covers."""
        lo, hi = found if isinstance(found, tuple) else found.span()
        return [piece for piece in self.pieces if piece.lo >= lo and piece.hi <= hi]


def _seen(spans: Sequence[Span], at: int, scene: Scene) -> tuple[str, int, float | None]:
    """What stands for the span, how many spans that takes, and its litres."""
    span = spans[at]
    if span.ref is not None:
        return _LETTERS.get(span.ref.kind, "B"), 1, None
    skip = 1 if at + 1 < len(spans) and spans[at + 1].fold in _ROUND else 0
    after = spans[at + 1 + skip] if at + 1 + skip < len(spans) else None
    worth = spans[at + 2 + skip] if at + 2 + skip < len(spans) else None
    if span.qty is not None:
        unit = span.qty.unit
        if unit == "bottle" and after is not None and after.fold == "worth":
            return "V", 2, round(span.qty.value * BOTTLE_LITRES, 3)
        if unit in VOLUMES:
            more = 0.5 if after is not None and after.is_("sign", "and_half") else 0.0
            value = litres(span.qty.value + more, unit, scene)
            exact = round(value, 3) if unit != "ml" else span.qty.value / 1000
            return "V", 2 if more else 1, exact
        if unit is None and span.qty.decimals <= 2 and 0 < span.qty.value <= 100:
            return "N", 1, litres(span.qty.value, _house_unit(scene), scene)
        return span.fold, 1, None
    if span.has("amount") and after is not None and after.qty is None:
        count = float(span.value("amount") or 1)
        unit = after.value("unit")
        if unit == "bottle" and worth is not None and worth.fold == "worth":
            return "V", 3 + skip, round(count * BOTTLE_LITRES, 3)
        if unit in VOLUMES:
            half = worth is not None and worth.is_("sign", "and_half")
            value = count + 0.5 if half else count
            exact = value / 1000 if unit == "ml" else litres(value, unit, scene)
            return "V", (3 if half else 2) + skip, exact
    if span.fold == "half" and not (at and spans[at - 1].fold == "other"):
        return "H", 1, None
    if span.moment is not None:
        return "T", 1, None
    return ("" if span.has("hedge") else span.fold), 1, None


def _house_unit(scene: Scene) -> str:
    return "gallon" if scene.volume_unit.lower().startswith("gal") else "litre"


class Litres:
    """Reads what a clause says of wine taken out, and of what it was topped up with."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.patterns = patterns_of(scene.language)

    def drawn(self, clause: Clause) -> list[tuple[int, Draft]]:
        """What was taken out or lost. Marks what it takes, so that nothing else reads it."""
        if not any(span.qty is not None or span.has("unit") for span in clause.spans):
            return []
        if (
            moods.denied(clause)
            or (moods.unreal(clause) and not clause.means("put", "done"))  # "used 100 ml" is no "used to"
            or moods.planned(clause)
            or clause.any("step", "bottle")
        ):
            return []
        seen = Seen(clause.spans, self.scene)
        if len(seen.text) > LONGEST:
            return []
        for why, forms in self.patterns.drawn.items():
            for form in forms:
                found = form.search(seen.text)
                pieces = seen.within(found) if found else []
                amount = next((piece.litres for piece in pieces if piece.litres is not None), None)
                if not found or not amount or _of_something_else(seen, found):
                    continue
                spans = [span for piece in pieces for span in piece.spans]
                _understood(spans)
                score = {"lost": _LOOSE, "out": _LOOSE, "spill": _SPILT}.get(why, _SURE)
                draft = Draft(Draw(litres=amount, why=why), score)
                return [(clause.spans.index(spans[0]), draft)]
        return []

    def drawn_plainly(self, clause: Clause) -> Draft | None:
        """The one amount of a clause that is known to tell of wine taken out or lost, in whatever words."""
        if moods.denied(clause) or moods.planned(clause):
            return None
        found = self.drawn(clause)
        if found:
            return found[0][1]
        amounts = [piece for piece in Seen(clause.spans, self.scene).pieces if piece.litres]
        if len(amounts) != 1 or not (litres := amounts[0].litres) or litres > _MOST_DRAWN:
            return None
        _understood(amounts[0].spans)
        return Draft(Draw(litres=litres, why="out"), _LOOSE)

    def topped(self, clause: Clause, draft: Draft) -> None:
        """Gives a topping up its litres and what it was done with."""
        act = draft.act
        if not isinstance(act, Step) or act.step != "top_up":
            return
        seen = Seen(clause.spans, self.scene)
        if self.patterns.topping["total"].search(seen.text):
            return
        amounts = [p.litres for p in seen.pieces if p.litres is not None and seen.text[p.lo] == "V"]
        using, donor = None, self.patterns.topping["donor"].search(seen.text)
        bottles = any(map(of_bottles, clause.spans))
        if self.patterns.topping["water"].search(seen.text):
            using = "water"
        elif donor is not None and len(draft.refs or clause.refs) > 1:
            (piece,) = seen.within(donor.span("donor"))
            ref = piece.spans[0].ref
            draft.refs = [one for one in draft.refs or clause.refs if one != ref]
            using = self._batch(ref, bottles=bottles)
        elif self.patterns.topping["wine"].search(seen.text) or bottles:
            using = "wine"
        amount = amounts[0] if len(amounts) == 1 else _bottles_of(clause) if using != "water" else None
        draft.act = msgspec.structs.replace(act, litres=amount, using=using)
        for span in clause.spans:
            span.used = span.used or (span.qty is not None and span.qty.unit in (*VOLUMES, "bottle"))

    def goes_on(self, clause: Clause, last: Draft | None) -> bool:
        """Whether a clause only says with how much, or with what, it was topped up just before; then it is taken."""
        act = last.act if last is not None else None
        lacks = isinstance(act, Step) and act.step == "top_up" and act.litres is None
        if last is None or not lacks or clause.hard or clause.any("step") or clause.means("put", "done"):
            return False
        seen = Seen(clause.spans, self.scene)
        if "V" not in seen.text or clause.words() or self.patterns.topping["total"].search(seen.text):
            return False
        using = act.using if isinstance(act, Step) else None
        self.topped(clause, last)
        if isinstance(last.act, Step) and last.act.using is None:
            last.act = msgspec.structs.replace(last.act, using=using)
        return True

    def _batch(self, ref: Ref | None, *, bottles: bool) -> str | None:
        """The batch that it was topped up with: under way or in bottles. "A bottle of red" may be any red."""
        if ref is None:
            return None
        for batch in self.scene.under_way:
            inside = ref.name in (batch.vessel, *batch.also_in)
            coloured = ref.kind == "colour" and batch.colour == ref.name and not bottles
            if batch.name == ref.name or inside or coloured:
                return batch.name
        if any(batch.name == ref.name for batch in self.scene.batches):
            return ref.name
        return "wine"


def _bottles_of(clause: Clause) -> float | None:
    """The litres of "a bottle of shop red"."""
    for before, span in zip([None, *clause.spans], clause.spans, strict=False):
        if span.qty is not None and span.qty.unit == "bottle":
            return round(span.qty.value * BOTTLE_LITRES, 3)
        if span.is_("unit", "bottle") and before is not None and before.has("amount"):
            return round(float(before.value("amount") or 1) * BOTTLE_LITRES, 3)
    return None


def _of_something_else(seen: Seen, found: re.Match[str]) -> bool:
    """ "Took a 100 ml sample of the soup": what follows "of" is no wine."""
    return _STRANGE.match(seen.text, found.end()) is not None


_MOST_DRAWN = 5.0
"""Litres that are taken out or lost in passing."""
_STRANGE = re.compile(r" of (?!(?:the |our |my )?(?:it|that|this|wine|must|juice|[BKW])\b)")


def _understood(spans: Sequence[Span]) -> None:
    """They mean what they were read as, and speak no more against it."""
    for span in spans:
        span.used = True
        if span.ref is None and span.moment is None:
            span.kind, span.tags = (
                ("qty" if span.qty is not None else "phrase"),
                (Tag("filler", "reading", ""),),
            )


def read_shares(message: Message, spans: Sequence[Span]) -> tuple[Draft, list[Span]] | None:
    """One wine shared out over vessels, and the spans that say something else; None where it says no such thing."""
    scene = message.scene
    patterns = patterns_of(scene.language)
    seen = Seen(spans, scene)
    if len(seen.text) > LONGEST or not _VESSELS.search(seen.text):
        return None
    for region in patterns.shares.finditer(seen.text):
        shares = [
            seen.within(one) for one in patterns.share.finditer(seen.text, region.start(), region.end())
        ]
        head = _head(seen.text, region.start(), patterns)
        source = patterns.source.match(seen.text, region.end())
        end = source.end() if source else region.end()
        told = _told(shares, seen, patterns, message)
        if not _shares_out(
            told, seen.text[head : region.start()], region[0] + (source[0] if source else ""), patterns
        ):
            continue
        taken = {id(span) for piece in seen.within((head, end)) for span in piece.spans}
        last = max((at for at, span in enumerate(spans) if id(span) in taken), default=-1)
        parted = any(id(span) in taken and span.fold in SENTENCE_ENDS for span in spans)
        if not _measured(told) and (
            parted or any(span.is_("mood", "aux") for span in spans[last + 1 : last + 2])
        ):
            continue  # "moved the white into demijohn 2, bucket 3 is dirty"
        clause = Clause([span for span in spans if id(span) in taken], hard=True)
        if moods.denied(clause) or moods.unreal(clause) or moods.planned(clause) or moods.asks(clause):
            return None
        goals = {one.ref for one in told}
        refs = [ref for ref in clause.refs if ref not in goals and ref.kind in ("batch", "colour", "vessel")]
        refs = refs or _before(spans, taken) or _own(goals, scene)
        draft = _draft(told, refs, message)
        draft.clause, draft.moments = clause, clause.moments
        _understood(clause.spans)
        return draft, _rest_of(spans, taken)
    return None


class _Told(msgspec.Struct, frozen=True):
    ref: Ref
    litres: float | None
    rest: bool
    half: bool


def _told(shares: Sequence[Sequence[Piece]], seen: Seen, patterns: Patterns, message: Message) -> list[_Told]:
    told: list[_Told] = []
    for pieces in shares:
        ref = next(
            (span.ref for p in pieces for span in p.spans if span.ref and span.ref.kind not in _WINES), None
        )
        if ref is None:
            continue
        words = seen.text[pieces[0].lo : pieces[-1].hi]
        amount = next((p.litres for p in pieces if p.litres is not None), None)
        rest = patterns.rest.search(words) is not None
        told.append(_Told(ref, None if rest else amount, rest, re.search(r"\bH\b", words) is not None))
    return told


_WINES = ("batch", "colour", "every")


def _head(text: str, at: int, patterns: Patterns) -> int:
    """Where the words begin that lead to the shares: after the mark or the sentence before the verb."""
    before = text[:at]
    sentence = max((before.rfind(mark) for mark in (". ", "; ", "! ", "\n")), default=-1)
    verbs = [found for found in patterns.fill.finditer(before) if found.start() > sentence]
    if not verbs:
        return at
    start = max((before.rfind(mark, 0, verbs[-1].start()) for mark in (",", " and ", " then ")), default=-1)
    start = max(start, sentence)
    return 0 if start < 0 else start + 1


def _measured(told: Sequence[_Told]) -> bool:
    """Whether it is told of any of the vessels how much went into it."""
    return any(one.litres is not None or one.rest or one.half for one in told)


def _shares_out(told: Sequence[_Told], head: str, region: str, patterns: Patterns) -> bool:
    """Whether it is a wine that is shared out, and no list of vessels for anything else."""
    vessels = {one.ref for one in told}
    if len(vessels) != len(told) or not told:
        return False
    measured = _measured(told)
    if len(told) == 1:
        return bool(patterns.rack.search(head)) and told[0].litres is not None and "V" in region
    if any(one.rest for one in told):
        return measured and (bool(patterns.fill.search(head)) or "V" in region or "H" in region or bool(head))
    if measured:
        return bool(patterns.fill.search(head)) and ("V" in region or "H" in region)
    if patterns.fill.search(head) and patterns.source.search(region):
        return True
    return bool(patterns.rack.search(head)) and bool(patterns.into.search(f"{head} {region}"))


def _before(spans: Sequence[Span], taken: set[int]) -> list[Ref]:
    """The batch named last before the words that were taken."""
    found: list[Ref] = []
    for span in spans:
        if id(span) in taken:
            break
        if span.ref is not None and span.ref.kind in ("batch", "colour", "vessel"):
            found = [span.ref]
    return found


def _own(goals: set[Ref], scene: Scene) -> list[Ref]:
    """The batch that is already in one of the vessels: "the rest stays in bucket 2"."""
    names = {ref.name for ref in goals}
    inside = [batch for batch in scene.under_way if names & {batch.vessel, *batch.also_in}]
    return [Ref("batch", inside[0].name)] if len(inside) == 1 else []


def _rest_of(spans: Sequence[Span], taken: set[int]) -> list[Span]:
    """The other spans, without the mark or the joint that led on from what was taken."""
    rest = [span for span in spans if id(span) not in taken]
    while rest and (rest[0].kind in ("mark", "line") or rest[0].has("join")):
        rest = rest[1:]
    while rest and (rest[-1].kind in ("mark", "line") or rest[-1].has("join")):
        rest = rest[:-1]
    return rest


def _draft(told: Sequence[_Told], refs: list[Ref], message: Message) -> Draft:
    batch = _batch_of(refs, message)
    halves = [one for one in told if one.half]
    into: list[Share] = []
    doubt: Doubt | None = None
    about: str | None = None
    for one in told:
        vessel, worry = _vessel(one.ref, message)
        if worry is not None and doubt is None:
            doubt, about = worry, one.ref.name
        amount, rest = one.litres, one.rest
        if one.half:
            whole = batch.litres if batch is not None else None
            amount, rest = (
                (None, True) if one is halves[-1] and len(halves) > 1 else (whole and whole / 2, False)
            )
        into.append(Share(vessel=vessel, litres=amount, rest=rest))
    return Draft(Split(into=tuple(into)), _SHARED, "batch", refs, doubt=doubt, about=about)


def _batch_of(refs: Sequence[Ref], message: Message) -> Any:
    targets = [target for ref in refs for target in message.targets.of(ref)]
    if targets:
        return targets[0].batch
    under_way = message.scene.under_way
    return under_way[0] if len(under_way) == 1 else None


def _vessel(ref: Ref, message: Message) -> tuple[str, Doubt | None]:
    """The vessel meant: where it was not named outright, the only free one of its kind."""
    if ref.kind == "vessel":
        return ref.name, None
    if ref.kind == "unknown":
        return ref.name, Doubt.UNKNOWN_VESSEL
    free = [v for v in message.targets.names.of_kind(ref.name) if v not in message.targets.in_vessel]
    return (free[0], None) if len(free) == 1 else (ref.name, Doubt.WHICH_VESSEL)
