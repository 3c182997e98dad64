"""How much speaks for a reading of the message, and how much against it."""

from collections.abc import Sequence
from itertools import pairwise

from bot.cellar.log.acts import Addition, Bottles, Gravity, Question, Step, Temperature, Volume
from bot.understand.claims.drafts import Draft
from bot.understand.scene import Scene
from bot.understand.text.clauses import Clause, chatter
from bot.understand.text.message import Message
from bot.understand.text.scan import fold

SURE = 1.9
"""From here on a draft is written down."""
PERHAPS = 1.2
"""From here on it is asked about; below, it is taken for chatter."""

_UNKNOWN, _MOST_UNKNOWN = 0.35, 1.4
_ELSEWHERE, _MOST_ELSEWHERE = 0.45, 1.2
_OTHER_SENTENCE = 0.35
_NUMBER = 0.4
_MILD = 0.35
"""Where a named batch in bottles is drunk or given, parties and people belong to it."""

_ONLY_WINE = 1.2
"""How much surer bottles are of a wine that is not named, where there is just one."""

_WAITED_FOR = 0.8
"""How much surer a chore is that the only batch at that point is waiting for."""

_COMPANY = 0.85
"""How much surer a fact is beside one that is beyond doubt, in a message without a word too many."""

_FACTS = (Gravity, Temperature, Volume, Addition, Step)
_REPLY = 1.2
_ADDRESSED = 1.2
_ONLY_BATCH = 0.5
_WINE_WORD = 0.8
_ALONE = 1.0
_INHERITED = 1.3
"""A batch named in another clause counts at most this much."""
_SOMEONE_ELSES = 2.4
_ANOTHER = 0.8
_STRANGE = 0.5
_IT_DONE = 1.2
_PERSON = 1.1
"""How much less sure a wine is meant by "how's" and somebody's name."""
_TELLING = 1.4
_BODY_C = (36.5, 42.0)
"""Such a temperature without a name is more likely somebody's."""


def scored(drafts: Sequence[Draft], clauses: Sequence[Clause], message: Message) -> list[float]:
    """The score of each draft of a message; beside a sure fact, and no chatter, the others are surer."""
    weights = [chatter(clause.spans) for clause in clauses]
    scores = [score(draft, clauses, weights, message) for draft in drafts]
    sure = any(
        found >= SURE and isinstance(draft.act, _FACTS) for draft, found in zip(drafts, scores, strict=True)
    )
    if not sure or any(weights) or any(clause.words() for clause in clauses):
        return scores
    alone = len(message.scene.under_way) == 1
    return [
        found + _COMPANY if isinstance(draft.act, _FACTS) and (alone or draft.refs) else found
        for draft, found in zip(drafts, scores, strict=True)
    ]


def score(draft: Draft, clauses: Sequence[Clause], weights: Sequence[float], message: Message) -> float:
    """What speaks for a draft, less what speaks against it. `weights` are the clauses' everyday words."""
    clause = draft.clause
    assert clause is not None
    mild = isinstance(draft.act, Bottles) and bool(draft.refs)
    total = draft.score - against(clause, clauses, weights, mild=mild)
    only_batch = len(message.scene.under_way) == 1
    asked = isinstance(draft.act, Question)
    if draft.refs:
        sure = max(ref.sure for ref in draft.refs)
        total += sure if any(ref in clause.refs for ref in draft.refs) else min(sure, _INHERITED)
    elif message.replying_to is not None and message.replying_to.of is not None:
        total += _REPLY
    elif only_batch and (draft.needs in ("batch", "anything") or (asked and draft.score >= 1.4)):
        total += _ONLY_BATCH * (2 if clause.means("batchword", "it") and not asked else 1)
    if asked and not draft.refs and not message.anchored and not (only_batch and draft.score >= _TELLING):
        total += _asked_of_none(draft, clause)
    if asked and draft.score < _TELLING and any(fold(ref.name) in message.words.people for ref in draft.refs):
        total -= _PERSON
    named = any(other.refs for other in clauses)
    if not named and _of_the_only_wine(draft, clause, message):
        total += _ONLY_WINE
    if _waits_for_labels(draft, message):
        total += _WAITED_FOR
    if message.addressed:
        total += _ADDRESSED
    if _someone_elses(clause, message):
        total -= _SOMEONE_ELSES
    if isinstance(draft.act, Temperature) and not draft.refs and _BODY_C[0] <= draft.act.temp_c <= _BODY_C[1]:
        total -= _SOMEONE_ELSES
    if isinstance(draft.act, Volume) and _names_another(clause):
        total -= _ANOTHER
    if not draft.refs and any(span.is_("batchword", "batch") for span in clause.spans):
        total += _WINE_WORD
    if not draft.refs and _alone(draft, message):
        total += _ALONE
    return total


def only_wine(scene: Scene) -> bool:
    """Whether just one wine is in bottles."""
    return sum(bool(batch.bottled is not None and batch.bottles_left) for batch in scene.batches) == 1


def _of_the_only_wine(draft: Draft, clause: Clause, message: Message) -> bool:
    """ "Drank 2", "how many left": of the one wine in bottles, where nothing else is spoken of."""
    stock = isinstance(draft.act, Question) and draft.act.about == "stock" and not clause.words()
    return (stock or isinstance(draft.act, Bottles)) and only_wine(message.scene)


def _waits_for_labels(draft: Draft, message: Message) -> bool:
    """Whether labels are told of where just one wine in bottles waits for them."""
    label = isinstance(draft.act, Step) and draft.act.step == "label"
    return label and sum(batch.unlabelled for batch in message.scene.batches) == 1


def _asked_of_none(draft: Draft, clause: Clause) -> float:
    """What speaks for a question that names no batch: "it" and the end of its fermentation; against it, every
    word that nothing was made of ("what's next on the telly")."""
    assert isinstance(draft.act, Question)
    unknown = len([span for span in clause.words() if not span.used])
    done = any(span.fold.split()[0] in ("done", "finished") for span in clause.spans if span.tags)
    if draft.act.about == "finish_time" and done and clause.means("batchword", "it") and not unknown:
        return _IT_DONE
    return -_STRANGE * unknown


def _alone(draft: Draft, message: Message) -> bool:
    """Whether the message is nothing but this one value."""
    real = [span for span in message.spans if span.kind not in ("mark", "line") and not span.has("filler")]
    if isinstance(draft.act, Question):
        return len(message.spans) == 1 and " " not in message.spans[0].fold
    return len(real) == 1 and (isinstance(draft.act, Gravity) or len(message.spans) == 1)


def against(
    clause: Clause, clauses: Sequence[Clause], weights: Sequence[float], *, mild: bool = False
) -> float:
    """What speaks against reading a clause as about wine: its leftover words, and chatter around it."""
    unknown = sum(1 for span in clause.spans if span.kind == "word" and not span.used)
    numbers = sum(1 for span in clause.spans if span.qty is not None and not span.used)
    near = _sentence(clause, clauses)
    around = sum(
        weight * (1.0 if index in near else _OTHER_SENTENCE)
        for index, weight in enumerate(weights)
        if clauses[index] is not clause
    )
    total = (
        min(unknown * _UNKNOWN, _MOST_UNKNOWN)
        + _NUMBER * numbers
        + chatter(clause.spans)
        + min(around * _ELSEWHERE, _MOST_ELSEWHERE)
    )
    return total * _MILD if mild else total


def _sentence(clause: Clause, clauses: Sequence[Clause]) -> range:
    """The places of the clauses of the sentence that a clause is in."""
    at = next((index for index, other in enumerate(clauses) if other is clause), 0)
    start = at
    while start > 0 and not clauses[start].hard:
        start -= 1
    end = at + 1
    while end < len(clauses) and not clauses[end].hard:
        end += 1
    return range(start, end)


def _names_another(clause: Clause) -> bool:
    """ "Plum gin 1.5 l": a name that goes on as something else."""
    return any(
        before.ref is not None
        and before.ref.kind != "vessel"
        and (after.kind == "word" or (after.has("chatter") and not after.used))
        for before, after in pairwise(clause.spans)
    )


def _someone_elses(clause: Clause, message: Message) -> bool:
    """ "Jo's wine", "gran's temp": what belongs to nobody of the house."""
    named = bool(clause.refs)
    for span, after in zip(clause.spans, clause.spans[1:], strict=False):
        person = span.kind == "word" or span.is_("filler", "social") or span.has("chatter")
        if span.ref is not None or not person:
            continue
        said = message.said(span).casefold()
        owned = (
            after.is_("batchword", "batch")
            or after.is_("measure", "temperature")
            or after.has("kitword")
            or (after.ref is not None and after.ref.kind in ("batch", "colour"))
            or (not named and after.is_("part", "at"))
        )
        if said.endswith("'s") and said.removesuffix("'s") not in message.scene.members and owned:
            return True
    return False
