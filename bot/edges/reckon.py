"""The command `bucketside reckon`: a sum from `key=value` words, for people or as JSON."""

import json
from collections.abc import Sequence

from bot.say.catalogue import command, in_words, listing, refusal, to_plain
from bot.science.limits import BadInput
from bot.science.sums.reckon import CATALOGUE, reckon

_HELP = ("--help", "-h")


class _Unreadable(Exception):
    """Words that name no sum, or no key with its value; the text is what to write instead."""


def run(argv: Sequence[str]) -> tuple[int, str, str]:
    """`bucketside reckon` with these arguments: exit status, what goes out, what goes to standard error.

    Wrong input: status 2 and one line.
    """
    words = [word for word in argv if word not in ("--json", *_HELP)]
    try:
        if any(word in _HELP for word in argv):
            return 0, listing(words[0] if words else None), ""
        if not words:
            raise _Unreadable(command("no_name", sums=CATALOGUE))
        reckoned = reckon(words[0], _pairs(words[1:]))
    except BadInput as error:
        return 2, "", refusal(error)
    except _Unreadable as error:
        return 2, "", str(error)
    if "--json" in argv:
        return 0, json.dumps(to_plain(reckoned), ensure_ascii=False), ""
    return 0, in_words(reckoned), ""


def _pairs(words: Sequence[str]) -> dict[str, float | str]:
    given: dict[str, float | str] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals:
            raise _Unreadable(command("no_pair", value=word))
        if key in given:
            raise _Unreadable(command("twice", value=key))
        given[key] = value
    return given
