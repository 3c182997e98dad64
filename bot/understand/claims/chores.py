"""Clauses to chores done: racked, stirred, bottled and the rest."""

from collections.abc import Sequence

from bot.cellar.log.acts import Step, StepName
from bot.understand.claims.bottles import MOST_BOTTLES
from bot.understand.claims.drafts import Draft
from bot.understand.scene import Scene
from bot.understand.text import moods
from bot.understand.text.clauses import DOSES, VOLUMES, Clause
from bot.understand.text.small_words import small_words
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

_VESSEL_FIRST = frozenset({"sanitise"})


class Chores:
    """Reads the chores that a clause says are done. `weights`: how much each word speaks for itself."""

    def __init__(self, scene: Scene, weights: dict[str, float]) -> None:
        self.scene = scene
        self.weights = weights
        self.airlock = small_words(scene.language).airlock

    def read(self, clause: Clause) -> list[tuple[int, Draft]]:
        """The chores that the clause says are done."""
        spans = clause.spans
        found = self._moved(clause)
        for index, span in enumerate(spans):
            name = self._step(spans, index)
            if name is None or span.used:
                continue
            if moods.denied(clause, index) or moods.unreal(clause, index) or moods.perhaps(clause, index):
                continue
            if moods.compared(clause, index) or _of_none(spans, index):
                continue
            if name == "top_up" and self.airlock.intersection(item.fold for item in spans):
                continue
            doubt: Doubt | None = None
            if not span.has("step", "done") and not span.has("move") and not span.has("fill"):
                if not self._told_as_done(spans, index):
                    if not span.has("step", "ing") or moods.planned(clause, index):
                        continue
                    doubt = None if name == "sanitise" else Doubt.UNSURE
            elif moods.planned(clause, index):
                continue
            if span.has("step", "ing") and index and spans[index - 1].is_("part", "aside"):
                continue
            span.used = True
            draft = self._step_draft(clause, index, name)
            if draft and name == "bottle" and not clause.refs and clause.means("part", "again"):
                doubt = Doubt.UNSURE
            if draft:
                draft.doubt = draft.doubt or doubt
                found.append((index, draft))
        return found

    def _moved(self, clause: Clause) -> list[tuple[int, Draft]]:
        """ "Plum is now in demijohn 1": told as a place, so a transfer that is asked about."""
        refs = clause.refs
        if (
            len(refs) != 2
            or refs[0].kind not in ("batch", "colour", "vessel")
            or refs[1].kind != "vessel"
            or clause.quantities
        ):
            return []
        arrow = any(
            span.fold in {"- >", "->", "→", ">"} or span.is_("part", "arrow") for span in clause.spans
        )
        rest = [span for span in clause.spans if span.ref is None and span.kind != "mark"]
        if not all(
            (span.has("filler") or span.is_("part", "arrow")) and not span.has("step") for span in rest
        ) or moods.denied(clause):
            return []
        if (
            any(span.has("move") for span in rest)
            or not (arrow or any(span.is_("part", "into") for span in rest))
            or any(batch.vessel == refs[1].name for batch in self.scene.batches)
        ):
            return []
        doubt = None if arrow else Doubt.UNSURE
        draft = Draft(Step(step="rack"), 1.0, "batch", [refs[0]], to=refs[1], doubt=doubt, about=refs[1].name)
        return [(0, draft)]

    def _step(self, spans: Sequence[Span], at: int) -> StepName | None:
        span = spans[at]
        if span.has("fill"):
            if _fetched(spans[at + 1 :]):
                return None
            return (
                "bottle"
                if any(item.qty is not None and item.qty.unit == "bottle" for item in spans)
                else None
            )
        if span.has("move"):
            if any(_dosed(item) for item in spans):
                return None
            after = spans[at + 1 :]
            goes = any(
                item.ref is not None and item.ref.kind in ("vessel", "unknown", "kind") and _led(after, place)
                for place, item in enumerate(after)
            )
            lost = any(item.is_("vague", "thing") and _led(after, place) for place, item in enumerate(after))
            if span.has("put") and not (goes and _carried(spans, at)):
                return None
            return "rack" if (goes or lost) and any(item.ref is not None for item in spans) else None
        value = span.step
        if value == "stir" and any(item.has("substance") for item in spans[at + 1 :]):
            return None
        if value == "mix" and any(_dosed(item) and not item.is_("substance", "water") for item in spans):
            return None
        return value

    def _told_as_done(self, spans: Sequence[Span], at: int) -> bool:
        """ "Have now stir", "did rack", "done the degassing"."""
        before = spans[:at]
        if any(span.is_("mood", "done") for span in spans[at + 1 :]) or (
            any(span.is_("mood", "done") for span in before) and spans[at].has("step", "ing")
        ):
            return True
        gave = any(span.is_("part", "gave") for span in before) and spans[at].value("step") in (
            "stir",
            "degas",
        )
        if not gave and any(span.has("bottles") for span in before):
            return False
        return any(span.is_("mood", "have") for span in before) and (
            gave or not any(span.is_("part", "to") for span in before)
        )

    def _step_draft(self, clause: Clause, at: int, name: StepName) -> Draft | None:
        spans = clause.spans
        span = spans[at]
        if _actor(spans, at):
            return None
        score = self.weights.get(name, 0.8) + (0.5 if " " in span.fold else 0.0)
        draft = Draft(Step(step=name), score, "anything" if name in _VESSEL_FIRST else "batch")
        refs = [(index, item) for index, item in enumerate(spans) if item.ref is not None]
        if name == "rack":
            refs = self._with_wine(refs)
            for place, (index, item) in enumerate(refs):
                assert item.ref is not None
                if index > at and item.ref.kind in ("vessel", "unknown", "kind") and _led(spans, index):
                    draft.to = item.ref
                    del refs[place]
                    break
            else:
                lost = [
                    item
                    for item in spans[at + 1 :]
                    if item.is_("vague", "thing") or (item.ref is None and item.has("vessel"))
                ]
                if lost and any(item.is_("part", "into") for item in spans[at:]):
                    draft.doubt, draft.about = Doubt.WHICH_VESSEL, lost[0].fold
            if draft.to is None and draft.doubt is None:
                refs = self._without_goal(refs, at, draft)
            refs = refs[:1] if draft.to is not None and len(refs) > 1 and _from_vessel(spans, refs) else refs
            if draft.to is not None:
                draft.score += 0.7
        draft.refs = [item.ref for _, item in refs if item.ref is not None]
        if name == "bottle":
            self._count(spans, draft)
        return draft

    def _with_wine(self, refs: list[tuple[int, Span]]) -> list[tuple[int, Span]]:
        """The names without an empty vessel before the batch: "washed bucket 2, racked plum into it"."""
        first = refs[0][1].ref if len(refs) > 1 else None
        second = refs[1][1].ref if len(refs) > 1 else None
        if first is None or second is None or first.kind != "vessel" or self._holds(first.name):
            return refs
        return refs[1:] if second.kind in ("batch", "colour") else refs

    def _without_goal(self, refs: list[tuple[int, Span]], at: int, draft: Draft) -> list[tuple[int, Span]]:
        """ "Plum racked dj1": a vessel said after the batch that it did not stand in is where it went; so is an
        empty one said alone, "racked it, bucket 3"."""
        alone = refs[0][1].ref if len(refs) == 1 and refs[0][0] > at else None
        if alone is not None and alone.kind == "vessel" and not self._holds(alone.name):
            draft.to = alone
            return []
        if len(refs) != 2 or refs[0][1].ref is None or refs[1][1].ref is None:
            return refs
        first, second = refs[0][1].ref, refs[1][1].ref
        home = next((batch.vessel for batch in self.scene.batches if batch.name == first.name), None)
        if first.kind in ("batch", "colour") and second.kind == "vessel" and second.name != home:
            draft.to = second
            return refs[:1]
        return refs

    def _holds(self, vessel: str) -> bool:
        return any(vessel in (batch.vessel, *batch.also_in) for batch in self.scene.under_way)

    def _count(self, spans: Sequence[Span], draft: Draft) -> None:
        for span in spans:
            quantity = span.qty
            if quantity is None or span.used or quantity.unit not in (None, "bottle"):
                continue
            if quantity.decimals == 0 and 1 <= quantity.value <= MOST_BOTTLES and not quantity.signed:
                span.used = True
                draft.act = Step(step="bottle", bottles=int(quantity.value))
                draft.score += 0.5
                return


def _of_none(spans: Sequence[Span], at: int) -> bool:
    """ "Degassed neither": a chore done to none."""
    after = spans[at + 1 : at + 2]
    ends = at + 2 >= len(spans) or spans[at + 2].kind == "mark" or spans[at + 2].fold == "of"
    return bool(after) and after[0].is_("part", "nought") and ends


def _dosed(span: Span) -> bool:
    """Something that is put into wine, which no wine is moved with: "poured sachet 4 into bucket 2"."""
    if span.qty is not None:
        return span.qty.unit in DOSES and span.qty.unit not in VOLUMES
    return span.has("substance") or span.has("packet")


def _carried(spans: Sequence[Span], at: int) -> bool:
    """Whether the wine itself is named beside a verb that is mostly said of other things: "put the plum in dj1"."""
    return any(
        item.ref is not None and item.ref.kind in ("batch", "colour", "vessel")
        for item in spans[max(0, at - 3) : at + 4]
        if not (item.ref is not None and item.ref.kind == "vessel" and _led(spans, spans.index(item)))
    )


def _led(spans: Sequence[Span], at: int) -> bool:
    """Whether a name stands after "into", "to" and the like."""
    for span in reversed(spans[max(0, at - 3) : at]):
        if span.ref is not None:
            return False
        if span.is_("part", "into") or span.fold == ">":
            return True
    return False


def _from_vessel(spans: Sequence[Span], refs: Sequence[tuple[int, Span]]) -> bool:
    """ "The plum from bucket 2": a second name that only says where it was."""
    index = refs[1][0]
    return any(span.is_("part", "from") for span in spans[max(0, index - 3) : index])


def _actor(spans: Sequence[Span], at: int) -> bool:
    """ "Bob stirred the pot": a name that did it, and not the batch it was done to."""
    named = spans[at - 1].ref if at else None
    if named is None or named.kind != "batch" or at + 1 >= len(spans):
        return False
    after = spans[at + 1 : at + 3]
    if after[0].is_("batchword", "it") or after[0].kind == "word":
        return True
    return len(after) > 1 and after[0].is_("mood", "subject") and after[1].kind == "word"


def _fetched(after: Sequence[Span]) -> bool:
    """ "Got 30 bottles from the shop": whether they come from anywhere but a wine."""
    at = next((place for place, span in enumerate(after) if span.is_("part", "from")), None)
    if at is None:
        return False
    source = after[at + 1 : at + 3]
    return not any(span.ref is not None or span.is_("batchword", "it") for span in source)
