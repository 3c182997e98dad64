"""Learns `bot/understand/words/en/choice.weights`: how likely each of a message's two readings is right, and that the
message is meant for the bot; run by `ops/train`, after the labels.

The labelled messages are read and the talks played, and what was wanted tells which reading was right. So that how sure
the sayings are means there what it will mean for messages that nobody has seen, each is read with labels learned without
its writer. The talks go on as they should have, whatever is chosen now: the same data gives the same bytes. What was set
aside (`aside*`) is never read.
"""

import hashlib
import sys
import tempfile
import zlib
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from scipy import sparse
from sklearn.linear_model import LogisticRegression

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.cellar.log.plain import to_plain  # noqa: E402
from bot.understand import understand  # noqa: E402
from bot.understand.claims import labels  # noqa: E402
from bot.understand.judge.belief import ASKED_OF, SignWeights, encode  # noqa: E402
from bot.understand.judge.choice import asks  # noqa: E402
from bot.understand.verdict import Verdict  # noqa: E402
from ops import train_labels  # noqa: E402
from ops.watched import Watched, lines_watched, talks_learned, watch  # noqa: E402
from tests import talks  # noqa: E402
from tests.understand.labelled import Labelled, house, labelled, same  # noqa: E402
from tests.understand.tables import LINES, SENT, SENT_AT, brief  # noqa: E402

WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "choice.weights"
FOLDS = 3
"""So many parts the writers are divided in; each is read with labels that the others taught."""
FEWEST = 8
"""A sign, or two together, seen in fewer messages is not learned."""
STRENGTH = 0.08
"""How far the weights may go from nothing: the inverse of the penalty on their squares."""
OF_TALKS, OF_FRESH_TALKS = 2.0, 4.0
"""So much a message of a talk counts beside one by itself: that is how people write. Fresh talks (`learn*`) nobody has read
while writing rules: only they show how often the rules are right about what they were not written for."""
OF_MESSAGES = 2.0
"""So much a labelled message counts, or a case of the tables."""


@dataclass
class Seen:
    """A message: its signs, and what was right of it as `ASKED_OF` has it; None where that is not known."""

    signs: dict[str, float]
    right: tuple[bool | None, bool | None, bool]
    weight: float = 1.0


def fold_of(writer: str) -> int:
    return zlib.crc32(writer.encode()) % FOLDS


def watch_fold(fold: int, weights: Path) -> Watched:
    """Watches every choice from now on, with the labels of that fold."""
    return watch(labels.decode((weights / f"{fold}").read_bytes()))


def of_talk(path: Path, weights: Path) -> list[Seen]:
    """What a talk shows."""
    watched = watch_fold(fold_of(path.stem), weights)
    weight = OF_FRESH_TALKS if path.stem.startswith("learn") else OF_TALKS
    found = []
    for _, line, said in lines_watched(path, watched):
        if next(iter(talks.wants(line.want)))[0] == "free":
            continue
        found_signs, rules, told, chosen, _ = watched.first

        def right(reading, *, want=line.want, said=said, chosen=chosen):
            if reading is None or not reading.acts:
                return None
            if asks(reading) and ("/" not in want or reading.acts != chosen.acts):
                return None  # any answer was fine, or what this one would have said is not known
            return talks.judge(want, [to_plain(act) for act in reading.acts], said or "something") == "right"

        meant = talks.judge(line.want, (), "") != "right"
        found.append(Seen(found_signs, (right(rules), right(told), meant), weight))
    return found


def of_messages(fold: int, weights: Path) -> list[Seen]:
    """What the labelled messages of a fold show."""
    watched = watch_fold(fold, weights)
    found = []
    for message in labelled():
        if message.file.startswith("aside") or fold_of(Path(message.file).stem) != fold:
            continue
        watched.first = None
        message.read()
        if watched.first is not None:
            found_signs, rules, told, *_ = watched.first
            meant = not any(answer["verdict"] == "ignore" for answer in message.answers)
            found.append(
                Seen(found_signs, (_right(message, rules), _right(message, told), meant), OF_MESSAGES)
            )
    return found


def of_cases(weights: Path) -> list[Seen]:
    """What the tables of short cases show."""
    watched = watch_fold(0, weights)
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
            found.append(Seen(found_signs, (*right, expected != "ignore"), OF_MESSAGES))
    return found


def _right(message: Labelled, reading: Verdict | None) -> bool | None:
    if reading is None or not reading.acts:
        return None
    said = {"verdict": "act", "acts": [to_plain(act) for act in reading.acts]}
    return any(same(answer, said, message.message["text"]) for answer in message.answers)


def seen(weights: Path) -> list[Seen]:
    """All that the messages and the talks show, in order."""
    paths = talks_learned()
    with ProcessPoolExecutor(2) as pool:
        parts = [
            *pool.map(of_messages, range(FOLDS), [weights] * FOLDS),
            *pool.map(of_cases, [weights]),
            *pool.map(of_talk, paths, [weights] * len(paths)),
        ]
    return [each for part in parts for each in part]


def digest() -> str:
    """What the weights are learned from, in short."""
    found = hashlib.sha256(train_labels.digest(list(train_labels.labelled())).encode())
    for path in sorted([*talks_learned(), *(ROOT / "fixtures" / "messages").glob("*.jsonl")]):
        if not path.name.startswith("aside"):
            found.update(path.read_bytes())
    found.update(repr(LINES).encode())
    return found.hexdigest()[:16]


def fold_labels(weights: Path) -> None:
    """Labels learned without the writers of each fold, as files in the folder."""
    every = list(train_labels.labelled())
    lines, names = train_labels.known(every)
    cuts = train_labels.cut(lines, train_labels.played(every))
    rows = train_labels.seen([row for _, row, _ in cuts])
    for fold in range(FOLDS):
        kept = [at for at, (number, _, _) in enumerate(cuts) if fold_of(lines[number].writer) != fold]
        model = train_labels.learned(lines, [cuts[at] for at in kept], names, rows[np.array(kept)])
        (weights / f"{fold}").write_bytes(labels.encode(train_labels.packed(*model, names, "")))


def learned(messages: list[Seen]) -> SignWeights:
    """The weights that these messages teach."""
    often = Counter(name for each in messages for name in each.signs)
    names = sorted(name for name, count in often.items() if count >= FEWEST)
    place = {name: at for at, name in enumerate(names)}
    pairs = [list(two_by_two(each.signs, place)) for each in messages]
    often = Counter(pair for each in pairs for pair, _ in each)
    known = sorted(pair for pair, count in often.items() if count >= FEWEST)
    column = {pair: at for at, pair in enumerate(known)}
    cells = [
        (row, column[pair], strength)
        for row, each in enumerate(pairs)
        for pair, strength in each
        if pair in column
    ]
    rows, columns, strengths = zip(*cells, strict=True)
    table = sparse.csr_matrix((strengths, (rows, columns)), shape=(len(messages), len(known)))
    worth = np.zeros((len(names), len(names), len(ASKED_OF)), np.float32)
    bias = np.zeros(len(ASKED_OF), np.float32)
    weight = np.array([each.weight for each in messages])
    for at in range(len(ASKED_OF)):
        told = [row for row, each in enumerate(messages) if each.right[at] is not None]
        model = LogisticRegression(C=STRENGTH, max_iter=400)
        model.fit(table[told], [messages[row].right[at] for row in told], sample_weight=weight[told])
        found = np.round(model.coef_[0], 3)
        for pair, value in zip(known, found, strict=True):
            one, other = divmod(pair, len(names))
            worth[one, other, at] = value if one == other else value * HALF
        bias[at] = model.intercept_[0]
    return SignWeights(signs=names, bias=bias, worth=worth, trained_on=digest())


HALF = 0.5
"""Two signs together count half as much as one alone, before anything is learned."""


def two_by_two(strengths, place):
    """Each sign, and each two of them, with the strength of what it is in the sum: the place of the pair."""
    known = sorted((place[name], strength) for name, strength in strengths.items() if name in place)
    for at, (one, strength) in enumerate(known):
        yield one * len(place) + one, strength
        for other, second in known[at + 1 :]:
            yield one * len(place) + other, HALF * strength * second


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
