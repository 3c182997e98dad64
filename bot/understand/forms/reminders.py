"""Reminders that members ask for in words: whom, of what and when, cut out of a message and left in its words."""

import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from bot.cellar.log.lengths import WISH
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import Token, scan, tidy
from bot.understand.text.times import Moment, merged
from bot.understand.text.timewords import TimeGrammar

LONGEST = 600
"""Characters of a message that may still ask for a reminder."""

LONGEST_TIME = 60
"""Characters of a message that says when and nothing else."""

_AMOUNTS = frozenset({"unit", "substance", "vessel", "packet", "spoken", "number"})
_WHO = "<who>"
_MARKS_AROUND = re.compile(r"^[\W_]+|[\W_]+$")


class Wanted(NamedTuple):
    """What a message asks to be reminded of. `what` is in the writer's words, without its time; `moment` is
    None where no time was said."""

    whom: str | None
    what: str
    moment: Moment | None
    thing: bool
    """Asked about something ("about the plum"), not to do something."""
    notice: bool
    """Told to everybody rather than asked for."""
    left: bool
    """A part of the time was not understood."""
    often: bool
    """Asked for again and again."""
    rest: str
    """The rest of the message."""
    first: bool
    """Whether the rest comes after it."""
    called: bool
    """Whether the bot was called by name."""


class Reminding:
    """The words of a language for reminders, ready to be matched in any house."""

    def __init__(self, language: str) -> None:
        table: dict[str, Any] = tables_of(language, "forms")["remind"]
        self.trigger = _pattern(table["trigger"])
        timers = (
            form.replace("<length>", table["length"]).replace("<please>", table["please"])
            for form in table["timers"]
        )
        self.timers = [_pattern(form) for form in timers]
        self.minutes = _pattern(table["minutes"])
        self.meant, self.nothing = str(table["meant"]), str(table["nothing"])
        self.all, self.me = frozenset(table["all"]), frozenset(table["me"])
        self.anyone = [_pattern(rf"(?<!\w){form}(?!\w)") for form in table["anyone"]]
        self.nameless, self.own_word = frozenset(table["nameless"]), _pattern(table["own_word"])
        self.asks: list[str] = table["asks"]
        self.notices: list[str] = table["notices"]
        self.open = _pattern(rf"(?:{table['open']}\b[\s,]*)*$")
        self.called = _pattern(table["called"])
        self.unclear, self.tells = _pattern(table["unclear"]), _pattern(table["tells"])
        self.rest_ends, self.sentence = _pattern(table["rest_ends"]), _pattern(table["sentence"])
        self.to, self.of = frozenset(table["to"]), frozenset(table["of"])
        self.conditions = frozenset(table["conditions"])
        self.bare, self.links = frozenset(table["bare"]), frozenset(table["links"])
        self.close, self.dangling = _pattern(table["close"]), _pattern(table["dangling"])
        self.every, self.trade, self.forget = (_pattern(table[key]) for key in ("every", "trade", "forget"))
        self.times: dict[str, str] = table["times"]
        self.said_so = _pattern(
            "|".join(rf"\b{re.escape(said)}\b" for said in sorted(self.times, key=len)[::-1])
        )
        words = lexicon(language)
        self.grammar = TimeGrammar(words.times)
        self.tags = words.tags

    def timer(self, text: str) -> str:
        """A timer that the whole message asks for, as a reminder asked for in so many words; else the message."""
        said = text.rstrip(" .!")
        found = next((found for form in self.timers if (found := form.fullmatch(said))), None)
        if found is None:
            return text
        length = self.minutes.sub(r"\1 min", found["length"].replace("-", " "))
        return self.meant.format(length=length, what=found["what"] or self.nothing)

    def is_amount(self, word: str) -> bool:
        """Whether a word after a number makes it an amount and not an hour."""
        return any(tag.kind in _AMOUNTS for tag in self.tags(word))

    def time_at(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        """The time that starts at a token, and where it ends."""
        return self.grammar.find(tokens, at, self.is_amount)


def _pattern(form: str) -> re.Pattern[str]:
    return re.compile(form, re.IGNORECASE)


@lru_cache(maxsize=8)
def reminding_in(language: str) -> Reminding:
    """The words of a language for reminders."""
    return Reminding(language)


class People:
    """Who can be reminded in one house, and the forms with their names in them."""

    def __init__(self, words: Reminding, members: tuple[str, ...]) -> None:
        spellings = _spellings(members, words)
        self.members = {said.casefold(): member for said, member in spellings.items()}
        called = {*spellings, *self.members}
        people = sorted((*words.all, *words.me, *map(re.escape, called)), key=lambda one: (-len(one), one))
        who = f"(?:{'|'.join(people)})"
        self.asks = [_pattern(rf"(?<!\w){form.replace(_WHO, who)}") for form in words.asks]
        self.notices = [_pattern(form.replace(_WHO, who)) for form in words.notices]


def _spellings(members: Sequence[str], words: Reminding) -> dict[str, str]:
    """How each member may be called: as written, without the marks around the name, and by its first word where
    that is nobody else's."""
    whole = {tidy(member).strip(): member for member in members if member.strip()}
    taken = {said.casefold() for said in whole} | words.all | words.me | words.to | words.links
    bare = [(_MARKS_AROUND.sub("", said), member) for said, member in whole.items()]
    for shorter in (bare, [(said.split()[0], member) for said, member in bare if said]):
        counted = Counter(said.casefold() for said, _ in shorter)
        for said, member in shorter:
            if said and counted[said.casefold()] == 1 and said.casefold() not in taken:
                whole[said] = member
                taken.add(said.casefold())
    return whole


@lru_cache(maxsize=2048)
def people_of(language: str, members: tuple[str, ...]) -> People:
    """The people of a house. They are asked for only once a message has a word for a reminder in it: most have
    none, and the patterns take long to make."""
    return People(reminding_in(language), members)


def wanted(text: str, by: str | None, words: Reminding, people: People) -> Wanted | None:
    """What the message asks to be reminded of; None when it asks for no reminder."""
    if len(text) > LONGEST or not words.trigger.search(text):
        return None
    said = tidy(text).strip().replace(":\n", ": ")
    said = words.said_so.sub(lambda found: words.times[found[0].casefold()], said)
    for notice, forms in ((False, people.asks), (True, people.notices)):
        for form in forms:
            found = form.search(said)
            if (
                found is not None
                and (read := _read(said, found, by, words, people, notice=notice)) is not None
            ):
                return read
    return None


class Wish(NamedTuple):
    """That somebody is to be reminded, in words that could not be read further."""

    whom: str | None
    what: str
    nobody: str | None = None
    """Whom nobody here is called like."""
    rest: str = ""
    """What was said before it."""


def wish_in(text: str, words: Reminding, people: People, by: str | None) -> Wish | None:
    """Whether the message opens with a wish that a member is reminded."""
    for form in people.asks:
        found = form.search(text)
        if found is not None and _opening(text[: found.start()], words) is not None:
            return Wish(_person(found, by, words, people), text[found.end() :].strip(" ,:.!?")[:WISH])
    return None


def wish_for_nobody(text: str, words: Reminding) -> Wish | None:
    """Whether the message has a wish that somebody is reminded who is none of the members."""
    for form in words.anyone:
        found = form.search(text)
        if found is None or words.own_word.search(before := text[: found.start()]):
            continue
        whom, rest = found["whom"].removesuffix("'s"), ""
        if _opening(before, words) is None:
            rest = words.rest_ends.sub("", before.rstrip())
            if rest == before.rstrip():
                continue
        if _names_nobody(whom, words):
            continue
        what = text[found.end() :].strip(" ,:.!?")[:WISH]
        return Wish(None, what, nobody=whom, rest=rest)
    return None


def _names_nobody(whom: str, words: Reminding) -> bool:
    """Whether the word in a name's place belongs to the sentence: "remind tomorrow to", "remind to"."""
    tokens = scan(whom)
    known = words.to | words.links | words.all | words.me | words.conditions
    return not tokens or tokens[0].fold in known or words.time_at(tokens, 0) is not None


def _person(found: re.Match[str], by: str | None, words: Reminding, people: People) -> str | None:
    """Who is named; None for all."""
    whom = (found.groupdict().get("whom") or "i").casefold()
    return by if whom in words.me else people.members.get(whom)


def _read(
    said: str, found: re.Match[str], by: str | None, words: Reminding, people: People, *, notice: bool
) -> Wanted | None:
    before, after = said[: found.start()], said[found.end() :]
    starts = list(words.sentence.finditer(before))
    rest = before[: starts[-1].end()] if starts else ""
    before = before[len(rest) :]
    end = words.sentence.search(after.rstrip())
    behind = after[end.end() :].strip() if end else ""
    after = after[: end.start()] if end else after
    often = words.every.search(before + after) is not None
    before, after = words.every.sub(" ", before), words.every.sub(" ", after)
    opening = _opening(before, words)
    if opening is None:
        if not words.rest_ends.search(before.rstrip()):
            return None
        rest, opening = rest + words.rest_ends.sub("", before.rstrip()), []
    tokens = scan(after)
    at, moments, thing, led = _head(tokens, words)
    half = False
    if not led and (start := _behind_unclear(after, tokens, at, words)) is not None:
        half, led = bool(moments), True
        after = after[start:]
        tokens, at = scan(after), 0
    if not led and not (notice or found.groupdict().get("whom") is None):
        return None
    early, left = _joined([*opening, *moments])
    what, moment = _without_times(after, tokens, at, words, early)
    return Wanted(
        whom=_person(found, by, words, people),
        what=what,
        moment=moment,
        thing=thing,
        notice=notice,
        left=left or half,
        often=often,
        rest=f"{rest}\n{behind}".strip(),
        first=not rest.strip(),
        called=words.called.search(before) is not None,
    )


def _opening(before: str, words: Reminding) -> list[Moment] | None:
    """The times before it ("in 20 minutes remind me"); None when there is more than openings and times."""
    tokens, at, kept, moments = scan(before), 0, 0, []
    bare = ""
    while at < len(tokens):
        hit = words.time_at(tokens, at)
        if hit:
            bare += before[kept : tokens[at].start] + " "
            moments.append(hit[1])
            at, kept = hit[0], tokens[hit[0] - 1].end
        else:
            at += 1
    bare = (bare + before[kept:]).strip(" ,:")
    return moments if words.open.match(bare) else None


def _head(tokens: Sequence[Token], words: Reminding) -> tuple[int, list[Moment], bool, bool]:
    """Where it begins what is to be brought up, with the times before that; whether that is a thing, and whether
    a word led to it."""
    at, moments = 0, []
    while at < len(tokens):
        word = tokens[at].fold
        hit = words.time_at(tokens, at)
        if hit is None and (at == 0 or tokens[at - 1].fold in words.links):
            hit = _short_day(tokens, at, words)
        if hit:
            moments.append(hit[1])
            at = hit[0]
        elif word in words.to and not (
            word in words.of and word in words.links and words.time_at(tokens, at + 1)
        ):
            return at + 1, moments, word in words.of, True
        elif word in words.bare:
            return at, moments, False, True
        elif word in words.links:
            at += 1
        else:
            return (
                at,
                moments,
                False,
                bool(moments) and tokens[at - 1].fold == "," and word not in words.conditions,
            )
    return at, moments, False, True


def _behind_unclear(after: str, tokens: Sequence[Token], at: int, words: Reminding) -> int | None:
    """Where it begins what is to be brought up, behind a time that no calendar has ("when it's finished to")."""
    while at and tokens[at - 1].fold in words.links:
        at -= 1
    found = words.unclear.match(after, tokens[at].start) if at < len(tokens) else None
    return found.start("what") if found else None


def only_a_time(text: str, words: Reminding) -> bool:
    """Whether the text says when and nothing else."""
    if len(text) > LONGEST_TIME:
        return False
    tokens = scan(tidy(text))
    at, moments, _, _ = _head(tokens, words)
    return bool(moments) and at == len(tokens)


def _short_day(tokens: Sequence[Token], at: int, words: Reminding) -> tuple[int, Moment] | None:
    """ "Remind me fri": a short name, which elsewhere needs a word before it."""
    led = Token("word", "on", 0, 0, glued=False)
    hit = words.time_at([led, *tokens[at:]], 0)
    return (hit[0] - 1 + at, hit[1]) if hit else None


def _without_times(
    text: str, tokens: Sequence[Token], start: int, words: Reminding, early: Moment | None
) -> tuple[str, Moment | None]:
    """What is to be brought up without its time, and the whole time. It stands at the end; where none was said
    before (`early`), it may stand anywhere. What does not fit belongs to the words."""
    found: list[tuple[int, int, Moment]] = []
    at = start
    while at < len(tokens):
        hit = words.time_at(tokens, at)
        if hit and not _past(hit[1]):
            found.append((tokens[at].start, tokens[hit[0] - 1].end, hit[1]))
        at = hit[0] if hit else at + 1
    begin = tokens[start].start if start < len(tokens) else len(text)
    last = len(words.close.sub("", text))
    cut: list[tuple[int, int, Moment]] = []
    whole = early
    for piece in reversed(found):
        fits = piece[2] if whole is None else merged(whole, piece[2])
        if piece[1] < last or fits is None:
            break
        whole = fits
        cut.insert(0, piece)
        last = len(words.dangling.sub("", text[: piece[0]]))
    if whole is None and found:
        cut, whole = found[:1], found[0][2]
    pieces, kept = [], begin
    for lo, hi, _ in cut:
        pieces.append(words.dangling.sub("", text[kept:lo]))
        kept = hi
    pieces.append(words.close.sub("", text[kept:]))
    what = " ".join(" ".join(pieces).split()).strip(" ,;:-")
    return what, whole


def _past(moment: Moment) -> bool:
    """A time that something happened at, not one to be reminded at."""
    ago = (moment.days is not None and moment.days < 0) or (moment.hours is not None and moment.hours < 0)
    return ago or moment.which == "last"


def _joined(moments: Sequence[Moment]) -> tuple[Moment | None, bool]:
    """The parts of the time as one, and whether a part did not fit."""
    whole: Moment | None = None
    left = False
    for moment in moments:
        joined = moment if whole is None else merged(whole, moment)
        left = left or joined is None
        whole = joined or whole
    return whole, left
