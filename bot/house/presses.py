"""Buttons: what each press does."""

from typing import assert_never

import msgspec

from bot.cellar.answers import batch_answer
from bot.cellar.log.acts import Follow
from bot.cellar.log.fold import standing
from bot.house import carry_out, messages, outbox
from bot.house.carry_out import Author
from bot.house.people import membership, settings
from bot.house.replies import answer, words
from bot.house.turn import Turn
from bot.say import answers, company
from bot.store.press import (
    AddVessel,
    AnswerReminder,
    AnswerThings,
    AskWhich,
    ChooseOption,
    DropQuestion,
    EnterHouse,
    FollowPlan,
    RemoveMember,
    SetUp,
    StrikeOut,
    TellHow,
)
from bot.store.refers import Refers


def press(turn: Turn) -> str | None:
    """Carries out the pressed button. One that came too late changes nothing: then the answer is a line for
    the one who pressed it."""
    does = outbox.pressed(turn.unit, turn.home.id, turn.incoming)
    if isinstance(does, str):
        return does
    afresh = turn
    turn = msgspec.structs.replace(turn, edits=turn.incoming.message_id)
    match does:
        case ChooseOption():
            return _choose(turn, does)
        case DropQuestion():
            return _drop(turn, does)
        case StrikeOut():
            return _strike_out(turn, does)
        case TellHow():
            return _tell_how(afresh, does)
        case FollowPlan():
            return _follow(afresh, does)
        case AddVessel():
            return _add_vessel(turn, does)
        case SetUp():
            settings.pressed(turn, does)
            return None
        case RemoveMember():
            return membership.pressed(turn, does)
        case AnswerReminder():
            return answer.pressed(turn, does)
        case AnswerThings():
            return None if words.pressed(turn, does) else company.DONE_ALREADY
        case AskWhich():
            return None if words.which(afresh, does) else company.DONE_ALREADY
        case EnterHouse():
            return company.GONE  # it stands at the door only
        case _:
            assert_never(does)


def _choose(turn: Turn, does: ChooseOption) -> str | None:
    question = turn.unit.questions.question(turn.home.id, does.asked, turn.now)
    if question is None:
        return company.OVER
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    author = next((m for m in turn.home.members if m.id == question.member_id), turn.member)
    turn = msgspec.structs.replace(turn, strikes=does.strikes)
    carry_out.carry_out(turn, question.options[does.option], Author.of(question, author))
    return None


def _drop(turn: Turn, does: DropQuestion) -> str | None:
    question = turn.unit.questions.question(turn.home.id, does.asked, turn.now)
    if question is None:
        return company.OVER
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    turn.reply(answers.LEFT_OUT)
    return None


def _strike_out(turn: Turn, does: StrikeOut) -> str | None:
    stand = {entry.entry for entry in standing(turn.home.entries)}
    if stand.isdisjoint(does.entries):
        return company.STRUCK_ALREADY
    carry_out.undo(turn, does.entries)
    return None


def _follow(turn: Turn, does: FollowPlan) -> str | None:
    view = turn.home.view.batch(does.batch)
    if view is None or view.ended_at is not None or view.plan == does.plan:
        return company.GONE
    carry_out.carry_out(turn, (Follow(of=view.name, plan=does.plan),))
    return None


def _add_vessel(turn: Turn, does: AddVessel) -> str | None:
    home = turn.home
    if turn.unit.log.entries_of_message(home.id, turn.incoming.chat_id, does.message_id):
        return company.WRITTEN_ALREADY
    if does.name.casefold() not in {vessel.name.casefold() for vessel in home.vessels}:
        home.add_vessel(does.name)
    author = turn.unit.people.member(home.id, does.member) or turn.member
    incoming = msgspec.structs.replace(
        turn.incoming, press=None, text=does.text, message_id=does.message_id, sent_at=does.sent_at
    )
    messages.again(msgspec.structs.replace(turn, member=author, incoming=incoming))
    return None


def _tell_how(turn: Turn, does: TellHow) -> str | None:
    view = turn.home.view.batch(does.batch)
    if view is None:
        return company.GONE
    turn.reply(answers.how(batch_answer(view, turn.now)), refers=Refers(of=view.name))
    return None
