"""Acts as plain JSON values: as the contract prints them, and as the log keeps them.

The two differ only for questions and for what is said of reminders: the contract has one word for each, the log an act
each. The log was once written in the contract's form, and those entries stand: they are lifted here, when they are read.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal, assert_never

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Done,
    Draw,
    Look,
    Promised,
    PutOff,
    Question,
    Remind,
    Split,
    Step,
    StepName,
    TakeOn,
    Timer,
    Volume,
)
from bot.cellar.log.subjects import (
    About,
    BottlesToCome,
    Compare,
    FermentRange,
    Input,
    IsAllRight,
    IsFinished,
    IsSafe,
    IsStuck,
    LitresLeft,
    Lore,
    Matter,
    Named,
    NextReading,
    Occasion,
    Plans,
    Reckon,
    Safety,
    Shopping,
    Subject,
    Vessels,
    WasDone,
    Wish,
)

# Left out of the JSON when there is nothing to say; every other field is shown, null or not.
_SILENT_WHEN_NONE = frozenset(
    {"at", "temp_c", "to", "bottles", "plan", "entry", "batch", "brix", "instrument", "left", "which"}
)

_OF_LITRES = frozenset({"vessel", "litres", "using", "donor"})
"""The same, of acts that move litres; a beginning shows its own."""

# The contract's words for what is said of reminders.
_TIMER, _CLOUDY, _CLEAR = "timer", "cloudy", "clear"


def to_plain(act: Act) -> dict[str, Any]:
    """The act as the contract prints it, times in ISO 8601 with their offset."""
    if isinstance(act, Promised | Question):
        said = _reminder(act) if isinstance(act, Promised) else _question(act.subject)
        do = "reminder" if isinstance(act, Promised) else "question"
        at = {} if act.at is None else {"at": act.at}
        return _in_iso({"do": do, "of": act.of} | at | said)
    plain: dict[str, Any] = msgspec.to_builtins(act, builtin_types=(datetime,))
    if isinstance(act, Step | Volume | Draw | Addition | Split):
        plain = {key: value for key, value in plain.items() if value is not None or key not in _OF_LITRES}
    if isinstance(act, Split):
        plain["into"] = [{k: v for k, v in one.items() if k != "rest" or v} for one in plain["into"]]
    if isinstance(act, Amend):
        plain = _told(plain)
    return _in_iso({k: v for k, v in plain.items() if v is not None or k not in _SILENT_WHEN_NONE})


def to_row(act: Act) -> dict[str, Any]:
    """The act as the log keeps it."""
    if isinstance(act, Promised | Question):
        plain: dict[str, Any] = msgspec.to_builtins(act, builtin_types=(datetime,))
        return _in_iso(_told(plain))
    return to_plain(act)


def from_plain(plain: object) -> Act:
    """The act that `to_row` or `to_plain` wrote, in this version or an earlier one. Raises msgspec.ValidationError when
    it is none."""
    do = plain.get("do") if isinstance(plain, dict) else None
    if do == "reminder":
        return _lifted_reminder(msgspec.convert(plain, type=_Reminder))
    if do == "question" and isinstance(plain, dict) and "subject" not in plain:
        asked = msgspec.convert(plain, type=_PlainQuestion)
        return Question(of=asked.of, at=asked.at, subject=_lifted_subject(asked))
    return msgspec.convert({"act": plain}, type=_One).act


class _One(msgspec.Struct, frozen=True):
    """Any act: msgspec remembers how to read a struct, while a bare union it works out anew each time."""

    act: Act


def _told(plain: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in plain.items() if value is not None}


def _in_iso(plain: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value.isoformat() if isinstance(value, datetime) else value for key, value in plain.items()}


# ---------------------------------------------------------------------- what is said of reminders


class _Reminder(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of reminders, in the contract's form."""

    of: str | None = None
    at: datetime | None = None
    action: Literal["done", "later", "mine"]
    until: datetime | None = None
    step: StepName | None = None
    what: str | None = None
    about: str | None = None
    whom: str | None = None


def _reminder(act: Promised) -> dict[str, Any]:
    match act:
        case Remind():
            said = {"action": "later", "until": act.until, "step": act.step}
            said |= {"about": act.about, "whom": act.whom}
        case PutOff():
            said = {"action": "later", "until": act.until, "step": act.step, "what": act.what}
        case TakeOn():
            said = {"action": "mine", "until": act.until, "step": act.step, "what": act.what}
            said |= {"whom": act.whom}
        case Done():
            said = {"action": "done", "step": act.step, "what": act.what}
        case Look(found="clear"):
            said = {"action": "done", "until": act.until, "what": act.what}
        case Look():
            said = {"action": "later", "until": act.until, "what": act.what, "about": _CLOUDY}
        case Timer():
            said = {"action": "later", "until": act.until, "step": act.step, "what": _TIMER}
        case _:
            assert_never(act)
    return _told(said)


def _lifted_reminder(old: _Reminder) -> Act:
    of, at, until, step, what = old.of, old.at, old.until, old.step, old.what
    match old.action:
        case "mine":
            return TakeOn(of=of, at=at, until=until, step=step, what=what, whom=old.whom)
        case "done" if what is not None and what.partition(" ")[0] == _CLEAR:
            return Look(of=of, at=at, what=what, found="clear", until=until)
        case "done":
            return Done(of=of, at=at, step=step, what=what)
        case "later" if what is None and (old.about is not None or old.whom is not None or step is None):
            return Remind(of=of, at=at, until=until, step=step, about=old.about, whom=old.whom)
        case "later" if what is not None and old.about == _CLOUDY:
            return Look(of=of, at=at, what=what, found="cloudy", until=until)
        case "later" if what == _TIMER and step is not None and until is not None:
            return Timer(of=of, at=at, step=step, until=until)
        case "later":
            return PutOff(of=of, at=at, until=until, step=step, what=what)
        case _:
            assert_never(old.action)


# ---------------------------------------------------------------------- questions


class _PlainQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """A question in the contract's form."""

    of: str | None = None
    at: datetime | None = None
    about: About
    reckon: str | None = None
    given: dict[str, float | str] | None = None
    verdict: Literal["finished", "all_right", "stuck", "safe"] | None = None
    wishes: tuple[Wish, ...] | None = None
    unused: tuple[str, ...] | None = None


def _question(subject: Subject) -> dict[str, Any]:
    plain = msgspec.to_builtins(_asked(subject))
    return {key: value for key, value in plain.items() if value is not None and key not in ("of", "at")}


def _asked(subject: Subject) -> _PlainQuestion:
    match subject:
        case Matter(about=about):
            return _PlainQuestion(about=about)
        case Reckon():
            return _PlainQuestion(
                about="reckon", reckon=subject.sum, given=subject.given, unused=subject.unused or None
            )
        case FermentRange(at_c=at_c):
            return _PlainQuestion(about="temperature", given=_told({"wanted": "range", "at_c": at_c}))
        case LitresLeft(vessel=vessel):
            litres: dict[str, float | str] = {"wanted": "litres"}
            return _PlainQuestion(
                about="stock", given=litres if vessel is None else litres | {"vessel": vessel}
            )
        case BottlesToCome():
            return _PlainQuestion(about="stock", given={"wanted": "expected"})
        case IsFinished(stopped=stopped):
            return _PlainQuestion(
                about="finish_time", verdict="finished", given={"asked": "stopped"} if stopped else None
            )
        case IsAllRight():
            return _PlainQuestion(about="stage", verdict="all_right")
        case IsStuck(restart=restart):
            return _PlainQuestion(
                about="stage", verdict="stuck", given={"asked": "help"} if restart else None
            )
        case IsSafe(drink=drink):
            return _PlainQuestion(
                about="stage", verdict="safe", given={"asked": "drink" if drink else "other"}
            )
        case Vessels(vessel=vessel, free=free):
            which = _told({"vessel": vessel, "wanted": "free" if free else None})
            return _PlainQuestion(about="vessels", given=which or None)
        case Plans(plan=plan):
            return _PlainQuestion(about="plans", given={"plan": plan} if plan is not None else None)
        case Occasion():
            return _PlainQuestion(about="occasion", wishes=subject.wishes)
        case Safety():
            return _PlainQuestion(about="safety", given={"topic": subject.topic})
        case Lore():
            return _PlainQuestion(about="craft", given={"topic": subject.topic})
        case NextReading():
            return _PlainQuestion(about="next", given={"wanted": "reading"})
        case Compare():
            return _PlainQuestion(
                about="overview", given=_told({"wanted": "compare", "other": subject.other})
            )
        case WasDone():
            return _PlainQuestion(about="stage", given=_told({"wanted": "done", "step": subject.step}))
        case Shopping():
            return _PlainQuestion(about="next", given={"wanted": "shopping"})
        case _:
            assert_never(subject)


def _lifted_subject(old: _PlainQuestion) -> Subject:
    given = old.given or {}
    asked, wanted = given.get("asked"), given.get("wanted")
    match old.verdict:
        case "finished":
            return IsFinished(stopped=asked == "stopped")
        case "all_right":
            return IsAllRight()
        case "stuck":
            return IsStuck(restart=asked == "help")
        case "safe":
            return IsSafe(drink=asked != "other")
        case None:
            pass
        case _:
            assert_never(old.verdict)
    match old.about:
        case "reckon":
            inputs = tuple(Input(key=key, value=value) for key, value in given.items())
            return Reckon(sum=old.reckon or "", inputs=inputs, unused=old.unused or ())
        case "temperature" if wanted == "range":
            return FermentRange(at_c=_figure(given, "at_c"))
        case "stock" if wanted == "litres":
            return LitresLeft(vessel=_word(given, "vessel"))
        case "stock" if wanted is not None:
            return BottlesToCome()
        case "vessels":
            return Vessels(vessel=_word(given, "vessel"), free=wanted == "free")
        case "plans":
            return Plans(plan=_word(given, "plan"))
        case "occasion":
            return Occasion(wishes=old.wishes or ())
        case "safety":
            return Safety(topic=_word(given, "topic") or "")
        case "craft":
            return Lore(topic=_word(given, "topic") or "")
        case "next" if wanted == "reading":
            return NextReading()
        case "overview" if wanted == "compare":
            return Compare(other=_word(given, "other"))
        case "stage" if wanted == "done":
            return WasDone(step=msgspec.convert(given.get("step"), type=StepName | None))
        case "next" if wanted == "shopping":
            return Shopping()
        case _:
            about: Named = old.about
            return Matter(about=about)


def _figure(given: Mapping[str, float | str], key: str) -> float | None:
    return float(given[key]) if key in given else None


def _word(given: Mapping[str, float | str], key: str) -> str | None:
    return str(given[key]) if key in given else None
