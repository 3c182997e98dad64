"""How a message was read: what `bucketside understand --explain` adds to a line. Pure, and only looked at."""

from datetime import datetime
from typing import Any

import msgspec

from bot.cellar.log.plain import to_plain
from bot.understand.judge import weigh
from bot.understand.judge.belief import worth_of
from bot.understand.judge.choice import Choice
from bot.understand.judge.judge import MOST_CLAUSES, dangers_beside
from bot.understand.judge.reading import understand
from bot.understand.judge.sayings import SayingsRead, said_in
from bot.understand.judge.told import Telling
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.message import Message
from bot.understand.text.scan import joined
from bot.understand.text.spans import Span
from bot.understand.text.split import split
from bot.understand.verdict import Verdict

_LIKELIEST = 5


def explained(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None = None,
    replying_to: ReplyTo | None = None,
    addressed: bool = False,
    for_wine: bool = False,
    forwarded: bool = False,
) -> tuple[Verdict, dict[str, Any]]:
    """The verdict on a message, and how it came to it, as JSON values: the words and what each was taken for, what the
    rules read and what the sayings tell with how likely each is, which of them was followed, and what decided."""
    weighed: list[tuple[str, Verdict, SayingsRead | None, Choice | None]] = []
    verdict = understand(
        text,
        scene,
        sent_at,
        by=by,
        replying_to=replying_to,
        addressed=addressed,
        for_wine=for_wine,
        forwarded=forwarded,
        weighed=lambda *found: weighed.append(found),
    )
    as_read, rules, heard, chosen = weighed[0] if weighed else (joined(text), None, None, None)
    message = Message(
        as_read, scene, sent_at, by=by, replying_to=replying_to, addressed=addressed or for_wine
    )
    found = dangers_beside(text, scene, verdict, replying_to, spoken=addressed or for_wine)
    clauses = split(list(message.spans))[:MOST_CLAUSES]
    return verdict, {
        "read_as": as_read,
        "tokens": [token.fold for token in message.tokens],
        "slips": _slips(message),
        "spans": [_span(span, message) for span in message.spans],
        "clauses": [_clause(clause, message) for clause in clauses],
        "claims": _claims(clauses, message),
        "rules": _read(rules),
        "sayings": _sayings(message),
        "heard": _heard(heard),
        "dangers": [{"topic": danger.topic, "sure": danger.sure} for danger in found],
        "open": [msgspec.to_builtins(one)["kind"] for one in scene.open],
        "followed": _followed(verdict, rules, heard),
        "weighed": _weighed(chosen, scene.language),
        "thresholds": {"claim_perhaps": weigh.PERHAPS, "claim_sure": weigh.SURE},
    }


def _span(span: Span, message: Message) -> dict[str, Any]:
    shown: dict[str, Any] = {"said": message.said(span), "kind": span.kind}
    if span.tags:
        shown["means"] = [" ".join(filter(None, (tag.kind, tag.value, tag.form))) for tag in span.tags]
    if span.ref is not None:
        shown["names"] = {"kind": span.ref.kind, "name": span.ref.name, "sure": span.ref.sure}
    if span.qty is not None:
        shown["number"] = {"value": span.qty.value, "unit": span.qty.unit}
    if span.moment is not None:
        shown["time"] = {
            key: value
            for key, value in msgspec.to_builtins(span.moment).items()
            if value not in (None, False)
        }
    return shown


def _slips(message: Message) -> list[dict[str, str]]:
    """The words that were taken for another one."""
    found = [
        {"said": message.said(span), "read_as": span.ref.name if span.ref is not None else span.fold}
        for span in message.spans
        if span.mended
    ]
    for span in message.spans:
        if span.ref is None or span.mended:
            continue
        for token in message.tokens[span.lo : span.hi]:
            near = message.words.near(token.fold) if not message.words.knows(token.fold) else None
            if near is not None and near in span.ref.name.casefold():
                found.append({"said": token.fold, "read_as": near})
    return found


def _clause(clause: Clause, message: Message) -> dict[str, Any]:
    held = {
        "asked": clause.asked or moods.asks(clause),
        "denied": moods.denied(clause),
        "planned": moods.planned(clause),
        "supposed": moods.unreal(clause),
    }
    mood = [name for name, is_so in held.items() if is_so]
    return {"said": message.words_of(clause.spans), "mood": mood or ["told"]} if clause.spans else {}


def _claims(clauses: list[Clause], message: Message) -> list[dict[str, Any]]:
    """What the grammar of clauses makes of the message, with what speaks for each."""
    told = Telling(message, clauses).told()
    return [
        {
            "act": to_plain(draft.act),
            "score": round(score, 2),
            "said": message.words_of(draft.clause.spans) if draft.clause and draft.clause.spans else None,
        }
        for draft, score in zip(told.drafts, told.scores, strict=True)
    ]


def _read(verdict: Verdict | None) -> dict[str, Any] | None:
    if verdict is None:
        return None
    unread = {"unread": verdict.unread} if verdict.unread else {}
    return verdict.to_plain() | unread


def _sayings(message: Message) -> list[dict[str, Any]]:
    said, whole = said_in(message)
    every = [*said, whole] if whole is not None and len(said) > 1 else said
    return [
        {
            "said": message.words_of(one.saying.spans),
            "likeliest": {label: round(share, 3) for label, share in one.ranked(_LIKELIEST)},
        }
        for one in every
    ]


def _heard(heard: SayingsRead | None) -> dict[str, Any] | None:
    if heard is None:
        return None
    return {
        "read": _read(heard.verdict),
        "labels": list(heard.labels),
        "sure": round(heard.sure, 3),
        "talk": round(heard.talk, 3),
        "asks": round(heard.asks, 3),
        "left": heard.left,
    }


def _followed(verdict: Verdict, rules: Verdict | None, heard: SayingsRead | None) -> str:
    """Which reading the verdict is: an answer to what is `open`, that of the `rules`, of the `sayings`, of `both`, or of
    `neither`."""
    if verdict.answers is not None:
        return "open"
    told = heard.verdict if heard is not None else None
    by_rules = rules is not None and _same(verdict, rules)
    by_sayings = told is not None and _same(verdict, told)
    if by_rules and by_sayings:
        return "both"
    return "rules" if by_rules else "sayings" if by_sayings else "neither"


def _same(verdict: Verdict, other: Verdict) -> bool:
    return (verdict.verdict, verdict.acts) == (other.verdict, other.acts)


def _weighed(chosen: Choice | None, language: str) -> dict[str, Any] | None:
    """How likely each reading is right and the bot meant, the signs that say so most, and what each way is likely to cost;
    None where nothing had to be weighed."""
    if chosen is None or chosen.believed is None:
        return None
    likely = {name: round(share, 3) for name, share in chosen.believed._asdict().items()}
    return {
        "likely": likely,
        "signs": {
            asked: {name: round(worth, 2) for name, worth in speaks[:_LIKELIEST]}
            for asked, speaks in worth_of(chosen.signs, language).items()
        },
        "costs": [
            {"cost": round(way.cost, 3), "verdict": way.verdict.verdict, "why": way.verdict.why}
            for way in sorted(chosen.ways, key=lambda way: way.cost)
        ],
    }
