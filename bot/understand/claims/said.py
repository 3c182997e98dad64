"""From sayings and their labels to drafts: what was measured, done, put in, drunk, noted and asked.

The labels are learned (`labels`); what fills an act is read: numbers with their units, names, vessels gone to, counts.
A number that can only be one thing says it by itself, whatever the words around it. What was not taken is told, so that
nothing in a message is lost unsaid.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise, takewhile
from typing import get_args

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    AmountUnit,
    Bottles,
    Gravity,
    Note,
    Ph,
    Reason,
    Skip,
    Step,
    StepName,
    Temperature,
    Undo,
    Vessel,
    Volume,
)
from bot.understand.claims.additions import amount_of
from bot.understand.claims.bottles import MOST_BOTTLES
from bot.understand.claims.bottling import OfBottles, into_bottles, told_of_bottles
from bot.understand.claims.called import ARROWS, Called, from_to
from bot.understand.claims.corrections import supposes
from bot.understand.claims.drafts import Draft
from bot.understand.claims.labels import LabelledSaying, concepts_of
from bot.understand.claims.readings import SG_RANGE, celsius, gravity, instrument_named, litres, read_by
from bot.understand.claims.shelf import (
    already_counted,
    at_home,
    many_in,
    of_the_house,
    relative,
    remaining,
    shared_out,
    stored,
    told_how,
)
from bot.understand.claims.spent import priced, spent, surely_spent, told_money
from bot.understand.claims.states import empty_vessels, states, unwashed
from bot.understand.claims.vessels import Litres
from bot.understand.claims.whither import JUST_TOLD, Whither, whither
from bot.understand.scene import Scene
from bot.understand.text import moods
from bot.understand.text.clauses import (
    DEGREES,
    DOSES,
    VOLUMES,
    Clause,
    is_packet,
    of_bottles,
    reads_gravity,
    reads_wine,
    tells_gravity,
)
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, asks
from bot.understand.text.small_words import SmallWords
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt

AS_LAST = 0.0
"""Stands for the gravity that was read of the batch before, until it is known which that is."""
_STEPS: tuple[StepName, ...] = get_args(StepName)
_REASONS: tuple[Reason, ...] = get_args(Reason)
SURE = 9.0
"""The score of a draft that no rule weighs: how sure it is stands beside it."""

_CERTAIN = 0.97
"""How sure a number is that says by itself what it measures."""

_UNSAID = 0.5
"""How sure an addition is at most where no word says that it went in."""
_WAITED, _LONE = 0.85, 0.65
"""How sure a bare number is a temperature: with a small word or a name, and all alone."""
_PLAINLY = 0.9
"""How sure a chore is at least that a word of its own says was done."""
_AS_ONE, _OWN = 0.5, 0.6
"""From here on a message is one saying; a part of it tells something of its own."""

_GRAVITY_HELD = (0.98, 1.2)
_NO_GRAVITY = (1.135, 2.0)
"""Between these no must is, and a zero may have been left out."""
_PH = (2.5, 4.8)
_ACIDITY = (1.0, 20.0)
"""g/l as tartaric acid."""
_DEGREES_IN = {"C": "celsius", "F": "fahrenheit"}
_ROOM = {"C": (5.0, 40.0), "F": (41.0, 104.0)}
SAME_AS = {"step:fine": "add:finings", "add:yeast": "step:pitch"}
"""Labels that are two words for one thing."""
_UNTOLD = frozenset({"rest", "talk", "thanks", "yes", "no"})
"""Labels of what tells nothing for the log."""

_DONE = frozenset({"step", "add", "bottles"})
_REMARKS = frozenset({"note", "rest"})
"""Labels of what any question is likelier than, taken together."""
_SOLD = frozenset({"bottles:gave", "bottles:drank", "begin", "remind"})
"""Beside money these are something else than what was spent."""
_WENT = ("bottles:drank", "bottles:gave", "bottles:broke")
"""Bottles that are no more."""
_SAME_LITRES = 0.5
_BATCH = 3.0
"""Litres: more than this goes into no wine, and is hardly lost."""
_SOONER, _LEAST_AWAITED = 2.5, 0.2
"""How many times as likely the chore is that is awaited, if it is likely at all."""
_AWAITED = frozenset({"sanitise", "mix", "pitch", "stabilise", "degas", "fine"})
_BY_MONEY = 0.05
"""How likely a remark with money in it must be to be what was spent."""
_HARDLY_WARM = 0.05
"""How likely a saying with words must be to measure something, for its number to be how warm it is."""
_REMARK = 0.75
"""How sure a remark must be to be kept beside facts."""
_COLOUR = 0.9
"""How sure it is at most beside something in which no word tells anything."""
_LOOKS = frozenset(
    {
        "bubbles", "colour", "crystals", "eggs", "fizzy", "film", "foam", "haze", "nice_smell", "noise", "rotten",
        "sediment", "sharp_smell", "smell", "sour", "sweet", "taste", "thin", "vinegar",
    }
)  # fmt: skip
"""Concepts of a remark that is kept beside facts."""
_UNCUED, _WASHED_UNCUED = 0.3, 0.6
"""How likely a chore must be to be told where no word of it says so; the same of sanitising."""
_OURS = 0.95
"""How sure bottles must be where a family talks and nothing says that they are of the house."""
_NEAR = 3
"""Spans between a denial and what it denies."""
_CUES = ("step", "substance", "packet", "bottles", "measure", "correct", "move")
"""What of a saying may be a fact, whatever it was taken for."""
_NEXT = 2
"""Chores of a plan that are done next: "mix 22c" is one of these."""
_LASTED = ("minute", "hour")
"""Units of how long a chore took."""
_FEWEST_BIDDEN = 3
_MOST_PACKETS = 21
_LONGEST_THING, _LONGEST_NAME = 5, 60
"""Words, and letters, of something that went in and has no name of its own."""
_FIGURES = ("ph", "acidity", "cost", "draw")
"""Labels of what a figure must stand in a saying for."""
_OF_STATES = ("vessel", "note", "talk", "rest", "step:sanitise")
"""Labels of what may tell how clean a vessel is."""
_BY_PACKETS = frozenset({"fine", "stabilise", "add"})
"""Chores for which a kit has packets."""
_LETTERS = frozenset("ABCDEFGH")
_SMALL_LETTERS = frozenset("bcdefgh")
_NEAR_PACKET = 6
"""So far after a packet its letter or number stands."""
_ANY_LETTER = _LETTERS | _SMALL_LETTERS | {"a"}
_FEW = 4
"""Spans of a piece of gear, at most."""
_SOON = 4
_ANY_TIME = frozenset({"sanitise", "stir", "top_up"})
"""Chores that no plan has to wait for; of the others so many to come can be told in words that nobody knows."""
_MEASURES = ("gravity", "temperature", "volume")
_RANKED, _LITTLE = 6, 0.1
"""So many labels are looked at; and how much must be left for what is no measure."""
_HELD = frozenset({"note", "rest", "thanks", "talk"})
_ELSEWHERE = frozenset(
    {
        "amend", "begin", "correct", "cost", "done", "draw", "follow", "give_up", "later", "mine", "nickname",
        "no", "plan", "remind", "rota", "skip", "split", "blend", "vessel", "yes", "ph", "acidity",
    }
)  # fmt: skip
"""Labels of what has readers of its own."""


@dataclass(slots=True)
class Claim:
    """A draft, how sure it is, and the label it came from; `asks` where it is a question of that id."""

    draft: Draft | None
    sure: float
    label: str
    part: Saying


@dataclass(slots=True)
class AllTold:
    """What the sayings of a message tell: claims in the order written; `sure` that they are all of it and right;
    `left` is what was not taken although it says something."""

    claims: list[Claim] = field(default_factory=list)
    sure: float = 1.0
    left: list[Saying] = field(default_factory=list)
    talk: float = 0.0
    """How likely the message is between people alone."""
    parts: list[Saying] = field(default_factory=list)
    """All its sayings, in order."""
    joined: list[Saying] = field(default_factory=list)
    """Those that tell with the one before: how warm the sample was."""

    @property
    def labels(self) -> list[str]:
        return [claim.label for claim in self.claims]


class Teller:
    """Reads the labelled sayings of one message, one after the other: what was said before helps with what follows."""

    def __init__(self, message: Message, said: Sequence[LabelledSaying], whole: LabelledSaying) -> None:
        self.message = message
        self.scene: Scene = message.scene
        self.said = _with_pointers(said, message)
        for one in self.said:
            _without_imagined(one.saying, message)
        self.whole = whole
        self.told = AllTold(parts=[one.saying for one in self.said])
        self.doubts: list[float] = []
        """How sure each part is that tells something, in the order taken."""
        self.asked: list[float] = []
        """How sure each part is that only asks."""
        self.before: Claim | None = None
        self.went = False
        """Whether it says where a wine went, by the vessel alone."""
        self.bidden = False
        """Whether somebody was bidden to do something, so that what follows says how."""
        self.undone: set[str] = set()
        """The chores of which it says that they were not done."""
        self.litres = Litres(self.scene)
        self._letters = sum(message.words_of(each.spans[:1]) in _ANY_LETTER for each in self.told.parts)
        self.called = Called(message)
        self._in_turn()
        self.bottles: OfBottles = told_of_bottles(message, [one.saying for one in self.said])

    @property
    def last(self) -> Draft | None:
        """What was told last; None where nothing was, or only asked."""
        return self.before.draft if self.before is not None else None

    def _in_turn(self) -> None:
        """ "The plum and the white: 1.010 and 1.058", "plum 1.010, white 1.058, 20, 18": gives numbers in a row, as many as
        the wines named before them, each its wine."""
        parts = self.told.parts
        at = 0
        while at < len(parts):
            kind = self._kind_alone(parts[at], first=True)
            until = at + 1
            while kind and until < len(parts) and self._kind_alone(parts[until]) == kind:
                until += 1
            wines = self._wines_before(at, values=kind == "warm") if kind and until - at > 1 else []
            if wines and len(wines) == until - at:
                for part, wine in zip(parts[at:until], wines, strict=True):
                    part.spans.insert(0, wine)
            at = until

    def _kind_alone(self, part: Saying, *, first: bool = False) -> str:
        """Whether a saying is one gravity ("sg") or temperature ("warm") of no wine in particular, and nothing else."""
        numbers = [span for span in part.spans if span.qty is not None]
        in_order = self.message.small.order.as_told
        small = all(
            span.qty is not None or span.has("filler") or span.has("measure") or span.fold in in_order
            for span in part.spans
        )
        if len(numbers) != 1 or numbers[0].qty is None or part.asked or not (small or first):
            return ""
        if any(span.ref is not None or span.has("step") for span in part.spans):
            return ""
        if reads_gravity(numbers[0].qty):
            return "sg"
        return "warm" if numbers[0].qty.unit in DEGREES or self._room(numbers) else ""

    def _wines_before(self, at: int, *, values: bool) -> list[Span]:
        """The wines named before a saying, each once, in order; without `values` those named right before it, alone."""
        found: dict[Ref, Span] = {}
        for part in reversed(self.told.parts[:at]):
            names = [span for span in part.spans if span.ref is not None and self._is_wine(span.ref)]
            numbers = any(span.qty is not None for span in part.spans)
            if not values and (numbers or not names):
                break
            for span in reversed(names):
                if span.ref is not None:
                    found[span.ref] = span
        return list(reversed(found.values()))

    def read(self) -> AllTold:
        """All that the message tells and asks."""
        self._read()
        facts = any(claim.draft is not None for claim in self.told.claims)
        doubts = self.doubts if facts else [*self.doubts, *self.asked]
        self.told.sure = min(doubts, default=1.0)  # what is asked beside facts makes them no less sure
        return self.told

    def _read(self) -> None:
        self.told.talk = self.whole.share("talk")
        went = whither(self.message, self.said)
        self.went = went is not None
        label, sure = self.whole.best()
        if went is None and len(self.said) > 1 and sure >= _AS_ONE and _of_all(label) and not self._facts():
            self._worded(self.whole.saying, label, sure, self.whole)
            return
        for one in self.said:
            self.called.find(one.saying, self._best(one)[0])
        self._no_bottling()
        for at, one in enumerate(self.said):
            label, sure = self._best(one)
            if self._heads(at) or self._sums_up(one.saying) or self._so_many(one.saying):
                continue
            if self._more_packets(one.saying) or self._still_left(one, label, sure):
                continue
            if at in self.bottles.drafts:
                self._doubted(_CERTAIN)
                for draft in self.bottles.drafts[at]:
                    self._reasoned(one.saying, draft, label, sure)
                    self._take(one.saying, draft, _CERTAIN, _label(draft))
                continue
            if self._drawn(one.saying):
                continue
            if at in self.bottles.said and not _plainly_warm(one):  # "filled to the line, it's 26"
                continue
            if at in self.bottles.empty and label in ("step:bottle", "bottles:found", "rest", "talk"):
                continue  # "bottles washed, 30 of them"
            if went is not None and at in went.parts:
                if at == went.at:
                    self._went(one.saying, went)
                continue
            if self._moved(one.saying) or self._of_them_all(one.saying):
                continue
            if self._letter_before(at):
                sachet = Draft(Addition(what=f"sachet {one.saying.spans[0].fold.upper()}"), SURE)
                self._take(one.saying, sachet, _WAITED, "add:sachet")
                continue
            self._packet_besides(one.saying, label)
            washed = self._washed(one.saying, label)
            if washed is not None:
                self._doubted(_PLAINLY)
                self._take(one.saying, washed, _PLAINLY, "step:sanitise")
            elif self._plain_state(one, label):
                continue
            elif one.saying.wordy or asks(one.saying) or self._by_label(one.saying, label, sure):
                self._worded(one.saying, label, sure, one)
            else:
                self._bare(one)
        self._racked_once()
        self._went_to()
        self._cleaned_once()
        self._moved_once()

    def _best(self, one: LabelledSaying) -> tuple[str, float]:
        """The likeliest label of a saying; what the household waits for is told sooner than anything else."""
        label, sure = one.best()
        surely_talk = label == "talk" and sure >= _PLAINLY  # "yeah 80 quid in it"
        untold = (label in _UNTOLD and not surely_talk) or (
            label == "note" and one.share("cost") >= _BY_MONEY
        )
        if untold and told_money(self.message, one.saying) and not (one.saying.asked or self._told_besides()):
            return "cost", max(_PLAINLY, one.share("cost"))  # "corks 60 off, 14 quid"
        if not one.saying.asked and label not in _SOLD and surely_spent(self.message, one.saying):
            return "cost", _CERTAIN
        if label in _REMARKS:
            every, questions = one.questions(1)
            if every > sure:
                return questions[0][0], every  # whichever it asks, it is no remark
        if label in _WENT:
            sure = one.share(*_WENT)  # how they went, its words tell
        spans = one.saying.spans
        steps = {span.step for span in spans if span.step is not None}
        apart = (
            label.startswith("ask:") or one.saying.asked or (label == "talk" and not self.message.addressed)
        )
        if apart or self._values(one.saying):
            return label, sure
        for batch in self.scene.under_way:
            awaited = batch.next[0] if batch.next else ""
            if awaited == "sanitise" and label != "step:sanitise":
                awaited = batch.next[1] if len(batch.next) > 1 else ""  # nobody mixes in what is not clean
            if awaited not in _AWAITED or steps - {awaited}:
                continue
            as_told = (f"step:{awaited}", *(("step:stir",) if awaited == "degas" and not steps else ()))
            share = one.share(*as_told)
            likely = _SOONER * share / (1.0 + (_SOONER - 1.0) * share)
            if not steps and share < one.share("talk"):
                continue  # "ray had the lid off": likelier people's mischief than a chore
            if share >= _LEAST_AWAITED and (label in as_told or _SOONER * share > sure) and likely > sure:
                label, sure = as_told[0], likely
        return label, sure

    def _plain_state(self, one: LabelledSaying, label: str) -> bool:
        """ "Demijohn 1 was left unwashed", "hot soapy water round bucket 3": how clean an empty vessel is, by its words."""
        part = one.saying
        surely = label in _OF_STATES or one.share(*_OF_STATES) >= _LITTLE or len(self.said) == 1
        if label == "step:sanitise" or self._sanitised_then(part):
            return False
        if self._names_a_vessel(part) and (after := self._after(part)) is not None:
            return after.best()[0] == "vessel" and not any(
                span.ref is not None for span in after.saying.spans
            )
        before = self._before(part)
        headed = before is not None and self._names_a_vessel(before.saying) and label == "vessel"
        of = before.saying if headed and before is not None else part  # "bucket 3: dirty"
        found = states(self.message, part, of) if surely and not asks(part) else []
        cleaned = any(isinstance(draft.act, Vessel) and draft.act.state == "clean" for draft in found)
        if cleaned and supposed(part, self.message.small):
            return False
        for draft in found:
            self._doubted(_PLAINLY)
            self._take(part, draft, _PLAINLY, "vessel")
        return bool(found)

    def _names_a_vessel(self, part: Saying) -> bool:
        """Whether it is but the name of an empty vessel."""
        only = all(span.ref is not None or span.has("filler") for span in part.spans)
        return only and bool(empty_vessels(self.message, part))

    def _before(self, part: Saying) -> LabelledSaying | None:
        at = next((at for at, one in enumerate(self.said) if one.saying is part), 0)
        return self.said[at - 1] if at else None

    def _after(self, part: Saying) -> LabelledSaying | None:
        at = next((at for at, one in enumerate(self.said) if one.saying is part), len(self.said))
        return self.said[at + 1] if at + 1 < len(self.said) else None

    def _sanitised_then(self, part: Saying) -> bool:
        """ "Bucket 2 is scrubbed and sanitised": whether what follows says that the same was sanitised."""
        after = self._after(part)
        if after is None or any(span.ref is not None for span in after.saying.spans):
            return False
        return after.best()[0] == "step:sanitise"

    def _still_left(self, one: LabelledSaying, label: str, sure: float) -> bool:
        """ "Rosé down to 9 bottles": how many are left, whatever else such a count might be."""
        if label != "bottles:left" or sure < _OWN or asks(one.saying):
            return False
        draft = self._bottles(one.saying, "left")
        if draft is None:
            return False
        self._doubted(sure)
        self._take(one.saying, draft, sure, label)
        return True

    def _no_bottling(self) -> None:
        """Leaves out a bottling whose count is surely how warm a must is: "it's in, filled to the line, it's 26"."""
        for at in list(self.bottles.drafts):
            if _plainly_warm(self.said[at]):
                del self.bottles.drafts[at]
                if not self.bottles.drafts:
                    self.bottles.said.clear()

    def _told_besides(self) -> bool:
        """Whether a chore, an addition or a reading is told, or something asked, and money only beside it: "the plumber was 65"."""
        kinds = {each.best()[0].partition(":")[0] for each in self.said}
        return not kinds.isdisjoint({*_DONE, *_MEASURES, "ask"})

    def _sums_up(self, part: Saying) -> bool:
        """ "Biscuit, grumpy and tadpole, all three": whether it only counts those that were named."""
        every = [span for span in part.spans if span.ref is not None and span.ref.kind == "every"]
        small = all(span in every or span.has("filler") for span in part.spans)
        kinds = ("batch", "colour", "vessel")
        named = {
            span.ref
            for one in self.said
            for span in one.saying.spans
            if span.ref is not None and span.ref.kind in kinds
        }
        return bool(every) and small and len(named) > 1

    def _so_many(self, part: Saying) -> bool:
        """ "Campden crushed in, all five": how many of what was just put in there were."""
        last = self.last
        words = " ".join(self.message.folds_of(part.spans))
        counted = self.message.small.counted.get(words)
        if (
            counted is None
            or last is None
            or not isinstance(last.act, Addition)
            or last.act.amount is not None
        ):
            return False
        if last.act.what == "sulphite":
            last.act = Addition(what=last.act.what, amount=counted, unit="tablet")
        return last.act.what == "sulphite"

    def _heads(self, at: int) -> bool:
        """ "Both packets in: sulphite and sorbate": packets that are named by what is in them."""
        part = self.said[at].saying
        if not any(map(is_packet, part.spans)) or any(span.has("substance") for span in part.spans):
            return False
        place = next(place for place, span in enumerate(part.spans) if is_packet(span))
        numbered = any(span.qty is not None for span in part.spans[place + 1 :])
        after = self.said[at + 1] if at + 1 < len(self.said) else None
        named = after is not None and any(span.has("substance") for span in after.saying.spans)
        several = any(
            span.qty is not None or span.fold in self.message.small.name.each or span.has("amount")
            for span in part.spans[: place + 1]
        )
        return not numbered and several and named

    def _went(self, part: Saying, went: Whither) -> None:
        """Takes a racking that is told by its vessel alone."""
        self._doubted(went.sure)
        self.told.talk = min(self.told.talk, 1.0 - went.sure)
        for draft in went.drafts:
            self._take(part, draft, went.sure, "step:rack" if isinstance(draft.act, Step) else "undo")

    def _by_label(self, part: Saying, label: str, sure: float) -> bool:
        """ "Dusk off lees", "packet 3": names and small words that plainly say a chore or an addition all the same."""
        if self._packet_in_short(part) is not None:
            return True
        if label == "step:rack" and self._only_stands(part):
            return False  # "0.998, bucket 2": where it was read
        packet = any(span.has("packet") for span in part.spans)
        surely = sure >= _WAITED or any(map(_puts_in, part.spans))
        if packet and label in ("add:sachet", "add:other") and surely and not self._values(part):
            return True
        dosed = any(span.qty is not None and span.qty.unit in DOSES - VOLUMES for span in part.spans)
        if label.startswith("add:") and sure >= _WAITED and dosed and any(map(_puts_in, part.spans)):
            return True  # "two tablets in"
        if label == "step:bottle" and sure >= _WAITED and into_bottles(self.message, part):
            return True
        kind = label.partition(":")[0]
        last = self.before.draft.act if self.before is not None and self.before.draft is not None else None
        shelved = kind == "bottles" and sure >= _PLAINLY and isinstance(last, Bottles | None)
        if shelved and len(part.spans) > 1 and not self._values(part):
            return bool(many_in(self.message, part))  # "another two on Sunday"
        chore = kind == "step" and sure >= _WAITED
        names = any(span.ref is not None or span.fold in self.message.small.washed for span in part.spans)
        return (
            chore
            and names
            and not self._values(part)
            and not any(span.qty is not None for span in part.spans)
        )

    def _only_stands(self, part: Saying) -> bool:
        """Whether nothing but a vessel is named, in which a wine is that nothing was told of moving."""
        refs = [span.ref for span in part.spans if span.ref is not None]
        small = all(span.ref is not None or span.has("filler") for span in part.spans)
        goes = any(span.is_("part", "into") or span.fold in ARROWS for span in part.spans)
        vessel = len(refs) == 1 and refs[0].kind == "vessel" and self._holds(refs[0])
        return vessel and small and not goes and refs[0].name not in self._left()

    def _drafts_of(self, step: StepName) -> list[Draft]:
        """What is told of that chore."""
        drafts = (claim.draft for claim in self.told.claims if claim.draft is not None)
        return [draft for draft in drafts if isinstance(draft.act, Step) and draft.act.step == step]

    def _cleaned_once(self) -> None:
        """Leaves out that a vessel was washed that was sanitised as well; one that was cleaned, and wine went into it
        then, was sanitised."""
        cleaned = self._drafts_of("sanitise")
        washed = self.message.small.washed
        if cleaned:  # "bleached and rinsed bucket 1"
            self.told.claims = [
                claim
                for claim in self.told.claims
                if claim.label != "vessel"
                or claim.draft is not None
                or not self._only_washed(claim.part, washed)
            ]
        filled = [draft.to for draft in self._drafts_of("rack")]
        for claim in list(self.told.claims):
            if claim.draft is None or not isinstance(claim.draft.act, Vessel):
                continue
            thoroughly = self.message.small.cleaned.intersection(self.message.folds_of(claim.part.spans))
            if not cleaned and thoroughly and claim.draft.refs and claim.draft.refs[0] in filled:
                claim.draft.act, claim.label = Step(step="sanitise"), "step:sanitise"
                continue
            same = next((draft for draft in cleaned if draft.refs in ([], claim.draft.refs)), None)
            if same is not None:
                same.refs = claim.draft.refs
                self.told.claims.remove(claim)

    def _only_washed(self, part: Saying, washed: frozenset[str]) -> bool:
        return all(span.fold in washed or span.has("filler") for span in part.spans)

    def _racked_once(self) -> None:
        """Leaves out a racking that only says once more where a wine came from, or that it went: "the pink is now in
        bucket 1 and bucket 2 is the empty one"."""
        racked = [
            claim
            for claim in self.told.claims
            if claim.draft is not None
            and isinstance(claim.draft.act, Step)
            and claim.draft.act.step == "rack"
        ]
        goals = [claim.draft.to for claim in racked if claim.draft is not None and claim.draft.to is not None]
        if not goals:
            return
        for claim in racked:
            draft = claim.draft
            assert draft is not None
            named = {ref.name for ref in draft.refs if ref.kind in ("batch", "colour")}
            sure = any(ref.kind == "vessel" and not self._holds(ref) for ref in goals)
            back = (
                draft.to is not None
                and not named
                and sure
                and not from_to(claim.part)
                and (self._holds(draft.to) or draft.to.kind == "kind")
            )
            where = draft.to is None and bool(draft.refs) and not named
            if back or where:
                self.told.claims.remove(claim)

    def _moved_once(self) -> None:
        """Leaves out a stirring that only says how the gas was driven out: "ten minutes with the paddle, flat now"."""
        steps = {
            claim.draft.act.step: claim
            for claim in self.told.claims
            if claim.draft is not None and isinstance(claim.draft.act, Step)
        }
        stirred, degassed = steps.get("stir"), steps.get("degas")
        if stirred is None or degassed is None:
            return
        each = (stirred, degassed)
        if not all(any(span.has("step", "done") for span in claim.part.spans) for claim in each):
            self.told.claims.remove(stirred)

    def _went_to(self) -> None:
        """Gives a racking without a goal the one empty vessel that the message says wine is in or goes into: "racked, it
        is in bucket 2", "washed bucket 3 and racked plum into it"."""
        racked = [draft for draft in self._drafts_of("rack") if draft.to is None]
        if len(racked) != 1:
            return
        led: list[Ref] = []
        into_it = False
        empty: list[Ref] = []
        for one in self.said:
            spans = one.saying.spans
            into_it = into_it or self._made_ready(one.saying)
            for at, span in enumerate(spans):
                into_it = into_it or (span.fold in self.message.small.it and _leads(spans[:at]))
                if span.ref is None or span.ref.kind != "vessel" or self._holds(span.ref):
                    continue
                empty.append(span.ref)
                if _leads(spans[:at]):
                    led.append(span.ref)
        goals = list(dict.fromkeys(led or (empty if into_it else [])))
        if not goals and into_it and not empty:
            goals = self._cleaned_before()
        if len(goals) == 1:
            racked[0].to = goals[0]
            racked[0].refs = [ref for ref in racked[0].refs if ref != goals[0]]

    def _cleaned_before(self) -> list[Ref]:
        """The free vessel that was told to be clean just before: "racked into it"."""
        for told in self.scene.recent or ():
            if self.message.sent_at - told.said_at > JUST_TOLD:
                break
            act = told.act
            cleaned = (isinstance(act, Step) and act.step == "sanitise") or isinstance(act, Vessel)
            if cleaned and act.of is not None:
                ref = Ref("vessel", act.of)
                return [] if self._holds(ref) or all(v.name != act.of for v in self.scene.vessels) else [ref]
        return []

    def _made_ready(self, part: Saying) -> bool:
        """ "Bucket 2 cleaned": whether it says that an empty vessel was cleaned, for what is drawn off."""
        cleaned = bool(self.message.small.washed.intersection(self.message.folds_of(part.spans))) or any(
            span.step == "sanitise" for span in part.spans
        )
        return cleaned and not (part.asked or supposed(part, self.message.small) or denied(part))

    def _moved(self, part: Saying) -> bool:
        """ "Rosso b1 -> b2", "crate > b3", "3 to 1": an arrow from a wine or a vessel to a vessel."""
        self.called.between(part, self._left())
        spans = part.spans
        plain = not part.wordy and not any(span.qty is not None for span in spans)
        at = next((place for place, span in enumerate(spans) if span.fold in ARROWS), None)
        if at is None and plain and self.message.addressed:
            at = next((place for place, span in enumerate(spans) if span.is_("part", "into")), None)
        if at is None or not any(span.ref is not None for span in spans[:at]):
            return False
        goal = next((span.ref for span in spans[at:] if span.ref is not None), None)
        if goal is None or goal.kind not in ("vessel", "unknown"):
            return False
        if plain and self._holds(goal) and goal.name not in self._left():
            return False
        refs = [span.ref for span in spans[:at] if span.ref is not None][:1]
        self._take(part, Draft(Step(step="rack"), SURE, refs=refs, to=goal), _CERTAIN, "step:rack")
        return True

    def _left(self) -> set[str]:
        """The vessels that the message told of wine going out of."""
        moved = [
            claim.draft
            for claim in self.told.claims
            if claim.draft is not None and claim.draft.to is not None
        ]
        return {ref.name for draft in moved for ref in draft.refs}

    def _drawn(self, part: Saying) -> bool:
        """ "Lost about a litre to the sludge": wine taken out or lost, told beside other things; beside a racking it is but
        colour."""
        if part.asked or any(span.has("step", "done") for span in part.spans):
            return False
        racked = any(one.share("step:rack") >= _OWN and one.saying is not part for one in self.said)
        racked = racked or any(
            span.has("step", "done") and span.step == "rack" for span in self.message.spans
        )
        named = any(span.ref is not None and span.ref.kind in ("batch", "colour") for span in part.spans)
        if (self.went or racked) and not named:  # "lost half a litre of plum" is of the wine
            return False
        drawn = self.litres.drawn(Clause(list(part.spans), hard=part.hard))
        for _, draft in drawn:
            self._doubted(_WAITED)
            self._take(part, draft, _WAITED, "draw")
        return bool(drawn)

    def _facts(self) -> bool:
        """Whether a part of the message tells a fact of its own."""
        if self.went or self.bottles.drafts:
            return True
        for one in self.said:
            if self._values(one.saying):
                return True
            label, sure = self._best(one)
            if (
                (one.saying.wordy or self._by_label(one.saying, label, sure))
                and sure >= _OWN
                and label.partition(":")[0] in ("step", "add", "bottles", "begin", "cost")
            ):
                return True
            numbers = [] if one.saying.wordy else _unread(one.saying)
            if numbers and label == "temperature" and sure >= _OWN and self._room(numbers):
                return True
        return False

    # ------------------------------------------------------------------ a saying with words

    def _worded(self, part: Saying, label: str, sure: float, one: LabelledSaying) -> None:
        if denied(part):
            self.undone |= {span.step for span in part.spans if span.step is not None}
        label, sure = self._meant(part, label, sure, one)
        if label.startswith("ask:") and sure < _OWN and self._facts() and not self._question(part):
            label = "rest"  # facts are told, and nothing of it has the form of a question
        if label in _UNTOLD and (what := self._put_in_too(part) or self._heads_list(part)) is not None:
            label, sure = f"add:{what}", _WAITED
        if not part.asked and (self._packet_in_short(part) is not None or self._packet_went_in(part, label)):
            label, sure = "add:sachet", max(sure, _WAITED)
        if self._gear(part):
            self._doubted(_COLOUR)
            return
        if label in _UNTOLD:
            self._untold(part, label, one)
            return
        surely = label.startswith("step:") and sure >= _CERTAIN and cued(part)
        surely = surely and not (label == "step:rack" and self._drafts_of("rack"))  # "left the mud in 1"
        if self._colour(part, label, sure) or (not surely and self._left_behind(part, label)):
            self._doubted(_COLOUR)
            return
        kind, _, what = label.partition(":")
        doubt = (
            self._hardly_done(part, label, min(sure, one.share(label) or sure)) if kind == "step" else None
        )
        if doubt is not None:
            self._doubted(doubt)
            return
        (self.asked if kind == "ask" else self.doubts).append(sure)
        if kind == "ask":
            if self._values(part) and (not part.asked or self._told_first(part)):
                part.asked, asked = False, part.asked
                self._add_values(part, self._values(part), sure=sure)
                part.asked = asked
            self._take(part, None, sure, label)
        elif label == "skip" and (left_out := self._left_out(part)) is not None:
            if not self._as_pitched(left_out):
                self._take(part, left_out, sure, label)
        elif label in _FIGURES and (figures_told := self._figures_of(part, label, sure)):
            for told in figures_told:
                self._take(part, told, sure, label)
        elif label in _ELSEWHERE:
            if sure >= _OWN:
                self._take(part, None, sure, label)
        elif self._only_meant(part, kind, sure):
            if any(span.has(cue) for span in part.spans for cue in ("step", "substance", "put", "bottles")):
                self._take(part, None, sure, "mine")
        elif kind in ("gravity", "temperature", "volume"):
            self._measured(part, kind, sure)
        else:
            self._did(part, kind, what, sure, label)

    def _only_meant(self, part: Saying, kind: str, sure: float) -> bool:
        """Whether what it tells is not done: planned, asked for or imagined; or put in on a day to come."""
        if kind == "add" and _ahead(part):
            return True  # "packet 2 in, 3 tomorrow"
        told = kind in (*_DONE, "gravity", "temperature", "volume")
        return (
            told
            and supposed(part, self.message.small, sure)
            and not (kind == "bottles" and _to_somebody(part))
        )

    def _figures_of(self, part: Saying, label: str, sure: float) -> list[Draft]:
        if label == "draw":
            drawn = self.litres.drawn_plainly(Clause(list(part.spans))) if sure >= _OWN else None
            return [drawn] if drawn is not None else []
        if label != "cost":
            return self._sourness(part, label)
        before = self._before(part)
        thing = before.saying if before is not None and not part.wordy else None
        if thing is not None and not priced(self.message, thing, part):
            thing = None
        cost = spent(self.message, Saying([*thing.spans, *part.spans], hard=thing.hard) if thing else part)
        if cost is None:
            return []
        if thing is not None:
            self.told.claims = [claim for claim in self.told.claims if claim.part is not thing]
            self.told.left = [left for left in self.told.left if left is not thing]
        return [cost]

    def _hardly_done(self, part: Saying, label: str, sure: float) -> float | None:
        """How sure it is that a saying tells no chore: no word of it says so and little else, "bo sang something sad to
        the bucket", or it is how a packet went in, "packet b, stirred in"."""
        deed = any(
            span.has(cue) for span in part.spans for cue in ("step", "move", "put", "substance", "bottles")
        )
        other = any(span.qty is not None or span.is_("part", "washed") for span in part.spans)
        least = _WASHED_UNCUED if label == "step:sanitise" else _UNCUED
        if sure < least and not (deed or other):
            return _COLOUR
        vessels = [span.ref for span in part.spans if span.ref is not None and span.ref.kind == "vessel"]
        if (
            label == "step:rack"
            and sure < _CERTAIN
            and vessels
            and not deed
            and all(map(self._stands_in, vessels))
        ):
            return _COLOUR  # "bucket 2 has dusk in it": where it was
        last = self.before.draft.act if self.before is not None and self.before.draft is not None else None
        stirred_in = label == "step:stir" and isinstance(last, Addition) and _only_puts(part)
        return _WAITED if stirred_in else None

    def _stands_in(self, vessel: Ref) -> bool:
        """Whether a vessel holds a wine that the message names."""
        batch = self.message.targets.in_vessel.get(vessel.name)
        named = {
            target.of
            for span in self.message.spans
            if span.ref is not None and span.ref.kind in ("batch", "colour")
            for target in self.message.targets.of(span.ref)
        }
        return batch is not None and batch.name in named

    def _washed(self, part: Saying, label: str) -> Draft | None:
        """An empty vessel that was washed, told beside other things: "washed bucket 2 out, racked plum into it"."""
        washed = self.message.small.washed.intersection(self.message.folds_of(part.spans))
        refs = [span.ref for span in part.spans if span.ref is not None]
        if self._cleaned_first(part, label):
            return Draft(Step(step="sanitise"), SURE, "anything")
        if not washed or part.asked or len(refs) != 1 or refs[0].kind != "vessel":
            return None
        if self._sanitised_then(part) or unwashed(self.message, part):
            return None
        holds = self._holds(refs[0])
        if holds and (label == "step:sanitise" or not self._emptied(refs[0])):
            return None
        if len(self.said) < 2 or supposed(part, self.message.small) or denied(part):
            return None
        if holds:
            return Draft(Vessel(of=refs[0].name, state="clean"), SURE, "nothing", refs=refs)
        if label == "step:sanitise":
            filled = self.went or any(
                span.has("move") or span.step not in (None, "sanitise") for span in self.message.spans
            )
            if not filled:
                return None
            thoroughly = self.message.small.cleaned.intersection(self.message.folds_of(part.spans))
            only = all(span.ref is not None or span.has("filler") for span in part.spans)
            if only and not thoroughly:  # a rinse
                return Draft(Vessel(state="clean"), SURE, "anything", refs=refs)
            return Draft(Step(step="sanitise"), SURE, "anything", refs=refs)
        return Draft(Vessel(state="clean"), SURE, "anything", refs=refs)

    def _cleaned_first(self, part: Saying, label: str) -> bool:
        """ "Bucket washed with the product, mixed": what was cleaned before the kit was mixed, while that is awaited."""
        waits = any(batch.next[:1] == ("sanitise",) for batch in self.scene.under_way)
        mixed = any(span.step == "mix" and span.has("step", "done") for span in self.message.spans)
        folds = self.message.folds_of(part.spans)
        cleaned = bool(self.message.small.washed.intersection(folds))
        gear = all(
            span.ref is None or span.ref.kind in ("vessel", "kind") for span in part.spans
        ) and not any(span.qty is not None for span in part.spans)
        told = label.partition(":")[0] in ("vessel", "rest", "step")
        return (
            waits
            and mixed
            and cleaned
            and gear
            and told
            and not (part.asked or supposed(part, self.message.small) or denied(part))
            and not any(span.step not in (None, "sanitise") for span in part.spans)
        )

    def _sourness(self, part: Saying, label: str) -> list[Draft]:
        """The pH and the acidity that the numbers of a saying can be, each by the word before it: "pH 3.45 TA 6.2"."""
        found: list[Draft] = []
        measure = label
        for span in part.spans:
            measure = span.value("measure") or measure
            if span.qty is None or span.used:
                continue
            ph = measure == "ph" and span.qty.unit is None
            low, high = _PH if ph else _ACIDITY
            if not low <= span.qty.value <= high or not (ph or span.qty.unit in (None, "g_per_l")):
                return []
            act = Ph(ph=span.qty.value) if ph else Acidity(g_per_l=span.qty.value)
            found.append(Draft(act, SURE, clause=Clause([span], hard=part.hard)))
            span.used = True
        return found

    def _emptied(self, vessel: Ref) -> bool:
        """Whether the message told before that the wine in it was racked elsewhere."""
        home = self.message.targets.in_vessel.get(vessel.name)
        for draft in self._drafts_of("rack"):
            names = {target.of for ref in draft.refs for target in self.message.targets.of(ref)}
            one = len(self.scene.under_way) == 1 and not names
            if (
                draft.to is not None
                and draft.to != vessel
                and home is not None
                and (one or home.name in names)
            ):
                return True
        return False

    def _gear(self, part: Saying) -> bool:
        """Whether it goes on with what was cleaned: "sterilised the lot, paddle and hose too"."""
        last = self.last
        cleaned = last is not None and isinstance(last.act, Step) and last.act.step == "sanitise"
        return cleaned and not part.asked and not part.hard and len(part.spans) <= _FEW and not cued(part)

    def _colour(self, part: Saying, label: str, sure: float) -> bool:
        """Whether a saying beside others has nothing in it that the log keeps: "cat on the lid as ever", "what a day"."""
        if len(self.said) < 2 or part.asked or label.startswith("ask:") or not self._facts():
            return False
        if label == "step:top_up" and self.message.small.airlock.intersection(
            self.message.folds_of(part.spans)
        ):
            return True  # the airlocks, and no wine
        same = (self.message.small.same | self.message.small.unmoved).intersection(
            self.message.folds_of(part.spans)
        )
        measured = label in ("gravity", "temperature", "volume")
        kind, _, step = label.partition(":")
        waits = (
            kind != "step"
            or step in _ANY_TIME
            or any(step in each.next[:_SOON] for each in self.scene.batches)
        )
        return not cued(part) and not same and (measured or sure < _AS_ONE or not waits)

    def _left_behind(self, part: Saying, label: str) -> bool:
        """ "The lees were about a litre", "spilled a pint" beside a racking: what stayed behind, or went on the floor."""
        kind = self.before.label.partition(":")[0] if self.before is not None else ""
        racked = self.before is not None and (self.before.label == "step:rack" or kind == "add")
        lees = self.message.small.lees.intersection(self.message.folds_of(part.spans))
        told = label.partition(":")[0] in ("volume", "draw", "note", "step", "rest", "bottles")
        told = told or label == "ask:spilled"
        reads = any(map(tells_gravity, part.spans))
        done = any(span.has("step", "done") for span in part.spans)
        volume = any(
            span.has("amount") or (span.qty is not None and span.qty.unit in VOLUMES) for span in part.spans
        )
        return (racked or volume) and told and bool(lees) and not (part.asked or reads or done)

    def _put_in_too(self, part: Saying) -> str | None:
        """What a saying of nothing but its name adds to what went in just before: "5 campden, and finings this morning"."""
        last = self.last
        small = all(
            span.has("substance")
            or span.has("filler")
            or span.has("amount")
            or span.qty is not None
            or span.moment is not None
            or span.ref is not None
            for span in part.spans
        )
        named = [span.value("substance") for span in part.spans if span.has("substance")]
        goes_on = last is not None and isinstance(last.act, Addition) and not part.asked
        return named[0] if goes_on and small and len(named) == 1 else None

    def _heads_list(self, part: Saying) -> str | None:
        """What a saying of nothing but its name is the first of, where the next says that both went in: "k-meta and the
        sorbate are in", "packets B + C in"."""
        then = self._after(part)
        if then is None or then.saying.hard or part.asked or then.saying.asked:
            return None
        label, sure = then.best()
        went_in = label.startswith("add:") and sure >= _OWN and any(map(_puts_in, then.saying.spans))
        packet = self._packet_named(part)
        named = ["sachet"] if packet is not None else []
        named += [span.value("substance") or "" for span in part.spans if span.has("substance")]
        small = all(
            span.has("substance") or is_packet(span) or span.has("filler") or self._id(span)
            for span in part.spans
        )
        return named[0] if went_in and small and len(named) == 1 else None

    def _untold(self, part: Saying, label: str, one: LabelledSaying) -> None:
        """A saying that tells nothing for the log, unless by a number that says by itself what it measures."""
        if self._theirs_too(part):
            return
        values = self._values(part)
        plainly = any(map(tells_gravity, values))
        if values and (label != "talk" or plainly):
            self._add_values(part, values, sure=0.8)
        elif values:
            self.told.left.append(part)
        self._doubted(one.share(*_HELD))

    def _of_them_all(self, part: Saying) -> bool:
        """ "Sanitised: all", "got the gas out, 10 min each": takes what only says that the thing before is told of several;
        whoever settles it knows of which."""
        last = self.last
        if (
            self.before is None
            or last is None
            or not isinstance(last.act, Step | Addition)
            or last.to is not None
        ):
            return False
        small = self.message.small
        said = f" {' '.join(self.message.folds_of(part.spans))} "
        phrases = [each for each in (*small.two, *small.each_one, *small.counted) if f" {each} " in said]
        words = {word for each in phrases for word in each.split()}
        every = [
            span.ref for span in part.spans if span.ref is not None and span.ref.kind in ("every", "kind")
        ]
        alone = all(
            words.issuperset(span.fold.split())
            or span.ref in every
            or (span.qty.unit in _LASTED if span.qty is not None else span.has("filler"))
            for span in part.spans
        )
        if not phrases or not alone or part.asked:
            return False
        self.before.part = part
        if every and not any(ref.kind in ("batch", "colour") for ref in last.refs):
            last.refs = every
        return True

    def _theirs_too(self, part: Saying) -> bool:
        """ "Yeast in mine. and in hers", "degassed mine, Juno did hers": takes the same again, of the wine that is somebody
        else's; whoever settles it knows which."""
        last = self.last
        if last is None or not isinstance(last.act, Step | Addition) or part.asked or last.to is not None:
            return False
        whose = self.message.small.theirs | self.message.small.mine
        did = next((at for at, span in enumerate(part.spans) if span.is_("part", "did")), 0)
        alone = all(span.fold in whose or span.has("filler") for span in part.spans[did + bool(did) :])
        both = self.before is not None and self._of_theirs(part) != self._of_theirs(self.before.part)
        owned = any(span.fold in whose for span in part.spans)
        if not (both and owned and alone and did <= 1):
            return False
        self._take(part, Draft(last.act, SURE, last.needs), _CERTAIN, "again")
        return True

    def _of_theirs(self, part: Saying) -> bool:
        return any(span.fold in self.message.small.theirs for span in part.spans)

    def _measured(self, part: Saying, kind: str, sure: float) -> None:
        """Numbers; and a chore that is told with them: "mixed, 23 deg"."""
        values = self._values(part)
        chores = [span for span in part.spans if span.has("step")]
        at = part.spans.index(values[0]) if values else 0
        until = at > 0 and part.spans[at - 1].is_("part", "at")
        if chores and until and not any(span.has("step", "done") for span in chores):
            self.told.left.append(part)  # "rack plum at 1.010" is a plan
            return
        if not values and kind != "volume":
            numbers = _unread(part)
            if (
                numbers
                and self._room(numbers)
                and not self._counts_others(part)
                and not self._counts_on(part)
                and (self.message.addressed or self.told.claims or self._facts())
            ):
                self._add_degrees(part, numbers[0], min(sure, _WAITED))
                return
            if kind == "temperature" and sure >= _CERTAIN and (warm := self._warm(numbers)) is not None:
                numbers[0].used = True
                self._temperature(part, warm, sure)
                return
            same = self._same(part, self.message.small.unmoved) if kind == "gravity" else None
            if same is None and self._says_more(part):
                self.told.left.append(part)
            elif same is not None:
                self._take(part, same, sure, kind)
            return
        self._add_values(part, values, sure=sure, label=kind)
        waits = {step for batch in self.scene.under_way for step in batch.next[:_NEXT]}
        done = next(
            (span.step for span in chores if span.has("step", "done") or (values and span.step in waits)),
            None,
        )
        draft = self._step(part, done) if done is not None else None
        if draft is not None:
            self._take(part, draft, sure, f"step:{done}")
        put_in = {span.value("substance") for span in part.spans if span.has("substance")}
        if len(put_in) == 1 and any(span.is_("put", "done") for span in part.spans) and not denied(part):
            what = str(put_in.pop())  # "added 2 campden 1.002"
            added = self._addition(part, what)
            if added is not None:
                self._take(part, added, sure, f"add:{what}")

    def _warm(self, numbers: Sequence[Span]) -> float | None:
        """The one number that is surely a temperature, in °C: in the house's own unit, else in the other."""
        if len(numbers) != 1 or (quantity := numbers[0].qty) is None or quantity.unit is not None:
            return None
        own = self.scene.temperature_unit
        for unit in (own, "F" if own == "C" else "C"):
            low, high = _ROOM[unit]
            if low <= quantity.value <= high:
                return celsius(quantity.value, _DEGREES_IN[unit], self.scene)
        return None

    def _says_more(self, part: Saying) -> bool:
        """Whether a number or a measure is in it, and it is no more than a heading ("thermometer: 20") nor "first one"."""
        numbers = [span.qty for span in part.spans if span.qty is not None]
        some = [one for one in numbers if not (one.spoken and one.value == 1 and one.unit is None)]
        after = self._after(part)
        heads = (
            after is not None
            and not after.saying.hard
            and any(span.qty is not None for span in after.saying.spans)
        )
        heads = heads and len(part.spans) <= _FEW
        return bool(some) or (any(span.has("measure") for span in part.spans) and not heads)

    def _did(self, part: Saying, kind: str, what: str, sure: float, label: str) -> None:
        """Something done, put in, drunk or remarked."""
        draft: Draft | None = None
        if (
            kind in _DONE
            and what != "rack"
            and sure < _CERTAIN
            and self.message.small.not_done.intersection(self.message.folds_of(part.spans))
        ):
            return
        clause = Clause(list(part.spans))
        ordered = moods.ordered(clause)
        plainly = any(span.has("step", "done") or span.has("put") for span in part.spans)
        told = sure >= _CERTAIN
        if kind in _DONE and not told and (ordered or (self.bidden and not plainly)):
            self.bidden = True  # "get the gas out. drill on low": what follows only says how
            self._take(part, None, sure, "mine")
            return
        if kind == "step" and not told and what in self.undone and not plainly:
            self._doubted(sure)
            return  # "not degassed it, drill's flat": why not
        if kind == "step" and self._how(part, clause, told=told):
            self._take(part, None, sure, "mine")
            return
        if kind in _DONE and (denied(part) or _put_off(part)):
            self._take(part, None, sure, "later")
            return
        if kind == "step":
            draft = self._step(part, what) if what != "bottle" else self._bottling(part)
        elif (
            what == "water" and self._to_be_mixed() and not any(span.has("substance") for span in part.spans)
        ):
            draft = self._step(part, "mix")  # no water is spoken of: "concentrate in"
        elif kind == "add":
            if self._only_how(part) and not (told and any(span.qty is not None for span in part.spans)):
                return
            draft = self._addition(part, what)
            if not any(span.qty is not None or _puts_in(span) for span in part.spans) and any(
                map(_more, part.spans)
            ):
                self._doubted(_UNSAID)
        elif kind == "bottles":
            if self._stays_here(part, what, sure):
                self._doubted(sure)
                return
            draft = self._gone(part, what, sure)
        elif kind == "note" and (self._one_word(part) or (self._facts() and self._no_remark(part, sure))):
            self._doubted(_COLOUR)
            return
        elif kind == "note" and any(map(self._bids, (one.saying for one in self.said))):
            self._take(part, None, sure, "mine")  # advice, and no remark on the wine
            return
        elif kind == "note":
            words = self.message.words_of(part.spans) if self._facts() else self.message.text.strip()
            draft = Draft(Note(text=words), SURE, "anything")
        elif kind == "undo":
            draft = Draft(Undo(), SURE, "nothing")
        if draft is None:
            self._untaken(part)
            return
        self._take(part, draft, sure, label)
        loose = [value for value in self._values(part) if not value.used]
        if loose and kind in ("step", "add", "note"):
            self._add_values(part, loose, sure=sure)

    def _stays_here(self, part: Saying, what: str, sure: float) -> bool:
        """Whether bottles are only carried to where they are kept, wanted, or were counted before."""
        spans = part.spans
        kept = stored(self.message, spans) if sure >= _CERTAIN else at_home(self.message, spans)
        return what != "left" and (kept or already_counted(self.message))

    def _gone(self, part: Saying, what: str, sure: float) -> Draft | None:
        """What became of bottles, or how many are left; in doubt where others may be counted."""
        if what != "left" and moods.denied(Clause(list(part.spans), hard=part.hard)):
            return None  # "didnt open one"
        draft = self._bottles(part, what)
        if draft is None and sure >= _CERTAIN and what not in ("left", "found"):
            draft = self._one_bottle(part, what)
        if draft is not None and not self._surely_bottles(part, what, sure):
            draft.doubt = Doubt.UNSURE
        return draft

    def _one_word(self, part: Saying) -> bool:
        """ "Now stir. gently, Bo": whether it is but a word beside other sayings."""
        return len(self.said) > 1 and len(self.message.words_of(part.spans).split()) == 1

    def _bottling(self, part: Saying) -> Draft | None:
        """A bottling; in doubt where nothing says so but its label: "poured it in, filled it up, 22 on the strip"."""
        draft = self._step(part, "bottle") if self._into_bottles(part) else None
        if draft is not None and not self._bottling_named():
            draft.doubt = draft.doubt or Doubt.UNSURE
        return draft

    def _bottling_named(self) -> bool:
        """Whether something says that it is bottles that were filled, or a wine waits for that."""
        said = any(span.step == "bottle" or of_bottles(span) for span in self.message.spans)
        return said or any("bottle" in batch.next[:_SOON] for batch in self.scene.under_way)

    def _how(self, part: Saying, clause: Clause, *, told: bool) -> bool:
        """Whether it says how a chore is done, or is being done, and not that it was; what is surely `told` was."""
        self.bidden = self.bidden or self._being_done(part)
        at = _told_at(part)
        return (self.bidden and not told) or (at is not None and moods.compared(clause, at))

    def _untaken(self, part: Saying) -> None:
        """Something told of which nothing could be made: what may be a fact is left, colour beside facts is let go."""
        may_tell = any(
            span.qty is not None or span.ref is not None or span.has("substance") or span.has("packet")
            for span in part.spans
        )
        if may_tell or not self._facts():
            self.told.left.append(part)

    def _only_how(self, part: Saying) -> bool:
        """Whether it says with what a thing was cleaned, or how what was just told went in: "packet 2, stirred in",
        "melted in 300 ml of the must first"."""
        last = self.last
        act = last.act if last is not None else None
        melted = bool(part.spans) and part.spans[0].fold in self.message.small.dissolved
        if isinstance(act, Addition) and (_only_puts(part) or melted):
            self._doubted(_WAITED)
            return True
        cleaned = isinstance(act, Step) and act.step == "sanitise"
        return cleaned and not part.hard and not any(_puts_in(span) for span in part.spans)

    def _bids(self, part: Saying) -> bool:
        """ "Get it on the floor", "you want to keep the lid on": whether it tells somebody what to do."""
        spans = [span for span in part.spans if not span.has("join") and span.kind != "mark"]
        if len(spans) < _FEWEST_BIDDEN or part.asked:
            return False
        first, then = spans[0], spans[1]
        whom = then.is_("mood", "subject") or then.ref is not None
        return first.fold.split()[0] in self.message.small.bids and (whom or len(first.fold.split()) > 1)

    def _being_done(self, part: Saying) -> bool:
        """ "Doing the labels": whether a chore is at hand, and not yet done."""
        first = next((span for span in part.spans if not span.has("join")), None)
        done = any(span.has("step", "done") for span in part.spans)
        return first is not None and first.fold in self.message.small.doing and not done

    def _meant(self, part: Saying, label: str, sure: float, one: LabelledSaying) -> tuple[str, float]:
        """The label, unless the form of the saying tells another."""
        if _only_done(part):
            return "done", max(sure, _WAITED)
        if not part.asked and denied(part) and _for_good(part):
            return "skip", max(sure, _WAITED)
        asked = part.asked or self._asks(part, label)  # "27 degrees, can i put the yeast in"
        done = set() if asked else {span.step for span in part.spans if span.has("step", "done")}
        kind = label.partition(":")[0]
        unmeasured = kind in ("gravity", "temperature", "volume") and not self._values(part)
        things = [span.value("substance") for span in part.spans if span.has("substance")]
        put_in = len(things) == 1 and things != ["water"] and any(map(_puts_in, part.spans))
        if unmeasured and put_in and not (done or part.asked):
            return SAME_AS.get(f"add:{things[0]}", f"add:{things[0]}"), _WAITED  # "1.076, yeast in"
        if len(done) == 1 and (kind in ("step", "rest") or unmeasured) and not part.asked:
            (step,) = done
            plain = SAME_AS.get(f"step:{step}", f"step:{step}")
            if plain == label:
                return plain, max(sure, _PLAINLY)
            surely_none = label == "rest" and sure >= _CERTAIN and step == "stir" and self._told_besides()
            if surely_none:
                return label, sure  # "half a teaspoon is in, stirred up in warm water first"
            if not (label == "step:degas" and step in ("stir", "mix")):
                return plain, _WAITED  # "mixed vigorous 10 min for gas"
        if kind == "bottles" and not part.asked and remaining(self.message, part):
            return "bottles:left", max(sure, _WAITED)
        if kind == "bottles" and label != "bottles:left" and not part.asked:
            told = told_how(self.message, part)
            if told not in (None, "lost", "drank"):
                return (
                    f"bottles:{told}",
                    sure,
                )  # "found one behind the bread bin", whatever is told most often
        if (unmeasured or kind in ("rest", "note")) and not part.asked and not done:
            what_in = _plainly_in(part)
            if what_in is not None and not supposed(part, self.message.small) and not denied(part):
                return ("step:pitch" if what_in == "yeast" else f"add:{what_in}"), _WAITED
        if unmeasured and not part.asked and (likelier := _of_a_deed(part, one)) is not None:
            return likelier
        given = label == "bottles:drank" and _to_somebody(part)
        if label in ("bottles:drank", "rest") and not part.asked and (given or _handed_over(part)):
            return "bottles:gave", max(sure, _WAITED)
        if asked and label in _UNTOLD and sure >= _OWN and not cued(part) and self._facts():
            return label, sure  # "opened one with the stew, honestly? lovely"
        return (
            one.asked()
            if asked and not label.startswith("ask:") and not self._values(part)
            else (label, sure)
        )

    def _told_first(self, part: Saying) -> bool:
        """ "23 degrees, which is too warm isn't it": whether a value is told before anything is asked, beside other facts."""
        first = next(
            (
                span
                for span in part.spans
                if span.is_("mood", "aux") or span.is_("mood", "ask") or span in self._values(part)
            ),
            None,
        )
        return first is not None and first in self._values(part) and bool(self.told.claims)

    def _question(self, part: Saying) -> bool:
        if relative(part, self.message):
            return False
        return asks(part)

    def _asks(self, part: Saying, label: str) -> bool:
        """Whether a saying that looks like a fact begins as questions do: "have you sterilised that spoon"."""
        fact = label.partition(":")[0] in ("step", "add", "bottles")
        return fact and asks(part)

    def _doubted(self, sure: float) -> None:
        """It is no surer that all of it is right than that the least sure part is."""
        self.doubts.append(sure)

    def _take(self, part: Saying, draft: Draft | None, sure: float, label: str) -> None:
        if draft is not None:
            draft.clause = draft.clause or Clause(list(part.spans), asked=part.asked, hard=part.hard)
            draft.moments = draft.moments or draft.clause.moments
            goals = [draft.to] if draft.to is not None else []
            draft.refs = draft.refs or [
                span.ref for span in part.spans if span.ref is not None and span.ref not in goals
            ]
        if draft is not None and self._again(draft, part, sure):
            return
        claim = Claim(draft, sure, label, part)
        self.told.claims.append(claim)
        self.before = claim

    def _borne_out(self, claim: Claim, sure: float) -> None:
        """What two parts say, neither of them likely anything else, is surer than each alone."""
        act = claim.draft.act if claim.draft is not None else None
        if min(claim.sure, sure) < _OWN or not isinstance(act, Step) or act.step == "rack":
            return
        both = 1.0 - (1.0 - claim.sure) * (1.0 - sure)
        self.doubts = [both if each in (claim.sure, sure) else each for each in self.doubts]
        claim.sure = both

    def _again(self, draft: Draft, part: Saying, sure: float) -> bool:
        """Whether it only says once more, or more exactly, what the message told before: "bottled, 29, all corked"."""
        for claim in self.told.claims:
            old = claim.draft
            if old is None or (draft.refs and old.refs and draft.refs != old.refs):
                continue
            again = draft.moments and old.moments and draft.moments != old.moments
            if isinstance(draft.act, Gravity | Temperature) and again:
                continue  # "point nine nine six on sunday and point nine nine six tonight"
            if isinstance(draft.act, Bottles) and part is not claim.part and (again or _to_somebody(part)):
                continue  # "one for my mum, one for his", "had one last night and one tonight"
            named, before = self._named_by(part), self._named_by(claim.part)
            if (
                named
                and before
                and named != before
                and draft.act == old.act
                and not (draft.refs and old.refs)
            ):
                continue  # "the plum: stirred. the white: stirred"
            if self._of_theirs(part) != self._of_theirs(claim.part):
                continue  # "yeast in mine. and in hers"
            both = _as_one(old.act, draft.act)
            if both is None or (old.to is not None and draft.to not in (None, old.to)):
                continue
            old.act, old.to = both, old.to or draft.to
            old.refs = old.refs or draft.refs
            self._shared_out(claim, part)
            self._borne_out(claim, sure)
            return True
        return False

    def _named_by(self, part: Saying) -> list[Ref]:
        """The wines that a saying names, or the last before it that names any."""
        found: list[Ref] = []
        for each in self.told.parts:
            found = [
                span.ref for span in each.spans if span.ref is not None and self._is_wine(span.ref)
            ] or found
            if each is part:
                break
        return found

    def _is_wine(self, ref: Ref) -> bool:
        return ref.kind in ("batch", "colour") or (ref.kind == "vessel" and self._holds(ref))

    # ------------------------------------------------------------------ values

    def _values(self, part: Saying) -> list[Span]:
        """The numbers of a saying that measure the wine by themselves, or can."""
        return [span for span in part.spans if span.qty is not None and self._measures(span.qty)]

    def _measures(self, quantity: Quantity) -> bool:
        if reads_gravity(quantity) or quantity.unit in DEGREES:
            return True
        low, high = _GRAVITY_HELD
        held = quantity.unit is None and quantity.decimals == 2 and low <= quantity.value <= high
        return held or _point_slipped(quantity) is not None

    def _add_values(self, part: Saying, values: Sequence[Span], *, sure: float, label: str = "") -> None:
        """Gravities and temperatures: a temperature after a gravity is its sample's."""
        if label == "volume":
            if self._filled():
                return  # what the bottles hold, or what was left over
            for span in part.spans:
                if span.qty is not None and span.qty.unit in VOLUMES:
                    amount = litres(span.qty.value, span.qty.unit, self.scene)
                    self._take(part, Draft(Volume(litres=amount), SURE, "anything"), sure, "volume")
            return
        held = [span for span in values if span.qty is not None and span.qty.unit not in DEGREES]
        if len(held) > 1 and _fell(part, held[0], held[1]):
            held[0].used = True
            held = held[1:]
        warm = [span for span in part.spans if span.qty is not None and self._degrees(span, bool(held))]
        instrument = instrument_named(self.message)
        for number, span in enumerate(held):
            if span.qty is None:
                continue
            slipped = _point_slipped(span.qty)
            sg = slipped if slipped is not None else gravity(span.qty)
            if sg is None or not SG_RANGE[0] <= sg <= SG_RANGE[1]:
                continue
            own = warm[number] if len(warm) == len(held) else warm[0] if warm and len(held) == 1 else None
            temp = celsius(own.qty.value, own.qty.unit, self.scene) if own is not None and own.qty else None
            if own is not None:
                own.used = True
            span.used = True
            doubt = Doubt.UNSURE if part.asked or slipped is not None else None
            act = msgspec.structs.replace(read_by(sg, span.qty, instrument, self.scene), temp_c=temp)
            self._take(part, Draft(act, SURE, doubt=doubt), sure, "gravity")
        for span in warm:
            if span.used or span.qty is None:
                continue
            span.used = True
            temp = celsius(span.qty.value, span.qty.unit, self.scene)
            self._temperature(part, temp, sure)

    def _filled(self) -> bool:
        """Whether the message told before that a wine was bottled."""
        acts = [claim.draft.act for claim in self.told.claims if claim.draft is not None]
        return any(isinstance(act, Step) and act.step == "bottle" for act in acts)

    def _add_degrees(self, part: Saying, number: Span, sure: float) -> None:
        """A bare number that a room can have."""
        number.used = True
        assert number.qty is not None
        self._temperature(part, celsius(number.qty.value, None, self.scene), sure)

    def _temperature(self, part: Saying, temp: float, sure: float) -> None:
        last = self.last
        named = any(span.ref is not None for span in part.spans)
        if (
            last is not None
            and isinstance(last.act, Gravity)
            and last.act.temp_c is None
            and not named
            and not part.hard
            and not self._of_several(part)
        ):
            last.act = Gravity(sg=last.act.sg, temp_c=temp)
            self.told.joined.append(part)
            return
        doubt = Doubt.UNSURE if self._of_room(part) else None
        self._take(part, Draft(Temperature(temp_c=temp), SURE, doubt=doubt), sure, "temperature")

    def _of_several(self, part: Saying) -> bool:
        """ "Each at 20", "22 both of them": whether it points at several wines under way."""
        said = f" {' '.join(self.message.folds_of(part.spans))} "
        small = self.message.small
        several = len(self.scene.under_way) > 1
        return several and any(f" {each} " in said for each in (*small.two, *small.all))

    def _of_room(self, part: Saying) -> bool:
        """ "The hall was 17": a room, and nothing of the wine, is what is so warm."""
        at = next((at for at, span in enumerate(part.spans) if span.qty is not None), 0)
        wine = any(span.ref is not None or span.is_("batchword", "batch") for span in part.spans)
        folds = self.message.folds_of(part.spans[:at])
        return not wine and not self.told.claims and bool(self.message.small.warmth.rooms.intersection(folds))

    def _degrees(self, span: Span, beside: bool) -> bool:
        """Whether a number is a temperature: by its unit, or beside a gravity, or where nothing else is."""
        quantity = span.qty
        if quantity is None or span.used or span.ref is not None:
            return False
        if quantity.unit in DEGREES:
            return True
        low, high = _ROOM[self.scene.temperature_unit]
        return quantity.unit is None and quantity.decimals <= 1 and low <= quantity.value <= high and beside

    def _same(self, part: Saying, said: frozenset[str]) -> Draft | None:
        """ "Same again": the gravity that was read last; of which batch, whoever settles it knows."""
        if not said.intersection(self.message.folds_of(part.spans)):
            return None
        return Draft(Gravity(sg=AS_LAST), SURE)

    # ------------------------------------------------------------------ chores, additions, bottles

    def _step(self, part: Saying, name: str) -> Draft | None:
        step = next((each for each in _STEPS if each == name), None)
        if step is None:
            return None
        draft = Draft(Step(step=step), SURE, "anything" if step == "sanitise" else "batch")
        if step == "sanitise":
            draft.refs = self._cleaned(part)
        if step == "rack":
            self._goal(part, draft)
            plainly = any(span.has("step") for span in part.spans)
            into_it = any(
                span.fold in self.message.small.it and _leads(part.spans[:at])
                for at, span in enumerate(part.spans)
            )
            empty = any(
                ref is not None and ref.kind == "vessel" and not self._holds(ref)
                for ref in (span.ref for one in self.said for span in one.saying.spans)
            )
            ready = any(self._made_ready(one.saying) for one in self.said)
            plainly = plainly or (empty and (into_it or ready))
            home = self.message.targets.in_vessel.get(draft.to.name) if draft.to is not None else None
            names = {target.of for ref in draft.refs for target in self.message.targets.of(ref)}
            if home is not None and names == {home.name} and not plainly:
                return None  # it only says where it stands
            across = self.message.small.across.intersection(self.message.folds_of(part.spans))
            of_wine = across and any(span.has("batchword") or span.ref is not None for span in part.spans)
            waits = any("rack" in batch.next[:2] for batch in self.scene.under_way)
            plainly = plainly or bool(of_wine and waits)
            if draft.to is None and not plainly and any(span.has("move") for span in part.spans):
                return None  # carried somewhere else, perhaps
        if step == "bottle":
            count = self._count(part)
            draft.act = Step(step=step, bottles=count) if count else draft.act
        return draft

    def _cleaned(self, part: Saying) -> list[Ref]:
        """The vessels that the saying before named, where this one names nothing, and no wine is in them that is past being
        cleaned for: "bucket 2 is scrubbed and sanitised", "both buckets scrubbed and sterilised"."""
        at = next((at for at, one in enumerate(self.said) if one.saying is part), 0)
        if not at or part.hard or any(span.ref is not None or span.kind == "word" for span in part.spans):
            return []
        before = self.said[at - 1].saying
        washed = self.message.small.washed.intersection(self.message.folds_of(before.spans))
        refs = [span.ref for span in before.spans if span.ref is not None]
        waits = {batch.vessel for batch in self.scene.under_way if batch.next[:1] == ("sanitise",)}
        clean = all(
            (ref.kind in ("every", "kind") and washed)
            or (ref.kind == "vessel" and (not self._holds(ref) or ref.name in waits))
            for ref in refs
        )
        return refs if clean else []

    def _to_be_mixed(self) -> bool:
        """Whether a kit waits to be mixed."""
        return any("mix" in batch.next[:2] for batch in self.scene.under_way)

    def _no_remark(self, part: Saying, sure: float) -> bool:
        """Whether it is too little of the wine to be kept beside facts: "he was fussing with the airlock", "Bo sang
        to it", "snoozing on top": how the wine looks, smells and tastes is kept."""
        folds = self.message.folds_of(part.spans)
        who = self.message.small.people | set(self.message.scene.members)
        of_wine = any(span.is_("batchword", "it") for span in part.spans)  # "I think it smells of pears"
        of_people = bool(folds) and folds[0] in who and not of_wine
        about = concepts_of(self.message.scene.language).among(folds)
        return (
            sure < _REMARK
            or of_people
            or _LOOKS.isdisjoint(about)
            or bool(self.message.small.airlock.intersection(folds))
        )

    def _into_bottles(self, part: Saying) -> bool:
        """Whether bottles were filled: "bottles and corks are here" only says that there are some."""
        told = any(span.has("step") or span.is_("part", "inside") or span.has("put") for span in part.spans)
        return told or any(span.qty is not None for span in part.spans) or into_bottles(self.message, part)

    def _left_out(self, part: Saying) -> Draft | None:
        """A chore that is to be left out: asked about, since it may only be put off."""
        steps = {span.step for span in part.spans if span.step is not None}
        if len(steps) != 1:
            return None
        return Draft(Skip(step=next(iter(steps))), SURE, doubt=Doubt.UNSURE)

    def _as_pitched(self, left_out: Draft) -> bool:
        """ "Yeast in, just on top, no stirring": whether what is left out only says how the yeast went in."""
        pitched = any(
            claim.draft is not None and isinstance(claim.draft.act, Step) and claim.draft.act.step == "pitch"
            for claim in self.told.claims
        )
        return pitched and isinstance(left_out.act, Skip) and left_out.act.step in ("stir", "mix")

    def _goal(self, part: Saying, draft: Draft) -> None:
        """The vessel that wine went to: led by "into" or the like, else the one that does not hold it."""
        spans = part.spans
        vessels = [
            (at, span.ref)
            for at, span in enumerate(spans)
            if span.ref is not None and span.ref.kind in ("vessel", "unknown", "kind")
        ]
        led = [(at, ref) for at, ref in vessels if at and _leads(spans[:at])]
        from_ = {at for at, _ in vessels if at and _leaves(spans[:at])}
        free = [(at, ref) for at, ref in vessels if at not in from_ and not self._holds(ref)]
        goals = [pair for pair in led if pair[0] not in from_] or free
        if not goals:
            return
        at, goal = goals[-1]
        draft.to = goal
        draft.refs = [span.ref for place, span in enumerate(spans) if span.ref is not None and place != at]

    def _holds(self, ref: Ref) -> bool:
        return ref.name in self.message.targets.in_vessel

    def _addition(self, part: Saying, what: str) -> Draft | None:
        named = next((span.value("substance") for span in part.spans if span.has("substance")), None)
        last = self.before.draft.act if self.before is not None and self.before.draft is not None else None
        goes_on = isinstance(last, Addition) and last.what.startswith("sachet ")
        goes_on = goes_on and not any(span.kind == "word" or span.has("substance") for span in part.spans)
        packet = self._packet_named(part)
        if packet is None and what == "sachet":
            packet = self._lettered(part, told=True)
        if packet is not None and not (what == "sachet" and goes_on and packet == "sachet"):
            return Draft(Addition(what=packet), SURE)
        if what == "sachet" or (what == "other" and goes_on):
            number = next(
                (
                    span
                    for span in part.spans
                    if span.qty is not None
                    and not span.qty.decimals
                    and not (span.qty.spoken and span.qty.value == 1)  # "the clearing one"
                ),
                None,
            )
            one = number.qty if number is not None else None
            by_number = one is not None and one.unit is None and one.value in range(1, _MOST_PACKETS)
            called = f"sachet {one.value:g}" if one is not None and (goes_on or by_number) else None
            return Draft(Addition(what=called or "sachet"), SURE)
        tablets = any(span.qty is not None and span.qty.unit == "tablet" for span in part.spans)
        if what == "other" and tablets and named is None:
            what = "sulphite"  # nothing else is sold so for wine: common practice, no source
        if what == "other":
            thing = named or self._thing(part)
            if thing is None:
                return None
            what = thing
        amount, unit = None, None
        seen = False
        for span in part.spans:
            if span.fold in self.message.small.dissolved and seen:
                break  # what it was dissolved in is no part of it
            seen = seen or span.qty is not None or span.has("substance")
            if span.qty is None or span.used:
                continue
            if span.qty.unit in DOSES:
                amount, unit = amount_of(span.qty, self.scene)
                span.used = True
                break
            if (
                span.qty.unit is None
                and not span.qty.decimals
                and what == "sulphite"
                and span.qty.value <= 60
            ):
                amount, unit = span.qty.value, "tablet"
                span.used = True
                break
        if amount is None:
            amount, unit = self._amount_in_words(part, what)
        return Draft(Addition(what=what, amount=amount, unit=unit), SURE)

    def _amount_in_words(self, part: Saying, what: str) -> tuple[float | None, AmountUnit | None]:
        """ "Half a sachet", "half a tsp", "a campden tablet"."""
        spans = part.spans
        for at, count in enumerate(spans):
            said = count.value("amount")
            if said is None:
                continue
            units = [span.value("unit") for span in spans[at + 1 : at + 3] if span.qty is None]
            unit = next((each for each in units if each in DOSES), None)
            if unit is not None:
                return amount_of(Quantity(float(said), unit, 0, signed=False, text=count.fold), self.scene)
            two = spans[at + 1] if at + 1 < len(spans) else count
            if what == "sulphite" and two.is_("substance", what) and "tablet" in two.fold.split():
                return float(said), "tablet"
        return None, None

    def _packet_named(self, part: Saying) -> str | None:
        """The packet that is named by its number or letter: "packet 2", "sachet c", "s1"."""
        spans = part.spans
        at = next((place for place, span in enumerate(spans) if is_packet(span)), None)
        if at is None:
            return self._packet_in_short(part)
        marked = self.message.small.marked
        after = [
            span
            for span in spans[at + 1 : at + _NEAR_PACKET]
            if span.fold not in marked or self.message.words_of([span]) == "A"
        ]
        if at + 1 < len(spans) and spans[at + 1].fold == "a" and not (after and self._id(after[0])):
            after = [spans[at + 1]]  # "pouch a is in"
        for span in after[:1]:
            if span.qty is not None and span.qty.unit is None and span.qty.value in range(1, _MOST_PACKETS):
                span.used = True
                return f"sachet {span.qty.value:g}"
            if len(span.fold) == 1 and span.fold.isalpha():
                return f"sachet {span.fold.upper()}"
        before = spans[at - 1] if at else None  # "B sachet"
        return f"sachet {before.fold.upper()}" if before is not None and self._letter(before) else None

    def _packet_besides(self, part: Saying, label: str) -> None:
        """ "Sachet A inside, gas out", "whisked it 15 minutes sachet 3 in": a packet that is told beside something else, or by
        itself."""
        kind = label.partition(":")[0]
        named = any(map(is_packet, part.spans))
        if (
            kind in ("add", "ask", "correct", "remind", "later", "plan")
            or not named
            or _ahead(part)
            or asks(part)
        ):
            return
        if supposed(part, self.message.small) or denied(part):
            return
        what = self._packet_named(part)
        if what is not None and (not part.wordy or any(map(_puts_in, part.spans))):
            self._doubted(_PLAINLY)
            self._take(part, Draft(Addition(what=what), SURE), _PLAINLY, "add:sachet")

    def _more_packets(self, part: Saying) -> bool:
        """Takes the packets that a saying goes on with."""
        packets = self._next_packets(part)
        if not packets:
            return False
        self._doubted(_WAITED)
        if self.last is not None and self.last.act == Addition(what="sachet"):
            self.last.act = Addition(what=packets.pop(0))  # "added packet, 2 to the plum"
            self.told.joined.append(part)
        for packet in packets:
            self._take(part, Draft(Addition(what=packet), SURE), _WAITED, "add:sachet")
        return True

    def _next_packets(self, part: Saying) -> list[str]:
        """ "Added sachets B and C", "packet 2 in and packet 3": more packets right after one that was told, by their letters or
        numbers and nothing else but where they went."""
        if part.asked or part.hard or _ahead(part) or not self._packet_before():
            return []
        spans = [
            span
            for span in part.spans
            if not (span.has("filler") or is_packet(span) or span.is_("part", "into")) or self._is_one(span)
        ]
        ids = list(takewhile(self._is_one, spans))
        if any(not (span.ref is not None or span.moment or _puts_in(span)) for span in spans[len(ids) :]):
            return []
        for span in ids:
            span.used = True
        return [
            f"sachet {span.fold.upper() if span.qty is None else format(span.qty.value, 'g')}" for span in ids
        ]

    def _is_one(self, span: Span) -> bool:
        """Whether it is a packet's number or letter and nothing else."""
        if span.ref is not None or span.qty is None:
            return span.ref is None and self._letter(span)
        if span.qty.spoken and span.qty.value == 1:
            return False  # "that's the clearing one"
        return span.qty.unit is None and not span.qty.decimals and span.qty.value in range(1, _MOST_PACKETS)

    def _packet_went_in(self, part: Saying, label: str) -> bool:
        """ "Packet 2 in": a packet with its number or letter, and that it went in, in words that name nothing else."""
        named = self._packet_named(part) if label == "add:sachet" and not part.wordy else None
        return named is not None and any(map(_puts_in, part.spans)) and not supposed(part, self.message.small)

    def _packet_in_short(self, part: Saying) -> str | None:
        """ "S1 is in", "F went in": a packet by its sign or its letter, where it says that it went in."""
        if (lettered := self._lettered(part)) is not None:
            return lettered
        for sign, number in pairwise(part.spans):
            glued = sign.hi == number.lo and self.message.tokens[number.lo].glued
            counts = number.qty is not None and number.qty.unit is None
            if sign.fold in self.message.small.packet_sign and glued and counts and number.qty is not None:
                after = part.spans[part.spans.index(number) + 1 :]
                if number.qty.value in range(1, _MOST_PACKETS) and any(map(_puts_in, after)):
                    number.used = True
                    return f"sachet {number.qty.value:g}"
        return None

    def _lettered(self, part: Saying, *, told: bool = False) -> str | None:
        """ "F went in", "A is in": a packet by its letter alone, while such a thing is awaited, or is `told` by the label."""
        waits = {step for batch in self.scene.under_way for step in batch.next[:_FEW]}
        spans = part.spans
        if not (told or waits & _BY_PACKETS) or part.asked or not spans or not self._letter(spans[0]):
            return None
        rest = [span for span in spans[1:] if span.moment is None and span.ref is None]
        went = [span for span in rest if _puts_in(span) or span.is_("mood", "done")]
        small = all(
            span in went or span.has("filler") or span.is_("mood", "have") or is_packet(span) for span in rest
        )
        again = self._packet_before() and any(span.moment is not None for span in spans)  # "and c just now"
        return f"sachet {spans[0].fold.upper()}" if small and (went or again) else None

    def _letter(self, span: Span) -> bool:
        """Whether it is the letter of a packet; a small "a" is one beside others only."""
        said = self.message.words_of([span])
        small = said in _SMALL_LETTERS or (said == "a" and self._letters > 1)
        return span.hi == span.lo + 1 and (said in _LETTERS or small)

    def _id(self, span: Span) -> bool:
        """Whether it can be a packet's number or letter."""
        return span.qty is not None or (len(span.fold) == 1 and span.fold.isalpha())

    def _packet_before(self) -> bool:
        last = self.before.draft.act if self.before is not None and self.before.draft is not None else None
        return isinstance(last, Addition) and last.what.startswith("sachet")

    def _letter_before(self, at: int) -> bool:
        """ "A and B are in": whether a saying is but a letter, and the next one tells that such a packet went in."""
        spans = self.said[at].saying.spans
        after = self.said[at + 1].saying if at + 1 < len(self.said) else None
        alone = len(spans) == 1 and self._letter(spans[0])
        return alone and after is not None and self._lettered(after) is not None

    def _thing(self, part: Saying) -> str | None:
        """The words for something that went in and has no name of its own here: those before or after the verb; None where
        they are only small words, or too many for a thing."""
        spans = [span for span in part.spans if span.moment is None and span.kind not in ("mark", "line")]
        at = next((place for place, span in enumerate(spans) if _puts_in(span)), None)
        if at is None:
            dosed = any(span.qty is not None or span.has("amount") or span.has("unit") for span in spans)
            return self.message.words_of(spans)[:_LONGEST_NAME] if dosed else None
        for run in (spans[:at], spans[at + 1 :]):
            thing = [
                span
                for span in takewhile(lambda span: not _puts_in(span) and span.ref is None, run)
                if span.qty is None
            ]
            while thing and (thing[0].has("filler") or thing[0].has("join") or thing[0].has("mood")):
                thing.pop(0)
            words = self.message.words_of(thing) if thing else ""
            if words and len(words.split()) <= _LONGEST_THING:
                return words
        return None

    def _bottles(self, part: Saying, how: str) -> Draft | None:
        if how == "left":
            counted = self._count(part)
            return Draft(Bottles(change=0, left=counted), SURE, "bottled") if counted is not None else None
        reason = next((each for each in _REASONS if each == how), None)
        several = many_in(self.message, part)
        count = sum(several) or self._count(part)
        some = any(span.is_("amount", "1") or span.is_("unit", "bottle") for span in part.spans)
        part_of_one = any(
            span.has("amount") and not float(span.value("amount") or 1).is_integer() for span in part.spans
        )
        named = any(span.is_("unit", "bottle") for span in part.spans)
        beside = bool(self.told.claims) and not named  # "labels on, with a little crane"
        if not several and (part_of_one or beside or (count is None and not some)):
            return None
        count = count or 1
        change = count if reason == "found" else -count
        return Draft(Bottles(change=change, reason=reason), SURE, "bottled")

    def _one_bottle(self, part: Saying, how: str) -> Draft | None:
        """ "Dropped it on the drive and it smashed": one, where nothing else is told or asked; in doubt."""
        less = any(span.has("amount") or span.is_("unit", "glass") for span in part.spans)
        if less or "?" in self.message.text or any(each.draft is not None for each in self.told.claims):
            return None
        reason = next((each for each in _REASONS if each == how), None)
        return Draft(Bottles(change=-1, reason=reason), SURE, "bottled", doubt=Doubt.UNSURE)

    def _reasoned(self, part: Saying, draft: Draft, label: str, sure: float) -> None:
        """Gives bottles of which no word tells what became of them what the saying is most likely to tell."""
        kind, _, how = label.partition(":")
        act = draft.act
        reason = next((each for each in _REASONS if each == how and each != "found"), None)
        if kind != "bottles" or sure < _PLAINLY or reason is None or part.asked:
            return
        untold = draft.doubt is Doubt.UNSURE  # no word says that they are gone
        if untold and isinstance(act, Bottles) and act.reason is None and act.change < 0:
            draft.act = Bottles(change=act.change, reason=reason)
            draft.doubt = draft.doubt if shared_out(self.message, part) else None

    def _surely_bottles(self, part: Saying, how: str, sure: float) -> bool:
        """Whether nothing but bottles of the house can be counted: "opened 2 windows", "one each for the girls"."""
        if how == "left":
            return True
        if not many_in(self.message, part) or shared_out(self.message, part):
            return False
        ours = of_the_house(self.message, [one.saying for one in self.said])
        return ours or min(sure, 1.0 - self.told.talk) >= _OURS

    def _count(self, part: Saying) -> int | None:
        """How many bottles: a number without a unit or of bottles, else a number in words."""
        for span in part.spans:
            number = span.qty
            counts = number is not None and number.unit in (None, "bottle") and not number.decimals
            if number is not None and counts and 1 <= abs(number.value) <= MOST_BOTTLES:
                span.used = True
                return int(abs(number.value))
        for span in part.spans:
            for kind in ("number", "amount"):
                value = span.value(kind)
                if value is not None and float(value).is_integer() and span.fold not in ("a", "an"):
                    return int(float(value))
        return None

    # ------------------------------------------------------------------ a saying of names and numbers alone

    def _bare(self, one: LabelledSaying) -> None:
        """Names, numbers and small words: what the saying before was about goes on, unless it is plainly how warm it is."""
        part = one.saying
        label, sure = one.best()
        if supposed(part, self.message.small, sure if label in _MEASURES else 0.0):
            return
        numbers = _unread(part)
        if self._by_itself(one, numbers):
            return
        refs = [span.ref for span in part.spans if span.ref is not None]
        last = self.last
        if last is not None and isinstance(last.act, Note):
            last = None  # nothing of a remark goes on: "the stove is out. both at 70"
        if last is not None:
            if self._of_a_chore(part, last, numbers, refs) or self._goes_with(one, last, numbers, refs):
                return
        elif self.before is None and not numbers:
            same = self._same(part, self.message.small.same)
            if same is not None:
                self._doubted(_WAITED)
                self._take(part, same, _WAITED, "gravity")
                return
        if last is not None and refs and not last.refs and not self._heads_on(part):
            last.refs = refs
        elif last is not None and not numbers and self._also(part, last, refs):
            self._take(part, Draft(last.act, SURE, last.needs, refs=refs), _CERTAIN, "again")
        elif (
            numbers
            and self._room(numbers)
            and not self._hardly_warm(one)
            and not self._counts_others(part)
            and (last is None or _leaves_warm(last) or (not refs and len(part.spans) > 1))
        ):
            self._lone_degrees(part, numbers[0])
        elif numbers:
            self.told.left.append(part)

    def _by_itself(self, one: LabelledSaying, numbers: Sequence[Span]) -> bool:
        """Takes a number that says what it is, whatever was told before."""
        part = one.saying
        label, sure = one.best()
        others = self._counts_others(part) or self._counts_on(part) or asks(part)
        if numbers and sure >= _CERTAIN and not others and self._by_label_alone(part, label, sure):
            return True
        before = self.last
        mark = before is not None and len(numbers) == 1 and self._mark(part, before, numbers[0])
        if numbers and _plainly_warm(one) and self._room(numbers) and not (others or mark):
            self._add_degrees(part, numbers[0], _WAITED)  # "mixed it, 22 in the bucket"
            return True
        if numbers and self._room(numbers) and self._question(part):
            self._take(part, None, _WAITED, "ask:ferment_range")  # "is 16 ok"
            return True
        values = self._values(part)
        if values:
            self._add_values(part, values, sure=_CERTAIN)
        elif numbers and self._counts_on(part):
            self.told.left.append(part)
            return True
        return bool(values)

    def _of_a_chore(self, part: Saying, last: Draft, numbers: Sequence[Span], refs: Sequence[Ref]) -> bool:
        """Takes what completes a chore: for how long, up to which mark, where a wine that was drawn off went."""
        lasted = all(span.qty is not None and span.qty.unit in _LASTED for span in numbers)
        if numbers and self._also_so_long(part, last, numbers):
            self._take(part, Draft(last.act, SURE, last.needs, refs=list(refs)), _CERTAIN, "again")
            return True
        if numbers and lasted and isinstance(last.act, Step):
            self._doubted(_WAITED)
            return True  # "degassed, ten minutes of it"
        if numbers and self._whole_volume(part, numbers):
            return True
        if len(numbers) == 1 and self._mark(part, last, numbers[0]):
            return True
        if not isinstance(last.act, Step) or last.act.step != "rack" or last.to is not None:
            return False
        if len(refs) == 1 and refs[0].kind == "vessel" and not self._holds(refs[0]):
            last.to = refs[0]
            return True
        goal = self.called.free(numbers) if not refs else None
        if goal is not None:
            numbers[0].used = True
            last.to = goal
        return goal is not None

    def _goes_with(
        self, one: LabelledSaying, last: Draft, numbers: Sequence[Span], refs: Sequence[Ref]
    ) -> bool:
        """Takes what goes on from what was told before, of another wine or as much; or leaves it for what follows."""
        part = one.saying
        label, sure = one.best()
        reading = is_reading(last.act)
        warm_now = label == "temperature" and sure >= _OWN and isinstance(last.act, Addition)
        apart = (reading and self._hardly_warm(one)) or (warm_now and bool(numbers) and self._room(numbers))
        if numbers and not apart and self._goes_on(part, last, numbers):
            return True
        amount = numbers[0].qty if len(numbers) == 1 else None
        if amount is not None and self._much(amount) and not self._filled():
            self._whole_batch(part, amount)
            return True
        if not refs or numbers:
            return False
        if label in _MEASURES and sure >= _OWN and not reading:
            return True  # "stirred it, read rust while I was there, 0.997"
        alike = not self.message.small.same.isdisjoint(self.message.folds_of(part.spans))
        again = reading and refs != last.refs and alike
        if again:  # "plum 0.995, fig the same"
            self._take(part, Draft(last.act, SURE, last.needs, refs=list(refs)), _CERTAIN, "again")
        return again

    def _hardly_warm(self, one: LabelledSaying) -> bool:
        """ "Bubbling 20 a minute": whether its words speak of anything but a measure."""
        words = any(span.kind == "word" or span.has("topic") for span in one.saying.spans)
        words = words or one.share("talk") >= _CERTAIN  # "you are fifteen"
        return words and one.share(*_MEASURES) < _HARDLY_WARM

    def _lone_degrees(self, part: Saying, number: Span) -> None:
        """A number that a room can have, of which nothing else is known."""
        told = len([span for span in part.spans if span.kind != "mark"]) > 1
        alone = _LONE if len(self.scene.under_way) == 1 else _LONE - 0.15
        of_wine = self.message.addressed or bool(self.told.claims)
        alone = alone if of_wine else _LONE - 0.35
        self._doubted(_WAITED if told and of_wine else alone)
        temp = celsius(number.qty.value, None, self.scene) if number.qty is not None else 0.0
        doubt = Doubt.UNSURE if self._of_room(part) else None
        draft = Draft(Temperature(temp_c=temp), SURE, doubt=doubt)
        self._take(part, draft, _WAITED if told else _LONE, "temperature")

    def _by_label_alone(self, part: Saying, label: str, sure: float) -> bool:
        """What a bare number surely is by its label, whatever was told before: "5 tablets", "27 bottles", "again 5 min"."""
        last = self.before.draft.act if self.before is not None and self.before.draft is not None else None
        kind, _, what = label.partition(":")
        if isinstance(last, Step | Addition | Bottles) or not self.message.addressed:
            return False  # what goes on from that is read so
        if label == "temperature" and not self._values(part):
            warm = self._warm(_unread(part))
            if warm is None:
                return False
            _unread(part)[0].used = True
            self._temperature(part, warm, sure)
            return True
        if kind == "add":
            draft = self._addition(part, what)
        elif label == "step:bottle":
            draft = self._bottling(part) or self._counted_bottling(part)
        elif kind == "step" and what in ("degas", "stir"):
            draft = self._step(part, what)
        else:
            return False
        if draft is not None:
            self._doubted(sure)
            self._take(part, draft, sure, label)
        return draft is not None

    def _counted_bottling(self, part: Saying) -> Draft | None:
        """ "29 bottles", where a wine waits for that."""
        waits = any("bottle" in batch.next[:_SOON] for batch in self.scene.under_way)
        many = self._count(part)
        return Draft(Step(step="bottle", bottles=many), SURE) if waits and many is not None else None

    def _heads_on(self, part: Saying) -> bool:
        """ "Stirred. Then the white: 1.057", "stirred, cleo did the white, 1.057": whether a name is that of what
        follows it."""
        after = self._after(part)
        own = part.hard or any(span.is_("part", "did") for span in part.spans)
        first = self.told.parts[0].spans
        headed = any(span.ref is not None for span in first) and all(
            span.ref is not None or span.has("filler") for span in first
        )  # "plum. stirred. white. stirred"
        if headed and part.hard and after is not None:
            return True
        return own and after is not None and not after.saying.hard

    def _counts_on(self, part: Saying) -> bool:
        """ "14 so far", "30 washed": a count that is not at its end, or of what is empty; no heat, and no bottling."""
        folds = self.message.folds_of(part.spans)
        said = f" {' '.join(folds)} "
        return bool(self.message.small.washed.intersection(folds)) or any(
            f" {each} " in said for each in self.message.small.so_far
        )

    def _much(self, quantity: Quantity) -> bool:
        """Whether it is more than what goes in or is lost: how much there is of a batch."""
        return quantity.unit in VOLUMES and litres(quantity.value, quantity.unit, self.scene) >= _BATCH

    def _whole_batch(self, part: Saying, quantity: Quantity) -> None:
        """How much there is in all, unless that is known."""
        amount = litres(quantity.value, quantity.unit, self.scene)
        known = any(
            batch.litres is not None and abs(batch.litres - amount) < _SAME_LITRES
            for batch in self.scene.under_way
        )
        if not known:
            self._take(part, Draft(Volume(litres=amount), SURE, "anything"), _WAITED, "volume")

    def _whole_volume(self, part: Saying, numbers: Sequence[Span]) -> bool:
        """ "All the 23": how much there is of a batch, which is known."""
        quantity = numbers[0].qty
        words = self.message.small.whole.intersection(self.message.folds_of(part.spans))
        if len(numbers) != 1 or quantity is None or quantity.unit is not None or not words:
            return False
        unit = "gallon" if self.scene.volume_unit.lower().startswith("gal") else "litre"
        told = {litres(quantity.value, each, self.scene) for each in (unit, "litre")}
        return any(
            batch.litres is not None and any(abs(batch.litres - each) < _SAME_LITRES for each in told)
            for batch in self.scene.under_way
        )

    def _also(self, part: Saying, last: Draft, refs: Sequence[Ref]) -> bool:
        """Whether it goes on with a list of what something was done to: "fined elder, plum and sloe"."""
        chore = (isinstance(last.act, Step) and last.act.step not in ("rack", "bottle")) or (
            isinstance(last.act, Addition) and last.act.amount is None
        )
        batches = bool(refs) and all(ref.kind in ("batch", "colour") for ref in refs)
        small = all(
            span.ref is not None
            or span.has("often")
            or (span.has("filler") and not span.is_("mood", "negation"))
            for span in part.spans
        )
        return chore and batches and small and not part.hard and bool(last.refs) and refs != last.refs

    def _also_so_long(self, part: Saying, last: Draft, numbers: Sequence[Span]) -> bool:
        """ "Whisked the red for ten minutes and the white for five": the same of another wine, for as long as is told."""
        step = last.act.step if isinstance(last.act, Step) else None
        refs = [span.ref for span in part.spans if span.ref is not None]
        minutes = all(span.qty is not None and span.qty.unit in (None, *_LASTED) for span in numbers)
        timed = self.before is not None and any(
            span.qty is not None and span.qty.unit in _LASTED for span in self.before.part.spans
        )
        others = bool(refs) and all(ref.kind in ("batch", "colour") for ref in refs) and refs != last.refs
        return step in ("degas", "stir") and others and minutes and timed and bool(last.refs)

    def _mark(self, part: Saying, last: Draft, number: Span) -> bool:
        """ "Mixed, the full 23": the litres to which a kit is mixed, and not how warm it is."""
        mixed = isinstance(last.act, Step) and last.act.step == "mix"
        beside = len([span for span in part.spans if span.kind != "mark"]) > 1
        litres_ = {batch.litres for batch in self.scene.under_way}
        same = number.qty is not None and number.qty.unit is None and number.qty.value in litres_
        if mixed and beside and same:
            number.used = True
        return mixed and beside and same

    def _room(self, numbers: Sequence[Span]) -> bool:
        """Whether the only number is one that a room can have, and no count of bottles."""
        if self._counts_bottles(numbers[0]):
            return False
        low, high = _ROOM[self.scene.temperature_unit]
        quantity = numbers[0].qty
        return (
            len(numbers) == 1
            and quantity is not None
            and quantity.unit is None
            and quantity.decimals <= 1
            and low + 5 <= quantity.value <= high - 5
        )

    def _counts_bottles(self, number: Span) -> bool:
        """ "Labelled, all 29": a bare number beside what is told of bottles, or "all" of something."""
        acts = [claim.draft.act for claim in self.told.claims if claim.draft is not None]
        shelved = any(
            isinstance(act, Bottles) or (isinstance(act, Step) and act.step in ("bottle", "label"))
            for act in acts
        )
        spans = self.message.spans
        at = next((at for at, span in enumerate(spans) if span is number), 0)
        return shelved or (at > 0 and spans[at - 1].is_("batchword", "every"))

    def _counts_others(self, part: Saying) -> bool:
        """ "30 washed", "84 people came", "I'm 70": a bare number of people or things, or somebody's years."""
        return bool(self.message.small.warmth.never.intersection(self.message.folds_of(part.spans)))

    def _completed(self, part: Saying, act: Act) -> None:
        """What was told just before is that act, of the batches that are named with its number: "bottled! 4 of alpha"."""
        claim = self.before
        assert claim is not None
        assert claim.draft is not None
        claim.draft.act = act
        refs = [span.ref for span in part.spans if span.ref is not None]
        claim.draft.refs = claim.draft.refs or refs
        self._shared_out(claim, part)

    def _shared_out(self, claim: Claim, part: Saying) -> None:
        """ "Campden, 5 crushed into each": what follows tells of which wines it is, for whoever settles that."""
        if self.message.small.name.each.intersection(self.message.folds_of(part.spans)):
            claim.part = part

    def _goes_on(self, part: Saying, last: Draft, numbers: Sequence[Span]) -> bool:
        """ "Duchess 29, Grumpy 6": the same again, of another batch or as much."""
        act, quantity = last.act, numbers[0].qty
        warm = is_reading(act)
        if quantity is None or quantity.decimals > (1 if warm else 0):
            return False
        named = any(span.ref is not None for span in part.spans)
        again: Act | None = None
        if isinstance(act, Step) and act.step == "bottle" and 1 <= quantity.value <= MOST_BOTTLES:
            again = Step(step="bottle", bottles=int(quantity.value))
            if act.bottles is None and not (named and last.refs):
                self._completed(part, again)
                return True
        elif isinstance(act, Addition) and act.what.startswith("sachet ") and quantity.unit is None:
            if _ahead(part):
                return False  # "packet 2 in, 3 tomorrow"
            if quantity.spoken and quantity.value == 1:
                return True  # "the clearing one": which it was
            numbers[0].used = True
            self._take(part, Draft(Addition(what=f"sachet {quantity.value:g}"), SURE), _CERTAIN, "add:sachet")
            return True
        elif isinstance(act, Addition) and quantity.unit in (None, *DOSES) and not self._much(quantity):
            amount, unit = amount_of(quantity, self.scene)
            unit = unit or act.unit or ("tablet" if act.what == "sulphite" else None)
            again = Addition(what=act.what, amount=amount, unit=unit)
            if act.amount is None and not (named and last.refs):
                self._completed(part, again)
                return True
        elif isinstance(act, Bottles) and named:
            again = Bottles(change=-int(quantity.value), reason=act.reason)
        elif isinstance(act, Gravity | Temperature):
            low, high = _ROOM[self.scene.temperature_unit]
            if low <= quantity.value <= high and quantity.unit is None:
                self._temperature(part, celsius(quantity.value, None, self.scene), _CERTAIN)
                return True
        if again is None or not named:
            return False
        numbers[0].used = True
        needs = last.needs
        self._take(part, Draft(again, SURE, needs), _CERTAIN, self.before.label if self.before else "")
        return True


def _plainly_warm(one: LabelledSaying) -> bool:
    """Whether its number is how warm it is, and counts no bottles: "18 again"."""
    label, sure = one.best()
    hardly = sure >= _OWN and one.share("step:bottle") < _LITTLE
    return label == "temperature" and (sure >= _CERTAIN or hardly) and not _of_bottles(one.saying)


def is_reading(act: Act) -> bool:
    """Whether it is read off the wine: a gravity or a temperature."""
    return isinstance(act, Gravity | Temperature)


def _of_bottles(part: Saying) -> bool:
    return any(
        span.has("bottles") or span.is_("unit", "bottle") or span.step == "bottle" for span in part.spans
    )


def _label(draft: Draft) -> str:
    """The label of a bottling, or of bottles that came or went."""
    if isinstance(draft.act, Step):
        return f"step:{draft.act.step}"
    return f"bottles:{(draft.act.reason if isinstance(draft.act, Bottles) else None) or 'drank'}"


def _fell(part: Saying, high: Span, low: Span) -> bool:
    """ "From 1.016 to 1.013": where it was, and where it is."""
    one, two = part.spans.index(high), part.spans.index(low)
    led = one > 0 and part.spans[one - 1].fold == "from"
    return led and two == one + 2 and part.spans[one + 1].is_("part", "to")


def _unread(part: Saying) -> list[Span]:
    """The numbers of a saying that nothing has taken yet; "twenty something" is none."""
    after = [*part.spans[1:], None]
    return [
        span
        for span, following in zip(part.spans, after, strict=True)
        if span.qty is not None
        and not span.used
        and not (following is not None and following.is_("mood", "unsure"))
    ]


def _leaves_warm(last: Draft) -> bool:
    """Whether a bare number after it is how warm it is: "mixed. 24"."""
    return isinstance(last.act, Step) and last.act.step in ("mix", "pitch", "stir")


def _with_pointers(said: Sequence[LabelledSaying], message: Message) -> Sequence[LabelledSaying]:
    """The sayings, with one that only points at batches joined to the number before it: "21. both"; and one that only
    names a batch or a measure to the number after it: "plum: 1.040"."""
    found: list[LabelledSaying] = []
    for one in said:
        spans = one.saying.spans
        words = " ".join(message.folds_of(spans))
        small = message.small
        points = words in (*small.two, *small.all, *small.counted, *small.name.each)
        before = found[-1].saying if found else None
        if (
            points
            and before is not None
            and not before.wordy
            and all(span.ref is None for span in before.spans)
        ):
            before.spans.extend(spans)
        elif before is not None and _heads_value(before, one.saying, message):
            spans[:0] = before.spans
            one.saying.hard = before.hard
            found[-1] = one
        else:
            found.append(one)
    return found


_HEADED = frozenset({":", "(", "=", "-", "–"})
"""Marks between a name and its value."""


def _heads_value(head: Saying, part: Saying, message: Message) -> bool:
    """Whether a piece is nothing but the name of the batch, or of the measure, whose value the next begins with."""
    named = any(
        span.ref is not None and span.ref.kind in ("batch", "colour", "vessel") for span in head.spans
    )
    measure = any(span.has("measure") for span in head.spans)
    small = all(span.ref is not None or span.has("measure") or span.has("filler") for span in head.spans)
    first = next((span for span in part.spans if not span.has("filler") or span.qty is not None), None)
    if not (named or measure) or not small or first is None or first.qty is None:
        return False
    if any(span.qty is not None for span in head.spans) or (
        named and any(span.ref is not None for span in part.spans)
    ):
        return False
    marks = {token.fold for token in message.tokens[head.spans[-1].hi : part.spans[0].lo]}
    value = reads_gravity(first.qty) or first.qty.unit in DEGREES or (measure and first.qty.unit is None)
    return value and bool(marks & _HEADED or (named and head.hard and marks == {","}))


def _as_one(old: Act, new: Act) -> Act | None:
    """The two as one, where one of them only says less than the other."""
    if isinstance(old, Step) and isinstance(new, Step):
        if (
            old.step == "mix" and new.step == "top_up"
        ):  # to the mark, with the water that the kit is mixed with
            return old
        alike = old.step == new.step and (None in (old.bottles, new.bottles) or old.bottles == new.bottles)
        return (old if old.bottles is not None else new) if alike else None
    if isinstance(old, Addition) and isinstance(new, Addition):
        if new.what == "sachet" and old.what.startswith("sachet"):
            return old
        alike = old.what == new.what and (None in (old.amount, new.amount) or old == new)
        return (old if old.amount is not None else new) if alike else None
    if isinstance(old, Note) and isinstance(new, Note):
        return old
    if isinstance(old, Bottles | Gravity | Temperature | Volume | Undo) and old == new:
        return old
    return None


def _point_slipped(quantity: Quantity) -> float | None:
    """The gravity that "1.48" was likely meant for: 1.048; None where it is a gravity as it stands, or none at all."""
    low, high = _NO_GRAVITY
    if quantity.unit is not None or quantity.decimals != 2 or not low < quantity.value < high:
        return None
    return round(1.0 + (quantity.value - 1.0) / 10.0, 3)


def supposed(part: Saying, small: SmallWords, sure: float = 0.0) -> bool:
    """Whether it is planned, asked for or only imagined: what stands before it says so, never what follows. Of what is
    `sure` to be told nothing is a plan: "it has got to 0.996", "so I have given it the yeast"."""
    at = _told_at(part)
    if at is None and sure:  # "1.008 if that helps"
        at = next((at for at, span in enumerate(part.spans) if span.qty is not None), None)
    if at is None:  # "turned it with the drill till no gas came"
        at = next((at for at, span in enumerate(part.spans) if span.kind == "word"), None)
    before = part.spans if at is None else part.spans[: at + 1]
    if (
        before
        and before[0].fold in small.juice
        and not any(span.is_("mood", "subject") for span in before[1:2])
    ):
        before = before[1:]  # "must at 23.5": what is to be wine
    until = next((place for place, span in enumerate(before) if span.is_("part", "bound")), None)
    if until is not None and any(span.kind == "word" for span in before[:until]):
        before = before[:until]  # "flogged it till the gas was gone"
    if any(one.fold.split()[-1] in small.intended and two.fold == "to" for one, two in pairwise(before)):
        return True  # "meant to fine it"
    if sure >= _CERTAIN and not (part.asked or part.spans[0].is_("part", "either")):
        return False
    return any(span.is_("mood", mood) for span in before for mood in ("plan", "request", "unreal"))


def _without_imagined(part: Saying, message: Message) -> None:
    """Leaves out a gravity that is only expected, or thought of: "it ought to be 1.010", "if it's 1.002 tomorrow"."""
    at = next((at for at, span in enumerate(part.spans) if tells_gravity(span)), None)
    before = part.spans[:at] if at is not None else []
    if any(span.has("correct") for span in before) and not supposes(message):
        return  # "should be 1.012" of what was told just now
    expected = message.small.expected.intersection(message.folds_of(before)) or _wonders(before, message)
    if not expected and not any(_supposes_it(one, two) for one, two in pairwise(before)):
        return
    for span in part.spans:
        if reads_wine(span):
            span.kind, span.qty = "word", None


def _wonders(before: Sequence[Span], message: Message) -> bool:
    """ "Can it go below", "would": a question about the figure that follows, not "can confirm"."""
    if not before or before[0].fold not in message.small.asks_if:
        return False
    whom = before[1] if len(before) > 1 else None
    return whom is None or whom.ref is not None or whom.is_("mood", "subject") or whom.has("batchword")


def _supposes_it(one: Span, two: Span) -> bool:
    """ "If it", "if the sg"."""
    led = two.ref is not None or two.has("batchword") or two.has("measure") or two.is_("part", "lead")
    return one.fold == "if" and led


def cued(part: Saying) -> bool:
    """Whether a number, a name or a word is in it that may be of a fact."""
    return any(
        span.qty is not None
        or span.ref is not None
        or (any(map(span.has, _CUES)) and not span.is_("bottles", "there"))
        or (span.has("put") and not span.is_("part", "inside"))
        for span in part.spans
    )


def _told_at(part: Saying) -> int | None:
    """Where the first word stands that names a chore, a thing put in or what was done with bottles."""
    cues = ("step", "substance", "put", "bottles")
    return next((at for at, span in enumerate(part.spans) if any(map(span.has, cues))), None)


def denied(part: Saying) -> bool:
    """Whether "not", "never" or the like stands close before the chore or the thing that is told of."""
    told = _told_at(part)
    close = part.spans[max(0, told - _NEAR) : told] if told is not None else []
    after = part.spans[told + 1 :] if told is not None else []
    # "degassed neither", "yeast in neither as yet"
    none = after[-1:] if any(span.qty is not None for span in after) else after
    return any(span.is_("mood", "negation") for span in close) or any(
        span.is_("part", "nought") for span in none
    )


def _put_off(part: Saying) -> bool:
    """ "Yeast later": whether a chore is for another time."""
    later = any(span.is_("mood", "later") for span in part.spans)
    return later and not any(span.has("step", "done") for span in part.spans)


def _for_good(part: Saying) -> bool:
    """ "Not racking the plum": no chore is only put off without a time."""
    going = any(tag.kind == "step" and tag.form == "ing" for span in part.spans for tag in span.tags)
    return going and not any(span.moment is not None for span in part.spans)


def _only_done(part: Saying) -> bool:
    """Whether all that it says is that something was done."""
    return any(span.is_("mood", "done") for span in part.spans) and all(
        span.is_("mood", "done") or span.has("filler") or span.ref is not None for span in part.spans
    )


def _handed_over(part: Saying) -> bool:
    """ "6 bottles of Gwrid to the contractor": so many bottles of a batch, and to whom."""
    spans = part.spans
    at = next(
        (at for at, span in enumerate(spans) if span.ref is not None and span.ref.kind == "batch"), None
    )
    if at is None:
        return False
    bottles = any(map(of_bottles, spans[:at]))
    to = next((place for place, span in enumerate(spans) if place > at and span.is_("part", "to")), None)
    return bottles and to is not None and to + 1 < len(spans) and not any(span.has("step") for span in spans)


def _to_somebody(part: Saying) -> bool:
    """ "One for my mum", "2 to the neighbours": a count first, and then for whom."""
    spans = [span for span in part.spans if span.kind not in ("mark", "line")]
    if len(spans) < _COUNTED_FOR or spans[0].qty is None or spans[0].qty.unit not in (None, "bottle"):
        return False
    return spans[1].fold in ("to", "for") and spans[2].qty is None and spans[2].moment is None


_COUNTED_FOR = 3


def _ahead(part: Saying) -> bool:
    """Whether it is said of a day that is to come."""
    return any(span.moment is not None and (span.moment.days or 0) > 0 for span in part.spans)


def _puts_in(span: Span) -> bool:
    """Whether a word says that something went in."""
    return span.has("put") or span.is_("part", "inside") or (span.is_("part", "into") and span.fold != "to")


def _of_a_deed(part: Saying, one: LabelledSaying) -> tuple[str, float] | None:
    """The likeliest label of something done, of a saying that was taken for a measure and measures nothing."""
    moved = any(span.has("move") or span.has("put") for span in part.spans)
    deed = moved and any(span.ref is not None and span.ref.kind == "vessel" for span in part.spans)
    others = [(label, share) for label, share in one.ranked(_RANKED) if label not in _MEASURES]
    left = 1.0 - one.share(*_MEASURES)
    if not deed or left < _LITTLE or not others or others[0][0].partition(":")[0] not in _DONE:
        return None
    label, share = others[0]
    return (label, min(_WAITED, share / left)) if share >= _AS_ONE * left else None


def _plainly_in(part: Saying) -> str | None:
    """What is said to have gone in, where little else is said: "yeast on top", "both campdens in"."""
    named = [span.value("substance") for span in part.spans if span.has("substance")]
    words = [span for span in part.spans if span.kind == "word"]
    if len(set(named)) != 1 or words or not any(map(_puts_in, part.spans)):
        return None
    return named[0]


def _only_puts(part: Saying) -> bool:
    """Whether a saying tells that something went in, and names nothing that did."""
    return any(map(_puts_in, part.spans)) and all(
        _puts_in(span) or span.has("filler") or span.has("join") for span in part.spans
    )


def _more(span: Span) -> bool:
    """Whether it is more than a name, a small word or what may have gone in."""
    small = span.has("filler") or span.has("substance") or span.has("join") or span.ref is not None
    return span.kind in ("word", "phrase") and not small


def _of_all(label: str) -> bool:
    """Whether a label is one that a whole message of several parts can have."""
    return label.partition(":")[0] not in (
        "step",
        "add",
        "bottles",
        "gravity",
        "temperature",
        "begin",
        "volume",
        "vessel",
        "draw",
    )


def _leads(before: Sequence[Span]) -> bool:
    """Whether "into", "to" or an arrow stands right before, past small words."""
    for span in reversed(before[-3:]):
        if any(span.is_("part", kind) for kind in ("into", "to", "arrow", "isin", "inside", "in")):
            return True
        if span.fold in ARROWS:
            return True
        if not span.has("filler"):
            return False
    return False


def _leaves(before: Sequence[Span]) -> bool:
    """Whether "from" or "out of" stands right before, past small words."""
    for span in reversed(before[-3:]):
        if span.is_("part", "from") or span.fold in ("out of", "off"):
            return True
        if not span.has("filler") or span.is_("part", "into"):
            return False
    return False
