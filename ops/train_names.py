"""Learns `bot/understand/words/en/names.weights`: which words of a beginning are the batch's name; run by `ops/train`.

A choice among all the words of a message that can be a name, and none of them: a log-linear model with a quadratic
penalty, fitted by L-BFGS. It learns from every message of the talks and of the labelled ones that begins a batch, with
its name or without, and from the same with other names or none. What was set aside (`aside*`) is never read. `--check` tells how many names of each fifth of the
talks are found by what the others taught.
"""

import hashlib
import json
import re
import sys
import zlib
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np
from scipy import sparse
from scipy.optimize import minimize

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.understand.claims import begun, naming  # noqa: E402
from bot.understand.claims.corrections import mended  # noqa: E402
from bot.understand.claims.labels import LabelledSaying  # noqa: E402
from bot.understand.claims.traits import TraitWeights, encode  # noqa: E402
from bot.understand.text.message import Message  # noqa: E402
from bot.understand.text.sayings import sayings  # noqa: E402
from bot.understand.text.scan import fold  # noqa: E402
from ops.watched import talks_learned  # noqa: E402
from tests.talks import read as read_talk  # noqa: E402
from tests.talks import wants  # noqa: E402
from tests.understand.labelled import SENT_AT, house  # noqa: E402
from tests.understand.pieces import pieces  # noqa: E402

MESSAGES = ROOT / "fixtures" / "messages"
WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "names.weights"
PENALTY = 0.5
RAREST = 2
"""A trait of fewer messages has no weight."""
SMALLEST = 0.02
FIFTHS = 5


class Told(NamedTuple):
    """A message that begins batches, their names, who wrote it, and where it lies."""

    text: str
    names: tuple[str, ...]
    by: str
    source: str


def beginnings():
    """Every message that begins a batch."""
    for path in talks_learned():
        for line in read_talk(path)[2]:
            if line.who is None:
                continue
            kind, acts = next(iter(wants(line.want)))
            if names := names_of(acts if kind == "acts" else ()):
                yield Told(line.text.partition(": ")[2], names, line.who.partition(" ")[0], path.stem)
    for path in sorted(MESSAGES.glob("*.jsonl")):
        if path.name.startswith("aside"):
            continue
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            if names := names_of(said.get("acts") or ()):
                yield Told(said["text"], names, said.get("by", "ana"), path.stem)
    for piece in pieces():
        if names := names_of(piece.message["acts"]):
            yield Told(piece.message["text"], names, "ana", piece.file)


def varied(every):
    """The same messages with the names of others, and without a name where it stands by itself: that what is a name hangs
    on no word, and that not every beginning has one."""
    names = sorted({name for each in every for name in each.names if name})
    for each in every:
        yield each
        if len(each.names) != 1 or not each.names[0]:
            continue
        (name,) = each.names
        pattern = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.IGNORECASE)
        if len(pattern.findall(each.text)) != 1:
            continue
        other = names[zlib.crc32(each.text.encode()) % len(names)]
        yield each._replace(text=pattern.sub(other, each.text), names=(other,))
        alone = re.compile(rf"(?:^|(?<=[,.;:!-] )){re.escape(name)}\s*(?:[,.;:-]\s|$)", re.IGNORECASE)
        if alone.search(each.text):
            yield each._replace(text=alone.sub("", each.text), names=("",))


def names_of(acts):
    """The names of the batches that are begun, an empty one where none was told; nothing where none is begun."""
    return tuple(fold(act.get("name") or "") for act in acts if act.get("do") == "begin")


class Choice(NamedTuple):
    """What stands in the candidates of a message, which of them are names, and what they are."""

    rows: list[list[int]]
    right: list[int]
    names: list[str]


def choice(told):
    """The candidates of a message in a house that has no batch."""
    scene = msgspec.structs.replace(house("harbour"), batches=(), recent=())
    moment = datetime.fromisoformat(SENT_AT)
    message = Message(told.text, scene, moment, by=told.by, replying_to=None, addressed=True)
    message.spans = mended(message.spans)
    unlabelled = [LabelledSaying(part, np.ones(1), ("rest",)) for part in sayings(message)]
    known = begun.forms(begun._groups(message, unlabelled), message)
    found = naming.candidates(message)
    rows = list(naming.traits(message, found, known))
    names = [fold(each.name) for each in found]
    return Choice(rows, [at for at, name in enumerate(names) if name in told.names], names)


def fit(choices):
    """The weights of traits, and what it counts that no words are a name."""
    often = Counter(each for one in choices for each in {each for row in one.rows for each in row})
    column = {each: at for at, each in enumerate(sorted(each for each, n in often.items() if n >= RAREST))}
    places, columns, truth, starts = [], [], [], []
    for one in choices:
        starts.append(len(truth))
        for at, row in enumerate(one.rows):
            held = [column[each] for each in row if each in column]
            places += [len(truth)] * len(held)
            columns += held
            truth.append(1 / len(one.right) if at in one.right else 0.0)
        truth.append(0.0 if one.right else 1.0)  # none of them
    rows = sparse.csr_matrix((np.ones(len(places)), (places, columns)), shape=(len(truth), len(column)))
    truth, starts = np.array(truth), np.array(starts)
    nones = np.append(starts[1:], len(truth)) - 1
    each = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(truth))))

    def lost(weights):
        z = rows @ weights[:-1]
        z[nones] += weights[-1]
        z -= np.maximum.reduceat(z, starts)[each]
        powers = np.exp(z)
        sums = np.add.reduceat(powers, starts)[each]
        wrong = powers / sums - truth
        slope = rows.T @ wrong + PENALTY * weights[:-1]
        penalty = PENALTY / 2 * weights[:-1] @ weights[:-1]
        return penalty - truth @ (z - np.log(sums)), np.append(slope, wrong[nones].sum())

    found = minimize(lost, np.zeros(len(column) + 1), jac=True, method="L-BFGS-B").x
    worth = {each: float(found[at]) for each, at in column.items() if abs(found[at]) >= SMALLEST}
    return TraitWeights(worth, float(found[-1]), digest())


def digest():
    """What the weights are learned from, in short."""
    return hashlib.sha256(repr(sorted(beginnings())).encode()).hexdigest()[:16]


def found_by(model, one):
    """The name that a model finds in a message of one beginning."""
    likely = Counter()
    shares = naming.shares_of(one.rows, model)
    for name, share in zip(one.names, shares[:-1], strict=True):
        likely[name] += share
    best, share = max(likely.items(), key=lambda item: item[1], default=("", 0.0))
    return best if share > shares[-1] else ""


def check(told, choices):
    """How many names are found that others taught to find."""
    own = set(beginnings())
    part = [zlib.crc32(each.source.encode()) % FIFTHS for each in told]
    right, all_of = Counter(), Counter()
    for fifth in range(FIFTHS):
        model = fit([one for one, at in zip(choices, part, strict=True) if at != fifth])
        for each, one, at in zip(told, choices, part, strict=True):
            if at == fifth and len(each.names) == 1 and each in own:
                kind = "named" if each.names[0] else "unnamed"
                all_of[kind] += 1
                right[kind] += found_by(model, one) == each.names[0]
    print({kind: f"{right[kind]} of {count}" for kind, count in all_of.items()})


if __name__ == "__main__":
    every = list(varied(sorted(beginnings())))
    each_choice = [choice(told) for told in every]
    if "--check" in sys.argv[1:]:
        check(every, each_choice)
    else:
        WEIGHTS.write_bytes(encode(fit(each_choice)))
        print(f"{WEIGHTS.name}: {WEIGHTS.stat().st_size} bytes from {len(every)} messages")
