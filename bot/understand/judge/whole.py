"""What is read before the grammar of clauses, because the whole message has one form: a leaflet, a beginning
by a plan of the house's own, a wish for a day, one of the forms in `forms`, or words about what is wrong with a wine."""

from collections.abc import Callable, Sequence
from datetime import datetime

import msgspec

from bot.cellar.log.acts import Act, Begin, KeepPlan, Step, Vessel, kind
from bot.cellar.plans.leaflet import misgivings, without
from bot.understand.claims.bottling import wholly
from bot.understand.claims.corrections import mended
from bot.understand.forms.asked import called, known_question
from bot.understand.forms.bottles import read_wishes
from bot.understand.forms.forms import read_form
from bot.understand.forms.leaflets import read_leaflet
from bot.understand.forms.plans import plan_mentioned
from bot.understand.forms.safety import read_safety
from bot.understand.judge.corrections import Spoke, read_correction
from bot.understand.judge.offers import WHY
from bot.understand.judge.reminders import read_reminder
from bot.understand.judge.settle import Settler
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings
from bot.understand.verdict import Doubt, Verdict

_NO_NAME = "kit"


def read_whole(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None,
    otherwise: Callable[[str], Verdict],
    read: Callable[[], Message],
    *,
    by: str | None = None,
    addressed: bool = False,
    spoke: Spoke = lambda: None,
) -> Verdict | None:
    """The verdict on a message of one form; None when it has none. `otherwise` reads what is left of a
    beginning without its plan, and of a message without its reminder, `read` gives all of it in its spans;
    `addressed` says that the bot is spoken to."""
    leaflet = read_leaflet(text, scene.language)
    if leaflet is not None:
        plan = leaflet.plan(_plan_name(scene, replying_to))
        act = KeepPlan(plan=plan)
        asked = misgivings(plan)
        # Lines that are questioned are kept as written unless somebody says that they are printed so.
        safer = (KeepPlan(plan=without(plan, asked)),)
        return Verdict(
            verdict="ask",
            acts=(act,),
            why="a leaflet, to be confirmed",
            doubt=Doubt.KEEP_PLAN,
            options=(safer, (act,)) if asked else ((act,),),
        )
    begun = _begun_by_plan(text, scene, otherwise)
    if begun is not None:
        return begun
    reminder = read_reminder(text, scene, sent_at, replying_to, otherwise, by=by, addressed=addressed)
    if reminder is not None:
        return reminder
    wish = read_wishes(text, scene, sent_at)
    if wish is not None:
        return Verdict(verdict="act", acts=(wish,), why="bottles for a day")
    right = read_correction(text, scene, sent_at, replying_to, by=by, addressed=addressed, spoke=spoke)
    if right is not None:
        return right
    acts, unknown = read_form(text, scene, sent_at, replying_to, addressed=addressed)
    if unknown is not None:
        doubt, about = unknown
        return Verdict(verdict="ask", why=WHY[doubt], doubt=doubt, about=about)
    acts = _before_the_must(acts, scene)
    if (inside := _washed_full(acts, scene)) is not None:
        full = Doubt.VESSEL_FULL
        return Verdict(verdict="ask", acts=acts, why=WHY[full], doubt=full, options=(acts,), about=inside)
    if acts:
        return Verdict(verdict="act", acts=acts, why=kind(acts[0]))
    to_bot = addressed or called(text, scene.language) or replying_to is not None or spoke() is not None
    question = known_question(text, scene, sent_at, replying_to, addressed=to_bot, remarks=addressed)
    if question is not None:
        return Verdict(verdict="act", acts=(question,), why=kind(question))
    return read_safety(text, scene, sent_at, replying_to, otherwise, addressed=addressed) or _of_bottles(
        read()
    )


def _of_bottles(message: Message) -> Verdict | None:
    """A message that tells what became of bottles, and nothing else."""
    drafts = wholly(message, sayings(message, mended(message.spans)))
    return Settler(message).verdict(drafts, half=False) if drafts else None


def _before_the_must(acts: tuple[Act, ...], scene: Scene) -> tuple[Act, ...]:
    """The acts, with a bucket washed in which nothing is yet as the cleaning that its batch waits for."""
    waiting = {batch.vessel: batch.name for batch in scene.under_way if batch.next[:1] == ("sanitise",)}
    return tuple(
        Step(of=waiting[act.of], at=act.at, step="sanitise")
        if isinstance(act, Vessel) and act.state == "clean" and act.of in waiting
        else act
        for act in acts
    )


def _washed_full(acts: Sequence[Act], scene: Scene) -> str | None:
    """The batch that is in a vessel said to be washed."""
    washed = {act.of for act in acts if isinstance(act, Vessel) and act.state == "clean"}
    return next((batch.name for batch in scene.under_way if washed & {batch.vessel, *batch.also_in}), None)


def _plan_name(scene: Scene, replying_to: ReplyTo | None) -> str:
    """What a plan without a name is called: after the batch replied to, or the only one under way."""
    names = [batch.name for batch in scene.under_way]
    if replying_to is not None and replying_to.of in names:
        return str(replying_to.of)
    return names[0] if len(names) == 1 else _NO_NAME


def _begun_by_plan(text: str, scene: Scene, otherwise: Callable[[str], Verdict]) -> Verdict | None:
    mentioned = plan_mentioned(text, scene.plans) if scene.plans else None
    if mentioned is None:
        return None
    plan, rest = mentioned
    verdict = otherwise(rest)
    if not any(isinstance(act, Begin) for act in verdict.acts):
        return None

    def by_plan(acts: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(
            msgspec.structs.replace(act, plan=plan) if isinstance(act, Begin) else act for act in acts
        )

    options = tuple(by_plan(option) for option in verdict.options)
    return msgspec.structs.replace(verdict, acts=by_plan(verdict.acts), options=options)
