"""Words about who is in: invitations, several households, floods, and what went wrong."""

from collections.abc import Sequence

from bot.say.manner import listed, name, said

COMMANDS: tuple[tuple[str, str], ...] = (
    ("help", "what to write"),
    ("calendar", "the dates to come, as a file for your calendar"),
    ("house", "the settings of this house"),
    ("zone", "change the clock, like /zone Europe/Berlin"),
    ("units", "change the units, like /units litres C"),
    ("vessel", "add a bucket or demijohn, like /vessel bucket 4 25 l"),
    ("chat", "is this chat only for the wine: /chat wine or /chat family"),
    ("quiet", "when only timers ring, like /quiet 21:30-8:00"),
    ("ask", "the hour at which you like to be reminded, like /ask 18:30"),
    ("digest", "one message in the morning, /digest on or /digest off"),
    ("most", "how many reminders a day at most, like /most 3"),
    ("contact", "how many minutes your sanitiser stands, like /contact 5"),
    ("brix", "what your Brix are read with, /brix refractometer or /brix hydrometer"),
    ("invite", "a link with which somebody may join"),
    ("invites", "for the owner: who may invite, /invites all or /invites owner"),
    ("houses", "in private: which of your households to talk about"),
    ("remove", "for the owner: /remove and a name"),
    ("readmit", "for the owner: /readmit and a name"),
)
"""What the chat service offers when somebody types a slash."""

NOT_VALID = (
    "That invitation is not good any more. Ask the one who sent it for a new one: <code>/invite</code>"
)
WHICH = "You are in more than one household. Which one is this about?"
ONLY_PRIVATELY = "Write me that in our private chat, please: a group belongs to one household."
NOBODY_TO_REMOVE = "There is nobody else in."
NOT_YOURSELF = "You set this up. To hand it on, leave: whoever is in longest takes over."
BACK = "I am back. The log is as it was; I could not see what was written meanwhile."

TOO_LONG_AGO = (
    "That message is from so long ago that I do not know any more what it was about. Nothing was changed: write it "
    "out, with the batch."
)

PUT_OUT = "Put out again"

# What only the one who pressed sees, in a line without markup.
GONE = "That button no longer works."
TOO_OLD = "That button is from too long ago. Just write it instead."
CHANGED = "Somebody was quicker: see above."
OVER = "That question is over. Just write it again."
DONE_ALREADY = "That is done already."
STRUCK_ALREADY = "That is struck out already."
WRITTEN_ALREADY = "That is written down already."
ONLY_OWNER = "Only the owner can do that."
NOT_IN = "That is for those who are in. Whoever writes here is in."
OUT = "That is for those who are in."


def this_house(house: str) -> str:
    return f"Good: here we talk about {name(house)}. <code>/houses</code> changes that."


def one_house(house: str) -> str:
    return f"You are in one household that I know, {name(house)}: here we talk about that."


def joined(house: str) -> str:
    return f"Welcome! You are in at {name(house)}; here we talk about that."


def in_already(house: str) -> str:
    return f"You are in at {name(house)} already."


def invitation(house: str, code: str, bot: str, until: str) -> str:
    """The link, and who may use it until when."""
    way = (
        f"send this on: https://t.me/{said(bot)}?start={code}"
        if bot
        else f"have them write to me in private: <code>/start {code}</code>"
    )
    return (
        f"To let somebody in at {name(house)}, {way}\n"
        f"It opens this household only, until {until}; a new <code>/invite</code> ends it sooner."
    )


def only_owner_invites(owner: str) -> str:
    return f"Only {said(owner)}, who owns this log, invites. {said(owner)} can let everybody: <code>/invites all</code>"


def invites(owner: str, *, everybody: bool) -> str:
    """Who may invite, as a setting."""
    return f"Invitations: {'everybody' if everybody else f'only {said(owner)}'} (/invites)."


def who_invites(owner: str, *, everybody: bool) -> str:
    if everybody:
        return f"Everybody here may invite. <code>/invites owner</code> leaves it to {said(owner)}."
    return f"Only {said(owner)} invites. <code>/invites all</code> lets everybody."


def came_in(member: str, by: str | None) -> str:
    """Told to the household when somebody used an invitation."""
    whose = f"{said(by)}'s" if by is not None else "an"
    return f"{said(member)} came in, by {whose} invitation: in private I tell them what I tell you."


def only_owner(owner: str) -> str:
    return f"Only {said(owner)}, who owns this log, can do that."


def whom(command: str, people: Sequence[str]) -> str:
    """Nobody of that name; those who could be meant."""
    return f"Whom? Write it like <code>{command} {said(people[0])}</code>. There is {listed([said(p) for p in people])}."


def several(member: str) -> str:
    return f"There is more than one {said(member)}. Which one?"


def removed(member: str) -> str:
    return (
        f"{said(member)} is out: I answer them no more, here or in private. What they wrote down stays. "
        f"<code>/readmit {said(member)}</code> lets them back in."
    )


def readmitted(member: str) -> str:
    return f"{said(member)} is in again."


def nobody_out() -> str:
    return "Nobody was removed."


def flooding(member: str) -> str:
    """Said once in a flood."""
    return (
        f"That is a lot at once, {said(member)}. I take in every one, and ask if one is unclear, but I answer "
        "no more until it is calmer. <code>readings</code> shows what I have."
    )


def could_not(member: str, clock: str) -> str:
    """A message that could not be handled in three tries."""
    return (
        f"I could not handle {said(member)}'s message of {clock}: a fault of mine, I tried three times. It is "
        "set aside, and nothing of it is written down. Please write it again in other words."
    )


def stopped_me(clock: str) -> str:
    """A message in which the bot came to a standstill again and again."""
    return (
        f"Your message of {clock} brought me to a standstill twice, so I leave it out: nothing of it is written "
        "down. Please write it again, shorter and in other words."
    )
