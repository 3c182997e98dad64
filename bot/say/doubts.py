"""What the bot says when it must ask back: one short question or one short line, never both."""

from collections.abc import Sequence

import msgspec

from bot.cellar.log.acts import (
    Act,
    Amend,
    Begin,
    Bottles,
    GiveUp,
    Gravity,
    KeepPlan,
    Note,
    Question,
    Skip,
    Split,
    Step,
    Temperature,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.lengths import LABEL, MOST, TextKind
from bot.say.facts import asked, fact
from bot.say.manner import Manner, name, said, sg
from bot.science import practice

AS_PRINTED, LEAVE_OUT = "It says so, keep all", "Keep it without those"
TWO_EXAMPLES = "Try <code>sg 1.012 bucket 2</code> or <code>what's next?</code>"

WHICH_ONE = "Which one do you mean?"

_WORDS = {
    "which_batch": "Which one is {fact} for?",
    "which_vessel": "Which vessel is that?",
    "unknown_vessel": "I know no {about} here. There is: {vessels}.",
    "unknown_batch": "I know no batch called {about}. There is: {batches}.",
    "unknown_member": "I know nobody called {about} here. There is: {members}. Whoever writes in this chat is in.",
    "slipped_digit": "{fact}? The last was {last}. Did a digit slip?",
    "rising": "{fact}? That is higher than {last}, and no sugar went in.",
    "falling_fast": "{fact}? That is a big fall from {last} in the time.",
    "other_curve": "{fact}? That looks more like another batch.",
    "odd_temperature": "{fact}? No room has that.",
    "sample_alone": "{fact}: is that the wine itself? A sample's warmth goes with its gravity: <code>sg 1.012 at 24c</code>",
    "odd_dose": "{fact}? That is several times what it takes. The pack's dose goes first.",
    "too_many_bottles": "{fact}? I count fewer than that at home.",
    "vessel_busy": "{about} is in use. Move that batch first, or name another vessel.",
    "vessel_full": "{fact}? By what I know, {about} is in it. If it has moved, say first where to, like <code>racked {bare} into bucket 3</code>",
    "too_small": "{fact}? {about} does not hold so much. {likely}Else say where it went, like <code>4.5 l into demijohn 1 and the rest into bucket 2</code>",
    "future": "That time is still to come. Write it again when it is done, or give the time it was done.",
    "ended": "{about} was bottled or poured away before that. If it was earlier, give the time: <code>racked {bare} on Friday</code>",
    "not_bottled": "{about} is not in bottles yet, so it has no labels. When it is: <code>bottled {bare}, 29 bottles</code>",
    "give_up": "All of {about} thrown away? Then it is at its end: no more reminders, and its vessel is free.",
    "needed": "That step cannot be left out of {about}: there would be no wine, or none that keeps.",
    "not_ahead": "{about} has no such step to come, so there is nothing to leave out.",
    "too_much": "{about}? There is not so much in there.",
    "nothing_to_correct": "What shall I correct? Reply to the message, or write it whole: <code>sg 1.014 bucket 2</code>",
    "half_understood": "Did you mean: {fact}?",
    "unsure": "Did you mean: {fact}?",
    "name_refused": "“{about}” would be taken for a number or a word I use. Choose another name, like <code>call bucket 2 Big Blue</code>",
    "when": "When? Write it with the time, like <code>remind me on friday at 18:00: {bare}</code>",
    "what": "Of what? Write it whole, like <code>remind me on friday at 18:00: buy corks</code>",
    "past": "That time has passed. Give one to come, like <code>remind me tomorrow at 9: {bare}</code>",
    "often": "I bring a thing up once, not again and again. Give one time: <code>remind me on friday at 18:00: {bare}</code>",
    "refracted_no_start": "With a refractometer I need the figure from before the yeast, and {about} has none: once there is "
    "alcohol, Brix say nothing alone. Read it with the hydrometer, like <code>sg 0.996 {bare}</code>",
    "refracted_no_wine": "That does not go with the figure that {about} began with: alcohol makes a refractometer show more "
    "than there is, and never less. Please read it again, with a drop from the middle of the wine.",
    "danger": "After that, do you want it written down: {fact}?",
    "which_question": "What would you like to know?",
    "keep_note": "I take that for a remark. Shall I keep it as a note?",
    "no_answer": "That I cannot tell. What I can:",
    "thanked": "Good to hear from you. <code>what's next?</code> tells what the wine wants.",
    "not_understood": "I did not get that. " + TWO_EXAMPLES,
}
_TOO_LONG = "{what}: at most {most} letters, please."
_LONG: dict[TextKind, str] = {
    "name": "That name is long",
    "note": "That note is long",
    "wish": "That is long for a reminder",
    "message": "That is more than I can read at once",
}
_ALL_OF_THIS = "Did you mean all of this?"
_WITH_IT = "With it I write:"
_NOT_TAKEN = "I did not get “{words}”: write it again if it counts."
_UNREAD = "I did not get “{words}”: that part would be lost, so write it again."
_SG = "{:.3f} and {:.3f}".format(*practice.SG_WRITTEN.value)
_C = "{:g} and {:g} °C".format(*practice.TEMPERATURE_WRITTEN.value)
_MOST_LITRES = practice.LITRES_WRITTEN.value[1]
_LITRES = (
    f"A volume is more than 0 and at most {_MOST_LITRES:.0f} litres, like <code>23 l in bucket 2</code>."
)
_RANGES: tuple[tuple[type, str], ...] = (
    (Gravity, f"A gravity is between {_SG}, like <code>sg 1.012 bucket 2</code>."),
    (Volume, _LITRES),
    (Vessel, _LITRES),
    (Split, _LITRES),
    (Begin, _LITRES),
    (Temperature, f"A temperature is between {_C}, like <code>21c bucket 2</code>."),
)
_OUT_OF_RANGE = (
    f"That number is out of range ({{about}}). A gravity is {_SG.replace(' and ', '-')}, a temperature "
    f"{_C.replace(' and ', ' to ')}: <code>sg 1.012, 21c, bucket 2</code>"
)


_NO_BATCH_YET = "There is no batch yet. Shall I keep “{fact}” for the one that you begin next?"


def doubt(
    kind: str,
    acts: Sequence[Act],
    manner: Manner,
    *,
    also: Sequence[Act] = (),
    about: str | None = None,
    last: float | None = None,
    vessels: Sequence[str] = (),
    batches: Sequence[str] = (),
    members: Sequence[str] = (),
    likely: Act | None = None,
) -> str:
    """The question or the line for a doubt about the first of the acts. `also` is what "yes" writes besides,
    `last` the batch's last gravity, where it matters."""
    if kind == "out_of_range":
        shown = next((text for type_, text in _RANGES if any(isinstance(act, type_) for act in acts)), None)
        return shown or _OUT_OF_RANGE.format(about=said(about or "?"))
    if kind == "unknown_batch" and not batches:
        return "There is no batch yet. Begin one: <code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>"
    of_none = not batches and not any(act.of is not None for act in acts)
    if kind == "which_batch" and of_none and acts:
        return _NO_BATCH_YET.format(fact=fact(_bare(acts[0]), manner))
    if kind in ("half_understood", "unsure") and not acts:
        kind = "not_understood"
    if kind == "too_long" and about in MOST:
        return too_long(about)
    first = acts[0] if acts else None
    told = ""
    if kind in ("which_batch", "which_vessel") and isinstance(first, Question):
        return WHICH_ONE
    if kind in ("which_question", "no_answer", "thanked"):
        return _WORDS[kind]
    if first is not None:
        told = fact(_bare(first) if kind == "which_batch" else first, manner).removesuffix("?")
    if also and first is not None and kind in ("half_understood", "unsure"):
        return "\n".join([_ALL_OF_THIS, *(f"· {fact(act, manner)}" for act in also)])
    question = _WORDS.get(kind, _WORDS["not_understood"]).format(
        fact=told or "that",
        about=name(about) if about else "such vessel",
        bare=said(about or ""),
        last=sg(last) if last is not None else "the last one",
        vessels=said(", ".join(vessels)) or "none yet",
        batches=said(", ".join(batches)) or "none yet",
        members=said(", ".join(members)) or "none yet",
        likely=f"Yes for: {fact(likely, manner)}. " if likely is not None else "",
    )
    rest = list(also)
    at = next((place for place, act in enumerate(rest) if first and _bare(act) == _bare(first)), None)
    if at is not None:
        del rest[at]
    return "\n".join([question, *([_WITH_IT] if rest else []), *(f"· {fact(act, manner)}" for act in rest)])


def too_long(kind: TextKind) -> str:
    """The line for something longer than it may be."""
    return _TOO_LONG.format(what=_LONG[kind], most=MOST[kind])


def common(options: Sequence[Sequence[Act]]) -> list[Act]:
    """What every option writes, in order, where that is more than one act; without its batch where the options
    differ in that."""
    first = options[0]
    if len(first) < 2:
        return []
    shown: list[Act] = []
    for act in first:
        same = all(act in option for option in options)
        if same or all(_bare(act) in [_bare(other) for other in option] for option in options):
            shown.append(act if same else _bare(act))
    return shown


def not_taken(words: str) -> str:
    """A line about a part of the message that was not written down with the rest."""
    return _NOT_TAKEN.format(words=said(words))


def unread(words: str | None) -> str:
    """A line about the part of the message that was not understood; nothing where all was."""
    return "\n" + _UNREAD.format(words=said(words)) if words else ""


def _bare(act: Act) -> Act:
    """The act without its batch."""
    return msgspec.structs.replace(act, of=None)


def clash(vessel: str, one: str, other: str) -> str:
    """Why something cannot be so: two batches would be in one vessel."""
    return f"Then {name(one)} and {name(other)} would both be in {name(vessel)}. Nothing written down: say first where the other one is."


def vessel_choice(vessel: str) -> str:
    """What the button says that chooses a vessel."""
    return vessel[:LABEL]


def add_vessel(vessel: str) -> str:
    """What the button says that adds a vessel."""
    return f"Add {vessel}"


_PLAINLY = (Step, Begin, Note, Bottles, KeepPlan, Undo, GiveUp, Amend, Skip)
"""What a question has said in full, so that its button says yes."""


def choice(option: Sequence[Act], options: Sequence[Sequence[Act]], manner: Manner) -> str:
    """What a button says: the batch alone where only that differs, else the fact."""
    first = next((act for act in option if not all(act in other for other in options)), option[0])
    others = [_counterpart(other, first, option) for other in options if other is not option]
    moved = [act.to for act in (first, *others) if isinstance(act, Step) and act.to is not None]
    if isinstance(first, Step) and first.to and len(set(moved)) == len(others) + 1 > 1:
        return first.to
    if first.of and others and all(_bare(other) == _bare(first) for other in others):
        return first.of
    if isinstance(first, Gravity) and (others or len(option) == 1):
        same = all(isinstance(other, Gravity) and other.of == first.of for other in others)
        return f"Yes, {sg(first.sg)}" if same else f"{first.of or ''} {sg(first.sg)}".strip()
    if isinstance(first, Question):
        return asked(first.subject)
    if isinstance(first, KeepPlan) and others:
        return AS_PRINTED if all(_read(first) >= _read(other) for other in others) else LEAVE_OUT
    if isinstance(first, Undo) and others:
        return next((act.of for act in option if act.of), "Yes")
    one_kind = all(type(other) is type(first) for other in others)
    if (one_kind and isinstance(first, _PLAINLY)) or len(option) > 1:
        return "Yes"
    plain = fact(first, manner).replace("<b>", "").replace("</b>", "")
    return plain if len(plain) <= 40 else "Yes"


def labels(options: Sequence[Sequence[Act]], manner: Manner) -> list[str]:
    """What the buttons of a question say, each something else: where a label of one act would not tell them apart, all
    that differs."""
    short = [choice(option, options, manner)[:LABEL] for option in options]
    if len(set(short)) == len(short) and not _crossed(options):
        return short
    whole = [_differing(option, options, manner)[:LABEL] for option in options]
    if len(set(whole)) == len(whole):
        return whole
    return [f"{number}. {label}"[:LABEL] for number, label in enumerate(whole, 1)]


def _crossed(options: Sequence[Sequence[Act]]) -> bool:
    """Whether the same values are told of other batches: the first alone would not say what becomes of the rest."""
    bare = {tuple(map(_bare, option)) for option in options}
    apart = [{act for act in option if not all(act in other for other in options)} for option in options]
    return len(options) > 1 and len(bare) == 1 and min(len({act.of for act in acts}) for acts in apart) > 1


def _differing(option: Sequence[Act], options: Sequence[Sequence[Act]], manner: Manner) -> str:
    apart = [act for act in option if not all(act in other for other in options)] or list(option)
    told = [
        f"{act.of or ''} {sg(act.sg)}".strip()
        if isinstance(act, Gravity)
        else fact(act, manner).replace("<b>", "").replace("</b>", "")
        for act in apart
    ]
    return ", ".join(told)


def _read(act: Act) -> int:
    """How many lines of a plan ask for something."""
    return sum(not step.unclear for step in act.plan.steps) if isinstance(act, KeepPlan) else 0


def _counterpart(other: Sequence[Act], act: Act, option: Sequence[Act]) -> Act:
    """What another option has in the place of an act."""
    place = list(option).index(act)
    return other[place] if place < len(other) else other[0]
