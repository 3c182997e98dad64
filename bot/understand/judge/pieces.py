"""Pieces of a message that have a form of their own, beside whatever else it tells: "plum 1.012, bucket 3 is dirty"."""

from collections.abc import Sequence

from bot.cellar.log.acts import Act, Question, Step, Vessel
from bot.understand.claims.drafts import Draft
from bot.understand.claims.said import SURE, AllTold, Claim
from bot.understand.forms.asked import known_question
from bot.understand.forms.forms import read_piece
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, asks

_LONGEST_RUN = 3
"""So many sayings one form can go over: "split plum: 5 l to demijohn 1, the rest to bucket 3"."""
_BY_FORM = 0.97
"""How sure what has a form of its own is."""


def with_pieces(told: AllTold, message: Message) -> None:
    """Puts what pieces tell by a form of their own in the place of what their sayings were taken for."""
    parts = told.parts
    if len(parts) < 2:
        return  # read whole before
    at = 0
    while at < len(parts):
        for count in range(min(_LONGEST_RUN, len(parts) - at), 0, -1):
            some = parts[at : at + count]
            acts = _told_by(some, message)
            if acts and not _told_more(told, some, acts):
                _put(told, some, acts)
                at += count - 1
                break
        at += 1


def _told_more(told: AllTold, some: Sequence[Saying], acts: Sequence[Act]) -> bool:
    """Whether the sayings, or the next one of the same, were heard to say that what was only washed was sanitised."""
    at = next(at for at, part in enumerate(told.parts) if part is some[-1])
    then = [
        part for part in told.parts[at + 1 : at + 2] if not any(span.ref is not None for span in part.spans)
    ]
    mine = [
        claim.draft.act
        for claim in told.claims
        if claim.draft is not None and any(claim.part is one for one in (*some, *then))
    ]
    cleaned = any(isinstance(act, Step) and act.step == "sanitise" for act in mine)
    return cleaned and all(isinstance(act, Vessel) and act.state == "clean" for act in acts)


def _told_by(some: Sequence[Saying], message: Message) -> tuple[Act, ...]:
    spans = [span for part in some for span in part.spans]
    if not all(part.spans for part in some) or not any(span.ref is not None for span in spans):
        return ()
    said = message.words_of(spans)
    if any(map(asks, some)):
        return _asked(said, message) if len(some) == 1 else ()
    acts = read_piece(said, message.scene, message.sent_at, asked=False)
    full = message.targets.in_vessel
    if any(isinstance(act, Vessel) and act.state == "clean" and act.of in full for act in acts):
        return ()  # whatever was washed, it was not emptied
    return acts


def _asked(said: str, message: Message) -> tuple[Act, ...]:
    """What a piece asks by a form of its own: "plum 1.012. is it all right?"."""
    acts = read_piece(said, message.scene, message.sent_at, asked=True)
    if acts:
        return acts if all(isinstance(act, Question) for act in acts) else ()
    question = known_question(said, message.scene, message.sent_at, addressed=message.addressed)
    return (question,) if question is not None else ()


def _put(told: AllTold, some: Sequence[Saying], acts: Sequence[Act]) -> None:
    taken = set(map(id, some))
    label = next((claim.label for claim in told.claims if id(claim.part) in taken), "vessel")
    place = {id(part): at for at, part in enumerate(told.parts)}
    told.claims = [claim for claim in told.claims if id(claim.part) not in taken]
    told.claims += [
        Claim(Draft(act, SURE, "nothing", settled=True), _BY_FORM, label, some[0]) for act in acts
    ]
    told.claims.sort(key=lambda claim: place.get(id(claim.part), len(place)))
    told.left = [part for part in told.left if id(part) not in taken]
