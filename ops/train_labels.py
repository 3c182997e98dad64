"""Learns `bot/understand/words/en/labels.weights`: what a piece of a message tells or asks; run by `ops/train`.

A linear model, one label against the others. Messages are labelled whole; which piece of one says what
is found in turns with the weights: first from messages of one piece, then each label goes to the piece that says it
likeliest, and what is left over says nothing of its own (`rest`). What was set aside (`aside*`) is never read.
"""

import hashlib
import json
import sys
import zlib
from collections import Counter
from datetime import datetime
from pathlib import Path

import numpy as np
from scipy import sparse

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.understand.claims import labels  # noqa: E402
from bot.understand.text.message import Message  # noqa: E402
from bot.understand.text.sayings import sayings, whole  # noqa: E402
from tests.talks import read as read_talk  # noqa: E402
from tests.talks import wants  # noqa: E402
from tests.understand.labelled import SENT_AT, house  # noqa: E402

MESSAGES = ROOT / "fixtures" / "messages"
LINES = ROOT / "fixtures" / "lines"
TALKS = ROOT / "fixtures" / "talks"
WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "labels.weights"
HARDNESS = 0.3
WARMTH = 4.0
"""What makes margins into chances: fitted on messages that the others did not teach (`--check`)."""
ROUNDS = 1
FEWEST = 4
"""A label of fewer messages is not learned."""
RAREST = 2
SMALLEST = 0.02
"""A weight below this says nothing."""

SAME = {"step:fine": "add:finings", "add:yeast": "step:pitch"}


def label_of(act):
    """The label of an act in the contract's form; None where none is learned from it."""
    do = act["do"]
    if do == "addition":
        what = str(act.get("what") or "other").casefold()
        known = what in (
            "sulphite",
            "sorbate",
            "finings",
            "sugar",
            "yeast",
            "nutrient",
            "acid",
            "water",
            "oak",
            "tannin",
            "bentonite",
        )
        found = f"add:{what}" if known else "add:sachet" if what.startswith("sachet") else "add:other"
    elif do == "step":
        found = f"step:{act['step']}"
    elif do == "bottles":
        found = "bottles:left" if act.get("left") is not None else f"bottles:{act.get('reason') or 'drank'}"
    elif do == "reminder":
        action = act.get("action") or "later"
        wish = action == "later" and act.get("about") is not None and not act.get("what")
        found = "remind" if wish else action
    elif do == "question":
        about = act.get("about")
        return (
            None
            if about in (None, "safety", "reckon", "occasion", "plans", "contact", "calendar")
            else f"ask:{about}"
        )
    else:
        found = do
    return SAME.get(found, found)


def told(acts):
    """The labels of acts; None where they cannot be learned from."""
    found = [label_of(act) for act in acts]
    if any(each is None for each in found):
        return None
    if len(found) > 1 and "undo" in found:
        return ["correct"]
    return list(dict.fromkeys(found))


def labelled():
    """Messages with the labels of what they tell: (text, labels, house, writer)."""
    for path in sorted(LINES.glob("seen*.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            found = list(dict.fromkeys(SAME.get(each, each) for each in said["says"]))
            yield said["text"], found, "plain", said.get("w", path.stem)
    for path in sorted(MESSAGES.glob("*.jsonl")):
        if path.name.startswith("aside") or path.name.endswith("danger.jsonl"):
            continue
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            if said.get("replying_to") or said.get("forwarded"):
                continue
            found = ["talk"] if said.get("verdict") == "ignore" else told(said.get("acts", ()))
            if found:
                yield said["text"], found, said.get("house", "harbour"), path.stem
    for path in sorted(TALKS.glob("seen*.txt")):
        yield from of_talk(path)


def of_talk(path):
    """The lines of a talk that say what they mean without what was said before."""
    for line in read_talk(path)[2]:
        if line.who is None or " replies " in line.text.partition(":")[0]:
            continue
        text = line.text.partition(": ")[2]
        kind, acts = next(iter(wants(line.want)))
        if len(text.split()) < 2:
            continue  # it says what it does by what was said before
        if kind == "silent":
            yield text, ["talk"], "plain", path.stem
        elif kind == "acts":
            found = told([{**act, "step": act.get("step")} for act in acts])
            if found:
                yield text, found, "plain", path.stem


def digest(lines):
    """What the weights are learned from, in short."""
    return hashlib.sha256(json.dumps(sorted(map(repr, lines))).encode()).hexdigest()[:16]


def cut(lines):
    """Every saying with words, and after those of a message all of it as one where it has several: its message's
    number, its features' places, and whether it is such a whole."""
    moment = datetime.fromisoformat(SENT_AT)
    found = []
    for number, (text, _, where, _) in enumerate(lines):
        scene = house("harbour" if where == "plain" else where)
        message = Message(text, scene, moment, by=None, replying_to=None, addressed=True)
        parts = sayings(message.spans, [token.glued for token in message.tokens])
        wordy = [(number, rows, False) for part, rows in labels.rows_of(parts, message.tokens) if part.wordy]
        if len(parts) > 1 and wordy:
            wordy.append((number, next(labels.rows_of([whole(parts)], message.tokens))[1], True))
        found += wordy
    return found


def matrix(rows):
    """The pieces as rows, each group of length one."""
    data, at, columns = [], [], []
    for row, groups in enumerate(rows):
        for group in groups.values():
            share = 1 / len(group) ** 0.5 if group else 0
            data += [share] * len(group)
            at += [row] * len(group)
            columns += group
    return sparse.csr_matrix((data, (at, columns)), shape=(len(rows), labels.PLACES), dtype=np.float32)


def fit(rows, truth, count, hardness):
    """Weights (place by label) and biases of one against the others, by places that more than one saying has. What each
    gives is no chance yet: `WARMTH` makes it one."""
    from sklearn.svm import LinearSVC  # only to learn: the tests look at the data without it

    count_of = np.asarray((rows > 0).sum(0)).ravel()
    often = count_of >= RAREST
    rare = np.log((rows.shape[0] + 1) / (count_of[often] + 1)) + 1  # rare features weigh more
    kept = (rows[:, often] @ sparse.diags(rare.astype(np.float32))).tocsr()
    model = LinearSVC(C=hardness, random_state=0, max_iter=1000, tol=1e-2).fit(kept, truth)
    weights, bias = np.zeros((labels.PLACES, count), np.float32), np.full(count, -3.0)
    weights[np.ix_(often, model.classes_)] = (model.coef_ * rare).T * WARMTH
    bias[model.classes_] = model.intercept_ * WARMTH
    return weights, bias


def shares(rows, weights, bias):
    z = rows @ weights + bias
    z -= z.max(1, keepdims=True)
    found = np.exp(z)
    return found / found.sum(1, keepdims=True)


def learned(lines, cuts, names, rows=None, hardness=HARDNESS):
    """The weights that these messages make, and which label each piece was given."""
    rows = matrix([each for _, each, _ in cuts]) if rows is None else rows
    of = {}
    index = {name: at for at, name in enumerate(names)}
    wholes = {}
    for row, (number, _, is_whole) in enumerate(cuts):
        if not is_whole:
            of.setdefault(number, []).append(row)
        elif len(lines[number][1]) == 1:
            wholes[row] = index[lines[number][1][0]]
    given = {}
    for number, mine in of.items():
        wanted = lines[number][1]
        if len(mine) == 1 and len(wanted) == 1:
            given[mine[0]] = index[wanted[0]]
        elif wanted == ["talk"]:
            given |= dict.fromkeys(mine, index["talk"])
        elif len(mine) == len(wanted):
            given |= {row: index[each] for row, each in zip(mine, wanted, strict=True)}
    for turn in range(ROUNDS + 1):
        every = {**given, **wholes}
        known = sorted(every)
        weights, bias = fit(rows[known], np.array([every[row] for row in known]), len(names), hardness)
        if turn == ROUNDS:
            break
        likely = np.log(shares(rows, weights, bias) + 1e-9)
        given = {}
        for number, mine in of.items():
            wanted = [index[each] for each in lines[number][1]]
            given |= shared_out(mine, wanted, likely, index)
    return weights, bias, given


def shared_out(mine, wanted, likely, index):
    """Which piece of a message says what: each label somewhere, the others what they likeliest are of these."""
    if len(mine) == 1:
        return {mine[0]: max(wanted, key=lambda each: likely[mine[0], each])}
    if wanted == [index["talk"]]:
        return dict.fromkeys(mine, wanted[0])
    given, left = {}, list(mine)
    for each in sorted(wanted, key=lambda each: -max(likely[row, each] for row in mine)):
        if not left:
            break
        best = max(left, key=lambda row: likely[row, each])
        given[best] = each
        left.remove(best)
    others = [*wanted, index["rest"]]
    for row in left:
        # what is left over says nothing of its own, unless it plainly says one of these again
        given[row] = max(others, key=lambda each: likely[row, each] + (1.5 if each == index["rest"] else 0))
    return given


def packed(weights, bias, names, trained_on):
    """The model with a byte a weight."""
    weights = np.where(np.abs(weights) < SMALLEST, 0, weights)
    step = float(f"{np.abs(weights).max() / 127:.4g}")
    steps = np.clip(np.round(weights / step), -127, 127).astype(np.int8)
    return labels.Weights(names, np.asarray(bias, np.float32), step, steps, trained_on)


def known(lines):
    """The messages whose labels are common enough, and the labels."""
    often = Counter(each for line in lines for each in line[1])
    names = sorted({each for each, count in often.items() if count >= FEWEST} | {"rest", "talk"})
    return [line for line in lines if set(line[1]) <= set(names)], names


def check(lines, hardness=HARDNESS):
    """How one message in five is labelled with what the others taught."""
    lines, names = known(lines)
    cuts = cut(lines)
    rows = matrix([each for _, each, _ in cuts])
    fifth = {number for number, line in enumerate(lines) if zlib.crc32(line[0].encode()) % 5 == 1}
    kept = [at for at, (number, _, _) in enumerate(cuts) if number not in fifth]
    tried = [at for at, (number, _, _) in enumerate(cuts) if number in fifth]
    weights, bias, _ = learned(lines, [cuts[at] for at in kept], names, rows[kept], hardness)
    for scale in (0.75, 1.0, 1.25, 1.5, 2.0, 2.5):
        warm, lost = shares(rows[tried], weights * scale, bias * scale), []
        for at, share in zip(tried, warm, strict=True):
            number, _, is_whole = cuts[at]
            if len(lines[number][1]) == 1 and (
                is_whole
                or sum(cuts[other][0] == number for other in (at - 1, at + 1) if 0 <= other < len(cuts)) == 0
            ):
                lost.append(-np.log(share[names.index(lines[number][1][0])] + 1e-9))
        print(f"warmth {WARMTH * scale:.2f}: {np.mean(lost):.3f} lost a message of {len(lost)}", flush=True)
    likely = shares(rows[tried], weights, bias)
    by, of_whole = {}, {}
    for at, share in zip(tried, likely, strict=True):
        if cuts[at][2]:
            of_whole[cuts[at][0]] = share
        else:
            by.setdefault(cuts[at][0], []).append(share)
    right, count = Counter(), Counter()
    for number, parts in by.items():
        wanted, writer = lines[number][1], lines[number][3][:14]
        found = {names[int(np.argmax(share))] for share in parts} - {"rest"}
        top = of_whole.get(number, parts[0])
        best = [names[each] for each in np.argsort(-top)[:3]]
        for key in ("all", writer):
            if len(wanted) > 1:
                count[key, "several"] += 1
                right[key, "several"] += found - {"talk"} == set(wanted)
            else:
                count[key, "one"] += 1
                right[key, "one"] += best[0] == wanted[0]
                right[key, "one of three"] += wanted[0] in best
                count[key, "one of three"] += 1
    for key in sorted(count):
        print(f"{key[0]:16} {key[1]:14} {right[key] / count[key]:.3f} of {count[key]}", flush=True)


def main():
    lines = list(labelled())
    if "--check" in sys.argv:
        for hardness in [float(each) for each in sys.argv[2:]] or [HARDNESS]:
            print("hardness", hardness)
            check(lines, hardness)
        return
    trained_on = digest(lines)
    lines, names = known(lines)
    cuts = cut(lines)
    weights, bias, _ = learned(lines, cuts, names)
    WEIGHTS.write_bytes(labels.encode(packed(weights, bias, names, trained_on)))
    print(
        f"{WEIGHTS.relative_to(ROOT)}: {WEIGHTS.stat().st_size} bytes, {len(names)} labels from {len(lines)} messages"
    )


if __name__ == "__main__":
    main()
