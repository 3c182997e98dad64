"""The command's window on understanding: JSON Lines in, JSON Lines out. Never a crash."""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from functools import partial
from typing import Any

import msgspec

from bot.cellar.log.acts import StepName
from bot.cellar.log.plain import from_plain
from bot.understand.explain import explained
from bot.understand.judge.reading import understand
from bot.understand.scene import JustSaid, LetterSaid, LookAsked, NumberWanted, Open, ReplyTo, Scene

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
    open: dict[str, Any] | list[dict[str, Any]] = []


class _Opens(msgspec.Struct):
    """What is open as a struct: what such a union means is worked out once."""

    one: Open


_decoder = msgspec.json.Decoder(_MessageLine)


def command(lines: Iterable[str], scene: Scene, *, explain: bool = False) -> Iterator[str]:
    """One output line for each message line; with `explain` it says how it was read. A line that is none gets an
    `ignore` whose `why` says so."""
    for line in lines:
        if line.strip():
            yield msgspec.json.encode(_answer(line, scene, explain=explain)).decode()


def _answer(line: str, scene: Scene, *, explain: bool) -> dict[str, Any]:
    try:
        said = _decoder.decode(line.encode("utf-8", "replace"))
        opens = _opened(said.open)
    except (msgspec.DecodeError, UnicodeError, TypeError, ValueError, AttributeError) as error:
        return _bad(f"not a message line: {error}")
    sent_at = said.sent_at if said.sent_at.tzinfo else said.sent_at.replace(tzinfo=UTC)
    reply, addressed = _reply(said.replying_to)
    scene = msgspec.structs.replace(scene, open=opens)
    read = partial(
        explained if explain else understand,
        said.text,
        scene,
        sent_at,
        by=said.by,
        replying_to=reply or _alone(opens),
        addressed=said.addressed or addressed,
        for_wine=said.chat == "wine",
        forwarded=said.forwarded,
    )
    found = read()
    if isinstance(found, tuple):
        verdict, how = found
        return {**verdict.to_plain(), "explain": how}
    return found.to_plain()


def _opened(said: dict[str, Any] | list[dict[str, Any]]) -> tuple[Open, ...]:
    """What is open, from its JSON: an object or several. Raises msgspec.ValidationError."""
    opens = [_one(plain) for plain in (said if isinstance(said, list) else [said]) if plain]
    if not any(isinstance(one, JustSaid) for one in opens):
        opens += [just for one in opens[:1] if (just := _just_said(one)) is not None]
    return tuple(opens)


def _one(plain: dict[str, Any]) -> Open:
    fields = {"ago": 60 * plain.get("minutes_ago", 0), **plain}
    fields.pop("minutes_ago", None)
    if fields.get("kind") == "options":
        fields["options"] = [
            [from_plain(act) for act in (option if isinstance(option, list) else [option])]
            for option in fields.get("options", ())
        ]
    for things in ("things", "among"):
        if things in fields:
            fields[things] = [{"id": place, **one} for place, one in enumerate(fields[things], 1)]
    if fields.get("kind") == "look":
        of = fields["of"] if isinstance(fields.get("of"), list) else [fields.get("of")]
        fields = {"letter": of, "alone": len(of) == 1, **fields, "of": of}
    return msgspec.convert({"one": fields}, type=_Opens, strict=False).one


def _just_said(one: Open) -> JustSaid | None:
    """What the bot was speaking of with that, where it is one thing."""
    names: set[str | None] = set()
    if isinstance(one, LetterSaid):
        names = {thing.of for thing in one.things}
    elif isinstance(one, NumberWanted):
        names = {one.of}
    elif isinstance(one, LookAsked):
        names = set(one.of)
    return JustSaid(of=names.pop(), ago=one.ago) if len(names) == 1 else JustSaid(ago=one.ago)


def _alone(opens: tuple[Open, ...]) -> ReplyTo | None:
    """What is replied to where that is a letter that says one thing."""
    letter = next((one for one in opens if isinstance(one, LetterSaid) and one.replied), None)
    if letter is None or len(letter.things) != 1:
        return ReplyTo() if any(one.replied for one in opens) else None
    (thing,) = letter.things
    return ReplyTo(of=thing.of, step=thing.step, what=thing.what)


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
