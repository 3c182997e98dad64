"""The one reading of a message: an answer to what is open in its chat, or what it says of its own."""

from datetime import datetime, timedelta

import msgspec

from bot.cellar.log.acts import Gravity, Temperature, Undo
from bot.cellar.log.lengths import MESSAGE
from bot.understand.claims.dangers import beside
from bot.understand.judge.answer_to import Answering, answered
from bot.understand.judge.first_kit import with_kit
from bot.understand.judge.judge import Weighed, dangers_beside, meaning
from bot.understand.judge.setting_up import before_the_yeast
from bot.understand.scene import JustSaid, ReplyTo, Scene
from bot.understand.text.scan import joined
from bot.understand.verdict import Verdict

SPOKE_WITHIN = timedelta(minutes=10)
"""So long after the bot's own message, "it" can be what that was about."""


def understand(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None = None,
    replying_to: ReplyTo | None = None,
    addressed: bool = False,
    for_wine: bool = False,
    forwarded: bool = False,
    weighed: Weighed = lambda text, rules, heard, chosen: None,
) -> Verdict:
    """All that a message means in a house: what it answers, what to write down, what to ask, or nothing, and the
    dangers in it as questions about safety. `sent_at` is aware; `addressed`: the bot is spoken to; `for_wine`: in a chat
    for the wine alone; `weighed` is told the readings between which was chosen."""
    verdict = reading(
        text,
        scene,
        sent_at,
        by=by,
        replying_to=replying_to,
        addressed=addressed,
        for_wine=for_wine,
        forwarded=forwarded,
        weighed=weighed,
    )
    found = dangers_beside(text, scene, verdict, replying_to, spoken=addressed or for_wine)
    return beside(verdict, found, scene.language)


def reading(
    text: str,
    scene: Scene,
    sent_at: datetime,
    *,
    by: str | None = None,
    replying_to: ReplyTo | None = None,
    addressed: bool = False,
    for_wine: bool = False,
    forwarded: bool = False,
    weighed: Weighed = lambda text, rules, heard, chosen: None,
) -> Verdict:
    """The same but for the dangers. What is forwarded, or longer than a message may be, answers nothing."""

    def read(said: str, to: ReplyTo | None) -> Verdict:
        return meaning(
            said,
            scene,
            sent_at,
            by=by,
            replying_to=to,
            addressed=addressed,
            for_wine=for_wine,
            forwarded=forwarded,
            spoke=lambda: _spoke(scene),
            weighed=weighed,
        )

    text = joined(text)
    own = _with_temperature(read(text, replying_to), replying_to)
    if forwarded or len(text) > MESSAGE:
        return own
    message = Answering(
        text=text,
        scene=scene,
        sent_at=sent_at,
        own=own,
        by=by,
        replying_to=replying_to,
        addressed=addressed,
        for_wine=for_wine,
        read=read,
    )
    spoken = addressed or for_wine
    found = before_the_yeast(text, scene, sent_at, answered(message) or own, by=by, spoken=spoken)
    return with_kit(text, scene, sent_at, found, by=by, spoken=spoken, for_wine=for_wine)


def _spoke(scene: Scene) -> ReplyTo | None:
    """What the bot's latest message was about, while that is fresh."""
    said = next((one for one in scene.open if isinstance(one, JustSaid)), None)
    return None if said is None or said.ago > SPOKE_WITHIN else ReplyTo(of=said.of, asked=said.asked)


def _with_temperature(verdict: Verdict, replying_to: ReplyTo | None) -> Verdict:
    """A bare temperature in reply to a gravity is the temperature of that sample."""
    facts = [act for act in verdict.acts if not isinstance(act, Undo)]
    if replying_to is None or verdict.verdict != "act" or len(facts) != 1:
        return verdict
    read = [told for told in replying_to.told if isinstance(told.act, Gravity)]
    if not isinstance(facts[0], Temperature) or len(read) != 1 or read[0].act.of != facts[0].of:
        return verdict
    whole = msgspec.structs.replace(read[0].act, temp_c=facts[0].temp_c, at=read[0].at)
    return Verdict(verdict="act", acts=(Undo(entry=read[0].entry), whole), why=verdict.why)
