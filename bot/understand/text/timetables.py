"""Phrases of time by the words they are made of, and the longest of them that stands at a place."""

from collections.abc import Sequence

from bot.understand.text.scan import Token
from bot.understand.text.times import Moment


class Phrases(dict[tuple[str, ...], str]):
    """Phrases by their words, and the words that they begin with: most words of a message begin none."""

    def __init__(self, table: dict[str, list[str]]) -> None:
        super().__init__((tuple(phrase.split()), value) for value, said in table.items() for phrase in said)
        self.firsts = frozenset(phrase[0] for phrase in self)


def longest(table: Phrases, tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    if at >= len(tokens) or tokens[at].fold not in table.firsts:
        return None
    words = [token.fold for token in tokens[at : at + 4]]
    for length in range(len(words), 0, -1):
        phrase = tuple(words[:length])
        if phrase in table:
            return at + length, table[phrase]
    return None


def longest_in(table: set[tuple[str, ...]], tokens: Sequence[Token], at: int) -> int | None:
    words = [token.fold for token in tokens[at : at + 4]]
    for length in range(len(words), 0, -1):
        if tuple(words[:length]) in table:
            return at + length
    return None


def whole_moment(value: str) -> Moment:
    """ "last night" is `-1 night`, "noon" is `12:00`."""
    if ":" in value:
        hour, minute = value.split(":")
        return Moment(clock=(int(hour), int(minute)), half="24")
    days, part = value.split(" ")
    return Moment(days=int(days), part=part)
