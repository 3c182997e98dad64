"""What people say of a reminder's letter in words of its own: somebody else will do it, not me, the corks are
bought, the gas is out. The forms are data, in `reminders.toml`, under `letter`."""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from bot.understand.text.language import tables_of
from bot.understand.text.scan import fold
from bot.understand.text.spans import Span


class LetterWords:
    """The forms of a language, ready to be matched for one house's members."""

    def __init__(self, language: str, members: tuple[str, ...]) -> None:
        table: dict[str, Any] = tables_of(language, "forms")["letter"]
        self.members = {fold(member): member for member in members if member.strip()}
        who = "|".join(sorted(map(re.escape, self.members), key=len, reverse=True))
        self.polite, self.more, self.talk = (frozenset(table[key]) for key in ("polite", "more", "talk"))
        self.hands = self._forms(table["hands"], table, who) if who else []
        self.declines = self._forms(table["declines"], table, who)
        self.got = self._forms(table["got"], table, who)
        self.gas_out = self._forms(table["gas_out"], table, who)
        self.gas_in = self._forms(table["gas_in"], table, who)
        self.excepting = re.compile(table["excepting"], re.IGNORECASE)
        self.good = re.compile(rf"\b(?:{table['good']})\b")

    @staticmethod
    def _forms(forms: Sequence[str], table: dict[str, Any], who: str) -> list[re.Pattern[str]]:
        parts = {"<who>": f"(?P<who>{who})", "<goods>": table["goods"].replace("<good>", table["good"])}
        return [
            re.compile(re.sub("<who>|<goods>", lambda mark: parts[mark[0]], form) + table["close"])
            for form in forms
        ]

    def said(self, spans: Sequence[Span]) -> str:
        """The words as the forms have them: folded, without marks and without polite words before them."""
        words = [span.fold for span in spans if span.kind not in ("mark", "line")]
        while words and words[0] in self.polite:
            del words[0]
        return " ".join(words)

    def handed_to(self, said: str) -> str | None:
        """The member who will do it: "bo can do it", "ask bo"."""
        found = next((found for form in self.hands if (found := form.fullmatch(said))), None)
        return self.members[found["who"]] if found is not None else None

    def goods(self, said: str) -> frozenset[str] | None:
        """What is said to be in the house ("got the corks"), in words; none of them for "got them"."""
        return self.goods_named(said) if _fits(self.got, said) else None

    def goods_named(self, said: str) -> frozenset[str]:
        """The words for things to buy that are in it."""
        return frozenset(self.good.findall(said))

    def gas(self, said: str) -> bool | None:
        """Whether all the gas is out, for degassing; None where nothing is said of it."""
        return True if _fits(self.gas_out, said) else False if _fits(self.gas_in, said) else None

    def declined(self, said: str) -> bool:
        """Whether the writer will not do it: "not me", "can't"."""
        return _fits(self.declines, said)


def _fits(forms: Sequence[re.Pattern[str]], said: str) -> bool:
    return any(form.fullmatch(said) for form in forms)


@lru_cache(maxsize=64)
def letter_words(language: str, members: tuple[str, ...]) -> LetterWords:
    """What is said of letters in this language and house."""
    return LetterWords(language, members)
