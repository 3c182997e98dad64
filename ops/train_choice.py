"""Learns `bot/understand/words/en/choice.weights`: how likely each of a message's two readings is right, and that the
message is meant for the bot; run by `ops/train`, after the labels.

The labelled messages are read and the talks played, and what was wanted tells which reading was right. So that how sure
the sayings are means there what it will mean for messages that nobody has seen, each is read with labels learned without
its writer, and without the network of the labels where that was taught with it. The talks go on as they should have,
whatever is chosen now: the same data gives the same bytes. What was set aside (`aside*`) is never read.
"""

import hashlib
import sys
import tempfile
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from pathlib import Path

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.cellar.log.plain import to_plain  # noqa: E402
from bot.understand import understand  # noqa: E402
from bot.understand.claims import labels, traits, whose  # noqa: E402
from bot.understand.claims.encoder import encoder_of  # noqa: E402
from bot.understand.judge.belief import ASKED_OF, OF_TALK, SignTrees, encode  # noqa: E402
from bot.understand.judge.choice import asks  # noqa: E402
from bot.understand.text.language import file_of  # noqa: E402
from bot.understand.verdict import Verdict  # noqa: E402
from ops import train_labels, train_whose  # noqa: E402
from ops.watched import Watched, lines_watched, talks_learned, watch  # noqa: E402
from tests import talks  # noqa: E402
from tests.understand.labelled import Labelled, house, labelled  # noqa: E402
from tests.understand.pieces import pairs, pieces  # noqa: E402
from tests.understand.tables import LINES, SENT, SENT_AT, brief  # noqa: E402

WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "choice.weights"
FOLDS = 3
"""So many parts the writers are divided in; each is read with labels that the others taught."""
FEWEST = 8
"""A sign seen in fewer messages is not learned."""
TREES = {
    "max_iter": 400,
    "learning_rate": 0.04,
    "max_leaf_nodes": 16,
    "max_depth": 8,
    "min_samples_leaf": 20,
    "l2_regularization": 5.0,
    "max_features": 0.3,
    "early_stopping": False,
    "random_state": 0,
}
"""How many trees, how much each adds, and how large it may be."""
OF_TALKS, OF_FRESH_TALKS = 1.0, 4.0
"""So much a message of a talk counts. Fresh ones the network was not taught with, or nobody has read while writing rules
(`learn*`): only they show how often both readings are right about what they were not made from."""
OF_MESSAGES = 2.0
"""So much a labelled message counts, or a case of the tables: the rules were written for these."""
OF_PIECES, PAIRS = 2.0, 3
"""So much what is told in few words counts, and with so many others each is put together."""
ALONE = {"talk": 0.1, "message": 5.0, "piece": 1.0}
"""So many times more each counts for what has nothing before it; a message of a talk as if it had not."""


@dataclass
class Seen:
    """A message: its signs, and what was right of it as `ASKED_OF` has it, None where that is not known; and whether it
    is of a talk, a labelled message or a piece."""

    signs: dict[str, float]
    right: tuple[bool | None, bool | None, bool | None]
    weight: float = 1.0
    kind: str = "talk"


def fold_of(writer: str) -> int:
    return zlib.crc32(writer.encode()) % FOLDS


def is_fresh(writer: str) -> bool:
    """Whether the network was not taught with what is of that talk, or hand."""
    return writer.partition("-")[2] not in encoder_of(train_labels.LANGUAGE).learned_from


def watch_fold(fold: int, weights: Path, *, fresh: bool) -> Watched:
    """Watches every choice from now on, with the labels of that fold; the network beside them knows nothing that is
    `fresh`. With one that was taught without half of the writers the trees told unseen talks less well apart."""
    model = labels.decode((weights / f"{fold}").read_bytes())
    of_values = traits.decode((weights / f"{fold} whose").read_bytes())
    whose.weights_of = lambda language: of_values
    return watch(labels.with_network(model, encoder_of(model.language)) if fresh else model)


def of_talk(path: Path, weights: Path) -> list[Seen]:
    """What a talk shows."""
    fresh = is_fresh(path.stem)
    watched = watch_fold(fold_of(path.stem), weights, fresh=fresh)
    weight = OF_FRESH_TALKS if fresh or path.stem.startswith("learn") else OF_TALKS
    found = []
    for _, line, said in lines_watched(path, watched):
        found_signs, rules, told, chosen, message = watched.first
        if next(iter(talks.wants(line.want)))[0] == "free" or of_no_name(line.want, message.scene):
            continue

        def right(reading, *, want=line.want, said=said, chosen=chosen):
            if reading is None or not reading.acts:
                return None
            if asks(reading) and ("/" not in want or reading.acts != chosen.acts):
                return None  # any answer was fine, or what this one would have said is not known
            return talks.judge(want, [to_plain(act) for act in reading.acts], said or "something") == "right"

        meant = talks.judge(line.want, (), "") != "right"
        found.append(Seen(found_signs, (right(rules), right(told), meant), weight))
    return found


def of_no_name(judgement: str, scene) -> bool:
    """Whether what is wanted names only wines that the house does not have under that name: then nothing can be right."""
    known = {name.casefold() for batch in scene.batches for name in (batch.name, *batch.nicknames)}
    known |= {vessel.name.casefold() for vessel in scene.vessels}
    wanted = [
        {act["of"].casefold() for act in acts if act.get("of") and act["do"] != "begin"}
        for kind, acts in talks.wants(judgement)
        if kind == "acts" and not any(act["do"] == "begin" for act in acts)
    ]
    return bool(wanted) and all(names and not names <= known for names in wanted)


def of_messages(fold: int, weights: Path) -> list[Seen]:
    """What the labelled messages of a fold show."""
    watched = watch_fold(fold, weights, fresh=False)
    every = [message for message in labelled() if not message.file.startswith("aside")]
    return list(shown(every, fold, watched, OF_MESSAGES, "message"))


def of_pieces(fold: int, weights: Path) -> list[Seen]:
    """What the hands of a fold tell in few words, by themselves and beside others, of those that the network knows nothing
    of."""
    watched = watch_fold(fold, weights, fresh=True)
    told = [one for one in pieces() if is_fresh(one.file)]
    every = [*told, *map(unaddressed, told), *pairs(told, PAIRS)]
    return list(shown(every, fold, watched, OF_PIECES, "piece"))


def shown(
    messages: Iterable[Labelled], fold: int, watched: Watched, weight: float, kind: str
) -> Iterator[Seen]:
    """What the messages of a fold show."""
    for message in messages:
        if fold_of(Path(message.file).stem) == fold and (one := of_message(message, watched)) is not None:
            yield replace(one, weight=weight, kind=kind)


def of_message(message: Labelled, watched: Watched) -> Seen | None:
    """What a labelled message shows; None where nothing was chosen."""
    watched.first = None
    message.read()
    if watched.first is None:
        return None
    found_signs, rules, told, *_ = watched.first
    return Seen(found_signs, (_right(message, rules), _right(message, told), message.meant))


def unaddressed(piece: Labelled) -> Labelled:
    """The same, said in a chat for anything."""
    return replace(piece, message={**piece.message, "chat": "family"})


def of_cases(weights: Path) -> list[Seen]:
    """What the tables of short cases show."""
    watched = watch_fold(0, weights, fresh=False)
    found = []
    for name, text, expected in LINES:
        watched.first = None
        understand(text, house(name), datetime.fromisoformat(SENT.get(name, SENT_AT)))
        if watched.first is not None:
            found_signs, *readings, _, _ = watched.first
            right = [
                brief(Verdict(verdict="act", acts=reading.acts)) == expected
                if reading is not None and reading.acts
                else None
                for reading in readings
            ]
            found.append(Seen(found_signs, (*right, expected != "ignore"), OF_MESSAGES, "message"))
    return found


def _right(message: Labelled, reading: Verdict | None) -> bool | None:
    if reading is None or not reading.acts:
        return None
    return message.is_right([to_plain(act) for act in reading.acts])


def seen(weights: Path) -> list[Seen]:
    """All that the messages and the talks show, in order."""
    paths = talks_learned()
    with ProcessPoolExecutor(2) as pool:
        parts = [
            *pool.map(of_messages, range(FOLDS), [weights] * FOLDS),
            *pool.map(of_pieces, range(FOLDS), [weights] * FOLDS),
            *pool.map(of_cases, [weights]),
            *pool.map(of_talk, paths, [weights] * len(paths)),
        ]
    return [each for part in parts for each in part]


def without_talk(seen: Seen) -> Seen:
    """The same as if nothing had been said before it."""
    signs = {name: strength for name, strength in seen.signs.items() if not name.startswith(OF_TALK)}
    return replace(seen, signs=signs, weight=seen.weight * ALONE[seen.kind])


def digest() -> str:
    """What the weights are learned from, in short."""
    found = hashlib.sha256(train_labels.digest(list(train_labels.labelled())).encode())
    messages = ((ROOT / "fixtures" / folder).glob("*.jsonl") for folder in ("messages", "pieces"))
    for path in sorted([*talks_learned(), *chain.from_iterable(messages)]):
        if not path.name.startswith("aside"):
            found.update(path.read_bytes())
    found.update(repr(LINES).encode())
    found.update(file_of(train_labels.LANGUAGE, "encoder.weights").read_bytes())
    return found.hexdigest()[:16]


def fold_labels(weights: Path) -> None:
    """Labels learned without the writers of each fold, as files in the folder."""
    every = list(train_labels.labelled())
    lines, names = train_labels.known(every)
    scenes = train_labels.played(every)
    values = list(train_whose.every(scenes))
    cuts = train_labels.cut(lines, scenes)
    rows = train_labels.seen([each.row for each in cuts])
    for fold in range(FOLDS):
        kept = [at for at, each in enumerate(cuts) if fold_of(lines[each.number].writer) != fold]
        model = train_labels.learned(lines, [cuts[at] for at in kept], names, rows[np.array(kept)])
        (weights / f"{fold}").write_bytes(labels.encode(train_labels.packed(*model, names, "")))
        of_values = train_whose.fit([each for each in values if fold_of(each.writer) != fold])
        (weights / f"{fold} whose").write_bytes(traits.encode(of_values))


def learned(messages: list[Seen]) -> SignTrees:
    """The trees that these messages teach: of what is said in a talk, and of what is said with nothing before it."""
    often = Counter(name for each in messages for name in each.signs)
    names = sorted(name for name, count in often.items() if count >= FEWEST)
    in_talks = [each for each in messages if each.kind != "piece"]
    start, trees = zip(
        *told_apart(in_talks, names), *told_apart(map(without_talk, messages), names), strict=True
    )
    every = [nodes for of_one in trees for nodes in of_one]
    roots = np.cumsum([0, *(len(nodes) for nodes in every[:-1])])
    for root, nodes in zip(roots, every, strict=True):
        nodes["over"] += root
    whole = np.concatenate(every)
    return SignTrees(
        signs=names,
        start=np.array(start, np.float32),
        roots=roots.reshape(2 * len(ASKED_OF), -1),
        sign=whole["sign"],
        least=whole["least"],
        over=whole["over"],
        worth=whole["worth"],
        trained_on=digest(),
    )


def told_apart(messages: Iterable[Seen], names: list[str]) -> Iterator[tuple[float, list]]:
    """What these messages teach of each of `ASKED_OF`: what it has before any tree, and the nodes of each tree."""
    some = list(messages)
    place = {name: at for at, name in enumerate(names)}
    table = np.zeros((len(some), len(names)), np.float32)
    for row, each in enumerate(some):
        for name, strength in each.signs.items():
            if name in place:
                table[row, place[name]] = strength
    weight = np.array([each.weight for each in some])
    for at in range(len(ASKED_OF)):
        told = [row for row, each in enumerate(some) if each.right[at] is not None]
        model = HistGradientBoostingClassifier(**TREES)
        model.fit(table[told], [some[row].right[at] for row in told], sample_weight=weight[told])
        yield float(model._baseline_prediction[0, 0]), [in_order(one[0].nodes) for one in model._predictors]


NODE = np.dtype([("sign", "<i4"), ("least", "<f4"), ("over", "<i4"), ("worth", "<f4"), ("count", "<f4")])


def in_order(nodes):
    """The nodes of a tree as `SignTrees` has them: what is less strong right after, what is stronger at `over`."""
    found = []

    def add(at):
        node, here = nodes[at], len(found)
        if node["is_leaf"]:
            found.append((0, NEVER, here, round(float(node["value"]), 4), node["count"]))
            return here
        found.append(None)
        low = add(node["left"])
        high = add(node["right"])
        one, other = found[low], found[high]
        count = one[4] + other[4]
        mean = (one[3] * one[4] + other[3] * other[4]) / count
        found[here] = (node["feature_idx"], node["num_threshold"], high, mean, count)
        return here

    add(0)
    return np.array(found, NODE)


NEVER = -1e9
"""Nothing is so little strong."""


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        fold_labels(Path(folder))
        messages = seen(Path(folder))
    weights = learned(messages)
    WEIGHTS.write_bytes(encode(weights))
    print(
        f"{WEIGHTS.relative_to(ROOT)}: {WEIGHTS.stat().st_size} bytes, "
        f"{len(weights.signs)} signs from {len(messages)} messages"
    )


if __name__ == "__main__":
    main()
