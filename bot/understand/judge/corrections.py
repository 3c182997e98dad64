"""Statements that put right what was written down: a starting gravity, the batch of the last reading, a chore that
was never done, what a batch is, a step to leave out, a batch thrown away, bottles counted.

Read whole, like `forms`; the forms are data, in `corrections.toml`. Families say "it's red" and
"poured it away" of many things: without a name of the house such words count only in reply, where the bot is
spoken to, or where what the bot said last was about it.
"""

import re
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Amend,
    Bottles,
    Cost,
    GiveUp,
    Gravity,
    Note,
    Ph,
    Question,
    Skip,
    Step,
    StepName,
    Temperature,
    Undo,
    Volume,
)
from bot.cellar.log.subjects import Matter
from bot.understand.forms.notation import LONGEST, MARK, HouseNames, compiled, group, wording
from bot.understand.judge import plausible
from bot.understand.judge.offers import WHY
from bot.understand.scene import Recent, ReplyTo, Scene, SceneBatch
from bot.understand.text.clauses import chatter, colours
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.names import names_of
from bot.understand.text.scan import scan, tidy
from bot.understand.text.spans import Reader, Span
from bot.understand.verdict import Doubt, Verdict

Spoke = Callable[[], ReplyTo | None]
"""What the bot's own latest message in this chat was about, while that is fresh."""

SURE_WITHIN = timedelta(minutes=10)
"""One's own entry so fresh is what "that was the white" speaks of; later, or of another's, it is asked about."""

OWN_WITHIN, ANY_WITHIN = timedelta(hours=2), timedelta(minutes=30)
"""After that "that" is something else."""

PROVEN = 0.005
"""A fall (SG) after which nobody believes that there is no yeast in it."""

_MOVED = (Gravity, Temperature, Ph, Acidity, Volume, Addition, Step, Note, Bottles, Cost)
_BY_ADDING: dict[str, StepName] = {"finings": "fine", "sorbate": "stabilise"}
_MOST_SPANS = 14
_ANYWHERE = frozenset({"sugar", "water", "acid", "oak"})
"""What goes into other things than wine."""

_PLAIN = frozenset({"stir", "mix"})
"""Chores of any kitchen."""
_STARTS_AT_LEAST = 1.040


class _CorrectionForms:
    def __init__(self, tables: dict[str, Any], forms: dict[str, Any]) -> None:
        self.numbers: dict[str, int] = tables["numbers"]
        self.it = re.compile(tables["parts"]["it"])
        self.sure = re.compile(tables["og"]["sure"])
        self.loose = re.compile(tables["give_up"]["loose"])
        never = tables["never"]
        self.deny, self.never = re.compile(never["deny"]), re.compile(never["sure"])
        self.not_done = re.compile(never["other"])
        parts = tables["parts"]
        marks = {
            "<opens>": parts["opens"],
            "<sg>": parts["sg"],
            "<not_sg>": parts["not_sg"],
            "<og>": parts["og"],
            "<days>": parts["days"],
            "<colour>": parts["colour"],
            "<not>": parts["not"],
            "<litres>": parts["volume"],
            "<away>": parts["away"],
            "<toss>": parts["toss"],
            "<why>": parts["why"],
            "<tail>": tables["give_up"]["tail"],
            "<chore>": r"(?:the )?(?P<chore>[^\W\d][\w -]{2,24}?)",
        }
        self.by_name = {
            name: [compiled(_filled(form, marks), forms, end=parts["tail"]) for form in tables[name]["forms"]]
            for name in ("og", "moved", "amend", "skip", "give_up", "left")
        }


def _filled(form: str, marks: dict[str, str]) -> str:
    """The form with the marks of this file filled in; those of the file of forms stay."""
    return MARK.sub(lambda mark: marks.get(mark[0], mark[0]), form)


@lru_cache(maxsize=8)
def _forms_of(language: str) -> _CorrectionForms:
    return _CorrectionForms(tables_of(language, "corrections"), tables_of(language, "forms"))


class _WholeMessage(msgspec.Struct, frozen=True):
    """A message with a form: the house around it, and who says it."""

    house: HouseNames
    sent_at: datetime
    by: str | None
    replying_to: ReplyTo | None
    addressed: bool
    spoke: Spoke
    forms: _CorrectionForms
    text: str

    @property
    def scene(self) -> Scene:
        return self.house.scene

    def batch(self, found: re.Match[str]) -> tuple[SceneBatch | None, bool]:
        """The batch that is meant, and whether that is sure: named, or what was just spoken of. Where nothing
        says so it is the only one under way, unsurely."""
        said = group(found, "batch")
        if said is not None and not self.forms.it.fullmatch(said):
            target = self.house.target(said) or self.house.target(said, bottled=True)
            return (target.batch, True) if target is not None and target.batch is not None else (None, False)
        about = self.about()
        if about is not None:
            return about, True
        if self.replying_to is not None and not self.addressed:
            return None, False  # it answers something that is not about the wine
        under_way = self.scene.under_way
        return (under_way[0], self.addressed) if len(under_way) == 1 else (None, False)

    def named(self, found: re.Match[str]) -> bool:
        said = group(found, "batch")
        return said is not None and not self.forms.it.fullmatch(said)

    def about(self) -> SceneBatch | None:
        """The batch of the message replied to, else of what the bot has just said."""
        reply = self.replying_to if self.replying_to is not None else self.spoke()
        of = reply.of if reply is not None else None
        return next((batch for batch in self.scene.batches if batch.name == of), None) if of else None


def read_correction(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None = None,
    *,
    by: str | None = None,
    addressed: bool = False,
    spoke: Spoke = lambda: None,
) -> Verdict | None:
    """The verdict on a message that puts something right; None for any other."""
    if len(text) > LONGEST or "\n" in text.strip() or text.rstrip().endswith("?") or not scene.batches:
        return None
    forms = _forms_of(scene.language)
    said = wording(text)
    house = HouseNames(scene, sent_at, replying_to)
    around = _WholeMessage(house, sent_at, by, replying_to, addressed, spoke, forms, said)
    denied = _never(around)
    if denied is not None:
        return denied
    for name, read in _READERS.items():
        for form in forms.by_name[name]:
            found = form.match(said)
            verdict = read(found, around) if found else None
            if verdict is not None:
                return verdict
    return None


def _does(acts: Sequence[Act], why: str) -> Verdict:
    return Verdict(verdict="act", acts=tuple(acts), why=why)


def _asks(doubt: Doubt, options: Sequence[Sequence[Act]], *, about: str | None = None) -> Verdict:
    whole = tuple(tuple(option) for option in options)
    acts = whole[0] if len(whole) == 1 else tuple(act for option in whole for act in option)
    return Verdict(verdict="ask", acts=acts, why=WHY[doubt], doubt=doubt, options=whole, about=about)


def _sg(said: str) -> float:
    plain = said.replace(",", ".")
    return float(plain) if "." in plain else int(plain) / 1000


def _og(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """A starting gravity put right: the reading that counts as it, at the time it was taken."""
    sg, wrong = _sg(found["sg"]), group(found, "not")
    if not 0.98 <= sg <= 1.2:
        return None
    batches = [batch for batch in said.scene.under_way if _start(batch) is not None]
    if said.named(found):
        batch, _ = said.batch(found)
        if batch is None:
            return None
        batches = [batch]
    elif wrong is not None:
        batches = [one for one in batches if _was(one, _sg(wrong))] or batches
    if len(batches) > 1 and (about := said.about()) in batches:
        batches = [about] if about is not None else batches
    if batches and all(_was(one, sg) for one in batches):
        return Verdict(verdict="ignore", why="that is known")
    right = [acts for batch in batches if (acts := _started_at(batch, sg))]
    if not right:
        return None
    if len(right) > 1:
        return _asks(Doubt.WHICH_BATCH, right)
    batch = next(one for one in batches if _started_at(one, sg))
    later = [value for at, value in batch.readings[1:] if value > sg + plausible.RISE]
    if later or (wrong is not None and not _was(batch, _sg(wrong))):
        return _asks(Doubt.UNSURE, right)
    sure = wrong is not None or said.forms.sure.search(said.text) is not None or _start(batch) is None
    return _does(right[0], "puts the starting gravity right") if sure else _asks(Doubt.UNSURE, right)


def _start(batch: SceneBatch) -> Recent | None:
    """The entry of the starting gravity; made up of the first reading where the entries are not known."""
    if batch.starting is not None:
        return batch.starting
    if batch.told or not batch.readings or batch.readings[0][1] < _STARTS_AT_LEAST:
        return None
    at, sg = batch.readings[0]
    return Recent(act=Gravity(of=batch.name, sg=sg), by="", said_at=at, at=at)


def _was(batch: SceneBatch, sg: float) -> bool:
    start = _start(batch)
    return start is not None and isinstance(start.act, Gravity) and abs(start.act.sg - sg) < 0.0006


def _started_at(batch: SceneBatch, sg: float) -> tuple[Act, ...]:
    """What makes that the starting gravity; nothing where no later reading shows that it is told late."""
    start = _start(batch)
    if start is not None and isinstance(start.act, Gravity):
        if start.act.sg == sg:
            return ()
        right = msgspec.structs.replace(start.act, of=batch.name, sg=sg, at=start.at)
        return (Undo(entry=start.entry), right)
    if batch.readings and batch.started is not None and sg >= _STARTS_AT_LEAST:
        return (Gravity(of=batch.name, sg=sg, at=batch.started),)
    return ()


def _moved(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """What was written last, to another batch."""
    target = said.house.target(group(found, "batch"))
    if target is None or target.batch is None:
        return None
    entries, sure = _last(said)
    if not entries and said.scene.recent is not None and not said.addressed:
        return Verdict(verdict="ignore", why="there is nothing in sight that it could be")
    moved = [entry for entry in entries if isinstance(entry.act, _MOVED) and entry.act.of != target.of]
    if not moved or len({entry.act.of for entry in moved}) > 1:
        return None
    denied = group(found, "other")
    if denied is not None:
        other = said.house.target(denied)
        if other is None or other.of != moved[0].act.of:
            return None
    acts: list[Act] = []
    worry = None
    for entry in moved:
        right = msgspec.structs.replace(entry.act, of=target.of)
        at = entry.at or entry.said_at
        worry = worry or plausible.concern(right, target, said.scene, at, sweetened=False)
        acts += [Undo(entry=entry.entry), right]
    if worry is not None:
        return _asks(worry.doubt, [acts], about=worry.about)
    if not sure:
        return _asks(Doubt.UNSURE, [acts])
    return _does(acts, "moves the last entry to another batch")


def _last(said: _WholeMessage) -> tuple[Sequence[Recent], bool]:
    """The entries that "that" means, and whether it is sure."""
    if said.replying_to is not None:
        return said.replying_to.told, True
    recent = [entry for entry in said.scene.recent or () if not isinstance(entry.act, Undo)]
    if not recent:
        return (), False
    newest = recent[0]
    age, own = said.sent_at - newest.said_at, newest.by == said.by
    if age > (OWN_WITHIN if own or said.addressed else ANY_WITHIN):
        return (), False
    with_it = [e for e in recent if (e.said_at, e.by, e.act.of) == (newest.said_at, newest.by, newest.act.of)]
    return with_it, age <= SURE_WITHIN and (own or said.addressed)


def _never(said: _WholeMessage) -> Verdict | None:
    """What was written down as done, and is denied: struck out, and then what is to be done."""
    if not said.forms.deny.search(said.text) or said.forms.not_done.search(said.text):
        return None
    spans = Reader(lexicon(said.scene.language), names_of(said.scene)).label(scan(tidy(said.text)))
    colours(spans, said.scene)
    if len(spans) > _MOST_SPANS or any(s.kind == "time" or s.qty is not None for s in spans if s.ref is None):
        return None
    if chatter(spans) or sum(span.kind == "word" for span in spans) > 1:
        return None
    step, what = _done(spans)
    if step is None and what is None:
        return None
    refs = [span.ref for span in spans if span.ref is not None]
    named = [t.batch for ref in refs for t in said.house.targets.of(ref) if t.batch is not None]
    if refs and not named:
        return None
    batches = named or list(said.scene.under_way)
    wrong = [(batch, entries) for batch in batches if (entries := _written(batch, step, what))]
    about = said.about() if len(wrong) > 1 else None
    wrong = [pair for pair in wrong if pair[0] is about] or wrong
    options: list[tuple[Act, ...]] = [
        (
            *(Undo(entry=entry.entry) for entry in entries),
            Question(subject=Matter(about="next"), of=batch.name),
        )
        for batch, entries in wrong
    ]
    sure = said.forms.never.search(said.text) is not None
    if not options:
        # What was never written down needs no striking out; least of all is it written now.
        return (
            Verdict(verdict="ignore", why="nothing of it is written down")
            if sure and not said.addressed
            else None
        )
    if len(options) > 1:
        return _asks(Doubt.WHICH_BATCH, options)
    batch = wrong[0][0]
    if not sure and not named and what in _ANYWHERE:
        return None
    if not sure or ((step == "pitch" or what == "yeast") and _has_fallen(batch)):
        return _asks(Doubt.STRIKE_OUT, options)
    return _does(options[0], "takes back what was never done")


def _done(spans: Sequence[Span]) -> tuple[StepName | None, str | None]:
    """The one chore and addition that a denial is about."""
    steps = [span.step for span in spans if span.step is not None]
    whats = [what for span in spans if (what := span.value("substance")) is not None and span.ref is None]
    step, what = next(iter(steps), None), next(iter(whats), None)
    if len(set(steps)) > 1 or len(set(whats)) > 1:
        return None, None
    if what == "yeast" or step == "pitch":
        return "pitch", "yeast"
    if what is not None and step not in (None, _BY_ADDING.get(what)):
        return None, None
    return step or _BY_ADDING.get(what or ""), what


def _written(batch: SceneBatch, step: StepName | None, what: str | None) -> list[Recent]:
    """The entries that say it was done."""
    found = []
    for entry in batch.told:
        chore = isinstance(entry.act, Step) and step is not None and entry.act.step == step
        if chore or (isinstance(entry.act, Addition) and what is not None and entry.act.what == what):
            found.append(entry)
    return found


def _thing(said: str, scene: Scene) -> tuple[StepName | None, str | None]:
    """The chore and the addition that some words name; only where nothing else is in them."""
    spans = Reader(lexicon(scene.language), names_of(scene)).label(scan(tidy(said)))
    step: StepName | None = None
    what: str | None = None
    for span in spans:
        name, substance = span.step, span.value("substance")
        if span.kind == "time":
            return None, None
        if (
            name is None
            and substance is None
            and not (span.has("filler") or span.has("put") or span.has("mood"))
        ):
            return None, None
        step, what = step or name, what or substance
    if what == "yeast" or step == "pitch":
        return "pitch", "yeast"
    return step, what


def _has_fallen(batch: SceneBatch) -> bool:
    return any(value <= batch.readings[0][1] - PROVEN for _, value in batch.readings[1:])


def _amend(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """What a batch is."""
    batch, sure = said.batch(found)
    number, colour, vessel = group(found, "days"), group(found, "colour"), group(found, "vessel")
    inside = said.house.vessel(vessel) if vessel is not None else None
    if batch is None or batch.bottled is not None or (vessel is not None and inside is None):
        return None
    if inside is not None:
        if not sure and batch.vessel is not None:
            return None
        return _stands_in(batch, inside, began="begun" in found.groupdict() and found["begun"] is not None)
    if not sure:
        return None
    if number is not None:
        days = int(number) if number.isdecimal() else said.forms.numbers[number.replace("-", " ")]
        days *= 7 if found["unit"].startswith("week") else 1
        return _does([Amend(of=batch.name, days=days)], "says how long the kit takes")
    if colour is not None:
        plain = "rosé" if colour.startswith("ros") else colour
        act = Amend(of=batch.name, colour="rosé" if plain == "rosé" else "red" if plain == "red" else "white")
        if batch.colour == plain:
            return None
        contrary = batch.colour is not None and not said.forms.sure.search(said.text)
        return _asks(Doubt.UNSURE, [[act]]) if contrary else _does([act], "says what colour it is")
    if said.named(found):
        return None  # the grammar of clauses reads a volume with its name
    litres = said.house.litres(found["number"], group(found, "volume"))
    held = Volume(of=batch.name, litres=litres)
    target = said.house.targets.batch(batch)
    worry = plausible.concern(held, target, said.scene, said.sent_at, sweetened=False)
    if worry is not None:
        return _asks(worry.doubt, [[held]], about=worry.about)
    return _does([held], "says how much it is")


def _stands_in(batch: SceneBatch, vessel: str, *, began: bool) -> Verdict | None:
    """Where it is: where it began, as far as nobody said another vessel; else it may have been moved."""
    if vessel in (batch.vessel, *batch.also_in):
        return None
    amended = Amend(of=batch.name, vessel=vessel)
    if batch.vessel is None or began:
        return _does([amended], "says where it is")
    racked = Step(of=batch.name, step="rack", to=vessel)
    return _asks(Doubt.UNSURE, [[racked], [amended]] if batch.begun_in is not None else [[racked]])


def _skip(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """A step that is left out of the plan."""
    step, what = _thing(found["chore"], said.scene)
    step = step or _BY_ADDING.get(what or "")
    if step is None:
        return None
    batch, sure = said.batch(found)
    under_way = said.scene.under_way
    if batch is not None and batch.bottled is not None and not said.named(found) and len(under_way) == 1:
        batch = batch if step == "label" else under_way[0]  # what was just spoken of has all that behind it
    if step in _PLAIN and not sure:
        return None
    if batch is None and not said.named(found):
        options = [[Skip(of=one.name, step=step)] for one in said.scene.under_way]
        return _asks(Doubt.WHICH_BATCH, options) if options else None
    if batch is None or (batch.bottled is not None and step != "label"):
        return None
    act = Skip(of=batch.name, step=step)
    return _does([act], "leaves a step out")


def _give_up(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """A batch thrown away: always asked about first."""
    batch, sure = said.batch(found)
    if batch is None or (batch.bottled is not None and not batch.bottles_left):
        return None
    if not sure and said.forms.loose.search(said.text):
        return None  # people throw much away
    return _asks(Doubt.GIVE_UP, [[GiveUp(of=batch.name)]], about=batch.name)


def _left(found: re.Match[str], said: _WholeMessage) -> Verdict | None:
    """The bottles that are left, counted."""
    count = int(found["count"])
    name = group(found, "batch") or group(found, "other")
    kept = [batch for batch in said.scene.batches if batch.bottled is not None]
    target = said.house.target(name, bottled=True) if name is not None else None
    if name is not None and (target is None or target.batch not in kept):
        return None
    if target is not None:
        kept = [batch for batch in kept if batch is target.batch]
    else:
        about = said.about()
        spoke = said.spoke()
        stock = about is None and spoke is not None and spoke.asked == "stock"
        if about not in kept and not (group(found, "bottle") or stock or said.addressed):
            # Out of nothing "7 left" may be of anything: asked about, where it can be the bottles of one batch.
            full = [batch for batch in kept if batch.bottles_left]
            near = (
                about is None and len(full) == 1 and count <= (full[0].bottles_left or 0) <= _NEARLY * count
            )
            return _asks(Doubt.UNSURE, [[_counted(full[0], count)]]) if near else None
        kept = [about] if about is not None and about in kept else [b for b in kept if b.bottles_left] or kept
    counted = [_counted(batch, count) for batch in kept]
    if not counted:
        return None
    if len(counted) > 1:
        return _asks(Doubt.WHICH_BATCH, [[act] for act in counted])
    if kept[0].bottles_made is not None and count > kept[0].bottles_made:
        return _asks(Doubt.TOO_MANY_BOTTLES, [counted], about=f"{count}")
    return _does(counted, "counts the bottles")


_NEARLY = 2
"""So many times the count there were, at most, where nothing says that bottles are meant."""


def _counted(batch: SceneBatch, count: int) -> Bottles:
    change = count - batch.bottles_left if batch.bottles_left is not None else 0
    return Bottles(of=batch.name, change=change, left=count)


_READERS: dict[str, Callable[[re.Match[str], _WholeMessage], Verdict | None]] = {
    "og": _og,
    "moved": _moved,
    "amend": _amend,
    "skip": _skip,
    "give_up": _give_up,
    "left": _left,
}
