"""Who may invite, said in words: "everybody may invite", "only I invite". The forms are data, in the table
`inviting` of `invitations.toml`."""

import re
from functools import lru_cache
from typing import Any, Literal

from bot.understand.text.language import tables_of
from bot.understand.text.scan import scan, tidy

Inviting = Literal["all", "owner", "ask"]


@lru_cache(maxsize=8)
def _table(language: str) -> dict[str, Any]:
    table: dict[str, Any] = tables_of(language, "invitations")["inviting"]
    return table


@lru_cache(maxsize=64)
def _forms(language: str, owner: str, spoken_to: bool) -> tuple[tuple[Inviting, re.Pattern[str]], ...]:
    table = _table(language)
    does = f"(?:{table['does']}|{table['does_more']})" if spoken_to else table["does"]
    sole = table["sole"].replace("<owner>", re.escape(owner) or "the owner")
    parts = {"<all>": table["all"], "<may>": table["may"], "<sole>": sole, "<does>": does}
    parts["<owner>"] = re.escape(owner) or "the owner"
    kinds: tuple[tuple[Inviting, str], ...] = (("owner", "owner"), ("all", "everybody"), ("ask", "ask"))
    return tuple(
        (kind, re.compile(table["polite"] + re.sub("<[a-z]+>", lambda m: parts[m[0]], form) + table["close"]))
        for kind, name in kinds
        for form in table[name]
    )


def inviting(text: str, owner: str, *, spoken_to: bool, language: str = "en") -> Inviting | None:
    """Whether the whole message says that all may invite, or only the owner (of that name), or asks who may.
    `spoken_to` is whether it was said to the bot: what could be talk among people counts only then."""
    if len(text) > _table(language)["longest"]:
        return None
    words = _folded(text)
    found = (kind for kind, form in _forms(language, _folded(owner), spoken_to) if form.fullmatch(words))
    return next(found, None)


def _folded(text: str) -> str:
    return " ".join(token.fold for token in scan(tidy(text)) if token.fold.isalnum())
