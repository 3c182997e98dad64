"""From a message to a verdict: every reading of it weighed, doubtful ones asked about, chatter left alone."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cache, partial
from typing import NamedTuple

from bot.cellar.log.acts import (
    Act,
    Amend,
    Begin,
    Blend,
    Bottles,
    Cost,
    Draw,
    Follow,
    GiveUp,
    Gravity,
    KeepPlan,
    Nickname,
    Note,
    Question,
    Remind,
    Rota,
    Skip,
    Split,
    Step,
    Temperature,
    Undo,
    Vessel,
    Volume,
    kind,
)
from bot.cellar.log.lengths import MESSAGE, TextKind, overlong
from bot.understand.claims import corrections, reminders
from bot.understand.claims.beginnings import DAYS_OF, OwnWords
from bot.understand.claims.corrections import TakenBack, taken_back
from bot.understand.claims.dangers import Danger, dangers, tells
from bot.understand.claims.drafts import Draft, WithTime
from bot.understand.claims.figures import figures_mended
from bot.understand.claims.notes import note, tasting
from bot.understand.claims.slips import mended
from bot.understand.claims.sums import sum_asked
from bot.understand.claims.vessels import read_shares
from bot.understand.judge import weigh
from bot.understand.judge.choice import TALK, Choice, choice
from bot.understand.judge.corrections import Spoke
from bot.understand.judge.figures import asked_if_mended, with_figures
from bot.understand.judge.heat import with_heat
from bot.understand.judge.hours import with_hour
from bot.understand.judge.lost import found_again
from bot.understand.judge.offers import IGNORE, NOT_UNDERSTOOD, WHY
from bot.understand.judge.sayings import SayingsRead, hear
from bot.understand.judge.settle import Settler
from bot.understand.judge.told import Drafts, Telling, valued
from bot.understand.judge.whole import read_whole
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text import moods
from bot.understand.text.clauses import DEGREES, VOLUMES, Clause, chatter, may_tell
from bot.understand.text.message import Message
from bot.understand.text.openers import as_meant
from bot.understand.text.sayings import asks, carried, sayings
from bot.understand.text.scan import LONGEST_SAID, joined
from bot.understand.text.spans import Span
from bot.understand.text.split import in_turn, split
from bot.understand.verdict import ASKS_SOMETHING, Doubt, Verdict

_NOTHING_TO_CORRECT = Verdict(
    verdict="ask", why=WHY[Doubt.NOTHING_TO_CORRECT], doubt=Doubt.NOTHING_TO_CORRECT
)
_CORRECTION_SPANS = 6
_FEWEST_WORDS = 3
"""A remark of fewer words is hardly worth keeping."""
_MOST_NOTES = 4

Weighed = Callable[[str, Verdict, SayingsRead | None, Choice | None], None]
"""Is told the text as it was read, the reading by rules, and by sayings where there was one, and how it was chosen."""

MOST_CLAUSES, MOST_HEADS = 120, 40
"""A message of more parts than this, or with a part that may tell of more things, tells nothing to a household's
log, and would take long to weigh: each thing is held against all that is said with it."""


def dangers_beside(
    text: str, scene: Scene, verdict: Verdict, replying_to: ReplyTo | None, *, spoken: bool
) -> tuple[Danger, ...]:
    """The dangers in a message of that verdict; `spoken`: it is said to the bot, or in a chat for the wine."""
    about_wine = replying_to is not None and (replying_to.of is not None or replying_to.reminds)
    return dangers(joined(text), scene, spoken=spoken, fact=about_wine or tells(verdict))


def meaning(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None = None,
    replying_to: ReplyTo | None = None,
    addressed: bool = False,
    for_wine: bool = False,
    forwarded: bool = False,
    spoke: Spoke = lambda: None,
    weighed: Weighed = lambda text, rules, heard, chosen: None,
) -> Verdict:
    """What a message means but for the dangers in it. `sent_at` is aware; `spoke` tells what the bot said last,
    `weighed` is told the text as it was read and the readings between which was chosen. What is longer than a message
    may be is not read."""
    text = as_meant(text, scene.language)
    if len(text) > MESSAGE:
        return _long("message") if (addressed or for_wine) and not forwarded else IGNORE
    to_bot = addressed or _CALLED.match(text) is not None
    read = partial(
        _meaning,
        scene=scene,
        sent_at=sent_at,
        by=by,
        replying_to=replying_to,
        to_bot=to_bot,
        for_wine=for_wine,
        forwarded=forwarded,
        spoke=spoke,
    )
    figures = figures_mended(text, scene.language, for_wine=for_wine or addressed)
    text = figures.text
    as_read = mended(text, scene)
    found = read(as_read)
    if as_read != text and any(isinstance(act, _GIVES_NAMES) for act in _every_act(found.verdict)):
        as_read = text  # somebody's own name is no slip
        found = read(as_read)
    if found.rules is not None:
        weighed(as_read, found.rules, found.heard, found.chosen)
    return asked_if_mended(found.verdict, figures.figures)


class _MeaningFound(NamedTuple):
    """A verdict, the readings between which was chosen, where there were any, and how."""

    verdict: Verdict
    rules: Verdict | None = None
    heard: SayingsRead | None = None
    chosen: Choice | None = None


_GIVES_NAMES = (Begin, Nickname, KeepPlan, Vessel)


def _every_act(verdict: Verdict) -> tuple[Act, ...]:
    """The acts of a verdict and of all its options."""
    return (*verdict.acts, *(act for option in verdict.options for act in option))


def _meaning(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None,
    replying_to: ReplyTo | None,
    to_bot: bool,
    for_wine: bool,
    forwarded: bool,
    spoke: Spoke,
) -> _MeaningFound:
    """The meaning of a text whose slips are mended."""
    addressed = to_bot or for_wine

    @cache
    def read(said: str) -> Message:
        return Message(said, scene, sent_at, by=by, replying_to=replying_to, addressed=addressed)

    @cache  # a form may ask what the grammar makes of the same words
    def judge(said: str) -> Verdict:
        message = read(said).copied()
        verdict = IGNORE if forwarded or not message.spans else _judge(message)
        if (
            verdict.verdict == "ignore"
            and message.addressed
            and verdict is not TALK
            and not message.only_polite()
            and (to_bot or not _between_people(message))
        ):
            return (_kept_as_note(message) if for_wine else None) or NOT_UNDERSTOOD
        return verdict

    if forwarded:
        return _MeaningFound(_within(judge(text)))
    rules = read_whole(
        text,
        scene,
        sent_at,
        replying_to,
        judge,
        lambda: read(text).copied(),
        by=by,
        addressed=addressed,
        spoke=spoke,
    ) or judge(text)
    message = read(text)
    if _plainly(rules, text) or bare(rules, message):
        return _MeaningFound(_within(rules), rules)
    heard = hear(message)
    chosen = choice(rules, heard, message, to_bot=to_bot, for_wine=addressed, spoke=spoke)
    verdict = with_figures(chosen.verdict, read(text).copied(), for_wine=addressed)
    verdict = with_heat(verdict, read(text).copied(), for_wine=addressed)
    verdict = with_hour(verdict, message)
    if verdict.verdict != "act" or verdict.why == ASKS_SOMETHING:
        verdict = found_again(verdict, heard, message, for_wine=addressed, to_bot=to_bot, spoke=spoke())
    return _MeaningFound(_within(verdict), rules, heard, chosen)


_READ_WHOLE = (
    KeepPlan,
    Nickname,
    Cost,
    Rota,
    Remind,
    Amend,
    Skip,
    GiveUp,
    Undo,
    Split,
    Blend,
    Vessel,
    Follow,
)
"""Acts of forms that nothing else reads."""


def _plainly(rules: Verdict, text: str) -> bool:
    """Whether there is nothing that another reading could add."""
    return any(isinstance(act, _READ_WHOLE) for act in _every_act(rules)) or len(text) > LONGEST_SAID


def bare(rules: Verdict, message: Message) -> bool:
    """Whether it is one gravity or temperature in plain words ("sg", not "final gravity"), with the one name of what it was
    read of, and nothing else: from that the sayings take the same."""
    if rules.verdict != "act" or len(rules.acts) != 1 or rules.acts[0].of is None:
        return False
    measure = {Gravity: "gravity", Temperature: "temperature"}.get(type(rules.acts[0]))
    numbers = [span.qty for span in message.spans if span.qty is not None]
    refs = [span.ref for span in message.spans if span.ref is not None]
    rest = [span for span in message.spans if span.ref is None and span.qty is None]
    if measure is None or len(numbers) != 1 or len(refs) != 1 or refs[0].kind not in ("batch", "vessel"):
        return False
    plain = all(span.is_("measure", measure) and span.is_("filler", "reading") for span in rest)
    return plain and (bool(rest) or numbers[0].unit in DEGREES)


_CALLED = re.compile(r"(?:hey |hi |hello |ok |right |dear )?bot\b", re.IGNORECASE)
"""Words by which people call the bot."""

_OF_THE_WINE = (
    "measure",
    "unit",
    "substance",
    "step",
    "packet",
    "batchword",
    "kitword",
    "question",
    "bottles",
    "put",
    "move",
)


def _between_people(message: Message) -> bool:
    """Whether a message in a chat for the wine is plainly not about it: everyday words, and none of the trade; or it bids
    somebody do a chore."""
    if moods.ordered(Clause(list(message.spans))):
        return True
    trade = any(
        span.ref is not None or any(span.has(kind) for kind in _OF_THE_WINE) for span in message.spans
    )
    return not trade and chatter(message.spans) > 0


def _kept_as_note(message: Message) -> Verdict | None:
    """An offer to keep what somebody remarks, where it asks nothing and there is a wine that it can be about."""
    if any(map(asks, sayings(message))) or len(message.text.split()) < _FEWEST_WORDS:
        return None
    replied = message.replied
    batches = (
        [replied.batch] if replied is not None and replied.batch is not None else message.scene.under_way
    )
    notes = [Note(of=batch.name, text=message.text.strip()) for batch in batches[:_MOST_NOTES]]
    if not notes:
        return None
    return Verdict(
        verdict="ask",
        acts=tuple(notes),
        why=WHY[Doubt.KEEP_NOTE],
        doubt=Doubt.KEEP_NOTE,
        options=tuple((one,) for one in notes),
    )


def _within(verdict: Verdict) -> Verdict:
    """The verdict, unless a name or the like in it is longer than it may be."""
    long = next((kind for act in _every_act(verdict) if (kind := overlong(act)) is not None), None)
    return verdict if long is None else _long(long)


def _long(kind: TextKind) -> Verdict:
    return Verdict(verdict="ask", why=WHY[Doubt.TOO_LONG], doubt=Doubt.TOO_LONG, about=kind)


def _judge(message: Message) -> Verdict:
    spans = message.spans
    settler = Settler(message)
    back = taken_back(message)
    if back is not None:
        return _taken_back(message, settler, back)
    own = OwnWords(message)
    for read in (partial(note, message), partial(tasting, message), own.begin, own.nickname):
        draft = read(spans)
        if draft is not None:
            more = _figures_beside(draft, spans)
            return settler.verdict([draft], half=bool(more), unread=message.words_of(more) if more else None)
    if message.is_table():
        return IGNORE
    if message.replying_to is not None and message.replying_to.reminds:
        answer = reminders.reminder_reply(
            Clause(list(spans)), message.replying_to, message.sent_at, message.scene
        )
        if answer is not None:
            return settler.verdict([Draft(answer, weigh.SURE, "nothing")], half=False)
    corrected, right = corrections.corrects(spans)
    corrected = corrected and not corrections.supposes(message)
    verdict = _correction(message, settler, right) if corrected else None
    if verdict is not None:
        return verdict
    spans = corrections.mended(corrections.unquoted(spans))
    if not spans or (own.begins(spans) and moods.unreal(Clause(list(spans)))):
        return IGNORE
    asked = sum_asked(spans, message.scene)
    if asked is not None:
        return settler.verdict([asked], half=False)
    return _statements(message, settler, corrections.without_starts(spans))


def _figures_beside(draft: Draft, spans: Sequence[Span]) -> list[Span]:
    """What is told in figures beside a beginning, and is none of it: "started apple: 1 gal, sugar 900 g"."""
    if not isinstance(draft.act, Begin):
        return []
    return [
        span for span in spans if span.qty is not None and span.qty.unit not in (None, *VOLUMES, *DAYS_OF)
    ]


def _taken_back(message: Message, settler: Settler, back: TakenBack) -> Verdict:
    """An undo, with what else the message tells; or people who talk to each other."""
    if not back.rest:
        return (
            Verdict(verdict="act", acts=(Undo(),), why="takes back what was written last")
            if back.counts
            else TALK
        )
    told = _statements(message, settler, corrections.without_starts(back.rest), undone=back.counts)
    if any(not isinstance(act, Undo) for act in told.acts):
        if back.counts:
            return told
        # Whatever was meant by "scrap that", what follows it is told as well.
        return _correction(message, settler, list(back.rest)) or told
    if back.named:
        return Verdict(verdict="act", acts=(Undo(),), why="takes back what was written last")
    return TALK


def _correction(message: Message, settler: Settler, rest: Sequence[Span]) -> Verdict | None:
    """A message that puts the last entry right; None when it is chatter after all."""
    rest = corrections.without_denied(rest)
    clauses = split(rest)
    drafts = Telling(message, clauses).told().drafts if not _endless(clauses) else []
    refs = [span.ref for span in rest if span.ref is not None]
    replied = message.replying_to is not None and message.replying_to.of is not None
    if replied and drafts and all(isinstance(draft.act, Temperature) for draft in drafts):
        # The temperature of the sample replied to: the desk knows which entry that is.
        return settler.verdict(drafts, half=False)
    unknown = sum(span.kind == "word" for span in rest)
    if chatter(rest) + 0.3 * unknown >= 1.0 and not refs and not message.anchored:
        return None
    if not drafts:
        meant = corrections.amount_meant(rest, message.entry, message.scene)
        if meant is not None and isinstance(meant.act, Undo):
            return _NOTHING_TO_CORRECT
        drafts = [meant] if meant is not None else []
    if not drafts and (not refs or len(rest) > _CORRECTION_SPANS):
        return None
    return settler.correction(drafts, refs)


def _endless(clauses: Sequence[Clause]) -> bool:
    """Whether there is more than anybody tells in one message."""
    return len(clauses) > MOST_CLAUSES or any(
        len(clause.spans) > MOST_HEADS and sum(map(may_tell, clause.spans)) > MOST_HEADS for clause in clauses
    )


def _statements(
    message: Message, settler: Settler, spans: Sequence[Span], *, undone: bool = False
) -> Verdict:
    """What the message tells and asks; `undone`: after it took the last entry back."""
    shared = read_shares(message, spans)
    if shared is not None:
        spans = shared[1]
    clauses = split(in_turn(spans))
    if _endless(clauses):
        return IGNORE
    told = Telling(message, clauses).told()
    times = carried(clauses)
    for draft in told.drafts:
        if isinstance(draft.act, WithTime) and not draft.moments:
            draft.moments = times.get(id(draft.clause), [])
    if shared is not None:
        told = _beside(told, shared[0])
    kept: list[Draft] = [Draft(Undo(), weigh.SURE, "nothing")] if undone else []
    unread = list(told.half)
    begins = any(isinstance(draft.act, Volume) for draft in told.drafts) and _of_a_beginning(message)
    for draft, score in zip(told.drafts, told.scores, strict=True):
        if begins and isinstance(draft.act, Volume):
            continue  # one thing of a kit that is begun
        if score >= weigh.PERHAPS:
            if score < weigh.SURE:
                draft.doubt = draft.doubt or Doubt.UNSURE
            kept.append(draft)
        elif draft.clause is not None and valued(draft.act) and draft.doubt is None:
            unread += [draft.clause] if not chatter(draft.clause.spans) else []
    if not kept:
        return IGNORE
    words = [message.words_of(clause.spans) for clause in unread]
    return settler.verdict(
        _without_doubles(_without_headings(kept)), half=bool(unread), unread=", ".join(words) or None
    )


def _of_a_beginning(message: Message) -> bool:
    """ "Heron, red, 23 l in bucket 1, 21 day kit": a colour and the days of a kit beside a vessel that holds no wine."""
    spans = message.spans
    refs = [span.ref for span in spans if span.ref is not None]
    vessels = [ref for ref in refs if ref.kind == "vessel"]
    free = bool(vessels) and not any(ref.name in message.targets.in_vessel for ref in vessels)
    days = any(span.qty is not None and span.qty.unit in DAYS_OF for span in spans)
    coloured = any(span.colour is not None for span in spans)
    done = any(span.has("step", "done") for span in spans)
    return free and days and coloured and not done and not any(ref.kind == "batch" for ref in refs)


def _beside(told: Drafts, shared: Draft) -> Drafts:
    """What was told beside a wine shared out, in the order written, but what was lost goes before: then the rest is
    what was left. What names no batch is of that wine."""
    order = {id(shared): _place(shared)} | {
        id(draft): -1 if isinstance(draft.act, Draw) else _place(draft) for draft in told.drafts
    }
    pairs = [(shared, shared.score)]
    for draft, score in zip(told.drafts, told.scores, strict=True):
        if not draft.refs and isinstance(draft.act, Draw):
            draft.refs, score = shared.refs, max(score, weigh.SURE)
        pairs.append((draft, score))
    pairs.sort(key=lambda pair: order[id(pair[0])])
    return replace(told, drafts=[draft for draft, _ in pairs], scores=[score for _, score in pairs])


def _place(draft: Draft) -> int:
    return draft.clause.spans[0].lo if draft.clause is not None and draft.clause.spans else 0


def _without_headings(drafts: list[Draft]) -> list[Draft]:
    """Leaves out a heading that only looks like a question: "Readings tonight:" above the readings."""
    return [draft for index, draft in enumerate(drafts) if not _heading(draft, drafts[index + 1 :])]


def _heading(draft: Draft, following: Sequence[Draft]) -> bool:
    clause = draft.clause
    if isinstance(draft.act, Question) and following and _answered(draft.act, following[0].act):
        return True
    if not isinstance(draft.act, Question) or clause is None or clause.asked or clause.refs:
        return False
    if clause.means("mood", "ask") or clause.means("mood", "want"):
        return False
    return any(not isinstance(other.act, Question) for other in following)


def _answered(question: Question, act: Act) -> bool:
    """ "Temperature of the white? It's 19.5": a question that its writer answers."""
    if question.about == "temperature":
        return isinstance(act, Temperature)
    return question.about == "readings" and isinstance(act, Gravity)


def _without_doubles(drafts: list[Draft]) -> list[Draft]:
    """Leaves out a question asked twice in one message, and a value put right at once: "1.012, no, 1.014"."""
    kept: list[Draft] = []
    for draft in drafts:
        if kept and _amends(draft, kept[-1]):
            draft.refs = draft.refs or kept[-1].refs
            kept[-1] = draft
            continue
        twin = next((one for one in kept if _twins(one, draft)), None)
        if twin is None:
            kept.append(draft)
        elif twin.doubt is not None:
            twin.doubt = draft.doubt
    return kept


def _twins(one: Draft, other: Draft) -> bool:
    """Whether a draft only says again what another said: "got 28 bottles out of it, all bottled"."""
    if isinstance(one.act, Question):
        return one.act == other.act
    if isinstance(one.act, Bottles) and isinstance(other.act, Bottles):
        less = other.clause is not None and other.clause.means("bottles", "lost") and not other.clause.refs
        return less and one.act == other.act
    if not isinstance(one.act, Step) or not isinstance(other.act, Step) or one.act.step != other.act.step:
        return False
    if one.refs != other.refs or one.moments != other.moments or other.to not in (None, one.to):
        return False
    if one.act.bottles is None and one.act.step == "bottle":
        one.act = other.act
    return other.act.bottles in (None, one.act.bottles)


def _amends(draft: Draft, before: Draft) -> bool:
    """Whether a draft puts the one before it right, in the same message."""
    if kind(draft.act) != kind(before.act) or draft.clause is None or isinstance(draft.act, Question):
        return False
    if draft.clause.refs and draft.clause.refs != before.refs:
        return False
    first = next((span for span in draft.clause.spans if span.kind != "mark"), None)
    return first is not None and first.has("correct")
