"""Acts carried out: facts into the log, questions answered, things struck out, in one answer."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.answers import (
    LoreAnswer,
    RemindersAnswer,
    StrengthAnswer,
    answer,
    batch_answer,
    strength_answer,
)
from bot.cellar.batch.advice import Caution, cautions
from bot.cellar.batch.bounds import objection
from bot.cellar.batch.known import told_already
from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Done,
    Follow,
    Gravity,
    KeepPlan,
    KitPart,
    Nickname,
    Note,
    Promised,
    Question,
    Remind,
    Skip,
    Split,
    Step,
    Temperature,
    Undo,
    Volume,
)
from bot.cellar.log.fold import KEPT, Entry, standing
from bot.cellar.log.lengths import LABEL
from bot.cellar.log.subjects import About, Reckon
from bot.cellar.plans.leaflet import changes
from bot.cellar.plans.model import Plan
from bot.house import instruments, sums, vessels
from bot.house import undo as striking
from bot.house.ask import ASK_FOR
from bot.house.complete import clash_of, completed
from bot.house.letters import calendar, promises
from bot.house.letters.plan import said_in
from bot.house.turn import Turn
from bot.ids import BatchId, EntryId, MessageId
from bot.say import answers as say_answers
from bot.say import company, dangers, doubts, leaflets, lore, strength
from bot.say import striking as say_striking
from bot.say.cautions import caution
from bot.say.facts import (
    HOW_MANY,
    KEPT_FOR_LATER,
    KIT_ASKED,
    NAME_IT,
    NOTHING_TO_STRIKE,
    SANITISER_RUNS,
    back_in,
    kit_question,
    named_by_colour,
    noted,
    noted_already,
    struck,
)
from bot.say.manner import name
from bot.store.press import FollowPlan, Labelled, StrikeOut, TellHow
from bot.store.queries.people import MemberRow
from bot.store.queries.questions import AskedRow
from bot.store.refers import Refers, Wants, WantsBottles, WantsFigures, WantsKit
from bot.understand import once_more, signs_of

ASKED_AGAIN = timedelta(days=1)
"""So long after it was asked of what wine a fact is, it is not asked again."""
_BEFORE_THE_YEAST = ("setting up", "ready for the yeast")
_MOVES_ON = (Gravity, Step, Addition, Begin, Amend, Skip, Temperature, Volume, Bottles, Split, Blend, Follow)


class Author(msgspec.Struct, frozen=True, kw_only=True):
    """Who said it and when: not the one who pressed the button, when they differ."""

    member: MemberRow
    said_at: datetime
    message_id: MessageId | None = None
    """The message that said it, where that is not the one that is being answered."""

    @classmethod
    def of(cls, question: AskedRow, member: MemberRow) -> "Author":
        """Of what was asked about before it was written down."""
        return cls(member=member, said_at=question.said_at, message_id=question.message_id)


def carry_out(
    turn: Turn,
    acts: Sequence[Act],
    author: Author | None = None,
    *,
    done: Sequence[str] = (),
    reminders: tuple[int, ...] = (),
    unread: str | None = None,
    kit: Begin | None = None,
) -> None:
    """Does all the acts of one message, or none, and answers once. `done` are the words for what is done where
    the answer takes the place of a letter, `reminders` what that one said, `unread` the part of the message that
    was not taken, `kit` what is known of one that is spoken of and not begun yet."""
    author = author or Author(member=turn.member, said_at=turn.incoming.sent_at)
    acts = [promises.as_fact(turn, act) for act in acts]
    acts, known = _without_known(turn, acts, author)
    if known and not acts:
        turn.reply("\n".join(known))
        return
    for act in acts:
        refused = objection(act, turn.home.view, [v.name for v in turn.home.vessels], turn.now, acts)
        if refused is not None:
            kind, about = refused
            turn.reply(doubt_words(turn, kind, (act,), about), refers=_about(act))
            return
    if instruments.asks(turn, acts, author.member, author.said_at, turn.now + ASK_FOR):
        return
    moves = [act for act in acts if _moves(act)]
    if moves and (found := clash_of(turn.home, moves, _replaced_by(turn, acts))) is not None:
        turn.reply(doubts.clash(*found), refers=_about(moves[0]))
        return
    if striking.asked_first(turn, acts):
        return
    report = _Report(turn, done, reminders)
    report.kit = kit
    report.lines += known
    report.notes.append(instruments.keep(turn, acts))
    if unread is not None:
        report.notes.append(doubts.not_taken(unread))
    facts = [act for act in acts if not isinstance(act, Question | Undo | Promised)]
    replaced = list(turn.strikes)
    corrected: dict[EntryId, Entry] = {}
    for act in acts:
        if isinstance(act, Question):
            report.answered(act)
        elif isinstance(act, Promised):
            report.promised(promises.promise(turn, act, author.member, author.said_at))
        elif isinstance(act, Undo) and facts:
            gone = striking.meant(turn, act)
            replaced += [entry.entry for entry in gone]
            corrected |= {entry.entry: entry for entry in gone}
        elif isinstance(act, Undo):
            _strike(turn, report, _struck_by(turn, act))
        else:
            strikes = replaced.pop(0) if replaced else None
            old = corrected.get(strikes) if strikes is not None else None
            # What is put right was when it was, unless that is what is put right.
            at = old.at if old is not None and type(old.act) is type(act) else None
            report.wrote(write(turn, act, author, strikes, at=at), replaces=strikes is not None)
    for entry in replaced:
        _strike_one(turn, entry)
    report.send()


def _without_known(turn: Turn, acts: Sequence[Act], author: Author) -> tuple[list[Act], list[str]]:
    """The acts but for those that somebody told a moment ago, and the words for these. What takes the place of
    something, and what is told in reply to a letter, is told for its own sake."""
    if turn.strikes or turn.incoming.reply_to is not None or any(isinstance(act, Undo) for act in acts):
        return list(acts), []
    new: list[Act] = []
    known: list[str] = []
    again = once_more(turn.incoming.text or "", turn.home.row.language)
    for act in acts:
        entry = told_already(act, turn.home.batch_of(act), turn.home.entries, author.said_at, again=again)
        if entry is None:
            new.append(act)
        else:
            known.append(noted_already(entry, turn.home.manner))
    return new, known


def write(
    turn: Turn, act: Act, author: Author, strikes: EntryId | None = None, *, at: datetime | None = None
) -> Entry:
    """Appends one fact, which was `at` that time unless it says another."""
    home = turn.home
    batch = _begun_before(turn, strikes) if isinstance(act, Begin) else home.batch_of(act)
    act = completed(home, act, batch)
    source = turn.source
    if author.message_id is not None:
        source = msgspec.structs.replace(source, message_id=author.message_id)
    return home.write(act, author.member, source, said_at=author.said_at, at=at, batch=batch, strikes=strikes)


def _begun_before(turn: Turn, strikes: EntryId | None) -> BatchId | None:
    """The batch that a corrected Begin goes on with."""
    old = next((entry for entry in turn.home.entries if entry.entry == strikes), None)
    return (old.batch or BatchId(old.entry)) if old is not None and isinstance(old.act, Begin) else None


def _moves(act: Act) -> bool:
    """Whether the act puts wine into a vessel."""
    moved = isinstance(act, Amend) and act.vessel is not None
    return moved or isinstance(act, Begin | Split | Blend) or (isinstance(act, Step) and act.to is not None)


def _replaced_by(turn: Turn, acts: Sequence[Act]) -> list[EntryId]:
    return [*turn.strikes, *(n for act in acts if isinstance(act, Undo) for n in _struck_by(turn, act))]


def undo(turn: Turn, entries: Sequence[EntryId]) -> None:
    """Strikes out just these entries, those that still stand, and says so."""
    report = _Report(turn)
    stand = {entry.entry for entry in standing(turn.home.entries)}
    _strike(turn, report, [entry for entry in entries if entry in stand])
    report.send()


def _struck_by(turn: Turn, act: Undo) -> list[EntryId]:
    return [entry.entry for entry in striking.meant(turn, act)]


def _strike_one(turn: Turn, entry: EntryId) -> Entry:
    batch = next((e.batch for e in turn.home.entries if e.entry == entry), None)
    return turn.home.write(
        Undo(), turn.member, turn.source, said_at=turn.incoming.sent_at, batch=batch, strikes=entry
    )


def _strike(turn: Turn, report: "_Report", entries: Sequence[EntryId]) -> None:
    known = {entry.entry: entry for entry in turn.home.entries}
    if not entries:
        before = striking.replied(turn) is not None
        report.lines.append(company.STRUCK_ALREADY if before else NOTHING_TO_STRIKE)
        return
    if (found := clash_of(turn.home, (), entries)) is not None:
        report.lines.append(doubts.clash(*found))
        return
    undone = []
    for entry in entries:
        undone.append(_strike_one(turn, entry).entry)
        old = known[entry]
        if isinstance(old.act, Undo) and old.strikes is not None:
            report.lines.append(back_in(known[old.strikes].act, turn.home.manner))
        else:
            report.lines.append(struck(old, turn.home.manner))
        report.yeast_struck(old)
    again = any(isinstance(known[entry].act, Undo) for entry in entries)
    report.buttons.append(("Undo" if again else "Put it back", StrikeOut(entries=tuple(undone))))


def doubt_words(
    turn: Turn,
    kind: str,
    acts: Sequence[Act],
    about: str | None,
    also: Sequence[Act] = (),
    likely: Act | None = None,
) -> str:
    """What is said of a doubt about the first of the acts, with what this house has. `also` is what would be
    written with it."""
    home = turn.home
    view = home.view.named(acts[0].of) if acts else None
    gone = {*turn.strikes, *(act.entry for act in acts if isinstance(act, Undo))}
    before = [r for r in view.readings if r.entry not in gone] if view is not None else []
    if kind == "strike_out":
        entries = [entry for entry in home.entries if entry.entry in gone]
        return say_striking.strike_out(entries, home.manner, me=turn.member.name)
    if kind == "keep_plan" and acts and isinstance(acts[0], KeepPlan):
        return leaflets.preview(acts[0].plan)
    return doubts.doubt(
        kind,
        acts,
        home.manner,
        also=also,
        about=about,
        last=before[-1].sg if before else None,
        vessels=[vessel.name for vessel in home.vessels],
        batches=[batch.name for batch in home.view.under_way],
        members=[member.name for member in home.members],
        likely=likely,
    )


def _about(act: Act) -> Refers:
    return Refers(of=act.of or None)


class _Report:
    """The one answer to a message: facts, then cautions, then where that leaves the batch."""

    def __init__(self, turn: Turn, done: Sequence[str] = (), reminders: tuple[int, ...] = ()) -> None:
        self.turn = turn
        self.lines: list[str] = [*done]
        self.instead = bool(done)
        self.reminders = reminders
        self.notes: list[str] = []
        self.buttons: list[Labelled] = []
        self.entries: list[EntryId] = []
        self.touched: dict[BatchId, bool] = {}
        self.kit: Begin | None = None
        """A kit that is not begun yet, of which the next thing is asked."""
        self.told_of: list[BatchId] = []
        """The batches of which it was told what they are."""
        self.question = ""
        self.why: str | None = None
        self.of: str | None = None
        self.wants: Wants | None = None
        self.asked: About | None = None
        self.calendar: Question | None = None
        self.sobering = False
        """Whether good cheer would be out of place."""

    def wrote(self, entry: Entry, *, replaces: bool) -> None:
        home = self.turn.home
        if not self.instead:
            self.lines.append(noted(entry.act, home.manner, replaces=replaces))
        self.entries.append(entry.entry)
        if isinstance(entry.act, KeepPlan):
            self._kept(entry.act.plan)
            return
        if isinstance(entry.act, Step):
            self._after_step(entry, entry.act)
        batch = BatchId(entry.entry) if isinstance(entry.act, Begin) and entry.batch is None else entry.batch
        view = home.view.batch(batch) if batch is not None else None
        if view is None:
            if isinstance(entry.act, Step):  # "sanitised everything"
                for other in home.view.batches:
                    if any(chore.entry == entry.entry for chore in other.chores):
                        self.touched[other.batch] = False
            if not home.view.batches and isinstance(entry.act, KEPT) and not self._asked_lately(entry):
                self.notes.append(KEPT_FOR_LATER)
                self.kit = self.kit or self.turn.kit_told()
            return
        self.of = view.name
        if isinstance(entry.act, _MOVES_ON):
            self.touched[view.batch] = isinstance(entry.act, Gravity)
        heeds = cautions(view, entry)
        self.notes += [caution(found, view, home.manner) for found in heeds]
        self.sobering |= any(found.caution is Caution.BROKEN_GLASS for found in heeds)
        if isinstance(entry.act, Note):
            self.notes.append(dangers.signs(signs_of(entry.act.text, home.row.language)))
        if isinstance(entry.act, Blend):
            self.notes.append(strength.blended_now(strength_answer(view), home.manner))
        if isinstance(entry.act, Begin | Amend | Volume | Nickname):
            self.told_of.append(view.batch)
        self.notes += vessels.after(home, view, entry)
        question, buttons = vessels.where_to(self.turn, view, entry)
        self.question = question or self.question
        self.buttons += buttons

    def _asked_lately(self, entry: Entry) -> bool:
        """Whether it was asked, less than a day before this entry, which wine that will be."""
        home = self.turn.home
        return any(
            isinstance(before.act, KEPT)
            and before.batch is None
            and before.entry not in self.entries
            and timedelta() <= entry.said_at - before.said_at <= ASKED_AGAIN
            for before in standing(home.entries)
        )

    def still_to_know(self) -> None:
        """Asks for the first thing that the beginning of the one batch that was told of lacks."""
        if self.kit is not None and not self.turn.home.view.under_way:
            self.notes.append(kit_question(self.kit, self.turn.home.manner))
            self.wants = self.wants or WantsKit(what=self.kit.lacks or "vessel", told=self.kit)
        told = set(self.told_of)
        view = self.turn.home.view.batch(told.pop()) if len(told) == 1 else None
        if view is None or view.ended_at is not None or view.own_plan is not None:
            return
        missing: dict[KitPart, bool] = {
            "colour": view.colour is None,
            "days": view.kit_days is None,
            "litres": view.litres is None,
            "vessel": view.vessel is None,
        }
        lacks = next((part for part, lacking in missing.items() if lacking), None)
        if lacks is not None and not isinstance(self.wants, WantsBottles):
            self.notes.append(KIT_ASKED[lacks])
            self.wants = self.wants or WantsKit(what=lacks)
        elif lacks is None and named_by_colour(view):
            self.notes.append(NAME_IT)

    def yeast_struck(self, old: Entry) -> None:
        """Says that a must is without its yeast, where that was what was struck out."""
        act = old.act
        pitched = isinstance(act, Step) and act.step == "pitch"
        view = self.turn.home.view.batch(old.batch) if old.batch is not None else None
        if view is None or not (pitched or (isinstance(act, Addition) and act.what == "yeast")):
            return
        if view.pitched_at is None and view.ended_at is None:
            self.notes.append(
                say_striking.without_yeast(view.name, view.follows.pitch_c, self.turn.home.manner)
            )

    def promised(self, entry: Entry) -> None:
        """A promise, which only a reminder of somebody's own, or "that is enough", has to be struck out by a
        button."""
        self.lines.append(noted(entry.act, self.turn.home.manner, replaces=False))
        if isinstance(entry.act, Remind | Done):
            self.entries.append(entry.entry)
            self.of = self.of or entry.act.of

    def _kept(self, plan: Plan) -> None:
        """A plan was kept: how to use it, what it changes, and who might go on by it."""
        house = self.turn.home.view
        older = [old for old in house.plans if old.title.casefold() == plan.title.casefold() and old != plan]
        if older:
            began = [view for view in house.under_way if view.follows == older[-1]]
            self.notes.append(leaflets.changed(older[-1], changes(older[-1], plan), began))
        else:
            self.notes.append(leaflets.kept(plan))
        for view in house.under_way[:3]:
            if view.follows != plan:
                label = f"Use it for {view.name}"[:LABEL]
                self.buttons.append((label, FollowPlan(batch=view.batch, plan=plan.key)))

    def _after_step(self, entry: Entry, act: Step) -> None:
        if act.step == "bottle" and act.bottles is None:
            self.notes.append(HOW_MANY)
            self.wants = WantsBottles()
        home = self.turn.home
        if act.step == "sanitise" and entry.at + home.contact > self.turn.now:
            at = home.manner.clock(entry.at + home.contact)
            self.notes.append(SANITISER_RUNS.format(at=at, minutes=home.row.contact_minutes))

    def answered(self, question: Question) -> None:
        home = self.turn.home
        self.asked = question.about
        if question.about == "calendar":
            self.calendar, self.of = question, question.of
            return
        if question.about == "contact":
            self.lines.append(say_answers.contact(home.row.contact_minutes))
            return
        if isinstance(question.subject, Reckon):
            summed = sums.reckoned(home, question.subject, question.of)
            self.why = summed.why
            self.lines.append(summed.words)
            if summed.lacks and not isinstance(self.wants, WantsBottles):
                self.wants = WantsFigures(
                    reckon=question.subject.sum,
                    given=dict(question.subject.given),
                    keys=summed.lacks,
                    of=question.of,
                    vessel=question.subject.vessel,
                    member=self.turn.member.person_id,
                )
            return
        found = answer(question, home.view, self.turn.now, home.surroundings())
        if isinstance(found, RemindersAnswer):
            # What was asked in private is told only there.
            main = self.turn.unit.households.main_chat(home.id) or self.turn.incoming.chat_id
            told = (main, self.turn.incoming.chat_id)
            asked = [pair for pair in found.asked if said_in(home, pair[0], main) in told]
            found = RemindersAnswer(asked=tuple(asked))
        self.lines.append(say_answers.answer(found, home.manner))
        if isinstance(found, StrengthAnswer):
            self.why = strength.why_strength(found)
        if isinstance(found, LoreAnswer):
            self.why = lore.why_so(found, home.manner)
        self.of = self.of or question.of

    def send(self) -> None:
        turn, home = self.turn, self.turn.home
        self.still_to_know()
        for batch, fresh in self.touched.items():
            view = home.view.batch(batch)
            if view is None:
                continue
            found = batch_answer(view, turn.now, "next")
            label = f"{name(view.name)}: " if len(self.touched) > 1 else ""
            if fresh and found.stage.word not in _BEFORE_THE_YEAST:
                line = say_answers.stage_line(found, home.manner, fresh=True)
                self.notes.append(label + line[0].upper() + line[1:])
                label = ""
            done = found.stage.step is None
            if (following := say_answers.next_line(found, home.manner)) and not (done and self.sobering):
                self.notes.append(label + following)
            if len(self.touched) == 1 and say_answers.how(found) and found.stage.gate != "settled":
                self.buttons.append(("How?", TellHow(batch=batch)))
            if found.strength is not None:
                self.why = strength.why_strength(strength_answer(view))
        if self.entries:
            self.buttons.append(("Undo", StrikeOut(entries=tuple(self.entries))))
        file = None
        if (
            self.calendar is not None and not turn.quiet
        ):  # what is given out is noted: only if a letter leaves
            words, file = calendar.export(home, self.calendar.of)
            self.lines.append(words)
        refers = Refers(
            of=self.of or None,
            reminders=self.reminders,
            entries=tuple(self.entries),
            why=self.why or None,
            asked=self.asked,
            wants=self.wants,
        )
        turn.reply(
            "\n".join(filter(None, [*self.lines, *dict.fromkeys(self.notes), self.question])),
            self.buttons,
            refers,
            file=file,
        )
