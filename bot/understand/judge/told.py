"""Clauses to drafts: what each tells or asks, which batch it inherits, and what was only half understood."""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Gravity,
    Promised,
    Question,
    Remind,
    Step,
    Temperature,
    Volume,
)
from bot.understand.claims import questions, reminders
from bot.understand.claims.additions import Additions
from bot.understand.claims.bottles import (
    asked_if_many,
    bottles_told,
    counted,
    more_given,
    outright,
    reason_among,
)
from bot.understand.claims.chores import Chores
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import Readings, instrument_named
from bot.understand.claims.shelf import already_counted, of_a_shop, stored
from bot.understand.claims.vessels import Litres
from bot.understand.judge import weigh
from bot.understand.text import moods
from bot.understand.text.clauses import DEGREES, DOSES, VOLUMES, Clause, chatter, reads_gravity
from bot.understand.text.lexicon import Lexicon, Tag
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.spans import Span
from bot.understand.text.split import goes_on_unknown, times_done
from bot.understand.text.times import TimeSaid
from bot.understand.verdict import Doubt

_PLAIN = 1.5
"""The score from which a question is one beyond doubt, even among facts."""

_LOST_SPANS = 6
_COUNTED = ("degas",)
"""What the plans count: each time it was done is an act of its own."""


@dataclass(slots=True)
class Drafts:
    """The drafts in the order written, the score of each, and clauses that were only half understood."""

    drafts: list[Draft] = field(default_factory=list)
    scores: list[float] = field(default_factory=list)
    half: list[Clause] = field(default_factory=list)


class Telling:
    """Reads the clauses of one message one after the other: what was said before helps with what follows."""

    def __init__(self, message: Message, clauses: list[Clause]) -> None:
        self.message = message
        self.clauses = clauses
        self.readings = Readings(message.scene, instrument_named(message))
        self.chores = Chores(message.scene, message.words.weights)
        self.additions = Additions(message.scene, message.tokens, message.text)
        spans = [span for clause in clauses for span in clause.spans]
        self.reason = reason_among(spans)
        self.named = any(clause.refs for clause in clauses)
        self.anchored = message.anchored or self.named
        self.wine = self.named or any(span.is_("batchword", "batch") for span in spans)
        self.working = any(clause.any("step", "done") for clause in clauses)
        self.litres = Litres(message.scene)
        self.measure: str | None = None
        """The measure named for the values below it: "temps:"."""
        self.moments: list[TimeSaid] = []
        self.goals: list[Ref] = []
        """The vessels that something went to: what follows is not about them."""

    def told(self) -> Drafts:
        """All that the message tells and asks."""
        told = Drafts()
        for position, clause in enumerate(self.clauses):
            if self.litres.goes_on(clause, told.drafts[-1] if told.drafts else None):
                continue
            more = more_given(clause, told.drafts[-1]) if told.drafts else None
            found = [more] if more is not None else self._clause(clause)
            self._carry(clause, found)
            for draft in found:
                self._complete(draft, clause, position)
            if not found:
                self._unread(clause, told)
            told.drafts += found
        told.drafts = _with_jar(_with_sample(told.drafts), self.message.words)
        told.scores = weigh.scored(told.drafts, self.clauses, self.message)
        return told

    def _carry(self, clause: Clause, found: list[Draft]) -> None:
        """Remembers what a heading says for the lines below it."""
        heading = next((span.value("measure") for span in clause.spans if span.has("measure")), None)
        if heading is not None and (found or heading == "temperature" or clause.clean()):
            self.measure = heading
        if not found and clause.clean() and not clause.refs:
            self.moments = clause.moments or self.moments

    def _complete(self, draft: Draft, clause: Clause, position: int) -> None:
        """Gives a draft its batch, its time, and the doubts that the clause casts on it."""
        draft.clause = clause
        if isinstance(draft.act, Step) and draft.act.step == "rack" and draft.to is None:
            draft.to = self._into_it(clause, position)
        if draft.to is not None:
            self.goals.append(draft.to)
        told = not isinstance(draft.act, Question)
        either = any(span.is_("part", "either") for span in clause.spans)
        wavers = any(
            other.means("mood", "unsure") for other in (clause, *self.clauses[position + 1 : position + 2])
        )
        guessed = draft.to is not None and clause.means("hedge", "guess")
        if draft.doubt is None and told and (either or wavers or guessed or _perhaps(clause)):
            draft.doubt = Doubt.UNSURE
        loose = any(_loose(clause, index) for index in range(len(clause.spans)))
        if draft.doubt is None and loose and told and not isinstance(draft.act, Promised):
            draft.doubt = Doubt.HALF_UNDERSTOOD
        self._often(draft, clause)
        own = undenied(clause, draft.refs or [ref for ref in clause.refs if ref != draft.to])
        own = [ref for ref in own if ref.kind != "every"] or own
        inherited = self._inherited(position, draft) if all(self._vague(ref) for ref in own) else []
        draft.refs = inherited or own
        draft.moments = draft.moments or clause.moments or self.moments

    def _into_it(self, clause: Clause, position: int) -> Ref | None:
        """The empty vessel that was named before "into it": "bucket 2 is sanitised, plum is racked into it"."""
        spans = clause.spans
        small = self.message.small.it
        into = any(before.is_("part", "into") and after.fold in small for before, after in pairwise(spans))
        if not into:
            return None
        for before in reversed(self.clauses[:position]):
            vessels = [ref for ref in before.refs if ref.kind == "vessel"]
            if vessels:
                free = len(vessels) == 1 and vessels[0].name not in self.message.targets.in_vessel
                return vessels[0] if free else None
        return None

    def _often(self, draft: Draft, clause: Clause) -> None:
        """ "Degassed it twice" is two acts; "twice a day" is asked about."""
        often = times_done(clause)
        if draft.doubt is None and isinstance(draft.act, Step) and draft.act.step in _COUNTED:
            draft.times = often or 1
            draft.doubt = None if often else Doubt.HALF_UNDERSTOOD

    def _unread(self, clause: Clause, told: Drafts) -> None:
        """What a clause that gave nothing means for the drafts so far."""
        if (_meaty(clause) and not chatter(clause.spans) and not moods.unreal(clause)) or (
            told.drafts and _lost(clause)
        ):
            told.half.append(clause)
        last = told.drafts[-1] if told.drafts else None
        if last is not None and clause.refs and not clause.hard and _puts_off(clause):
            until = reminders.until(clause.moments, self.message.sent_at, self.message.scene)
            put_off = Draft(Remind(until=until), weigh.SURE, "nothing", refs=clause.refs)
            put_off.clause = clause
            told.drafts.append(put_off)
        counted(clause, told.drafts)
        amended = clause.any("correct") and any(
            span.qty is not None and not span.used for span in clause.spans
        )
        if told.drafts and amended and clause not in told.half:
            told.half.append(clause)
        odd = clause.means("vague", "thing") and (clause.any("unit") or clause.any("put"))
        odd = (odd and not clause.hard) or (goes_on_unknown(clause) and not chatter(clause.spans))
        if last is not None and isinstance(last.act, Addition) and odd and clause not in told.half:
            told.half.append(clause)
        if last is not None and isinstance(last.act, Gravity) and last.act.temp_c is None and not clause.hard:
            sample = self.readings.sample(clause)
            if sample is not None:
                last.act = msgspec.structs.replace(last.act, temp_c=sample)
        if (
            last is not None
            and isinstance(last.act, Step)
            and clause.moments
            and clause.means("part", "again")
        ):
            told.drafts.append(replace(last, moments=clause.moments))
        if last is not None and isinstance(last.act, Step) and last.act.step == "rack" and last.to is None:
            goal = self._ended_in(clause, last)
            if goal is not None:
                last.to = goal
                self.goals.append(goal)
        if told.drafts and clause.refs and clause.spans[0].is_("part", "either"):
            told.drafts[-1].refs = [*told.drafts[-1].refs, *clause.refs]
            told.drafts[-1].doubt = Doubt.WHICH_BATCH

    def _vague(self, ref: Ref) -> bool:
        """ "The bucket" where several are in use: what was named before says which."""
        return ref.kind == "kind" and any(target.doubt is not None for target in self.message.targets.of(ref))

    def _ended_in(self, clause: Clause, racked: Draft) -> Ref | None:
        """Where a racked wine is now, said in a sentence of its own: "it's in demijohn 1", "bucket 3 it is"."""
        rest = [span for span in clause.spans if span.ref is None and span.kind != "mark"]
        small = all(span.has("filler") or span.kind == "time" for span in rest)
        goals = [ref for ref in clause.refs if ref.kind == "vessel" and ref not in racked.refs]
        if clause.asked or not small or len(goals) != 1 or moods.denied(clause):
            return None
        return goals[0]

    # ------------------------------------------------------------------ one clause

    def _clause(self, clause: Clause) -> list[Draft]:
        asked = clause.asked or moods.asks(clause)
        if clause.asked and not moods.asks(clause, by_words=True) and _gravity_in(clause):
            facts = self._facts(clause)
            for draft in facts:
                draft.doubt = draft.doubt or Doubt.UNSURE
            if facts:
                return facts
        question = questions.question(clause)
        if question is not None:
            noun = not clause.asked and not any(span.opens or _opens(span) for span in clause.spans)
            facts = self._facts(clause) if not asked or (noun and clause.quantities) else []
            if isinstance(question.act, Question) and question.act.about == "help" and self._more(clause):
                return facts
            values = isinstance(question.act, Question) and question.act.about in ("readings", "temperature")
            return facts if facts and (question.score < _PLAIN or values) else [*facts, question]
        at = self.clauses.index(clause)
        before = self.clauses[at - 1] if at else None
        planned = reminders.plan(
            clause, self.message.sent_at, self.message.scene, self.message.words.weights, before
        )
        if planned is not None:
            return [planned]
        return [] if asked else self._facts(clause)

    def _more(self, clause: Clause) -> bool:
        """Whether other clauses say something of their own."""
        others = [other for other in self.clauses if other is not clause]
        return any(other.words() or other.quantities or chatter(other.spans) for other in others)

    def _facts(self, clause: Clause) -> list[Draft]:
        """What the clause says was done or measured, in the order written."""
        found: list[tuple[int, Draft]] = []
        at_home = stored(self.message, clause.spans) or already_counted(self.message)
        if self._bottled(clause) and not (at_home or of_a_shop(self.message)):
            only = self._only_wine(clause)
            drafts = bottles_told(clause, wine=self.wine or only, elsewhere=self.reason)
            found += [(place, asked_if_many(draft, clause) if only else draft) for place, draft in drafts]
        bottles = bool(found)
        if not bottles:
            found += self.litres.drawn(clause)
            added = self.additions.read(clause, anchored=self.anchored)
            found += [(place, draft) for place, draft in added if not _hypothetical(clause, place)]
        done = self.chores.read(clause)
        for _, draft in done:
            self.litres.topped(clause, draft)
        found += done
        if not bottles:
            filled = self.working and clause.any("fill")
            read = self.readings.read(clause, self.measure, anchored=self.anchored or filled)
            found += [(place, draft) for place, draft in read if not _hypothetical(clause, place)]
        found.sort(key=lambda item: item[0])
        return [draft for _, draft in found]

    def _bottled(self, clause: Clause) -> bool:
        """Whether a clause may be about bottles at home: they are named, or nothing under way is."""
        if clause.any("fill") and self._filled(clause):
            return False
        said = any(
            span.is_("unit", "bottle") or (span.qty is not None and span.qty.unit == "bottle")
            for span in clause.spans
        )
        if not any(batch.bottled is not None for batch in self.message.scene.batches):
            return said and bool(clause.refs)
        for ref in clause.refs:
            targets = self.message.targets.of(ref, bottled=True)
            if any(target.batch is not None and target.batch.bottled is not None for target in targets):
                return True
        if self._only_wine(clause):
            return True
        return said or (clause.any("bottles") and not clause.refs and self._bottles_named())

    def _only_wine(self, clause: Clause) -> bool:
        """Whether a clause that names nothing speaks of the one wine in bottles."""
        return not self.named and weigh.only_wine(self.message.scene) and outright(clause)

    def _filled(self, clause: Clause) -> bool:
        """ "Got 29 bottles out of the plum": bottles of a batch under way, which is what bottling it gives."""
        counted = any(span.qty is not None and span.qty.unit == "bottle" for span in clause.spans)
        return counted and bool(clause.refs) and not self._bottles_named()

    def _bottles_named(self) -> bool:
        """Whether a batch in bottles is named anywhere in the message."""
        refs = [ref for clause in self.clauses for ref in clause.refs]
        targets = [target for ref in refs for target in self.message.targets.of(ref, bottled=True)]
        return any(target.batch is not None and target.batch.bottled is not None for target in targets)

    def _inherited(self, position: int, draft: Draft) -> list[Ref]:
        """The batch named last before a clause, else the first after it in the same sentence."""
        if isinstance(draft.act, Promised):
            return []
        if isinstance(draft.act, Question) and draft.act.about in ("help", "overview"):
            return []
        for clause in reversed(self.clauses[:position]):
            refs = [ref for ref in undenied(clause, clause.refs) if ref not in self.goals]
            if refs:
                return refs if refs[0].kind == "every" else refs[:1]
        for clause in self.clauses[position + 1 :]:
            if clause.hard:
                break
            mine = self.clauses[position].quantities and not isinstance(draft.act, Temperature | Addition)
            if clause.refs and not (clause.quantities and mine):
                return clause.refs[:1]
        return []


def _with_jar(drafts: list[Draft], words: Lexicon) -> list[Draft]:
    """ "1.012 (jar at 27)": the temperature of the sample, told after its gravity; told alone it is asked about, since
    it says nothing of the wine."""
    kept: list[Draft] = []
    for draft in drafts:
        before = kept[-1] if kept else None
        if (
            not isinstance(draft.act, Temperature)
            or draft.clause is None
            or not _says_sample(draft.clause, words)
            or any(ref.kind == "vessel" for ref in draft.clause.refs)
        ):
            kept.append(draft)
        elif before is not None and isinstance(before.act, Gravity) and before.act.temp_c is None:
            before.act = msgspec.structs.replace(before.act, temp_c=draft.act.temp_c)
        else:
            if draft.clause.means("part", "sample"):
                draft.doubt = draft.doubt or Doubt.SAMPLE_ALONE
            kept.append(draft)
    return kept


def _says_sample(clause: Clause, words: Lexicon) -> bool:
    said = (word for span in clause.spans for word in span.fold.split())
    return any(Tag("part", "sample", "") in words.tags(word) for word in said)


def _with_sample(drafts: list[Draft]) -> list[Draft]:
    """ "Is at 22C and reads 1.056": the temperature said just before a gravity is the sample's."""
    kept: list[Draft] = []
    for draft in drafts:
        before = kept[-1] if kept else None
        clause = draft.clause
        if (
            before is not None
            and clause is not None
            and isinstance(draft.act, Gravity)
            and isinstance(before.act, Temperature)
            and before.doubt is None
            and draft.act.temp_c is None
            and not clause.hard
            and not clause.refs
            and draft.refs == before.refs
        ):
            draft.act = msgspec.structs.replace(draft.act, temp_c=before.act.temp_c)
            draft.score = max(draft.score, before.score)
            kept[-1] = draft
        else:
            kept.append(draft)
    return kept


def _perhaps(clause: Clause) -> bool:
    """Whether a value is only "past" or "under" or "might be"."""
    return any(
        before.is_("mood", "perhaps") and after.qty is not None for before, after in pairwise(clause.spans)
    )


def valued(act: Act) -> bool:
    """Whether an act holds a value, so that it cannot just be passed over."""
    return isinstance(act, Gravity | Temperature | Volume | Addition)


def undenied(clause: Clause, refs: list[Ref]) -> list[Ref]:
    """Leaves out a batch that "not" stands before: "not the white, the plum"."""
    denied = {
        span.ref
        for index, span in enumerate(clause.spans)
        if span.ref is not None
        and any(item.is_("part", "not") for item in clause.spans[max(0, index - 2) : index])
    }
    return [ref for ref in refs if ref not in denied]


def _hypothetical(clause: Clause, place: int) -> bool:
    """ "Should be 1.010 by Friday", "rack at 1.010": no reading."""
    before = clause.spans[:place]
    ordered = any(span.has("step", "bare") and not span.has("step", "done") for span in before)
    if ordered and not any(span.is_("mood", "have") for span in before):
        return True
    return moods.unreal(clause, place) or moods.planned(clause, place) or moods.denied(clause, place)


def _gravity_in(clause: Clause) -> bool:
    return any(reads_gravity(quantity) for quantity in clause.quantities) and not clause.any("question")


def _loose(clause: Clause, at: int) -> bool:
    """A plain number beside a fact that nothing was made of."""
    span = clause.spans[at]
    if span.qty is None or span.used or span.qty.unit is not None or span.qty.spoken:
        return False
    return not (at and clause.spans[at - 1].is_("part", "counted"))


def _meaty(clause: Clause) -> bool:
    """Whether a clause that gave nothing holds a value or an addition that the bot should have read."""
    for span in clause.spans:
        if span.qty is None or span.used:
            continue
        unit = span.qty.unit
        if reads_gravity(span.qty) or unit in DEGREES or unit in VOLUMES or unit in DOSES:
            return True
    return any(ref.kind == "unknown" and ref.sure > 1 for ref in clause.refs)


def _lost(clause: Clause) -> bool:
    """Whether a clause after a fact looks like another fact in words that nobody knows: "then zorbed it"."""
    if clause.hard or len(clause.spans) > _LOST_SPANS or chatter(clause.spans) or clause.asked:
        return False
    if any(_mooded(span) for span in clause.spans):
        return False
    unread = any(span.qty is not None and span.qty.unit is None and not span.used for span in clause.spans)
    if unread and (clause.words() or clause.means("vague", "thing")):
        return True
    if clause.means("vague", "thing") and (clause.any("hedge") or clause.means("part", "same")):
        return True
    rest = [span for span in clause.spans if span.kind != "mark" and not span.has("join")]
    return (
        len(rest) == 2
        and rest[0].kind == "word"
        and (rest[1].is_("batchword", "it") or rest[1].ref is not None)
    )


def _puts_off(clause: Clause) -> bool:
    """ "Sloe later", "sloe tomorrow" beside a fact: that one's turn is still to come."""
    ahead = any(moment.days is not None and moment.days > 0 for moment in clause.moments)
    later = [span for span in clause.spans if span.is_("mood", "later")]
    return (
        (bool(later) or ahead)
        and not moods.planned(clause)
        and all(
            span in later or span.ref is not None or span.kind in ("mark", "time") or span.has("filler")
            for span in clause.spans
        )
    )


def _opens(span: Span) -> bool:
    return any(tag.kind == "mood" and tag.value in ("ask", "want", "aux") for tag in span.tags)


def _mooded(span: Span) -> bool:
    return any(
        tag.kind == "mood" and tag.value in ("negation", "plan", "unreal", "request") for tag in span.tags
    )
