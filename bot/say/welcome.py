"""Greetings and set-up, in few words."""

from typing import Literal

from bot.say.manner import name, said

HELLO = (
    "Hello! I keep this house's wine log.\n"
    "Write <code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>, then <code>sg 1.080 bucket 2</code>. "
    "Ask <code>what's next?</code>"
)
STRANGER = "I keep one household's wine log. Add me to your group chat, or send /start to keep a log here."
CROWDED = "Too many new households at once just now: please write again in an hour or two."
FOUNDED_ENOUGH = "You have begun many households just now. Go on in one of them, or write again in an hour."
HIDDEN = (
    "In this group I only see replies to me and messages that begin with /, like <code>/sg 1.012 b2</code>. "
    "To let me read plain messages, turn my group privacy off in the bot's settings, then add me again."
)


def ask_zone(zone: str) -> str:
    return f"1 of 4. Is your clock {said(zone)}? If not, write like: <code>/zone Europe/Berlin</code>"


def ask_units() -> str:
    return "2 of 4. Which units do you use?"


CHATS: dict[Literal["wine", "family"], str] = {"wine": "Only for the wine", "family": "Our family chat"}
CHAT_LIKE = "Write <code>/chat wine</code> if this chat is only for the wine, or <code>/chat family</code> if you talk here about everything."


def ask_chat() -> str:
    return "3 of 4. Is this chat only for the wine? In a family chat I stay out of your talk."


UNITS = {"metric": "litres, °C", "imperial": "imperial gallons, °C", "us": "US gallons, °F"}
"""On the buttons under that question."""


def ask_members(house: str) -> str:
    return f"4 of 4. Who makes wine at {name(house)}? Tap, or just write here: whoever writes is in."


def settled(
    zone: str,
    gallon: str,
    temperature: str,
    volume: str,
    members: str,
    vessels: str,
    hours: str,
    contact: int,
    invites: str,
    chat: str,
    brix_by: str = "",
) -> str:
    """The settings as they stand, and how each is changed."""
    brix = f" Brix: by {brix_by} (/brix)." if brix_by else ""
    unit = f"{gallon} gallons" if volume == "gal" else "litres"
    return (
        f"Clock: {said(zone)} (/zone). Units: {unit}, °{temperature} (/units).{brix}\n"
        f"{hours}\nSanitiser: {contact} min (/contact). Vessels: {said(vessels)} (/vessel).\n"
        f"{invites}\nChat: {'only for the wine' if chat == 'wine' else 'the family’s own'} (/chat).\nIn: {said(members)}."
    )


def hours(quiet_from: str, quiet_until: str, asks_at: str, digest: str, most_a_day: int) -> str:
    """When the house is spoken to."""
    asking = f"at {asks_at}" if asks_at else "when it is due"
    asking = f"in the morning{f', at {asks_at}' if asks_at else ''}" if digest == "on" else asking
    return (
        f"Quiet: {quiet_from} to {quiet_until} (/quiet); only timers ring then. I remind you {asking} "
        f"(/ask, /digest), at most {most_a_day} times a day (/most)."
    )


UNITS_LIKE = "Write it like: <code>/units litres C</code> or <code>/units us gallons F</code>"
QUIET_LIKE = "Write it like: <code>/quiet 21:30-8:00</code>"
ASK_LIKE = "Write it like: <code>/ask 18:30</code>, or <code>/ask off</code> for whenever it is due."
DIGEST_LIKE = "Write <code>/digest on</code> for one message in the morning, or <code>/digest off</code>."


def most_like(most: int) -> str:
    return f"Write how many reminders a day at most, 1 to {most}, like: <code>/most 3</code>. Timers do not count."


def contact_like(most: int) -> str:
    return (
        f"Write how many minutes the pack of your sanitiser says, 1 to {most}, like: <code>/contact 10</code>"
    )


VESSEL_LIKE = "Write it like: <code>/vessel bucket 4</code> or <code>/vessel demijohn 3 5 l</code>"


def no_such_zone(zone: str) -> str:
    return f"I know no time zone “{said(zone)}”. Write it like: <code>/zone Europe/Berlin</code>"


def vessel_added(vessel: str) -> str:
    return f"Added {name(vessel)}."


def vessel_known(vessel: str) -> str:
    return f"{name(vessel)} is here already."
