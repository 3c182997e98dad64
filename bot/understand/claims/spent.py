"""What was spent, in a saying that tells of a cost: "corks were 6.40", "spent four pounds sixty on a new airlock"."""

from functools import lru_cache

from bot.cellar.log.acts import Cost
from bot.understand.claims.drafts import Draft
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying
from bot.understand.text.spans import Span

_SCORE = 9.0
_MOST_WORDS = 4
_HUNDREDTHS = 100
_DECIMALS = 2


def spent(message: Message, part: Saying) -> Draft | None:
    """The cost that a saying tells; None where no number in it is plainly the money."""
    amount = _amount(message, part)
    if amount is None or amount <= 0:
        return None
    draft = Draft(Cost(what=_what(message, part), amount=amount), _SCORE, "nothing")
    if len(message.scene.batches) == 1:
        draft.refs = [Ref("batch", message.scene.batches[0].name)]
    return draft


def surely_spent(message: Message, part: Saying) -> bool:
    """Whether it is money, and what it was spent on is something that wine is made with: "18 quid on bottles"."""
    goods = _words(message.scene.language)["goods"]
    return told_money(message, part) and any(fold in goods for fold in message.folds_of(part.spans))


def priced(message: Message, thing: Saying, price: Saying) -> bool:
    """ "Oak chips for plum: $7.80": whether a saying of money alone is the price of what the one before it names."""
    between = {token.fold for token in message.tokens[thing.spans[-1].hi : price.spans[0].lo]}
    counted = any(span.qty is not None and not span.qty.unit for span in thing.spans)
    named = any(span.kind == "word" or span.has("substance") or span.has("unit") for span in thing.spans)
    return bool(between & _PRICED) and not counted and named


_PRICED = frozenset({":", "=", ","})


def told_money(message: Message, part: Saying) -> bool:
    """Whether a number in a saying has the sign or the word of money."""
    return _note_of(message, part) is not None or any(
        span.qty is not None and _is_money(message, span) for span in part.spans
    )


def _note_of(message: Message, part: Saying) -> float | None:
    """ "A fiver": money by a name of its own."""
    notes = tables_of(message.scene.language, "banknotes")
    return next((float(notes[fold]) for fold in message.folds_of(part.spans) if fold in notes), None)


def _amount(message: Message, part: Saying) -> float | None:
    """The money: a number with its sign or word, else one in hundredths, else the only one without a unit, else a note by
    its name."""
    numbers = [span for span in part.spans if span.qty is not None]
    for span in numbers:
        after = message.tokens[span.hi].fold if span.hi < len(message.tokens) else ""
        if span.qty is not None and after in _words(message.scene.language)["hundredths"]:
            return round(span.qty.value / _HUNDREDTHS, _DECIMALS)
        if span.qty is not None and _is_money(message, span):
            return round(span.qty.value + _hundredths(message, part, span), _DECIMALS)
    plain = [span.qty for span in numbers if span.qty is not None and span.qty.unit is None]
    exact = [quantity for quantity in plain if quantity.decimals == _DECIMALS] or plain
    return round(exact[0].value, _DECIMALS) if len(exact) == 1 else _note_of(message, part)


def _is_money(message: Message, span: Span) -> bool:
    coins = _words(message.scene.language)["coins"]
    around = (*message.tokens[max(span.lo - 1, 0) : span.lo], *message.tokens[span.lo : span.hi + 1])
    return any(token.fold in coins for token in around)


def _hundredths(message: Message, part: Saying, money: Span) -> float:
    """ "Four pounds sixty": the second number of money, in whole ones."""
    coins = _words(message.scene.language)["coins"]
    after = [span for span in part.spans if span.lo >= money.hi]
    if after and after[0].fold in coins:
        after = after[1:]
    quantity = after[0].qty if after else None
    if quantity is None or quantity.unit is not None or quantity.decimals or quantity.value >= _HUNDREDTHS:
        return 0.0
    return quantity.value / _HUNDREDTHS


def _what(message: Message, part: Saying) -> str:
    """What it was spent on: what wine is made with, else by the words that are none of money, buying or who."""
    known = _words(message.scene.language)
    told = [
        token.fold
        for span in part.spans
        if span.qty is None and span.ref is None and span.moment is None
        for token in message.tokens[span.lo : span.hi]
    ]
    goods = next((word for word in told if word in known["goods"]), None)
    if goods is not None:
        return goods
    leads = [at for at, word in enumerate(told) if word in known["leads"]]
    after = [word for word in told[leads[-1] + 1 :] if _names(word, known)] if leads else []
    named = after or [word for word in told if _names(word, known)]
    return " ".join(named[:_MOST_WORDS] or known["else"])


def _names(word: str, known: dict[str, frozenset[str]]) -> bool:
    return word.isalpha() and word not in known["small"] and word not in known["coins"]


@lru_cache(maxsize=8)
def _words(language: str) -> dict[str, frozenset[str]]:
    return {name: frozenset(said.split()) for name, said in tables_of(language, "spent").items()}
