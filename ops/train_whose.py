"""Learns `bot/understand/words/en/whose.weights`: what the numbers of a message are, gravities, temperatures, counts of
bottles, and of which of the wines that it names; run by `ops/train`.

For each number a choice among all that it can be: a log-linear model with a quadratic penalty, fitted by L-BFGS. It learns
from the messages of the talks that measure something, and from those that only have numbers; where it is not said whose a
value is, any wine is as right; and from some that are made up, in manners that are rare. What was set aside (`aside*`) is never read.
"""

import hashlib
import random
import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.optimize import minimize

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.understand.claims import whose  # noqa: E402
from bot.understand.claims.corrections import mended as without_corrected  # noqa: E402
from bot.understand.claims.slips import mended  # noqa: E402
from bot.understand.claims.traits import TraitWeights, encode  # noqa: E402
from bot.understand.text.message import Message  # noqa: E402
from bot.understand.text.openers import as_meant  # noqa: E402
from ops import train_labels  # noqa: E402
from ops.watched import talks_learned  # noqa: E402
from tests.talks import read as read_talk  # noqa: E402
from tests.talks import wants  # noqa: E402

WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "whose.weights"
PENALTY = 0.5
RAREST = 2
"""A trait of fewer numbers has no weight."""
SMALLEST = 0.02
MOST_STEPS = 200
NEAR = {"sg": 0.0006, "warm": 0.35}
"""So near a number is to the value that was wanted."""


class Numbers(NamedTuple):
    """The numbers of a message: from which talk, what stands around each that it can be, and which of that is right."""

    writer: str
    rows: list[list[list[int]]]
    right: list[list[int]]


def figures(acts):
    """The gravities, temperatures and counts of bottles among acts: what, how many, and of which wine."""
    for act in acts:
        of = (act.get("of") or "").casefold() or None
        if act["do"] == "gravity" and act.get("sg") is not None:
            yield "sg", float(act["sg"]), of
        if act["do"] in ("gravity", "temperature") and act.get("temp_c") is not None:
            yield "warm", float(act["temp_c"]), of
        if act["do"] == "step" and act.get("step") == "bottle" and act.get("bottles") is not None:
            yield "filled", float(act["bottles"]), of
        if act["do"] == "bottles" and act.get("left") is not None:
            yield "left", float(act["left"]), of
        elif act["do"] == "bottles" and act.get("change") is not None:
            change = float(act["change"])
            yield "gone" if change < 0 else "found", abs(change), of


def wanted(judgement):
    """The values that a message tells, as the first judgement has them; None where that is not known."""
    options = list(wants(judgement))
    kinds = {kind for kind, _ in options}
    if options[0][0] == "free" or (options[0][0] != "acts" and "acts" in kinds):
        return None
    try:
        return list(figures(options[0][1])) if options[0][0] == "acts" else []
    except ValueError:
        return None


def fits(value, role, figure):
    known = {"sg": value.sg, "warm": value.temp_c}.get(role, value.count)
    return known is not None and abs(known - figure) <= NEAR.get(role, 0)


def right(value, known, values):
    """Which of all that a number can be is right, by its place among them."""
    every = whose.candidates(value, known)
    found = [(role, of) for role, figure, of in values if fits(value, role, figure)]
    if not found:
        return [len(every) - 1]
    roles, owners = {role for role, _ in found}, {of for _, of in found}
    of_role = [at for at, each in enumerate(every) if each.role in roles]
    if None in owners:
        return of_role
    named = {
        at: {name.casefold() for name in known[every[at].mention].batches(every[at].role)}
        for at in of_role
        if every[at].mention is not None
    }
    fit = {at: len(of) for at, of in named.items() if of and of <= owners}
    most = max(fit.values(), default=0)
    return [at for at, count in fit.items() if count == most] or [
        at for at in of_role if every[at].mention is None
    ]


def numbers_of(writer, text, values, scene, sent_at, by, addressed):
    """The numbers of a message with what is right of them, `values` being all that it tells; None where it has none."""
    if values is None:
        return None
    text = mended(as_meant(text, scene.language), scene)
    message = Message(text, scene, sent_at, by=by, replying_to=None, addressed=addressed)
    message.spans = without_corrected(message.spans)
    found = whose.values(message)
    if not found:
        return None
    known = whose.mentions(message, found)
    return Numbers(
        writer, list(whose.traits(message, found, known)), [right(each, known, values) for each in found]
    )


def every(scenes):
    """The numbers of all talks, `scenes` being what stood around their messages, and of some that are made up."""
    for path in talks_learned():
        said = (line for line in read_talk(path)[2] if line.who is not None)
        for at, line in enumerate(said):
            around = scenes.get((path.stem, at))
            if around is None:
                continue
            told = numbers_of(path.stem, line.text.partition(": ")[2], wanted(line.want), *around)
            more = made_up(path.stem, *around), made_corrected(path.stem, *around)
            yield from (each for each in (told, *more) if each is not None)


MADE_UP = (
    "{g1} and {g2}, {n1} first",
    "{g1} and {g2}, {n1} then {n2}",
    "{g1} {g2} {n1} then {n2}",
    "{g1} and {g2}, {n1} and {n2} respectively",
    "{g1} and {g2}, being {n1} and {n2}",
    "{g1} and {g2} in that order, {n1} and {n2}",
    "{n1} and {n2}: {g1} and {g2}",
    "{n1} then {n2}, {g1}, {g2}",
    "{n1} {g1} {n2} {g2} both at {t1}",
    "{n1} {g1}, {n2} {g2}, {t1} both",
    "{n1} {g1}, {n2} {g2}, both {t1}",
    "{n1} {g1} and {t1} {n2} {g2} and {t2}",
    "{n1} {g1} {t1} {n2} {g2} {t2}",
    "{g1} {n1} {g2} {n2}",
    "{g1} {n1} and {g2} {n2}, {t1} and {t2}",
    "{g1} for {n1} and {g2} for {n2}, both at {t1}",
    "{n1} {g1} {n2} {g2} {t1} {t2}",
    "{n1} is {g1} at {t1}, {n2} is {g2} at {t2}",
    "{t1} {n1} {t2} {n2}",
    "{n1} {t1} {n2} {t2}",
    "both {t1}",
    "{t1} both of them",
    "{t1} and {t2}, {n1} first",
    "first glass of {n1}: a bit thin. {c} out of ten",
    "{n1} gets {c}/10 from me",
    "opened {n1} for the neighbours, i give it a {c}",
    "{n1}: {c} out of 10, {n2}: {t1} out of 30",
)
"""Manners that are rare in the talks: of two wines with gravities, temperatures, names, and of marks, which count nothing."""
CORRECTED = (
    "{x} no {g}",
    "{x}, no, {g}",
    "{x}. no {g}",
    "{x}? no {g}",
    "{x} no wait {g}",
    "{x} no hang on {g}",
    "{x}, hang on, {g}",
    "{x} wait {g}",
    "{x} i mean {g}",
    "{x}, sorry, {g}",
    "{x} sorry {g}",
    "{x} scratch that {g}",
    "{x}, make that {g}",
    "{x} actually {g}",
    "{x} oops {g}",
    "{g} not {x}",
    "{g}, not {x}",
    "not {x}, {g}",
    "it's {g}, not {x} like i said",
    "first i thought {x} but it's {g}",
    "i thought {x}, but it's {g}",
    "thought it was {x} but it is {g}",
    "i wrote {x} first, it's {g}",
    "wrote {x} on my hand but it was {g}",
    "put {x} down, should be {g}",
    "{x} on the paper, but it is {g}",
    "he said {x}, i looked, {g}",
    "looked like {x}, closer up {g}",
    "{x} at first, spun it, {g}",
    "{x}, looked again, {g}",
    "{x}, read it again, {g}",
    "{x} and then {g}, going with {g}",
    "{x} i think, maybe {g}. i'd go with {g}",
    "{x} or {g}, call it {g}",
    "{x}, corrected {g}",
    "{g} (prev. {x})",
    "{g}, previously {x}",
    "for {x} read {g}",
    "disregard the {x}, the reading is {g}",
    "ignore {x}, it's {g}",
    "forget the {x}, {g}",
    "the book says {x} by now, we have {g}",
    "should be {x} by now but it's {g}",
    "hoped for {x}, got {g}",
    "{g} where the leaflet says {x}",
    "it was {x} and now it's {g}",
    "down from {x} to {g}",
    "{x} -> {g}",
)
"""Manners of putting right what was just said, or of naming a figure beside the one that was read: `g` counts, `x` does
not."""
SELDOM = 5
"""For one message in so many one is made up."""


def made_up(writer, scene, sent_at, by, addressed):
    """A message of two of the wines that are under way, now and then; None else, and where there are fewer."""
    chance = random.Random(f"{writer} {sent_at}")
    form = chance.choice(MADE_UP)
    batches = list(scene.batches if "{c}" in form else scene.under_way)
    if len(batches) < 2 or chance.randrange(SELDOM) or scene.temperature_unit == "F":
        return None
    chance.shuffle(batches)
    first, other = batches[:2]
    if len(batches) > 2 and "{n2}" not in form:
        return None
    sg = [round(chance.uniform(0.992, 1.09), 3) for _ in range(2)]
    warm = [chance.randint(16, 27), chance.randint(16, 27)]
    shown = chance.choice(
        [lambda g: f"{g:.3f}", lambda g: f"{g:.3f}".lstrip("0"), lambda g: f"{g * 1000:.0f}"]
    )
    names = [called(each, batches, chance) for each in (first, other)]
    text = form.format(
        c=chance.randint(3, 9),
        g1=shown(sg[0]),
        g2=shown(sg[1]),
        t1=warm[0],
        t2=warm[1],
        n1=names[0],
        n2=names[1],
    )
    values = [
        ("sg", sg[at], each.name.casefold())
        for at, each in enumerate((first, other))
        if f"{{g{at + 1}}}" in form
    ]
    if "{c}" not in form:
        both = "{t1}" in form and "{t2}" not in form
        values += [
            ("warm", warm[0 if both else at], each.name.casefold())
            for at, each in enumerate((first, other))
            if both or f"{{t{at + 1}}}" in form
        ]
    return numbers_of(writer, text, values, scene, sent_at, by, addressed)


def made_corrected(writer, scene, sent_at, by, addressed):
    """A message that puts a gravity or a temperature right, now and then."""
    chance = random.Random(f"corrected {writer} {sent_at}")
    if not scene.under_way or chance.randrange(SELDOM) or scene.temperature_unit == "F":
        return None
    warm = not chance.randrange(3)
    form = chance.choice(CORRECTED)
    if warm:
        good, bad = chance.sample(range(14, 30), 2)
        shown = (lambda number: f"{number}") if chance.randrange(2) else (lambda number: f"{number} degrees")
    else:
        good, bad = chance.sample(range(990, 1095), 2)
        shown = chance.choice(
            [lambda n: f"{n / 1000:.3f}", lambda n: f"{n / 1000:.3f}".lstrip("0"), lambda n: f"{n}"]
        )
    batch = chance.choice(list(scene.under_way))
    text = form.format(g=shown(good), x=shown(bad))
    named = chance.randrange(2)
    if named:
        text = f"{called(batch, scene.batches, chance)} {text}"
    of = batch.name.casefold() if named else None
    values = [("warm", float(good), of) if warm else ("sg", good / 1000, of)]
    return numbers_of(writer, text, values, scene, sent_at, by, addressed)


def called(batch, batches, chance):
    """What somebody calls a wine: by its name, its colour or vessel, or the letter it begins with."""
    ways = [batch.name] * 3
    if batch.colour and sum(each.colour == batch.colour for each in batches) == 1:
        ways += [batch.colour, f"the {batch.colour}"]
    if batch.vessel:
        ways.append(batch.vessel)
    if sum(each.name[:1].casefold() == batch.name[:1].casefold() for each in batches) == 1:
        ways.append(batch.name[:1])
    return chance.choice(ways)


def fit(messages, trained_on=""):
    """The weights of traits."""
    often = Counter(
        each for one in messages for rows in one.rows for each in {each for row in rows for each in row}
    )
    column = {each: at for at, each in enumerate(sorted(each for each, n in often.items() if n >= RAREST))}
    places, columns, truth, starts = [], [], [], []
    for one in messages:
        for rows, good in zip(one.rows, one.right, strict=True):
            starts.append(len(truth))
            for at, row in enumerate(rows):
                held = [column[each] for each in row if each in column]
                places += [len(truth)] * len(held)
                columns += held
                truth.append(float(at in good))
    table = sparse.csr_matrix((np.ones(len(places)), (places, columns)), shape=(len(truth), len(column)))
    truth, starts = np.array(truth), np.array(starts)
    each = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(truth))))

    def lost(weights):
        z = table @ weights
        z -= np.maximum.reduceat(z, starts)[each]
        powers = np.exp(z)
        sums = np.add.reduceat(powers, starts)
        good = np.add.reduceat(powers * truth, starts) + 1e-12
        slope = powers / sums[each] - powers * truth / good[each]
        penalty = PENALTY / 2 * weights @ weights
        return penalty - np.log(good / sums).sum(), table.T @ slope + PENALTY * weights

    start = np.zeros(len(column))
    found = minimize(lost, start, jac=True, method="L-BFGS-B", options={"maxiter": MOST_STEPS}).x
    worth = {each: float(found[at]) for each, at in column.items() if abs(found[at]) >= SMALLEST}
    return TraitWeights(worth, 0.0, trained_on)


def digest():
    """What the weights are learned from, in short."""
    found = hashlib.sha256()
    for path in talks_learned():
        found.update(path.read_bytes())
    return found.hexdigest()[:16]


def main():
    messages = list(every(train_labels.played(list(train_labels.labelled()))))
    WEIGHTS.write_bytes(encode(fit(messages, digest())))
    print(f"{WEIGHTS.name}: {WEIGHTS.stat().st_size} bytes from {len(messages)} messages")


if __name__ == "__main__":
    main()
