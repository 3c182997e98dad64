"""Reminders that members ask for in words: whom, of what and when, cut out of a message and left in its words; whether
it was asked of the bot, and what it is about."""

import re
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import lru_cache, partial
from typing import Any

import msgspec

from bot.cellar.home.due import TIMER_WITHIN
from bot.cellar.log.acts import Done, Promised, Remind, Step, StepName, Undo
from bot.cellar.log.due_key import AskedKey, is_meant
from bot.cellar.log.lengths import WISH
from bot.understand.claims import reminders
from bot.understand.claims.drafts import Draft
from bot.understand.judge import weigh
from bot.understand.judge.offers import IGNORE, WHY
from bot.understand.judge.settle import Settler
from bot.understand.scene import Recent, ReplyTo, Scene
from bot.understand.text.clauses import chatter
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.scan import Token, scan, tidy
from bot.understand.text.spans import Span
from bot.understand.text.times import TimeSaid, merged
from bot.understand.text.timewords import TimeGrammar
from bot.understand.verdict import Doubt, Verdict

LONGEST = 600
"""Characters of a message that may still ask for a reminder."""

LONGEST_TIME = 60
"""Characters of a message that says when and nothing else."""

_AMOUNTS = frozenset({"unit", "substance", "vessel", "packet", "spoken", "number"})
_WHO = "<who>"
_MARKS_AROUND = re.compile(r"^[\W_]+|[\W_]+$")


_TRADE = ("step", "substance", "measure", "packet", "vessel")
_EVERYDAY = 1.0
"""From this weight of everyday words on, a word that also means something in a cellar is not about the wine."""
_NAMES = ("batch", "vessel", "colour")


class Wanted(msgspec.Struct, frozen=True):
    """What a message asks to be reminded of. `what` is in the writer's words, without its time; `moment` is
    None where no time was said."""

    whom: str | None
    what: str
    moment: TimeSaid | None
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


class ReminderWords:
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

    def time_at(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
        """The time that starts at a token, and where it ends; none past the last token."""
        return self.grammar.find(tokens, at, self.is_amount) if at < len(tokens) else None


def _pattern(form: str) -> re.Pattern[str]:
    return re.compile(form, re.IGNORECASE)


@lru_cache(maxsize=8)
def reminder_words(language: str) -> ReminderWords:
    """The words of a language for reminders."""
    return ReminderWords(language)


class HousePeople:
    """Who can be reminded in one house, and the forms with their names in them."""

    def __init__(self, words: ReminderWords, members: tuple[str, ...]) -> None:
        spellings = _spellings(members, words)
        self.members = {said.casefold(): member for said, member in spellings.items()}
        called = {*spellings, *self.members}
        people = sorted((*words.all, *words.me, *map(re.escape, called)), key=lambda one: (-len(one), one))
        who = f"(?:{'|'.join(people)})"
        self.asks = [_pattern(rf"(?<!\w){form.replace(_WHO, who)}") for form in words.asks]
        self.notices = [_pattern(form.replace(_WHO, who)) for form in words.notices]


def _spellings(members: Sequence[str], words: ReminderWords) -> dict[str, str]:
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
def people_of(language: str, members: tuple[str, ...]) -> HousePeople:
    """The people of a house. They are asked for only once a message has a word for a reminder in it: most have
    none, and the patterns take long to make."""
    return HousePeople(reminder_words(language), members)


def wanted(text: str, by: str | None, words: ReminderWords, people: HousePeople) -> Wanted | None:
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


class StrayWish(msgspec.Struct, frozen=True):
    """That somebody is to be reminded, in words that could not be read further."""

    whom: str | None
    what: str
    nobody: str | None = None
    """Whom nobody here is called like."""
    rest: str = ""
    """What was said before it."""


def wish_in(text: str, words: ReminderWords, people: HousePeople, by: str | None) -> StrayWish | None:
    """Whether the message opens with a wish that a member is reminded."""
    for form in people.asks:
        found = form.search(text)
        if found is not None and _opening(text[: found.start()], words) is not None:
            return StrayWish(_person(found, by, words, people), text[found.end() :].strip(" ,:.!?")[:WISH])
    return None


def wish_for_nobody(text: str, words: ReminderWords) -> StrayWish | None:
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
        return StrayWish(None, what, nobody=whom, rest=rest)
    return None


def _names_nobody(whom: str, words: ReminderWords) -> bool:
    """Whether the word in a name's place belongs to the sentence: "remind tomorrow to", "remind to"."""
    tokens = scan(whom)
    known = words.to | words.links | words.all | words.me | words.conditions
    return not tokens or tokens[0].fold in known or words.time_at(tokens, 0) is not None


def _person(found: re.Match[str], by: str | None, words: ReminderWords, people: HousePeople) -> str | None:
    """Who is named; None for all."""
    whom = (found.groupdict().get("whom") or "i").casefold()
    return by if whom in words.me else people.members.get(whom)


def _read(
    said: str,
    found: re.Match[str],
    by: str | None,
    words: ReminderWords,
    people: HousePeople,
    *,
    notice: bool,
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


def _opening(before: str, words: ReminderWords) -> list[TimeSaid] | None:
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


def _head(tokens: Sequence[Token], words: ReminderWords) -> tuple[int, list[TimeSaid], bool, bool]:
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


def _behind_unclear(after: str, tokens: Sequence[Token], at: int, words: ReminderWords) -> int | None:
    """Where it begins what is to be brought up, behind a time that no calendar has ("when it's finished to")."""
    while at and tokens[at - 1].fold in words.links:
        at -= 1
    found = words.unclear.match(after, tokens[at].start) if at < len(tokens) else None
    return found.start("what") if found else None


def only_a_time(text: str, words: ReminderWords) -> TimeSaid | None:
    """The time that the text says, where it says nothing else."""
    if len(text) > LONGEST_TIME:
        return None
    tokens = scan(tidy(text))
    at, moments, _, _ = _head(tokens, words)
    return _joined(moments)[0] if moments and at == len(tokens) else None


def _short_day(tokens: Sequence[Token], at: int, words: ReminderWords) -> tuple[int, TimeSaid] | None:
    """ "Remind me fri": a short name, which elsewhere needs a word before it."""
    led = Token("word", "on", 0, 0, glued=False)
    hit = words.time_at([led, *tokens[at:]], 0)
    return (hit[0] - 1 + at, hit[1]) if hit else None


def _without_times(
    text: str, tokens: Sequence[Token], start: int, words: ReminderWords, early: TimeSaid | None
) -> tuple[str, TimeSaid | None]:
    """What is to be brought up without its time, and the whole time. It stands at the end; where none was said
    before (`early`), it may stand anywhere. What does not fit belongs to the words."""
    found: list[tuple[int, int, TimeSaid]] = []
    at = start
    while at < len(tokens):
        hit = words.time_at(tokens, at)
        if hit and not _past(hit[1]):
            found.append((tokens[at].start, tokens[hit[0] - 1].end, hit[1]))
        at = hit[0] if hit else at + 1
    begin = tokens[start].start if start < len(tokens) else len(text)
    last = len(words.close.sub("", text))
    cut: list[tuple[int, int, TimeSaid]] = []
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


def _past(moment: TimeSaid) -> bool:
    """A time that something happened at, not one to be reminded at."""
    ago = (moment.days is not None and moment.days < 0) or (moment.hours is not None and moment.hours < 0)
    return ago or moment.which == "last"


def _joined(moments: Sequence[TimeSaid]) -> tuple[TimeSaid | None, bool]:
    """The parts of the time as one, and whether a part did not fit."""
    whole: TimeSaid | None = None
    left = False
    for moment in moments:
        joined = moment if whole is None else merged(whole, moment)
        left = left or joined is None
        whole = joined or whole
    return whole, left


def read_reminder(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None,
    otherwise: Callable[[str], Verdict],
    *,
    by: str | None,
    addressed: bool,
    at: TimeSaid | None = None,
) -> Verdict | None:
    """The verdict on a message that asks for a reminder, or takes one back; None for any other. `otherwise`
    reads the rest of the message; `at` is the time of the reminder, where it was said in another message."""
    words = reminder_words(scene.language)
    if not words.trigger.search(text):
        return None
    said, slash = _bare(text, addressed=addressed)
    if words.forget.fullmatch(said.strip(" .!?")):
        return _forget(scene, replying_to, by)
    people = people_of(scene.language, scene.members)
    asked = wanted(words.timer(said), by, words, people)
    read = partial(
        Message, scene=scene, sent_at=sent_at, by=by, replying_to=replying_to, addressed=addressed or slash
    )
    if asked is None:
        if replying_to is not None and replying_to.reminds:
            return None
        stray = _no_promise(said, words, people, otherwise, by)
        return stray or _for_nobody(said, words, people, otherwise, read)
    if at is not None:
        moment = at if asked.moment is None else merged(at, asked.moment)
        asked = msgspec.structs.replace(asked, moment=moment, left=asked.left or moment is None)
    answers = replying_to is not None and (replying_to.reminds or replying_to.of is not None)
    if not asked.what and not asked.left and not answers and _is_timer(asked, by):
        asked = msgspec.structs.replace(asked, what=words.nothing)
    message = read(asked.what)
    if not asked.what:
        return _of_nothing(asked, replying_to, sure=addressed or slash or asked.called)
    if replying_to is not None and replying_to.reminds and _points_back(message.spans):
        return None  # "remind me tomorrow to do it": an answer to the reminder itself
    rest = _of_the_same(otherwise(asked.rest), asked.rest, message, otherwise) if asked.rest else IGNORE
    own = _judged(asked, message, words, _spoken_of(rest, message.spans))
    return _both(own, rest, first=asked.first)


def _bare(text: str, *, addressed: bool) -> tuple[str, bool]:
    """The message without the bot's name or a slash before it, and whether there was a slash."""
    said = tidy(text).strip()
    slash = said.startswith("/")
    if slash or (addressed and said.startswith("@")):
        first, _, rest = said.partition(" ")
        said = f"{first[1:].partition('@')[0]} {rest}" if slash else rest
    return said, slash


def _of_nothing(asked: Wanted, replying_to: ReplyTo | None, *, sure: bool) -> Verdict | None:
    """ "Remind me tomorrow": an answer to what it replies to, or of what?"""
    if (replying_to is not None and (replying_to.reminds or replying_to.of is not None)) or asked.rest:
        return None
    return Verdict(verdict="ask", why=WHY[Doubt.WHAT], doubt=Doubt.WHAT) if sure else IGNORE


def with_time(
    wish: str,
    when: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None,
    otherwise: Callable[[str], Verdict],
    *,
    by: str | None,
    addressed: bool,
) -> Verdict | None:
    """The wish for a reminder with the time that another message says and nothing else; None where it says none, or it
    does not do."""
    at = only_a_time(when, reminder_words(scene.language))
    if at is None:
        return None
    verdict = read_reminder(wish, scene, sent_at, replying_to, otherwise, by=by, addressed=addressed, at=at)
    return verdict if verdict is not None and verdict.verdict == "act" else None


def _is_timer(asked: Wanted, by: str | None) -> bool:
    """Minutes that the writer lets me count: nobody says that to people."""
    if asked.moment is None or asked.moment.hours is None or asked.often or asked.notice:
        return False
    soon = timedelta(hours=asked.moment.hours) <= TIMER_WITHIN
    return soon and asked.whom in (None, by)


def _forget(scene: Scene, replying_to: ReplyTo | None, by: str | None) -> Verdict:
    """The reminder of the message replied to is struck out, else the newest that is open: the writer's own
    before another's."""
    if replying_to is not None and replying_to.wishes:
        undo = Undo(entry=replying_to.wishes[-1])
        return Verdict(verdict="act", acts=(undo,), why="takes a reminder back")
    told = scene.recent or ()
    found = [recent for place, recent in enumerate(told) if _is_open(recent, told[:place])]
    own = [recent for recent in found if recent.by == by] or found
    if not own:
        why = WHY[Doubt.NOTHING_TO_CORRECT]
        return Verdict(verdict="ask", why=why, doubt=Doubt.NOTHING_TO_CORRECT)
    return Verdict(verdict="act", acts=(Undo(entry=own[0].entry),), why="takes a reminder back")


def _no_promise(
    said: str, words: ReminderWords, people: HousePeople, otherwise: Callable[[str], Verdict], by: str | None
) -> Verdict | None:
    """A wish for a reminder that could not be read is never a plan of the writer's: it is asked when."""
    stray = wish_in(said, words, people, by)
    if stray is None:
        return None
    plain = otherwise(said)
    promised = [act for act in plain.acts if isinstance(act, Promised)]
    timed = bool(promised) and not isinstance(promised[0], Done) and promised[0].until is not None
    if not promised or (stray.whom in (None, by) and timed):
        return None
    if words.tells.match(stray.what):
        return IGNORE
    return Verdict(verdict="ask", why=WHY[Doubt.WHEN], doubt=Doubt.WHEN, about=stray.what)


def _for_nobody(
    said: str,
    words: ReminderWords,
    people: HousePeople,
    otherwise: Callable[[str], Verdict],
    read: Callable[[str], Message],
) -> Verdict | None:
    """A wish for somebody who is not of the house: said so where it is about the wine, and never the writer's."""
    stray = wish_for_nobody(said, words) if wish_in(said, words, people, None) is None else None
    if stray is None or stray.nobody is None:
        return None
    message = read(stray.what)
    spans = message.spans
    refs = [span.ref for span in spans if span.ref is not None and span.ref.kind in _NAMES]
    sure = message.addressed or (
        stray.nobody.casefold() not in words.nameless and _of_the_trade(stray.what, spans, refs, words)
    )
    rest = otherwise(stray.rest) if stray.rest else IGNORE
    if not sure:
        return rest
    doubt = Doubt.UNKNOWN_MEMBER
    return _both(Verdict(verdict="ask", why=WHY[doubt], doubt=doubt, about=stray.nobody), rest, first=False)


def _is_open(recent: Recent, newer: Sequence[Recent]) -> bool:
    """Whether it asks for a reminder that nobody has answered with "done", and whose chore nobody has done."""
    wish = recent.act
    if not isinstance(wish, Remind):
        return False
    asked = AskedKey(entry=recent.entry) if recent.entry is not None else None
    return not any(
        (isinstance(act, Done) and asked is not None and is_meant(act.what, asked))
        or (isinstance(act, Step) and wish.step == act.step and wish.of == act.of)
        for act in (other.act for other in newer)
    )


def _of_the_same(rest: Verdict, said: str, message: Message, otherwise: Callable[[str], Verdict]) -> Verdict:
    """What else the message says, of the one batch that the reminder names where it names none itself."""
    refs = [span.ref for span in message.spans if span.ref is not None and span.ref.kind == "batch"]
    if rest.verdict != "ask" or len(rest.options) < 2 or len(refs) != 1:
        return rest
    again = otherwise(f"{refs[0].name}: {said}")
    return again if again.verdict == "act" else rest


def _spoken_of(rest: Verdict, spans: Sequence[Span]) -> str | None:
    """What "it" is: the one batch that the rest of the message is about."""
    names = {act.of for act in rest.acts}
    return names.pop() if len(names) == 1 and any(span.is_("batchword", "it") for span in spans) else None


def _judged(asked: Wanted, message: Message, words: ReminderWords, spoken_of: str | None) -> Verdict:
    spans, scene = message.spans, message.scene
    refs = [span.ref for span in spans if span.ref is not None and span.ref.kind in _NAMES]
    trade = spoken_of is not None or _of_the_trade(asked.what, spans, refs, words)
    sure = message.addressed or asked.called or message.replying_to not in (None, ReplyTo())
    others = asked.notice or (asked.whom is not None and asked.whom != message.by)
    if not trade and not sure and (others or asked.moment is None or asked.often):
        return IGNORE
    until = reminders.until([asked.moment], message.sent_at, scene) if asked.moment is not None else None
    doubt = Doubt.OFTEN if asked.often else _doubt_of_time(asked) if until is None else None
    step = _chore(spans) if trade else None
    name_only = asked.thing and all(_no_more_than_a_name(span) for span in spans)
    act = Remind(
        of=None if refs else message.replied.of if message.replied is not None else spoken_of,
        until=until,
        step=step,
        about=None if name_only and (refs or message.replied is not None) else asked.what,
        whom=asked.whom,
    )
    unsure = doubt or (None if trade or sure or _is_timer(asked, message.by) else Doubt.UNSURE)
    draft = Draft(act, weigh.SURE, "nothing", refs=refs if trade else [], doubt=unsure)
    verdict = Settler(message).verdict([draft], half=asked.left)
    if doubt is None:
        return verdict
    return Verdict(verdict="ask", acts=verdict.acts, why=WHY[doubt], doubt=doubt, about=asked.what)


def _doubt_of_time(asked: Wanted) -> Doubt:
    """No time that can be kept to, or one that has passed: "today" alone may be any hour of it."""
    bare = asked.moment is None or msgspec.structs.replace(asked.moment, vague=False) in (
        TimeSaid(),
        TimeSaid(days=0),
    )
    return Doubt.WHEN if bare else Doubt.PAST


def _of_the_trade(what: str, spans: Sequence[Span], refs: Sequence[Ref], words: ReminderWords) -> bool:
    """Whether a batch, a vessel, a chore or another word of the cellar is in it."""
    if words.trade.search(what) or any(ref.kind != "colour" and ref.sure >= 2 for ref in refs):
        return True
    pot = any(span.ref is not None and span.ref.kind == "kind" for span in spans)  # "the bucket"
    known = bool(refs) or pot or any(span.has(kind) for span in spans for kind in _TRADE)
    return known and chatter(spans) < _EVERYDAY


def _chore(spans: Sequence[Span]) -> StepName | None:
    """The chore that it begins with: "rack the plum", "the racking"."""
    first = next((span for span in spans if span.kind != "mark" and not span.is_("filler", "link")), None)
    return first.step if first is not None and not first.has("step", "done") else None


def _no_more_than_a_name(span: Span) -> bool:
    return span.ref is not None or span.kind == "mark" or span.has("filler") or span.has("batchword")


def _points_back(spans: Sequence[Span]) -> bool:
    """ "Do it", "that": nothing but a word for what was said before."""
    return len(spans) <= 3 and all(
        span.tags and span.ref is None and not span.has("step", "bare") for span in spans
    )


def _both(own: Verdict, rest: Verdict, *, first: bool) -> Verdict:
    """The reminder with what else the message says: both, or a question about both."""
    if rest.verdict == "ignore" or own.verdict == "ignore":
        return own if rest.verdict == "ignore" else rest
    acts = (*own.acts, *rest.acts) if first else (*rest.acts, *own.acts)
    if own.verdict == rest.verdict == "act":
        return Verdict(verdict="act", acts=acts, why=f"{rest.why} and a reminder")
    return Verdict(
        verdict="ask",
        acts=acts,
        why=WHY[Doubt.HALF_UNDERSTOOD],
        doubt=Doubt.HALF_UNDERSTOOD,
        options=(acts,) if acts else (),
    )
