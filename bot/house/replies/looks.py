"""Somebody looked whether a wine has cleared, and says so in words."""

from bot.cellar.answers import batch_answer
from bot.cellar.home.due import Due
from bot.house import awaiting
from bot.house.replies import answer
from bot.house.turn import Turn
from bot.say import answers
from bot.say import looks as checks
from bot.store.refers import Refers
from bot.understand.verdict import Looked


def carry_out(turn: Turn, told: Looked) -> None:
    """Does what the buttons would do; of several wines it is asked which."""
    if len(told.of) > 1:
        turn.reply(checks.which_clear(list(told.of)))
        return
    names = {view.batch: view.name for view in turn.home.view.batches}
    due = next((due for due in awaiting.looks_asked(turn) if names.get(due.batch) in told.of), None)
    if due is not None:
        _carry_out(turn, due, cloudy=told.found == "cloudy")


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
