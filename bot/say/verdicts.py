"""Verdicts in words: yes, not yet or no, the facts behind it, what would change it."""

from typing import assert_never

from bot.cellar.answers import ReadyAnswer
from bot.cellar.batch.troubles import Trouble
from bot.cellar.batch.verdicts import AllRightAnswer, FinishedAnswer, SafeAnswer, StuckAnswer
from bot.cellar.log.fold import Batch
from bot.say.dangers import LEAFLET_FIRST, SIGNS
from bot.say.facts import STEP_DONE
from bot.say.looks import PRINT
from bot.say.manner import STEADY_FOR, Manner, listed, name, said, sg
from bot.science import practice

ESTIMATED = (
    f"That was by refractometer, an estimate: read it with the hydrometer, and again {STEADY_FOR} later."
)
BURST = "Bottled before the gravity is steady, bottles can burst."


def ready(found: ReadyAnswer, manner: Manner) -> str:
    """Whether to rack or bottle, and why."""
    view, verb = found.view, "rack" if found.what == "rack" else "bottle"
    if found.verdict == "done":
        return f"{name(view.name)} is {STEP_DONE[found.what]} already."
    proof = ""
    if found.proof is not None:
        first, last = found.proof.first, found.proof.last
        proof = (
            f"{sg(first.sg)} {manner.day(first.at)} and {sg(last.sg)} {manner.day(last.at)}: it has stopped."
        )
    if found.verdict == "yes" and found.clear == "unknown":
        tell = f"Then tell me: <code>{said(view.name)} is clear</code>, or <code>{said(view.name)} is still cloudy</code>."
        return f"<b>Yes, if it is clear</b>, {verb} {name(view.name)}: {PRINT}. {proof}\n{tell}".strip()
    if found.clear == "cloudy":
        return (
            f"<b>Not yet</b>, {name(view.name)}: it was still cloudy when somebody looked, and cloudy wine settles in "
            f"the bottle. {proof}\nIt is a yes once it is clear: tell me <code>{said(view.name)} is clear</code>."
        )
    if found.verdict == "yes":
        return f"<b>Yes</b>, {verb} {name(view.name)}. {proof}".strip()
    if found.trouble is not None and found.trouble.kind in ("stuck", "not_started"):
        lines = [f"<b>No</b>, {name(view.name)}: {trouble(found.trouble, manner)}"]
    else:
        lines = [
            f"<b>Not yet</b>, {name(view.name)}: {_holding(found, manner)}",
            "" if found.proof is not None else _way(found.fall_per_day),
            proof,
        ]
    if found.proof is None:
        lines.append(_change(found))
    if found.what == "bottle" and found.proof is None:
        lines.append(BURST)
    return "\n".join(filter(None, lines))


def _holding(found: ReadyAnswer, manner: Manner) -> str:
    latest = found.latest
    if found.before is not None and found.before.gate in ("settled", "sg_at_most"):
        if latest is None:
            return "no gravity has been read."
        if found.proof_at is not None:
            return (
                f"{sg(latest.sg)} {manner.ago(latest.at)} is low enough, but readings must agree over {STEADY_FOR}. "
                f"Read again {manner.when(found.proof_at)}."
                if found.proof_at > manner.now
                else f"{sg(latest.sg)} {manner.ago(latest.at)} is low enough; one more reading now is the proof."
            )
        if latest.estimated:
            return f"about {sg(latest.sg)} {manner.ago(latest.at)}. {ESTIMATED}"
        goal = f" (racking comes at {sg(found.before.sg)})" if found.before.sg is not None else ""
        return f"still {sg(latest.sg)} {manner.ago(latest.at)}{goal}."
    if found.ready is not None and found.ready > manner.now:
        return f"it is clearing until {manner.when(found.ready)}."
    if found.before is not None:
        return f"first {found.before.title}."
    return "there is more to do first."


def _change(found: ReadyAnswer) -> str:
    """What would make it a yes."""
    if found.what == "rack" and found.before is not None and found.before.sg is not None:
        return f"It is a yes once a reading is {sg(found.before.sg)} or less."
    return f"It is a yes once two readings {STEADY_FOR} apart agree, at {sg(practice.FINISHED_BELOW.value)} or less, and what comes before is done."


def _way(fall: float | None) -> str:
    if fall is None:
        return ""
    if abs(fall) < 0.0005:
        return "It hardly moves."
    return f"It is {'falling' if fall > 0 else 'rising'} {abs(fall):.3f} a day."


def trouble(found: Trouble, manner: Manner) -> str:
    """One thing that is not well, and what to do first."""
    since = manner.day(found.since)
    match found.kind:
        case "not_started":
            return f"it has not begun, still {sg(found.figure)} since the yeast went in {since}. First check the temperature."
        case "slow":
            return (
                f"it is slow, {sg(found.figure)} and hardly less than {since}. First check the temperature."
            )
        case "stuck":
            return f"it is stuck at {sg(found.figure)} since {since}. First check the temperature: bring it gently into its range."
        case "too_warm":
            return (
                f"{manner.temperature(found.figure)} {since} is too warm. Move it somewhere cooler, gently."
            )
        case "too_cold":
            return (
                f"{manner.temperature(found.figure)} {since} is too cold. Move it somewhere warmer, gently."
            )
        case "swing":
            return f"the temperature jumped by {manner.degrees(abs(found.figure))} since {since}. Keep it steady."
        case _:
            return f"a reading was due {since}. One number is enough."


def verdict(found: FinishedAnswer | AllRightAnswer | StuckAnswer | SafeAnswer, manner: Manner) -> str:
    """Is it finished, all right, stuck, or safe."""
    match found:
        case FinishedAnswer():
            return _finished(found, manner)
        case AllRightAnswer():
            return _all_right(found, manner)
        case StuckAnswer():
            return _stuck(found, manner)
        case SafeAnswer():
            return _safe(found, manner)
        case _:
            assert_never(found)


# How a stuck ferment is got going, in order: common practice, no source.
RESTART = (
    "1. Warm it gently over a day, to {high} at most, and keep it there.\n"
    "2. Rouse the yeast: stir the sediment up slowly with a clean spoon, twice a day, lid on between.\n"
    "3. Nutrient only while it is early, in the first third of the fall; later it feeds what spoils wine.\n"
    "4. No fall after three days: build a starter. Wake a fresh sachet of a strong yeast, made for restarting, as its "
    "pack says; once it foams add as much must as there is starter, wait until it foams again, double it again, and so "
    "on, until it is a tenth of the batch; then all goes together.\n"
    "Do not sprinkle dry yeast on top, add sugar, sulphite or sorbate, beat air in, or heat it over {high}. Do not bottle "
    "it. The leaflet in your kit goes first."
)


def restarted(view: Batch, manner: Manner) -> str:
    """How this one is got going again."""
    return RESTART.format(high=manner.temperature(view.follows.ferment_c[1]))


def stuck_since(trouble: Trouble, manner: Manner) -> str:
    """That it is stuck, at what and since when."""
    return f"It is stuck at {sg(trouble.figure)} since {manner.day(trouble.since)}, too high to be finished."


def _stuck(found: StuckAnswer, manner: Manner) -> str:
    view, latest = found.view, found.latest
    low, high = (manner.temperature(value) for value in view.follows.ferment_c)
    restart = restarted(view, manner)
    if found.verdict == "yes" and found.trouble is not None:
        stands = f"it stands at {sg(found.trouble.figure)} since {manner.day(found.trouble.since)}, too high to be finished."
        return f"<b>Yes</b>, {name(view.name)} is stuck: {stands}\n{restart}"
    if found.verdict == "no":
        if view.bottled_at is not None:
            said_so = f"<b>No</b>, {name(view.name)} is in bottles."
        elif found.proof is not None:
            last = found.proof.last
            said_so = f"<b>No</b>, {name(view.name)} is not stuck: it has finished, steady at {sg(last.sg)}."
        elif latest is not None and latest.at_most <= practice.FINISHED_BELOW.value:
            said_so = (
                f"<b>No</b>, {name(view.name)} is not stuck: {sg(latest.sg)} is low enough to be finished."
            )
        else:
            fall = found.fall_per_day
            crawls = latest is not None and latest.sg > practice.SLOW_ABOVE.value
            crawls = crawls and fall is not None and fall < practice.SLOW_FALL.value
            slow = " It is slow: first check the temperature." if found.trouble is not None or crawls else ""
            figure = f"{sg(latest.sg)} {manner.ago(latest.at)}. " if latest is not None else ""
            said_so = f"<b>No</b>, {name(view.name)} is not stuck: {figure}{_way(found.fall_per_day)}{slow}"
        return f"{said_so}\nIf ever it is:\n{restart}" if found.help else said_so
    if found.trouble is not None:
        why = trouble(found.trouble, manner)
    elif latest is None:
        why = "no gravity has been read."
    else:
        why = f"the last I know is {sg(latest.sg)} {manner.ago(latest.at)}."
    lines = [
        f"<b>I cannot tell yet</b>, {name(view.name)}: {why}",
        "Read the gravity now and again in two days: the same figure twice, above "
        f"{sg(practice.FINISHED_BELOW.value)}, is stuck. Bubbles, or none, prove nothing. Meanwhile keep it at {low} to {high}.",
    ]
    return "\n".join([*lines, *(["If it is:", restart] if found.help else [])])


def _safe(found: SafeAnswer, manner: Manner) -> str:
    view = found.view
    if found.over_mg_l is not None:
        return (
            f"<b>No</b>, {name(view.name)}: do not drink it as it is. {found.over_mg_l:.0f} mg/l of sulphur dioxide went in, "
            "more than is allowed in wine for sale. Blend it with wine that has none, or let it stand with air, and drink it "
            "only after a test of the total. Never for anybody with asthma."
        )
    if found.told:
        notes = [
            f"“{said(one.note.text)}” ({said(one.note.by)}, {manner.day(one.note.at)})" for one in found.told
        ]
        lines = [f"<b>No</b>, {name(view.name)}, not before you know more: there is {listed(notes)}."]
        lines += [SIGNS[sign] for sign in dict.fromkeys(sign for one in found.told for sign in one.signs)]
        return "\n".join([*lines, LEAFLET_FIRST])
    if not found.drink:
        return (
            f"<b>I cannot promise that</b>, {name(view.name)}: from here I see only what is written down. Keep the airlock on "
            f"and the room aired, work clean and gently, and ask before you close anything tight. {LEAFLET_FIRST}"
        )
    if found.proof is None and view.bottled_at is None:
        return (
            f"<b>Not yet</b>, {name(view.name)}: by what I know it still ferments. A sip from a clean spoon to taste is all "
            f"right; a glass of live yeast and gas upsets the stomach. It is another matter once two readings {STEADY_FOR} apart agree."
        )
    return (
        f"<b>I cannot promise it</b>, {name(view.name)}, but nothing that is written down speaks against it. Look, smell, then "
        "sip: no film, no mould, no vinegar. Not for children, when pregnant or before driving; with asthma or medicines ask "
        "your doctor."
    )


def _finished(found: FinishedAnswer, manner: Manner) -> str:
    view, latest = found.view, found.latest
    if view.bottled_at is not None:
        return f"<b>Yes</b>, {name(view.name)} was bottled {manner.day(view.bottled_at)}."
    if found.proof is not None:
        first, last = found.proof.first, found.proof.last
        return (
            f"<b>Yes</b>, {name(view.name)}: {sg(first.sg)} {manner.day(first.at)} and {sg(last.sg)} "
            f"{manner.day(last.at)}, steady over {STEADY_FOR}. It would be a no again if it fell further."
        )
    if found.stopped and found.trouble is not None and found.trouble.kind == "stuck":
        return f"<b>Yes</b>, {name(view.name)} has stopped, but too early: {trouble(found.trouble, manner)}\nMore: <code>how do I restart it?</code> {BURST}"
    if found.trouble is not None:
        return f"<b>No</b>, {name(view.name)}: {trouble(found.trouble, manner)}\nIt would be a yes at {sg(practice.FINISHED_BELOW.value)} or less, steady over {STEADY_FOR}. {BURST}"
    if latest is None:
        return f"<b>Not yet</b>, {name(view.name)}: no gravity has been read. Two readings {STEADY_FOR} apart that agree are the proof."
    facts = [f"{sg(latest.sg)} {manner.ago(latest.at)}"]
    if found.before is not None:
        facts.append(f"{sg(found.before.sg)} {manner.ago(found.before.at)}")
    lines = [
        f"<b>Not yet</b>, {name(view.name)}: {', before that '.join(facts)}. {_way(found.fall_per_day)}".strip()
    ]
    if found.proof_at is not None and found.proof_at > manner.now:
        lines.append(f"Low enough. The same again {manner.when(found.proof_at)} is the proof.")
    elif found.proof_at is not None:
        lines.append("Low enough. The same once more, now, is the proof.")
    elif latest.estimated:
        lines.append(ESTIMATED)
    else:
        lines.append(
            f"It is a yes once two readings {STEADY_FOR} apart agree, at {sg(practice.FINISHED_BELOW.value)} or less."
        )
    return "\n".join([*lines, BURST])


def _told_of(found: AllRightAnswer, facts: list[str], manner: Manner) -> str:
    """Somebody told of a bad sign: that speaks against it, whatever the numbers say."""
    notes = [
        f"“{said(told.note.text)}” ({said(told.note.by)}, {manner.day(told.note.at)})" for told in found.told
    ]
    wrong = [trouble(one, manner) for one in found.troubles if one.kind != "overdue"]
    numbers = (
        f"by its numbers {wrong[0]}"
        if wrong
        else f"by its numbers, yes ({', '.join(facts)})"
        if facts
        else ""
    )
    lines = [
        f"<b>{'No' if found.verdict == 'no' else 'Not quite'}</b>, {name(found.view.name)}: {numbers}".rstrip(
            ": ."
        )
        + "."
    ]
    lines += [f"And {one}" for one in wrong[1:]]
    lines.append(f"{'But t' if facts and not wrong else 'T'}here is {listed(notes)}.")
    lines += [SIGNS[sign] for sign in dict.fromkeys(sign for told in found.told for sign in told.signs)]
    return "\n".join([*lines, LEAFLET_FIRST])


def _all_right(found: AllRightAnswer, manner: Manner) -> str:
    view = found.view
    facts: list[str] = []
    if found.proof is not None:
        facts.append(f"steady at {sg(found.proof.last.sg)}")
    elif found.latest is not None:
        facts.append(f"{sg(found.latest.sg)} {manner.ago(found.latest.at)}")
        if found.fall_per_day is not None:
            facts.append(_way(found.fall_per_day).removeprefix("It is ").removeprefix("It ").rstrip("."))
    if (
        found.temperature is not None
        and manner.now - found.temperature[1] <= practice.TEMPERATURE_KNOWN_FOR.value
    ):
        facts.append(f"{manner.temperature(found.temperature[0])} {manner.ago(found.temperature[1])}")
    told = f" ({', '.join(facts)})" if facts else ""
    if found.told:
        return _told_of(found, facts, manner)
    if any(one.kind != "overdue" for one in found.troubles):
        first = found.troubles[0]
        word = "No" if found.verdict == "no" else "Not quite"
        lines = [f"<b>{word}</b>, {name(view.name)}: {trouble(first, manner)}"]
        lines += [f"And {trouble(other, manner)}" for other in found.troubles[1:]]
        if told:
            lines.append(f"What I go by: {', '.join(facts)}.")
        return "\n".join(lines)
    if found.verdict == "not_yet":
        low, high = (manner.temperature(value) for value in found.range_c)
        why = (
            f"{trouble(found.troubles[0], manner)}"
            if found.troubles
            else "nobody has read it since the yeast went in."
        )
        if view.pitched_at is None:
            return f"<b>Yes</b>, {name(view.name)}, as far as I know: the yeast is not in yet{told}."
        return f"<b>I cannot tell yet</b>, {name(view.name)}: {why}{told}\nA gravity, and a temperature of {low} to {high}, would make it a yes."
    return f"<b>Yes</b>, {name(view.name)} is all right{told}. A stop above {sg(practice.FINISHED_BELOW.value)}, or a jump in temperature, would change that."
