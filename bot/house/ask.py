"""A question with a button for each of its options."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.cellar.log.acts import Act
from bot.house.turn import Turn
from bot.say import answers, doubts
from bot.store.press import ChooseOption, DropQuestion, Labelled

ASK_FOR = timedelta(hours=1)
"""A question that the bot asked back expires quietly after this long."""

MOST_BUTTONS = 6


def offer(turn: Turn, html: str, options: Sequence[Sequence[Act]], said_at: datetime) -> None:
    """Asks the writer, who said it at that time; nothing is written until it is answered, and what they were
    asked before is settled."""
    turn.unit.questions.close_all(turn.home.id, turn.incoming.chat_id, turn.member, turn.now)
    asked = turn.unit.questions.ask(
        turn.home.id,
        turn.source,
        turn.member,
        options,
        said_at=said_at,
        until=turn.now + ASK_FOR,
    )
    buttons: list[Labelled] = [
        (label, ChooseOption(asked=asked, option=number, strikes=turn.strikes))
        for number, label in enumerate(doubts.labels(options, turn.home.manner))
    ]
    no = answers.NEITHER if len(options) > 1 else answers.NO
    buttons.append((no, DropQuestion(asked=asked)))
    turn.reply(html, buttons, must=True)
