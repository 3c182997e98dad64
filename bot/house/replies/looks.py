"""Somebody looked whether a wine has cleared, and says so in words."""

from datetime import timedelta

from bot.cellar.answers import batch_answer
from bot.cellar.home.due import Due
from bot.cellar.log.due_key import ClearKey
from bot.house.letters import plan
from bot.house.replies import answer
from bot.house.turn import Turn
from bot.ids import BatchId
from bot.say import answers
from bot.say import looks as checks
from bot.store.refers import Refers
from bot.understand import clearness

FRESH = timedelta(hours=12)
"""For so long after a letter that is the bot's latest, words that name no wine may answer it."""


def answers_look(turn: Turn) -> bool:
    """Whether the text says what somebody found who looked whether a wine has cleared; then it comes to the same
    as the buttons. It has to be asked for: a wine of the letter replied to, of the bot's latest one, or named."""
    said = clearness(turn.incoming.text or "", turn.home.scene(), turn.incoming.sent_at)
    if said is None or turn.incoming.forwarded:
        return False
    looks = _open(turn)
    if said.of is not None:
        names = {view.batch: view.name for view in turn.home.view.batches}
        looks = [due for due in looks if names.get(due.batch) == said.of]
    elif said.bare and turn.incoming.reply_to is None:
        return False  # a plain "no" between two people is no answer
    else:
        batches = _batches_of_letter(turn, alone=said.bare)
        looks = [due for due in looks if due.batch in batches]
    if not looks:
        return False
    if len(looks) > 1:
        named = [view.name for due in looks if (view := turn.home.view.batch(due.batch)) is not None]
        turn.reply(checks.which_clear(named))
        return True
    _carry_out(turn, looks[0], cloudy=said.found == "cloudy")
    return True


def _open(turn: Turn) -> list[Due]:
    """The looks that were asked for and not answered yet, also those that were put off."""
    home = turn.home
    asked = {
        (row.batch, row.key)
        for row in home.unit.reminders.standing(home.id)
        if row.outbox_id is not None and row.state in ("said", "moved")
    }
    wanted = plan.wanted_in(home).values()
    return [due for due in wanted if due.kind == "clearing" and (due.batch, due.key) in asked]


def _batches_of_letter(turn: Turn, *, alone: bool) -> set[BatchId]:
    """The wines of the letter replied to, or of the bot's latest while it is fresh; with `alone` only of a letter
    that says nothing else."""
    incoming = turn.incoming
    letter = turn.answers_to()
    if letter is None:
        return set()
    if (about := letter.refers.of) is not None and not letter.refers.reminders and not alone:
        view = turn.home.view.named(about)  # an answer about that wine, which may have asked just this
        return {view.batch} if view is not None else set()
    numbers = letter.refers.reminders
    rows = [turn.unit.reminders.reminder(turn.home.id, number) for number in numbers]
    told = [row for row in rows if row is not None and row.said_at is not None]
    if incoming.reply_to is None:
        told = [row for row in told if row.said_at is not None and turn.now - row.said_at <= FRESH]
    if alone and (len(told) != 1 or told[0].key != told[0].key.base or not isinstance(told[0].key, ClearKey)):
        return set()
    return {row.batch for row in told}


def _carry_out(turn: Turn, due: Due, *, cloudy: bool) -> None:
    home, who = turn.home, turn.member.name
    view = home.view.batch(due.batch)
    assert view is not None
    refers = Refers(of=view.name)
    if cloudy:
        again = answer.say_cloudy(turn, due)
        turn.reply(checks.is_cloudy(view.name, who, home.manner.when(again)), refers=refers)
        return
    answer.say_done(turn, due)
    fresh = home.view.batch(due.batch)
    after = answers.next_line(batch_answer(fresh, turn.now), home.manner) if fresh is not None else ""
    turn.reply(checks.is_clear(view.name, who, after), refers=refers)
