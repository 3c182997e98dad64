"""What a saying tells of empty vessels: washed, or dirty, by the words for that in any order and form."""

from functools import lru_cache
from typing import Literal

import msgspec

from bot.cellar.log.acts import Vessel
from bot.understand.claims.drafts import Draft
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying

_SCORE = 1.0
_BEFORE = 4
"""Words before "washed" in which it may be said that it still is to be done."""


class _StateWords(msgspec.Struct, frozen=True):
    clean: frozenset[str]
    dirty: frozenset[str]
    undone: frozenset[str]
    sanitised: frozenset[str]


@lru_cache(maxsize=8)
def _words(language: str) -> _StateWords:
    plain = tables_of(language, "states")
    return _StateWords(**{name: frozenset(words.split()) for name, words in plain.items()})


def empty_vessels(message: Message, part: Saying) -> list[Ref]:
    """The vessels of a saying, where it names nothing else and no wine is in them."""
    refs = [span.ref for span in part.spans if span.ref is not None]
    holds = message.targets.in_vessel
    known = {vessel.name for vessel in message.scene.vessels}
    if any(ref.kind != "vessel" or ref.name in holds or ref.name not in known for ref in refs):
        return []
    return list(dict.fromkeys(refs))


def states(message: Message, part: Saying, of: Saying) -> list[Draft]:
    """How clean a saying says that the empty vessels are that are named in `of`; [] where it says nothing of that, or of
    something else besides."""
    vessels = empty_vessels(message, of)
    if not vessels or any(span.qty is not None for span in part.spans):
        return []
    words = _words(message.scene.language)
    folds = message.folds_of(part.spans)
    if words.sanitised.intersection(folds):
        return []
    at = next((at for at, fold in enumerate(folds) if fold in words.clean), None)
    undone = unwashed(message, part)
    clean = at is not None and not undone and not _only_dirty(folds, words)
    if not (clean or undone or words.dirty.intersection(folds)):
        return []
    state: Literal["clean", "dirty"] = "clean" if clean else "dirty"
    return [Draft(Vessel(of=ref.name, state=state), _SCORE, "nothing", settled=True) for ref in vessels]


def unwashed(message: Message, part: Saying) -> bool:
    """ "Demijohn 2 hasn't been washed", "wants a scrub": whether it says that the cleaning is still to be done."""
    words, folds = _words(message.scene.language), message.folds_of(part.spans)
    at = next((at for at, fold in enumerate(folds) if fold in words.clean), 0)
    return bool(words.undone.intersection(folds[max(0, at - _BEFORE) : at]))


def _only_dirty(folds: list[str], words: _StateWords) -> bool:
    """ "Washed the mould out of bucket 3" is clean; "still mouldy, though washed" is not."""
    last = [fold for fold in folds if fold in words.clean or fold in words.dirty][-1]
    return last in words.dirty and folds.index(last) > 0 and bool(words.undone.intersection(folds))
