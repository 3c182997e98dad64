"""A message that is little more than a figure: a gravity in shorthand, bottles more or fewer, the last figure put right.

"43" while a batch ferments is 1.043 or how warm it is; "-1" of wine in bottles is a bottle gone; "oops, 6" takes the place
of the figure that the same person told last. What can be two things is asked about, and so is what was mended.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from itertools import pairwise

import msgspec

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Note, Step, Temperature, Undo, Volume, kind
from bot.science import practice
from bot.understand.claims.additions import amount_of
from bot.understand.claims.corrections import supposes, without_denied
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import celsius, gravity, litres
from bot.understand.judge import plausible
from bot.understand.judge.offers import WHY
from bot.understand.judge.settle import Settler
from bot.understand.scene import JustSaid, LetterSaid, OptionsAsked, SceneBatch
from bot.understand.text.clauses import DEGREES, DOSES, VOLUMES, chatter, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt, Verdict

RIGHTED_WITHIN = timedelta(minutes=10)
"""So long after a figure was told or asked about, another takes its place."""
_LETTER_FOR = timedelta(hours=2)
_SURE = 9.0
_MOST_AROUND = 4
"""Small words around a bare figure: with more of them it says something of its own."""
_FEWEST_SPOKEN = 10
"""Below that a number in words is said of anything."""
_POINTS = (1, 130)
"""What stands for the thousandths above water."""
_WHOLE = 2
"""Below that a figure with one decimal may be a gravity that lost its zeros: "1.9" is 1.090, or 1.009."""
_LATE = (90, 99)
"""What may stand for the last two digits of a gravity below water as well."""
_MUST = 1.05
"""No must begins below this."""
_SOON = 3
_MOST_COUNTED = 24
"""Bottles that are told with a sign alone, at most."""
_NEAR_COUNT = 5
"""So many bottles more or fewer are the same bottling, counted once more."""
_EARLY = 8
"""Words before a figure that puts right, at most."""

_LITTLE = (None, Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE)
_SAID_TWICE = 2
_ODD = (Doubt.OUT_OF_RANGE, Doubt.ODD_TEMPERATURE)
_TRADE = ("measure", "vessel", "substance", "step")
_MUCH_LESS = 0.7
"""Nobody loses so much of a batch: a volume below that part of it is of something else."""
_PENCE = 2
"""Decimals of a price: no thermometer shows so many."""
_TENFOLD = 9.0
"""From here on a figure with two decimals is a price or an hour as likely as a gravity."""


def with_figures(verdict: Verdict, message: Message, *, for_wine: bool) -> Verdict:
    """The verdict, unless the message is little more than a figure that says something else. `for_wine`: it is for the bot,
    or in a chat for the wine alone."""
    if any(isinstance(act, Undo) for act in verdict.acts):
        return verdict
    if not for_wine and _stray(verdict, message):
        return Verdict(verdict="ignore", why="a figure of something else")
    righted = _put_right(verdict, message, for_wine=for_wine)
    if righted is not None:
        return righted
    if verdict.verdict == "act" and not all(isinstance(act, Temperature) for act in verdict.acts):
        return verdict
    if verdict.doubt in _LITTLE and all(isinstance(act, Note) for act in verdict.acts):
        values = _values_apart(message) if for_wine else _bare_gravity(message)
        if values is not None:
            return values
    figure = _alone(message)
    if figure is None or not (for_wine or _named(message)):
        return verdict
    if verdict.doubt not in (*_LITTLE, Doubt.UNSURE) or not _of_degrees(verdict):
        return verdict
    return (
        _counted_off(figure, message)
        or (_went_to(figure, message) if for_wine else None)
        or _shorthand(verdict, figure, message, for_wine=for_wine)
    )


def asked_if_mended(verdict: Verdict, mended: Mapping[float, float | None]) -> Verdict:
    """The verdict, asked about where a gravity in it was mended: `mended` are those, with what each was before, if anything."""
    if verdict.verdict == "ignore" or not any(_figures(act) & set(mended) for act in verdict.acts):
        return verdict
    if verdict.verdict == "ask":
        loose = verdict.doubt in (Doubt.UNSURE, Doubt.WHICH_BATCH) and bool(verdict.options)
        return asked_which(verdict.options) if loose else verdict
    options = [verdict.acts]
    for act in verdict.acts:
        plain = mended.get(act.sg) if isinstance(act, Gravity) else None
        if isinstance(act, Gravity) and plain is not None:
            as_written = msgspec.structs.replace(act, sg=plain)
            options.append(tuple(as_written if other is act else other for other in verdict.acts))
    return asked_which(options)


def _figures(act: Act) -> set[float]:
    """The figures that are told in it."""
    match act:
        case Gravity():
            return {act.sg} if act.temp_c is None else {act.sg, act.temp_c}
        case Temperature():
            return {act.temp_c}
        case _:
            return set()


def asked_which(options: Sequence[Sequence[Act]]) -> Verdict:
    whole = tuple(tuple(option) for option in options)
    if any(isinstance(act, Gravity | Temperature) for option in whole for act in option):
        # Half a figure: no letter that asks for one makes it sure, as it does with what is only not named.
        half = Doubt.HALF_UNDERSTOOD
        return Verdict(verdict="ask", acts=whole[0], why=WHY[half], doubt=half, options=whole)
    several = len({act.of for option in whole for act in option if not isinstance(act, Undo)}) > 1
    doubt = Doubt.WHICH_BATCH if several and len({_value(option) for option in whole}) == 1 else Doubt.UNSURE
    acts = tuple(act for option in whole for act in option) if doubt is Doubt.WHICH_BATCH else whole[0]
    return Verdict(verdict="ask", acts=acts, why=WHY[doubt], doubt=doubt, options=whole)


def _value(option: Sequence[Act]) -> tuple[Act, ...]:
    return tuple(msgspec.structs.replace(act, of=None) for act in option)


def _real(message: Message) -> list[Span]:
    return [span for span in message.spans if span.kind not in ("mark", "line")]


def _named(message: Message) -> bool:
    return any(span.ref is not None for span in message.spans)


def _of_degrees(verdict: Verdict) -> bool:
    """Whether it tells nothing but how warm something is, or a remark."""
    return all(isinstance(act, Temperature | Note) for act in verdict.acts)


def _stray(verdict: Verdict, message: Message) -> bool:
    """ "Kit was 19.99", "the soup is at 80 degrees": no figure of wine, in everyday words."""
    numbers = [span.qty for span in message.spans if span.qty is not None]
    everyday = chatter(message.spans) > 0
    if verdict.doubt in _ODD and not _named(message):
        said = any(span.has(kind) for span in message.spans for kind in _TRADE)
        return everyday or not (said or _spoke(message))
    if verdict.acts and all(isinstance(act, Temperature) for act in verdict.acts) and not _named(message):
        return any(number.decimals == _PENCE and number.unit is None for number in numbers)
    if verdict.acts and not _named(message) and not _spoke(message):
        held = {batch.name: batch.litres for batch in message.scene.under_way if batch.litres}
        told = [(act.litres, held.get(act.of or "")) for act in verdict.acts if isinstance(act, Volume)]
        if len(told) == len(verdict.acts) and all(had and said < had * _MUCH_LESS for said, had in told):
            return True
    price = any(number.decimals == _PENCE and number.value >= _TENFOLD for number in numbers)
    return verdict.doubt is Doubt.SLIPPED_DIGIT and everyday and price


def _spoke(message: Message) -> bool:
    """Whether it follows, or replies to, what the bot said."""
    just = any(isinstance(one, JustSaid) and one.ago <= RIGHTED_WITHIN for one in message.scene.open)
    return just or message.replying_to is not None


# ---------------------------------------------------------------------- the last figure, put right


def _put_right(verdict: Verdict, message: Message, *, for_wine: bool) -> Verdict | None:
    """Another figure in place of the last one that the same person told, or was asked about."""
    by_words = _marked(message)
    for base, first in _bases(message):
        marked = by_words or (isinstance(base, Step | Bottles) and _denies(base, message))
        figure = _instead(base, message, marked=marked or first)
        if figure is None or not _nothing_else(verdict, base, figure):
            continue
        new = _with_figure(base, figure, message)
        if new is None or new == base:
            return None
        if first:
            return _told_instead(base, new, message)
        last = (message.scene.recent or (None,))[0]
        assert last is not None
        own = last.by == message.by
        if own and marked and (for_wine or isinstance(base, Gravity) or figure.unit is not None):
            return _in_its_place(base, new, message)
        if (marked and (own or for_wine)) or _counted_again(base, new):
            return asked_which([(Undo(entry=last.entry), msgspec.structs.replace(new, of=base.of))])
    return None


def _bases(message: Message) -> Iterator[tuple[Act, bool]]:
    """The acts whose figure may be put right: of what was just asked, and then what was written last."""
    asked = _question(message)
    if asked is not None:
        told = [act for act in asked.options[0] if _figured(act)]
        if len(told) == 1:
            yield told[0], True
    last = next(iter(message.scene.recent or ()), None)
    if last is None or message.sent_at - last.said_at > RIGHTED_WITHIN or not _figured(last.act):
        return
    yield last.act, False


def _question(message: Message) -> OptionsAsked | None:
    return next(
        (
            one
            for one in message.scene.open
            if isinstance(one, OptionsAsked)
            and not one.others
            and one.options
            and one.ago <= RIGHTED_WITHIN
            and not any(isinstance(act, Undo) for act in one.options[0])
        ),
        None,
    )


def _told_instead(base: Act, new: Act, message: Message) -> Verdict | None:
    """What was asked, with that figure, held against the batch as any is."""
    asked = _question(message)
    assert asked is not None
    acts = [new if act is base else act for act in asked.options[0]]
    target = message.targets.named(base.of)
    worry = (
        plausible.concern(new, target, message.scene, message.sent_at, sweetened=False)
        if target is not None and not isinstance(new, Note)
        else None
    )
    if worry is None:
        return Verdict(verdict="act", acts=tuple(acts), why="what was asked, with another figure")
    return Verdict(
        verdict="ask",
        acts=tuple(acts),
        why=WHY[worry.doubt],
        doubt=worry.doubt,
        options=(tuple(acts),),
        about=worry.about,
    )


def _in_its_place(base: Act, new: Act, message: Message) -> Verdict:
    """What was written last struck out, and the same with that figure."""
    if not isinstance(new, Step):
        return Settler(message).correction([Draft(new, _SURE)], [])
    last = (message.scene.recent or (None,))[0]
    assert last is not None
    right = (Undo(entry=last.entry), msgspec.structs.replace(new, of=base.of, at=base.at))
    batch = next((one for one in message.scene.batches if one.name == base.of), None)
    most = plausible.MORE * batch.litres / practice.BOTTLE_LITRES.value if batch and batch.litres else None
    if most is not None and new.bottles is not None and new.bottles > most:
        doubt = Doubt.TOO_MANY_BOTTLES
        return Verdict(
            verdict="ask",
            acts=right,
            why=WHY[doubt],
            doubt=doubt,
            options=(right,),
            about=f"{new.bottles}",
        )
    return Verdict(verdict="act", acts=right, why="puts the last entry right")


def _figured(act: Act) -> bool:
    match act:
        case Gravity() | Temperature() | Volume():
            return True
        case Addition():
            return act.amount is not None
        case Step():
            return act.bottles is not None
        case Bottles():
            return act.left is None
        case _:
            return False


def _nothing_else(verdict: Verdict, base: Act, figure: Quantity) -> bool:
    """Whether the message tells nothing beside a figure of that kind, as far as it was read; "handed out 11" right after a
    bottling is none of its bottles."""
    return all(
        isinstance(act, Note | Temperature)
        or kind(act) == kind(base)
        or (isinstance(act, Bottles) and act.change != -figure.value)
        for act in verdict.acts
    )


def _marked(message: Message) -> bool:
    """Whether words, or the figure said twice, say that something is put right."""
    if supposes(message):
        return False
    real = _real(message)
    ends = [*real[:3], *real[-2:]]
    if any(span.has("correct") or span.is_("undo", "weak") for span in ends):
        return True
    folds = [token.fold for token in message.tokens if token.kind in ("word", "num")]
    if message.small.sorry.intersection((*folds[:2], *folds[-2:])):
        return True
    said = f" {' '.join(folds)} "
    if any(f" {phrase} " in said for phrase in message.small.rights):
        return True
    numbers = [span.qty.value for span in real if span.qty is not None]
    return len(numbers) == _SAID_TWICE and numbers[0] == numbers[1] and len(real) == _SAID_TWICE


def _denies(base: Act, message: Message) -> bool:
    """ "28 not 29": whether just the figure that was told is denied."""
    real = _real(message)
    old = _figure_of(base)
    return any(
        no.is_("part", "not") and number.qty is not None and abs(number.qty.value) == old
        for no, number in pairwise(real)
    )


def _instead(base: Act, message: Message, *, marked: bool) -> Quantity | None:
    """The one figure of a message that may take the place of an act's; None where it asks, or tells of something else."""
    spans = without_denied(list(message.spans))
    if message.text.rstrip().endswith("?") or any(span.has("step") or _other(span, base) for span in spans):
        return None
    names = {
        target.of
        for span in spans
        if span.ref is not None
        for bottled in (False, True)
        for target in message.targets.of(span.ref, bottled=bottled)
    }
    if (any(span.ref is not None for span in spans) and names != {base.of}) or _besides(message):
        return None
    old = _figure_of(base)
    figures = [
        (at, span.qty)
        for at, span in enumerate(spans)
        if span.qty is not None and abs(span.qty.value) != old and _fits(base, span.qty)
    ]
    if not figures:
        return None
    at, first = figures[0]
    if first.spoken and first.value == 1 and at + 1 < len(spans) and spans[at + 1].kind != "mark":
        return None  # "one went to the postman"
    if any(qty.value != first.value and not qty.spoken for _, qty in figures[1:]):
        return None
    words = sum(span.kind not in ("mark", "line") for span in spans[:at])
    alone = marked and words <= _EARLY
    leads = at == 0 and (len(spans) == 1 or spans[1].kind in ("mark", "line"))
    if not marked and not leads:
        return None
    return first if alone or leads else None


def _besides(message: Message) -> bool:
    """Whether it is told as one thing more."""
    said = f" {' '.join(token.fold for token in message.tokens)} "
    return any(f" {phrase} " in said for phrase in message.small.besides)


def _other(span: Span, base: Act) -> bool:
    """Whether a word tells of something else than the act: another thing put in, another measure."""
    if span.has("substance"):
        return not isinstance(base, Addition) or not span.is_("substance", base.what)
    measure = {Gravity: "gravity", Temperature: "temperature", Volume: "volume"}.get(type(base))
    return span.has("measure") and not (measure is not None and span.is_("measure", measure))


def _figure_of(act: Act) -> float | None:
    match act:
        case Gravity():
            return act.sg
        case Temperature():
            return act.temp_c
        case Addition():
            return act.amount
        case Step():
            return act.bottles
        case Bottles():
            return abs(act.change)
        case Volume():
            return act.litres
        case _:
            return None


def _fits(base: Act, figure: Quantity) -> bool:
    """Whether a figure is of the kind that the act tells."""
    whole = figure.value.is_integer() and not figure.decimals and figure.value >= 1
    match base:
        case Gravity():
            low, high = practice.SG_WRITTEN.value
            held = figure.unit is None and figure.decimals == 2 and low <= figure.value <= high
            return reads_gravity(figure) or held
        case Temperature():
            return figure.unit in (None, *DEGREES) and not reads_gravity(figure)
        case Addition():
            return figure.unit in (None, *DOSES) and not reads_gravity(figure) and figure.value > 0
        case Step() | Bottles():
            return figure.unit in (None, "bottle") and whole and not reads_gravity(figure)
        case Volume():
            return figure.unit in VOLUMES
        case _:
            return False


def _with_figure(base: Act, figure: Quantity, message: Message) -> Act | None:
    """The act with the figure in place of its own."""
    scene = message.scene
    match base:
        case Gravity():
            sg = gravity(figure)
            return msgspec.structs.replace(base, sg=sg, brix=None, instrument=None) if sg else None
        case Temperature():
            degrees = celsius(figure.value, figure.unit, scene)
            low, high = practice.ROOM_C.value
            return msgspec.structs.replace(base, temp_c=degrees) if low <= degrees <= high else None
        case Addition():
            amount, unit = amount_of(figure, scene)
            return msgspec.structs.replace(base, amount=amount, unit=unit or base.unit)
        case Step():
            return msgspec.structs.replace(base, bottles=int(figure.value))
        case Bottles():
            count = int(figure.value)
            return msgspec.structs.replace(base, change=count if base.change > 0 else -count)
        case Volume():
            return msgspec.structs.replace(base, litres=litres(figure.value, figure.unit, scene))
        case _:
            return None


def _counted_again(base: Act, new: Act) -> bool:
    """ "29", after "bottled, 28 bottles"."""
    if not isinstance(base, Step) or not isinstance(new, Step) or base.bottles is None or new.bottles is None:
        return False
    return abs(base.bottles - new.bottles) <= _NEAR_COUNT


# ---------------------------------------------------------------------- a figure alone


def _alone(message: Message) -> Quantity | None:
    """The one figure of a message that says nothing else, but small words, a time and what it is of."""
    real = _real(message)
    numbers = [span.qty for span in real if span.qty is not None]
    rest = [span for span in real if span.qty is None]
    if len({number.value for number in numbers}) != 1 or len(rest) > _MOST_AROUND:
        return None
    refs = [span.ref for span in rest if span.ref is not None]
    said = f" {' '.join(token.fold for token in message.tokens)} "
    several = any(f" {phrase} " in said for phrase in (*message.small.two, *message.small.all))
    counts_on = any(f" {phrase} " in said for phrase in message.small.so_far)  # "14 so far"
    empty = any(token.fold in message.small.washed for token in message.tokens)  # "30 washed"
    if counts_on or empty:
        return None
    if several or len(refs) > 1 or any(ref.kind == "every" for ref in refs) or not all(map(_small, rest)):
        return None
    figure = numbers[0]
    if figure.spoken and figure.value < _FEWEST_SPOKEN:
        return None
    return figure if figure.unit in (None, "bottle") and not reads_gravity(figure) else None


def _small(span: Span) -> bool:
    if span.ref is not None or span.moment is not None or span.has("correct"):
        return True
    says = ("step", "substance", "put", "bottles", "question", "chatter", "vessel", "move", "answer", "sum")
    if span.is_("sum", "to"):  # "down to"
        return True
    if span.is_("part", "counted"):  # "day 8"
        return False
    return (span.has("filler") or span.has("hedge") or span.has("part")) and not any(
        span.has(kind) for kind in says
    )


def _counted_off(figure: Quantity, message: Message) -> Verdict | None:
    """ "-1", of wine in bottles: gone, or found."""
    if not figure.signed or figure.decimals or not 1 <= abs(figure.value) <= _MOST_COUNTED:
        return None
    kept = [batch for batch in message.scene.batches if batch.bottled is not None and batch.bottles_left]
    last = next((one.act.of for one in message.scene.recent or () if one.act.of is not None), None)
    if len(kept) > 1:
        kept = [batch for batch in kept if batch.name == last] or kept
    named = {
        target.of
        for span in message.spans
        if span.ref is not None
        for target in message.targets.of(span.ref, bottled=True)
    }
    kept = [batch for batch in kept if not named or batch.name in named]
    if not kept:
        return None
    told = [Bottles(of=batch.name, change=int(figure.value)) for batch in kept]
    if len(told) == 1 and not message.scene.under_way:
        worry = plausible.concern(
            told[0], message.targets.batch(kept[0]), message.scene, message.sent_at, sweetened=False
        )
        if worry is None:
            return Verdict(verdict="act", acts=tuple(told), why="bottles")
    return asked_which([(act,) for act in told])


def _went_to(figure: Quantity, message: Message) -> Verdict | None:
    """ "In 2": the free vessel of that number, while a batch waits to be drawn off."""
    waits = [batch for batch in message.scene.under_way if batch.next[:1] == ("rack",)]
    led = any(span.is_("part", "into") for span in message.spans[:1]) and message.spans[0].fold != "to"
    if not led or figure.decimals or figure.signed or len(waits) != 1:
        return None
    names = message.targets.names.numbered(int(figure.value))
    free = [name for name in names if name not in message.targets.in_vessel]
    return asked_which([(Step(of=waits[0].name, step="rack", to=name),) for name in free]) if free else None


def _bottled(figure: Quantity, batch: SceneBatch) -> Step | None:
    """A bare count of bottles, of a batch that waits to be bottled and fills about so many."""
    if batch.next[:1] != ("bottle",) or figure.decimals or figure.signed or not batch.litres:
        return None
    full = batch.litres / practice.BOTTLE_LITRES.value
    likely = full / plausible.MORE <= figure.value <= full * plausible.MORE
    return Step(of=batch.name, step="bottle", bottles=int(figure.value)) if likely else None


def _shorthand(verdict: Verdict, figure: Quantity, message: Message, *, for_wine: bool) -> Verdict:
    """ "43", "down to 28": the thousandths of a gravity, where some batch's can be there; or how warm it is."""
    warm = [act for act in verdict.acts if isinstance(act, Temperature)]
    low, high = practice.BARE_C.value
    degrees = celsius(figure.value, None, message.scene)
    folds = [token.fold for token in message.tokens]
    others = message.small.warmth.never.intersection(folds)
    room = low <= degrees <= high and figure.unit is None and not others
    due = [batch for batch in batches_meant(message) if batch.next[:1] == ("gravity",)]
    told = verdict.verdict == "act"
    if told and not message.small.falls.intersection(folds) and not (due and len(folds) == 1):
        return verdict
    if room and _thermometer_asked(message):
        return verdict
    reach = plausible.ON_CURVE if room else None
    read = [
        Gravity(of=batch.name, sg=sg)
        for batch in batches_meant(message)
        for sg in short_for(figure)
        if reaches(batch, sg, message, reach)
    ]
    filled = [step for batch in batches_meant(message) if (step := _bottled(figure, batch)) is not None]
    if read or filled:
        each: list[Act] = [*filled, *read, *warm]
        return asked_which([(act,) for act in each])
    if warm or not for_wine:
        return verdict
    if room and figure.decimals <= 1 and not figure.signed:
        rooms = [Temperature(of=batch.name, temp_c=degrees) for batch in batches_meant(message)]
        return asked_which([(act,) for act in rooms]) if rooms else verdict
    if verdict.verdict == "ignore" and message.scene.under_way:
        return Verdict(
            verdict="ask", why=WHY[Doubt.NOT_UNDERSTOOD], doubt=Doubt.NOT_UNDERSTOOD
        )  # to whom else would a figure be told
    return verdict


def _thermometer_asked(message: Message) -> bool:
    """Whether a letter in hand asks how warm it is."""
    letters = (one for one in message.scene.open if isinstance(one, LetterSaid) and one.ago <= _LETTER_FOR)
    return any(
        thing.measure == "temperature" and not thing.settled for one in letters for thing in one.things
    )


def _bare_gravity(message: Message) -> Verdict | None:
    """ "1.03" and nothing else, among family: a price, unless a batch that is to be read is just there."""
    numbers = [span.qty for span in message.spans]
    if len(numbers) != 1 or numbers[0] is None or numbers[0].unit is not None or numbers[0].signed:
        return None
    low, high = practice.SG_WRITTEN.value
    if numbers[0].decimals != _PENCE or not low <= numbers[0].value <= high:
        return None
    told = [
        (Gravity(of=batch.name, sg=numbers[0].value),)
        for batch in message.scene.under_way
        if "gravity" in batch.next[:_SOON]
        and batch.readings
        and reaches(batch, numbers[0].value, message, plausible.ON_CURVE)
    ]
    return asked_which(told) if len(told) == 1 else None


def _values_apart(message: Message) -> Verdict | None:
    """ "B1 22 b2 20": a bare figure for each of several names."""
    real = _real(message)
    names, numbers = real[::2], real[1::2]
    if len(names) < _SAID_TWICE or len(names) != len(numbers):
        return None
    warm: list[Act] = []
    read: list[Act] = []
    for name, number in zip(names, numbers, strict=True):
        targets = message.targets.of(name.ref) if name.ref is not None else ()
        batch = targets[0].batch if len(targets) == 1 else None
        if batch is None or number.qty is None or number.qty.unit is not None or number.qty.signed:
            return None
        degrees = celsius(number.qty.value, None, message.scene)
        low, high = practice.BARE_C.value
        if low <= degrees <= high and number.qty.decimals <= 1:
            warm.append(Temperature(of=batch.name, temp_c=degrees))
        read += [
            Gravity(of=batch.name, sg=sg) for sg in short_for(number.qty) if reaches(batch, sg, message, None)
        ][:1]
    options = [each for each in (warm, read) if len(each) == len(names)]
    return asked_which(options) if options else None


def batches_meant(message: Message) -> list[SceneBatch]:
    """The batches under way that the message can be about."""
    refs = [span.ref for span in message.spans if span.ref is not None]
    if not refs and message.replied is not None and message.replied.batch is not None:
        return [message.replied.batch] if message.replied.batch.bottled is None else []
    named = {target.of for ref in refs for target in message.targets.of(ref)}
    return [batch for batch in message.scene.under_way if not refs or batch.name in named]


def short_for(figure: Quantity) -> list[float]:
    """The gravities that a figure may be short for."""
    points = figure.value
    if figure.decimals == 1 and not figure.signed and figure.unit is None and 1 < points < _WHOLE:
        return [round(1 + (points - 1) / 10, 3), round(1 + (points - 1) / 100, 3)]
    if figure.decimals or figure.signed or figure.unit is not None or not _POINTS[0] <= points <= _POINTS[1]:
        return []
    above = round(1 + points / 1000, 3)
    return [above, round(0.9 + points / 1000, 3)] if _LATE[0] <= points <= _LATE[1] else [above]


def reaches(batch: SceneBatch, sg: float, message: Message, within: float | None) -> bool:
    """Whether the batch can be at that gravity: no must ends above, and none falls so fast; `within` so far of its curve."""
    when = message.sent_at
    if not batch.readings:
        return within is None and sg >= _MUST and "gravity" in batch.next[:_SOON]
    if within is not None and plausible.distance(batch, sg, when) > within:
        return False
    return not plausible.rises(batch, sg, when) and not plausible.falls_fast(batch, sg, when)
