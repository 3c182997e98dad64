"""A household's set-up and settings: at most three questions, each with a default that may simply stand."""

import re
from collections.abc import Callable
from typing import assert_never
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.cellar.batch.bounds import objection
from bot.cellar.log.acts import Vessel
from bot.cellar.log.lengths import NAME
from bot.house.letters import plan
from bot.house.turn import Turn
from bot.say import company, doubts, welcome
from bot.say import instruments as instrument_words
from bot.say.answers import HELP
from bot.say.facts import noted
from bot.store.press import SetUp, UnitSystem

_UNITS: dict[UnitSystem, dict[str, str]] = {
    "metric": {"volume_unit": "L", "gallon": "imperial", "temperature_unit": "C"},
    "imperial": {"volume_unit": "gal", "gallon": "imperial", "temperature_unit": "C"},
    "us": {"volume_unit": "gal", "gallon": "us", "temperature_unit": "F"},
}
_CLOCK = re.compile(r"(?P<hour>\d{1,2})(?:[:.](?P<minute>\d{2}))?", re.ASCII)
MOST_A_DAY = 20
LONGEST_CONTACT = 120
"""Minutes: no sanitiser wants longer."""

COMES_IN = SetUp(asked="members")
"""What the button does with which somebody says that they are in."""

_WHO_IS_IN = (("I'm in", COMES_IN), ("That's all", SetUp(asked="end")))

_VESSEL = re.compile(r"(?P<name>\w[\w' -]*?)(?: (?P<litres>\d+(?:[.,]\d+)?) ?l(?:itres?)?)?$", re.I)


def greet(turn: Turn, *, hears_all: bool = True) -> None:
    """Says hello and asks the first question."""
    turn.reply(welcome.HELLO if hears_all else f"{welcome.HELLO}\n{welcome.HIDDEN}")
    turn.reply(welcome.ask_zone(turn.home.row.timezone), (("Yes", SetUp(asked="zone")),))


def pressed(turn: Turn, does: SetUp) -> None:
    """Takes an answer to a set-up question and goes on to the next."""
    match does.asked:
        case "zone":
            buttons = [(welcome.UNITS[one], SetUp(asked="units", choice=one)) for one in _UNITS]
            turn.reply(welcome.ask_units(), buttons)
        case "units":
            turn.home.settle(**_UNITS[does.choice or "metric"])
            kinds = [(label, SetUp(asked="chat", chat=kind)) for kind, label in welcome.CHATS.items()]
            turn.reply(welcome.ask_chat(), kinds)
        case "chat":
            turn.home.settle(chat=does.chat or "family")
            turn.reply(welcome.ask_members(turn.home.row.name), _WHO_IS_IN)
        case "members":
            turn.reply(f"{welcome.ask_members(turn.home.row.name)}\n✓ {', '.join(_names(turn))}", _WHO_IS_IN)
        case "end":
            turn.reply(_settings(turn))
        case _:
            assert_never(does.asked)


def command(turn: Turn, *, hears_all: bool = True) -> bool:
    """Carries out a settings command; False when the text is none."""
    text = (turn.incoming.text or "").strip()
    if not text.startswith("/"):
        return False
    word, _, rest = text.partition(" ")
    if word == "/start":
        greet(turn, hears_all=hears_all)
        return True
    run = _COMMANDS.get(word)
    if run is None:
        return False
    turn.reply(run(turn, rest.strip()))
    return True


def _chat(turn: Turn, rest: str) -> str:
    kind = rest.lower().removeprefix("is ").removeprefix("for ").removeprefix("the ").strip()
    if kind not in welcome.CHATS:
        return welcome.CHAT_LIKE
    return _reset(turn, chat=kind)


def _help(turn: Turn, rest: str) -> str:
    return HELP


def _zone(turn: Turn, rest: str) -> str:
    try:
        zone = ZoneInfo(rest)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return welcome.no_such_zone(rest)
    turn.home.settle(timezone=zone.key)
    plan.replan(turn.home)
    return _settings(turn)


def _clock(text: str) -> str | None:
    found = _CLOCK.fullmatch(text.strip())
    if found is None or int(found["hour"]) > 23 or int(found["minute"] or 0) > 59:
        return None
    return f"{int(found['hour']):02}:{int(found['minute'] or 0):02}"


def _quiet(turn: Turn, rest: str) -> str:
    begins, _, ends = rest.replace(" to ", "-").replace("–", "-").partition("-")
    quiet_from, quiet_until = _clock(begins), _clock(ends)
    if quiet_from is None or quiet_until is None or quiet_from == quiet_until:
        return welcome.QUIET_LIKE
    return _reset(turn, quiet_from=quiet_from, quiet_until=quiet_until)


def _ask(turn: Turn, rest: str) -> str:
    asks_at = "" if rest.lower() in ("off", "any", "anytime") else _clock(rest)
    if asks_at is None:
        return welcome.ASK_LIKE
    return _reset(turn, asks_at=asks_at)


def _digest(turn: Turn, rest: str) -> str:
    if rest.lower() not in ("on", "off"):
        return welcome.DIGEST_LIKE
    return _reset(turn, digest=rest.lower())


def _most(turn: Turn, rest: str) -> str:
    if not (rest.isascii() and rest.isdecimal() and 1 <= int(rest) <= MOST_A_DAY):
        return welcome.most_like(MOST_A_DAY)
    return _reset(turn, most_a_day=int(rest))


def _contact(turn: Turn, rest: str) -> str:
    minutes = rest.lower().removesuffix("minutes").removesuffix("min").strip()
    if not (minutes.isascii() and minutes.isdecimal() and 1 <= int(minutes) <= LONGEST_CONTACT):
        return welcome.contact_like(LONGEST_CONTACT)
    return _reset(turn, contact_minutes=int(minutes))


def _brix(turn: Turn, rest: str) -> str:
    wanted = rest.lower().strip()
    if wanted not in ("refractometer", "hydrometer"):
        return instrument_words.BRIX_LIKE
    turn.home.settle(brix_by=wanted)
    return _settings(turn)


def _reset(turn: Turn, **settings: str | int) -> str:
    """Changes when the household is spoken to; what is planned goes along."""
    turn.home.settle(**settings)
    plan.replan(turn.home)
    return _settings(turn)


def _units(turn: Turn, rest: str) -> str:
    low = rest.lower()
    wanted: dict[str, str] = {}
    if "gal" in low:
        wanted |= {"volume_unit": "gal", "gallon": "us" if re.search(r"\bus\b", low) else "imperial"}
    elif re.search(r"\bl(itres?)?\b", low):
        wanted["volume_unit"] = "L"
    if found := re.search(r"(?:^|[\s°,])([cf])\b", low):
        wanted["temperature_unit"] = found[1].upper()
    if not wanted:
        return welcome.UNITS_LIKE
    turn.home.settle(**wanted)
    return _settings(turn)


def _vessel(turn: Turn, rest: str) -> str:
    found = _VESSEL.match(rest)
    if found is None:
        return welcome.VESSEL_LIKE
    name = found["name"].strip()
    litres = float(found["litres"].replace(",", ".")) if found["litres"] else None
    told = Vessel(of=name, litres=litres)
    if len(name) > NAME:
        return doubts.too_long("name")
    if objection(told, turn.home.view, (), turn.now) is not None:
        return doubts.doubt("out_of_range", (told,), turn.home.manner)
    same = next(
        (vessel.name for vessel in turn.home.vessels if vessel.name.casefold() == name.casefold()), None
    )
    if same is not None and litres is None:
        return welcome.vessel_known(same)
    if same is not None:
        told = Vessel(of=same, litres=litres)
        turn.home.write(told, turn.member, turn.source, said_at=turn.incoming.sent_at)
        return noted(told, turn.home.manner, replaces=False)
    turn.home.add_vessel(name, litres)
    return welcome.vessel_added(name)


def _house(turn: Turn, rest: str) -> str:
    return _settings(turn)


def _names(turn: Turn) -> list[str]:
    return [member.name for member in turn.home.members]


def _settings(turn: Turn) -> str:
    row = turn.home.row
    owner = next((member.name for member in turn.home.members if member.owner), "the owner")
    return welcome.settled(
        row.timezone,
        row.gallon,
        row.temperature_unit,
        row.volume_unit,
        ", ".join(_names(turn)),
        ", ".join(vessel.name for vessel in turn.home.vessels),
        welcome.hours(row.quiet_from, row.quiet_until, row.asks_at, row.digest, row.most_a_day),
        row.contact_minutes,
        company.invites(owner, everybody=row.invites == "all"),
        row.chat,
        row.brix_by,
    )


_COMMANDS: dict[str, Callable[[Turn, str], str]] = {
    "/help": _help,
    "/zone": _zone,
    "/chat": _chat,
    "/units": _units,
    "/vessel": _vessel,
    "/quiet": _quiet,
    "/ask": _ask,
    "/digest": _digest,
    "/most": _most,
    "/contact": _contact,
    "/brix": _brix,
    "/house": _house,
}
