"""The command's window on understanding: JSON Lines in, JSON Lines out. Never a crash."""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

import msgspec

from bot.cellar.log.acts import StepName
from bot.understand.judge.reading import understand
from bot.understand.scene import ReplyTo, Scene

_BOT = frozenset({"bot", "bucketside", "the bot"})


class _RepliedTo(msgspec.Struct, frozen=True):
    of: str | None = None
    step: StepName | None = None


class _MessageLine(msgspec.Struct, frozen=True):
    """One input line of the contract."""

    text: str
    sent_at: datetime
    by: str | None = msgspec.field(default=None, name="from")
    replying_to: str | _RepliedTo | None = None
    addressed: bool = False
    forwarded: bool = False
    chat: str = "family"


_decoder = msgspec.json.Decoder(_MessageLine)


def command(lines: Iterable[str], scene: Scene) -> Iterator[str]:
    """One output line for each message line. A line that is none gets an `ignore` whose `why` says so."""
    for line in lines:
        if line.strip():
            yield msgspec.json.encode(_answer(line, scene)).decode()


def _answer(line: str, scene: Scene) -> dict[str, Any]:
    try:
        said = _decoder.decode(line.encode("utf-8", "replace"))
    except (msgspec.DecodeError, UnicodeError) as error:
        return _bad(f"not a message line: {error}")
    sent_at = said.sent_at if said.sent_at.tzinfo else said.sent_at.replace(tzinfo=UTC)
    reply, addressed = _reply(said.replying_to)
    verdict = understand(
        said.text,
        scene,
        sent_at,
        by=said.by,
        replying_to=reply,
        addressed=said.addressed or addressed,
        for_wine=said.chat == "wine",
        forwarded=said.forwarded,
    )
    return verdict.to_plain()


def _reply(replying_to: str | _RepliedTo | None) -> tuple[ReplyTo | None, bool]:
    """What is replied to, and whether that is the bot itself."""
    if replying_to is None:
        return None, False
    if isinstance(replying_to, str):
        if replying_to.casefold() in _BOT:
            return ReplyTo(), True
        return ReplyTo(of=replying_to), False
    return ReplyTo(of=replying_to.of, step=replying_to.step), False


def _bad(why: str) -> dict[str, Any]:
    return {"verdict": "ignore", "acts": [], "why": why}
