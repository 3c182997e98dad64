"""From a message to a verdict: every reading of it weighed, doubtful ones asked about, chatter left alone."""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

from bot.cellar.acts import Act, Addition, Bottles, Gravity, Question, Reminder, Temperature, Undo, Volume
from bot.understand import asking, moods, replies, weigh
from bot.understand.beginnings import OwnWords
from bot.understand.chores import Chores, reason_among
from bot.understand.clauses import DEGREES, DOSES, VOLUMES, Clause, colours, members, reads_gravity, split
from bot.understand.drafts import Draft
from bot.understand.lexicon import Tag, lexicon
from bot.understand.names import Ref, names_of
from bot.understand.readings import Readings
from bot.understand.scan import Token, scan, tidy
from bot.understand.scene import ReplyTo, Scene
from bot.understand.settle import Settler
from bot.understand.spans import Reader, Span
from bot.understand.sums import sum_asked
from bot.understand.targets import Targets
from bot.understand.verdict import Doubt, Verdict

IGNORE = Verdict(verdict="ignore", why="people talking to each other")
_PLAIN = 1.5
"""The score from which a question is one beyond doubt, even among facts."""

_COUNTED = frozenset({"day", "reading", "week", "number", "no", "test", "sample", "#", "x"})
_REPLY_BONUS, _ADDRESSED_BONUS = 1.2, 1.2


def understand(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None = None,
    replying_to: ReplyTo | None = None,
    addressed: bool = False,
    forwarded: bool = False,
) -> Verdict:
    """What a message means in a house: what to write down, what to ask, or nothing. `sent_at` is aware."""
    message = _Message(text, scene, sent_at, by, replying_to, addressed)
    if forwarded:
        verdict = IGNORE
    else:
        verdict = message.verdict()
    if verdict.verdict == "ignore" and message.addressed and not message.only_polite():
        return Verdict(verdict="ask", why="it is for the bot, but not understood", doubt=Doubt.NOT_UNDERSTOOD)
    return verdict


@lru_cache(maxsize=256)
def _reader(language: str, names: object) -> Reader:
    from bot.understand.names import Names

    assert isinstance(names, Names)
    return Reader(lexicon(language), names)


class _Message:
    def __init__(
        self,
        text: str,
        scene: Scene,
        sent_at: datetime,
        by: str | None,
        replying_to: ReplyTo | None,
        addressed: bool,
    ) -> None:
        self.text = tidy(text)
        self.scene = scene
        self.sent_at = sent_at
        self.by = by
        self.replying_to = replying_to
        self.words = lexicon(scene.language)
        self.names = names_of(scene)
        self.targets = Targets(scene, self.names)
        tokens = scan(self.text)
        self.tokens, slash = _without_address(tokens, addressed=addressed)
        self.addressed = addressed or slash
        self.slash = slash
        self.spans = _reader(scene.language, self.names).label(self.tokens)
        colours(self.spans, scene)
        members(self.spans, scene)
        if slash:
            self._slash_word()
        self.own = OwnWords(scene, self.tokens, self.text, self.words)
        self.settler = Settler(scene, sent_at, self.targets, self.targets.named(replying_to.of if replying_to else None))

    def _slash_word(self) -> None:
        """Gives the first word of a slash form its meaning as a question."""
        if not self.spans:
            return
        first = self.spans[0]
        for tag in self.words.tags(self.tokens[0].fold):
            if tag.kind == "slash" and len(self.spans) == 1 + sum(span.ref is not None for span in self.spans):
                first.tags = (Tag("question", tag.value, "plain"),)

    @property
    def anchored(self) -> bool:
        """Whether something beside the words says that the message is for the bot."""
        return self.addressed or (self.replying_to is not None and self.replying_to.of is not None)

    def only_polite(self) -> bool:
        """Whether there is nothing but thanks and the like in it."""
        return bool(self.spans) and all(
            span.is_("filler", "social") or span.is_("filler", "link") or span.kind == "mark" for span in self.spans
        )

    def verdict(self) -> Verdict:
        spans = self.spans
        if not spans:
            return IGNORE
        first, rest = _first_clause(spans)
        entry = replies.last_entry(self.scene, self.sent_at, self.by, self.replying_to)
        sure = self.addressed or entry is not None
        if replies.takes_back(spans, sure=sure) or (replies.takes_back(first, sure=sure) and _remark(rest)):
            return Verdict(verdict="act", acts=(Undo(),), why="takes back what was written last")
        for read in (self.own.note, self.own.begin, self.own.nickname):
            draft = read(spans)
            if draft is not None:
                return self.settler.verdict([draft], [])
        if self.replying_to is not None and self.replying_to.step is not None:
            answer = replies.reminder_reply(Clause(list(spans)), self.replying_to, self.sent_at, self.scene)
            if answer is not None:
                return self.settler.verdict([answer], [])
        if replies.takes_back(first, sure=sure) and rest:
            return self._statements(rest, taken_back=True)
        corrected, rest = replies.corrects(spans)
        if corrected:
            verdict = self._correction(rest)
            if verdict is not None:
                return verdict
        asked = sum_asked(spans, self.scene)
        if asked is not None:
            return self.settler.verdict([asked], [])
        return self._statements(spans)

    # ------------------------------------------------------------------ corrections

    def _correction(self, rest: list[Span]) -> Verdict | None:
        rest = replies.without_denied(rest)
        clauses = split(rest)
        drafts, _, half = self._drafts(clauses, correcting=True)
        refs = [span.ref for span in rest if span.ref is not None]
        entry = replies.last_entry(self.scene, self.sent_at, self.by, self.replying_to)
        chat = weigh.chatter(rest) + 0.3 * sum(span.kind == "word" for span in rest)
        if chat >= 1.0 and not refs and not self.anchored:
            return None
        if not drafts and (not refs or len(rest) > 6):
            return None
        return self.settler.correction(drafts, refs, entry)

    # ------------------------------------------------------------------ statements and questions

    def _statements(self, spans: Sequence[Span], *, taken_back: bool = False) -> Verdict:
        clauses = split(spans)
        drafts, scores, half = self._drafts(clauses)
        kept: list[Draft] = []
        unsure = False
        for draft, score in zip(drafts, scores, strict=True):
            if score >= weigh.SURE:
                kept.append(draft)
            elif score >= weigh.PERHAPS:
                unsure = True
                draft.doubt = draft.doubt or Doubt.UNSURE
                kept.append(draft)
            elif draft.clause is not None and _valued(draft) and not weigh.chatter(draft.clause.spans):
                half.append(draft.clause)
        if unsure and all(draft.doubt is Doubt.UNSURE for draft in kept) and not self.anchored:
            top = max(score for score in scores)
            if top < weigh.PERHAPS:
                return IGNORE
        if taken_back:
            kept.insert(0, Draft(Undo(), 3.0, "nothing"))
        if not kept:
            return IGNORE
        return self.settler.verdict(_without_doubles(_without_headings(kept)), half)

    def _drafts(
        self, clauses: list[Clause], *, correcting: bool = False
    ) -> tuple[list[Draft], list[float], list[Clause]]:
        """All drafts in the order written, the score of each, and clauses that were only half understood."""
        chores = Chores(self.scene, self.tokens, self.text, self.words.weights)
        chores.reason_elsewhere = reason_among(span for clause in clauses for span in clause.spans)
        readings = Readings(self.scene)
        whole = [ref for clause in clauses for ref in clause.refs]
        wine = any(span.is_("batchword", "batch") for clause in clauses for span in clause.spans)
        drafts: list[Draft] = []
        half: list[Clause] = []
        carried: str | None = None
        carried_moments: list = []
        for position, clause in enumerate(clauses):
            anchored = self.anchored or bool(whole)
            found = self._clause(clause, chores, readings, carried, anchored=anchored, wine=wine or bool(whole))
            heading = next((span.value("measure") for span in clause.spans if span.has("measure")), None)
            if heading == "temperature" or (found and heading is not None):
                carried = heading
            if not found and clause.clean():
                measure = next((span.value("measure") for span in clause.spans if span.has("measure")), None)
                carried = measure or carried
                if not clause.refs:
                    carried_moments = clause.moments or carried_moments
            if not found and _meaty(clause) and not weigh.chatter(clause.spans) and not moods.unreal(clause):
                half.append(clause)
            either = any(span.fold == "or" for span in clause.spans)
            loose = any(_loose(clause, index) for index in range(len(clause.spans)))
            for draft in found:
                draft.clause = clause
                if draft.doubt is None and (either or clause.means("mood", "perhaps")) and _told(draft.act):
                    draft.doubt = Doubt.UNSURE
                if loose and draft.doubt is None and not isinstance(draft.act, Question | Reminder):
                    draft.doubt = Doubt.HALF_UNDERSTOOD
                own = draft.refs or [ref for ref in clause.refs if ref != draft.to]
                own = _undenied(clause, own)
                named = [ref for ref in own if ref.kind != "every"]
                own = named or own
                draft.refs = own or self._inherited(clauses, position, draft)
                if not draft.moments:
                    draft.moments = clause.moments or carried_moments
                drafts.append(draft)
            if not found and drafts and clause.refs and any(span.fold == "or" for span in clause.spans[:1]):
                drafts[-1].refs = [*drafts[-1].refs, *clause.refs]
                drafts[-1].doubt = Doubt.WHICH_BATCH
            if not found and drafts and self._lost(clause):
                half.append(clause)
        scores = [self._score(draft, clauses, drafts) for draft in drafts]
        return drafts, scores, half

    def _clause(
        self, clause: Clause, chores: Chores, readings: Readings, carried: str | None, *, anchored: bool, wine: bool
    ) -> list[Draft]:
        asked = clause.asked or moods.asks(clause)
        if clause.asked and not moods.asks(clause, by_words=True) and _gravity_in(clause):
            told = self._facts(clause, chores, readings, carried, anchored=anchored, wine=wine)
            for draft in told:
                draft.doubt = draft.doubt or Doubt.UNSURE
            if told:
                return told
        question = asking.question(clause)
        if question is not None:
            told = [] if asked else self._facts(clause, chores, readings, carried, anchored=anchored, wine=wine)
            return told if told and question.score < _PLAIN else [*told, question]
        planned = replies.plan(clause, self.sent_at, self.scene, self.words.weights)
        if planned is not None:
            return [planned]
        if asked:
            return []
        return self._facts(clause, chores, readings, carried, anchored=anchored, wine=wine)

    def _facts(
        self, clause: Clause, chores: Chores, readings: Readings, carried: str | None, *, anchored: bool, wine: bool
    ) -> list[Draft]:
        """What the clause says was done or measured."""
        found: list[tuple[int, Draft]] = []
        at_bottles = chores.bottles(clause, wine=wine) if self._bottled(clause) else []
        found += at_bottles
        if not at_bottles:
            added = chores.additions(clause, anchored=anchored)
            found += [(place, draft) for place, draft in added if not _hypothetical(clause, place)]
        found += chores.steps(clause)
        if not at_bottles:
            read = readings.read(clause, carried, anchored=anchored)
            found += [(place, draft) for place, draft in read if not _hypothetical(clause, place)]
        found.sort(key=lambda item: item[0])
        return [draft for _, draft in found]

    def _bottled(self, clause: Clause) -> bool:
        """Whether a clause may be about bottles at home: they are named, or nothing under way is."""
        if not any(batch.bottled is not None for batch in self.scene.batches):
            return any(span.is_("unit", "bottle") for span in clause.spans) and bool(clause.refs)
        for ref in clause.refs:
            targets = self.targets.of(ref, bottled=True)
            if any(target.batch is not None and target.batch.bottled is not None for target in targets):
                return True
        named = any(ref.kind in ("batch", "vessel", "unknown") for ref in clause.refs)
        said = any(span.is_("unit", "bottle") or (span.qty and span.qty.unit == "bottle") for span in clause.spans)
        return said or (not named and clause.any("bottles") and not clause.refs)

    def _lost(self, clause: Clause) -> bool:
        """Whether a clause after a fact looks like another fact in words that nobody knows: "then zorbed it"."""
        if clause.hard or len(clause.spans) > 6 or weigh.chatter(clause.spans) or clause.asked:
            return False
        if clause.any("mood") and any(_mooded(span) for span in clause.spans):
            return False
        unread = any(span.qty is not None and span.qty.unit is None and not span.used for span in clause.spans)
        words = clause.words()
        if unread and words:
            return True
        if clause.means("vague", "thing") and any(span.has("hedge") or span.fold == "same" for span in clause.spans):
            return True
        rest = [span for span in clause.spans if span.kind != "mark" and not span.has("join")]
        return len(rest) == 2 and rest[0].kind == "word" and (rest[1].is_("batchword", "it") or rest[1].ref is not None)

    def _someone_elses(self, clause: Clause) -> bool:
        """ "Jo's wine": a batch that belongs to nobody of the house."""
        for span, after in zip(clause.spans, clause.spans[1:], strict=False):
            if span.ref is not None or not (span.kind == "word" or span.is_("filler", "social") or span.has("chatter")):
                continue
            said = self.text[self.tokens[span.lo].start : self.tokens[span.hi - 1].end].casefold()
            owner = said.removesuffix("'s")
            if said.endswith("'s") and owner not in self.scene.members and (
                after.is_("batchword", "batch") or after.is_("measure", "temperature") or after.has("kitword")
            ):
                return True
        return False

    def _inherited(self, clauses: Sequence[Clause], position: int, draft: Draft) -> list[Ref]:
        """The batch named last before a clause, else the first after it in the same sentence."""
        if draft.needs == "nothing" and isinstance(draft.act, Question) and draft.act.about in ("help", "overview"):
            return []
        if isinstance(draft.act, Reminder):
            return []
        for clause in reversed(clauses[:position]):
            refs = _undenied(clause, clause.refs)
            if refs:
                return refs[:1] if refs[0].kind != "every" else refs
        for clause in clauses[position + 1 :]:
            if clause.hard:
                break
            if clause.refs and not clause.quantities:
                return clause.refs[:1]
            if clause.refs and (not draft.clause_has_quantity or isinstance(draft.act, Temperature)):
                return clause.refs[:1]
        return []

    def _score(self, draft: Draft, clauses: Sequence[Clause], drafts: Sequence[Draft]) -> float:
        clause = draft.clause
        assert clause is not None
        mild = isinstance(draft.act, Bottles) and bool(draft.refs)
        score = draft.score - weigh.against(clause, clauses, mild=mild)
        own = [ref.sure for ref in draft.refs]
        if own:
            score += max(own) if any(ref in clause.refs for ref in draft.refs) else min(max(own), 1.3)
        elif self.replying_to is not None and self.replying_to.of is not None:
            score += _REPLY_BONUS
        elif draft.needs in ("batch", "anything") and len(self.scene.under_way) == 1:
            score += 0.5
        elif isinstance(draft.act, Question) and len(self.scene.under_way) == 1 and draft.score >= 1.4:
            score += 0.5
        if self.addressed:
            score += _ADDRESSED_BONUS
        if self._someone_elses(clause):
            score -= 1.6
        if not own and any(span.is_("batchword", "batch") for span in clause.spans):
            score += 0.8
        real = [span for span in self.spans if span.kind not in ("mark", "line") and not span.has("filler")]
        if len(real) == 1 and not draft.refs and (isinstance(draft.act, Gravity) or (_told(draft.act) and len(self.spans) == 1)):
            score += 1.0
        return score


def _without_headings(drafts: list[Draft]) -> list[Draft]:
    """Leaves out a heading that only looks like a question: "Readings tonight:" above the readings."""

    def heading(index: int, draft: Draft) -> bool:
        if not isinstance(draft.act, Question) or draft.clause is None or draft.clause.asked or draft.clause.refs:
            return False
        if any(span.is_("mood", "ask") or span.is_("mood", "want") for span in draft.clause.spans):
            return False
        return any(not isinstance(other.act, Question) for other in drafts[index + 1 :])

    return [draft for index, draft in enumerate(drafts) if not heading(index, draft)]


def _without_doubles(drafts: list[Draft]) -> list[Draft]:
    """Leaves out a question asked twice in one message, and a value put right at once: "1.012, no, 1.014"."""
    kept: list[Draft] = []
    for draft in drafts:
        if kept and _amends(draft, kept[-1]):
            draft.refs = draft.refs or kept[-1].refs
            kept[-1] = draft
            continue
        twin = next((other for other in kept if isinstance(draft.act, Question) and other.act == draft.act), None)
        if twin is None:
            kept.append(draft)
        elif twin.doubt is not None:
            twin.doubt = draft.doubt
    return kept


def _amends(draft: Draft, before: Draft) -> bool:
    """Whether a draft puts the one before it right, in the same message."""
    if type(draft.act) is not type(before.act) or draft.clause is None or isinstance(draft.act, Question):
        return False
    if draft.clause.refs and draft.clause.refs != before.refs:
        return False
    first = next((span for span in draft.clause.spans if span.kind != "mark"), None)
    return first is not None and first.has("correct")


def _first_clause(spans: Sequence[Span]) -> tuple[Sequence[Span], Sequence[Span]]:
    """The spans up to the first mark that ends a clause, and those after it."""
    for index, span in enumerate(spans):
        if index and (span.kind == "line" or (span.kind == "mark" and span.fold in ",.;!-:")):
            return spans[:index], spans[index + 1 :]
    return spans, ()


def _remark(spans: Sequence[Span]) -> bool:
    """Whether some words hold no value, no name and no chore: only an excuse or the like."""
    return all(span.qty is None and span.ref is None and not span.has("step") for span in spans)


def _hypothetical(clause: Clause, place: int) -> bool:
    """ "Should be 1.010 by Friday", "if it hits 1.000": no reading."""
    ordered = any(span.has("step", "bare") and not span.has("step", "done") for span in clause.spans[:place])
    if ordered and not any(span.is_("mood", "have") for span in clause.spans[:place]):
        return True
    return moods.unreal(clause, place) or moods.planned(clause, place) or moods.denied(clause, place)


def _told(act: Act) -> bool:
    """Whether an act is something told, and not asked."""
    return not isinstance(act, Question)


def _mooded(span: Span) -> bool:
    return any(tag.kind == "mood" and tag.value in ("negation", "plan", "unreal", "request") for tag in span.tags)


def _valued(draft: Draft) -> bool:
    """Whether a draft too weak to keep holds a value, so that it cannot just be passed over."""
    return isinstance(draft.act, Gravity | Temperature | Volume | Addition) and draft.doubt is None


def _gravity_in(clause: Clause) -> bool:
    return any(reads_gravity(quantity) for quantity in clause.quantities) and not clause.any("question")


def _loose(clause: Clause, at: int) -> bool:
    """A plain number beside a fact that nothing was made of."""
    span = clause.spans[at]
    if span.qty is None or span.used or span.qty.unit is not None or span.qty.spoken:
        return False
    before = clause.spans[at - 1] if at else None
    return not (before is not None and (before.has("filler", None) and before.fold in _COUNTED))


def _undenied(clause: Clause, refs: list[Ref]) -> list[Ref]:
    """Leaves out a batch that "not" stands before: "not the white, the plum"."""
    denied: set[Ref] = set()
    for index, span in enumerate(clause.spans):
        if span.ref is not None:
            before = [item.fold for item in clause.spans[max(0, index - 2) : index]]
            if "not" in before:
                denied.add(span.ref)
    kept = [ref for ref in refs if ref not in denied]
    return kept


def _meaty(clause: Clause) -> bool:
    """Whether a clause that gave nothing holds a value or an addition that the bot should have read."""
    for span in clause.spans:
        if span.qty is None or span.used:
            continue
        if reads_gravity(span.qty) or span.qty.unit in DEGREES or span.qty.unit in VOLUMES or span.qty.unit in DOSES:
            return True
    return any(ref.kind == "unknown" and ref.sure > 1 for ref in clause.refs)


def _without_address(tokens: Sequence[Token], *, addressed: bool) -> tuple[list[Token], bool]:
    """The tokens without a leading "@name" and the marks of a slash form, and whether it was one."""
    kept = list(tokens)
    slash = False
    if len(kept) > 1 and kept[0].fold == "/" and kept[1].glued and kept[1].kind == "word":
        slash = True
        end = 2
        if len(kept) > 3 and kept[2].fold == "@" and kept[2].glued:
            end = 4
        kept = [kept[1], *kept[end:]]
    at = 0
    while at + 1 < len(kept):
        if kept[at].fold == "@" and kept[at + 1].kind == "word" and kept[at + 1].glued and (at == 0 or addressed):
            end = at + 2
            while end < len(kept) and kept[end].glued and (kept[end].fold == "_" or kept[end].kind == "word"):
                end += 1
            del kept[at:end]
        else:
            at += 1
    return kept, slash
