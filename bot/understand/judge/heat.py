"""How warm the wine is, told with a bare figure in a sentence beside other talk: "76 and holding, the fan helps",
"the wine's at 86, and it is only May", "21 on its sticker".

A figure that no gravity of a batch can be short for, in degrees that a wine can have, beside a word for the wine or of
how warmth moves, is a temperature. Where it may be short for a gravity as well, both are asked about.
"""

from collections.abc import Sequence

from bot.cellar.log.acts import Act, Gravity, Note, Temperature
from bot.science import practice
from bot.understand.claims.readings import celsius
from bot.understand.judge import plausible
from bot.understand.judge.figures import asked_which, batches_meant, reaches, short_for
from bot.understand.text.clauses import reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, sayings
from bot.understand.text.small_words import Warmth
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt, Verdict

_UNTOLD = (None, Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE, Doubt.UNSURE, Doubt.HALF_UNDERSTOOD)
_MOST_AFTER = 3
"""Spans of "and still climbing" at most."""
_MOST_BESIDE = 5
"""Spans after "up to 20" that tell what was done for it, at most."""
_LED, _MOST_LED = 2, 5
"""Words before the figure of "now it is up to 20"."""
_FACTS = (
    "step",
    "substance",
    "put",
    "bottles",
    "packet",
    "question",
    "unit",
    "sum",
    "colour",
    "move",
    "vessel",
)


def with_heat(verdict: Verdict, message: Message, *, for_wine: bool) -> Verdict:
    """The verdict, or the temperature that the message tells beside what is only talk. `for_wine`: it is for the bot, or in
    a chat for the wine alone."""
    if verdict.doubt not in _UNTOLD or not all(isinstance(act, Note | Temperature) for act in verdict.acts):
        return verdict
    written = verdict.verdict == "act"
    if not (for_wine or message.anchored) or (
        written and any(isinstance(act, Temperature) for act in verdict.acts)
    ):
        return verdict
    found = _figure(message)
    batches = batches_meant(message)
    if found is None or not batches or any(batch.next[:1] == ("bottle",) for batch in batches):
        return verdict
    figure, said = found
    warm = celsius(figure.value, None, message.scene)
    every = _named_together(message.spans)
    told: list[tuple[Act, ...]] = [(Temperature(of=batch.name, temp_c=warm),) for batch in batches]
    if every:
        told = [tuple(act for one in told for act in one)]
    gravities = [
        (Gravity(of=batch.name, sg=sg),)
        for batch in batches
        for sg in ([] if said else short_for(figure))
        if reaches(batch, sg, message, plausible.ON_CURVE if batch.readings else None)
    ]
    if gravities:
        return asked_which([*told, *gravities])
    if len(told) == 1:
        remarks = verdict.acts if written else ()
        return Verdict(verdict="act", acts=(*told[0], *remarks), why="how warm the wine is")
    return asked_which(told)


def _figure(message: Message) -> tuple[Quantity, bool] | None:
    """The one figure of the message that is how warm it is, and whether a thermometer is said to show it."""
    warmth = message.small.warmth
    parts = sayings(message)
    found: list[tuple[Quantity, bool]] = []
    for at, part in enumerate(parts):
        figure = _bare(part, message)
        if figure is None:
            continue
        place = next(place for place, span in enumerate(part.spans) if span.qty is figure)
        before, after = part.spans[:place], part.spans[place + 1 :]
        following = parts[at + 1].spans if at + 1 < len(parts) and not parts[at + 1].hard else []
        shown = _shown(message, after, warmth)
        if (
            shown
            or _of_wine(message, before, after)
            or _of_every((*before, *after))
            or _moves(message, before, after, following, warmth)
            or _up(message, before, after, warmth)
        ):
            found.append((figure, shown))
    return found[0] if len(found) == 1 else None


def _bare(part: Saying, message: Message) -> Quantity | None:
    """The one figure of a saying, without a unit, in degrees that a wine can have."""
    figures = [span.qty for span in part.spans if span.qty is not None]
    unreal = any(
        span.is_("mood", mood) for span in part.spans for mood in ("plan", "unreal", "request", "negation")
    )
    others = message.small.warmth.never.intersection(message.folds_of(part.spans))
    if len(figures) != 1 or part.asked or unreal or others:
        return None
    figure = figures[0]
    if figure.unit is not None or figure.signed or figure.decimals > 1 or reads_gravity(figure):
        return None
    low, high = practice.BARE_C.value
    return figure if low <= celsius(figure.value, None, message.scene) <= high else None


def _small(span: Span) -> bool:
    """Whether it says nothing of its own."""
    return (
        span.ref is not None
        or span.moment is not None
        or (
            (span.has("filler") or span.has("hedge") or span.has("part"))
            and not any(span.has(fact) for fact in _FACTS)
        )
    )


def _shown(message: Message, after: Sequence[Span], warmth: Warmth) -> bool:
    """ "20 on its sticker": what shows it is named."""
    folds = message.folds_of(after)
    return bool(folds) and folds[0] in warmth.on and bool(warmth.shows.intersection(folds[1:4]))


def _wine(span: Span, warmth: Warmth) -> bool:
    warm = span.is_("part", "warm") and not warmth.elsewhere.intersection(span.fold.split())
    return span.is_("batchword", "batch") or warm


def _of_wine(message: Message, before: Sequence[Span], after: Sequence[Span]) -> bool:
    """ "The wine's at 86", "75 on the wine": the wine and the figure, and nothing but small words with them."""
    warmth = message.small.warmth
    if not all(_small(span) or _wine(span, warmth) for span in (*before, *after)):
        return False
    named_before, named_after = (any(_wine(span, warmth) for span in part) for part in (before, after))
    folds = message.folds_of(after)
    return (named_before and not named_after) or (named_after and folds[0] in warmth.on)


def _of_every(beside: Sequence[Span]) -> bool:
    """ "Both 21", "it's 21 in both now": the wines together, and nothing but small words with them."""
    return _named_together(beside) and all(map(_small, beside))


def _named_together(spans: Sequence[Span]) -> bool:
    return any(span.ref is not None and span.ref.kind == "every" for span in spans)


def _moves(
    message: Message, before: Sequence[Span], after: Sequence[Span], following: Sequence[Span], warmth: Warmth
) -> bool:
    """ "76 and holding", "24 now, still climbing": how the warmth goes on."""
    if not all(map(_small, (*before, *after))):
        return False
    folds = message.folds_of(following)
    return bool(folds) and bool(warmth.moves.intersection(folds[:_MOST_AFTER]))


def _up(message: Message, before: Sequence[Span], after: Sequence[Span], warmth: Warmth) -> bool:
    """ "Up to 20 with the coat": no gravity goes up."""
    folds = message.folds_of(before)
    if not _LED <= len(folds) <= _MOST_LED or folds[-2] not in warmth.up or folds[-1] not in warmth.to:
        return False
    return len(after) <= _MOST_BESIDE and not any(span.has(fact) for span in after for fact in _FACTS)
