"""Learns `bot/understand/words/en/dangers.weights` from the labelled messages; run by `ops/train`.

Two log-linear models with a quadratic penalty, fitted by L-BFGS: whether a message tells of a danger, and of which
one. The first sees every message, the second those of danger. Most of what is harmless are the lines that are labelled
for what they tell or ask: what people say of an evening, by many hands. What was set aside (`aside*`) is never read.
"""

import hashlib
import json
import sys
import zlib
from datetime import datetime
from pathlib import Path

import numpy as np
from scipy import sparse
from scipy.optimize import minimize

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.understand import meaning  # noqa: E402 - found by the path above
from bot.understand.claims import dangers, likeness  # noqa: E402 - found by the path above
from bot.understand.text.scan import fold  # noqa: E402
from tests import talks  # noqa: E402 - found by the path above
from tests.understand.labelled import SENT_AT, house  # noqa: E402 - found by the path above
from tests.understand.tables import LINES as LINES_OF_CASES  # noqa: E402

MESSAGES = ROOT / "fixtures" / "messages"
LINES = ROOT / "fixtures" / "lines"
TALKS = ROOT / "fixtures" / "talks"
WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "dangers.weights"
PENALTY = 1 / 3
TOPIC_PENALTY = 1 / 20
HARMLESS = 0.15
"""What a message counts that was labelled for what is written down, beside one that was labelled for its danger: there
are many more of them, and most are easily told apart."""

BESIDE = 0.3
"""What a line counts that was labelled for what is written down, and tells of a danger as well: many a one only hints."""

RAREST = 2
"""A feature of fewer messages has no weight: it would stand for nothing but that message."""

CONTEXT = ("always", "spoken", "fact", "asked")

TOUCHES_DANGER = frozenset(
    [
        "bottle_clean",
        "bottle_which",
        "campden",
        "children",
        "clean_or_sanitise",
        "cork_how",
        "crystals",
        "drive",
        "dropped_in",
        "film",
        "fizzy",
        "foam",
        "freeze",
        "heavy",
        "leak_check",
        "lid",
        "moving",
        "no_hydrometer",
        "old_kit",
        "oxygen",
        "sanitise_rinse",
        "smell_bad",
        "smell_sharp",
        "store",
        "stronger",
        "stuck",
        "sulphite_health",
        "tap_water",
        "too_cold",
        "touched",
        "twice",
        "vegan",
        "waste",
        "weaker",
        "what_is_sulphite",
        "where_keep",
        "wrong_sachet",
    ]
)
"""What is asked where a danger is often near: a line of these that a rule hears may tell of one, and is not learned."""


def labelled():
    """The messages to learn from, each with its topic; those labelled for what is written down are of no danger
    unless their label says so, and neither are the lines."""
    lines = []
    for path in sorted(MESSAGES.glob("*.jsonl"), key=lambda path: not path.name.endswith("danger.jsonl")):
        if path.name.startswith("aside"):
            continue
        of_danger = path.name.endswith("danger.jsonl")
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            if of_danger:
                lines.append({**said, "writer": said.get("w", path.stem)})
            elif not any(act.get("about") == "safety" for act in said.get("acts", ())):
                near = said.get("addressed") or said.get("verdict") != "ignore"
                chat = "wine" if near else "family"
                near_it = any(act.get("reason") == "broke" for act in said.get("acts", ()))
                lines.append(
                    {**said, "topic": "none", "chat": chat, "writer": "", "chore": True, "near": near_it}
                )
    for line in (LINES / "seen.jsonl").read_text(encoding="utf-8").splitlines():
        said = json.loads(line)
        told = (
            {"topic": said["danger"], "beside": True}
            if "danger" in said
            else {"topic": "none", "chore": True}
        )
        lines.append({"text": said["text"], "writer": "", **told, **_of_line(said)})
    lines += [
        {"text": text, "topic": "none", "chat": "family", "writer": "", "house": name}
        for name, text, expected in LINES_OF_CASES
        if "about=safety" not in expected
    ]
    lines += said_in_talks()
    once = {}
    for line in lines:
        once.setdefault(line["text"], line)
    return list(once.values())


def said_in_talks():
    """What people say to each other in whole talks: of no danger, but for what the messages label. A wine's own name says
    nothing: one may be called Dizzy."""
    for path in sorted(TALKS.glob("seen-*.txt")):
        _, chat, lines = talks.read(path)
        named = {fold(name) for line in lines for name in _begun(line.want)}
        for line in lines:
            said = line.who and talks.MESSAGE.fullmatch(line.text)
            if said and not any(name in fold(said["text"]) for name in named):
                yield {"text": said["text"], "topic": "none", "chat": chat, "writer": "", "chore": True}


def _begun(judgement):
    """The names of the batches that a judgement begins."""
    for kind, acts in talks.wants(judgement):
        if kind == "acts":
            yield from (act["name"] for act in acts if act["do"] == "begin" and act.get("name"))


def _of_line(said):
    """In which chat a line is taken to be said, half of what is told or asked in either, and whether it may be near a
    danger."""
    asks = {label.removeprefix("ask:") for label in said["says"]}
    talk = asks <= {"talk", "thanks"}
    chat = "family" if talk or zlib.crc32(said["text"].encode()) >> 1 & 1 else "wine"
    return {"chat": chat, "near": bool(asks & TOUCHES_DANGER or "bottles:broke" in asks)}


def digest():
    """What the weights are learned from, in short: the messages labelled for dangers, and the classes."""
    told = [[line["text"], line["topic"], line["chat"]] for line in labelled() if not line.get("chore")]
    classes = (WEIGHTS.parent / "dangers.toml").read_bytes()
    return hashlib.sha256(json.dumps(sorted(told)).encode() + classes).hexdigest()[:16]


def seen(lines):
    """Each message as the model sees it: its features' places, the context, and whether the rules hear it."""
    kept = []
    for line in lines:
        scene, spoken = house(line.get("house", "harbour")), line["chat"] == "wine"
        verdict = meaning(line["text"], scene, datetime.fromisoformat(SENT_AT), addressed=spoken)
        heard = dangers.listen(line["text"], scene, spoken=spoken, fact=dangers.tells(verdict))
        if line.get("near") and heard.by_rule and not line.get("beside"):
            continue
        # What is harmless is so in each of its parts; which part of a danger tells of it is not known.
        for part in (line.get("chore") and heard.pieces) or (heard,):
            features = likeness.features(part.words, part.classes)
            by_group = {group: sorted(set(found)) for group, found in features}
            rules = [one.topic for one in part.by_rule]
            kept.append({**line, "context": part.context, "rules": rules, "features": by_group})
    return kept


def matrix(lines, groups, places, weigh):
    """The messages' features as rows, a group's length one; rare features weigh more."""
    parts = []
    for group in groups:
        at = [(row, place % places) for row, line in enumerate(lines) for place in line["features"][group]]
        share = [1 / len(lines[row]["features"][group]) ** 0.5 for row, _ in at]
        found = sparse.csr_matrix((share, tuple(zip(*at, strict=True))), shape=(len(lines), places))
        often = np.asarray((found > 0).sum(0)).ravel()
        scale = np.where(often >= RAREST, np.log((len(lines) + 1) / (often + 1)) + 1, 0) * 0.35
        parts.append(found @ sparse.diags(scale if weigh else (often >= RAREST) * 1.0))
        yield parts[-1], scale


def fit(rows, told, counts, penalty):
    """The weights of a yes or no, and how much each row counts; the first column's weight is free."""
    sign, columns = 2 * told - 1, rows.T.tocsr()
    hold = np.full(rows.shape[1], penalty)
    hold[0] = 1e-4

    def loss(weights):
        z = sign * (rows @ weights)
        wrong = counts * sign / (1 + np.exp(np.clip(z, -50, 50)))
        cost = (counts * np.logaddexp(0, -z)).sum() + 0.5 * (hold * weights**2).sum()
        return cost, hold * weights - columns @ wrong

    begun = np.zeros(rows.shape[1])
    return minimize(loss, begun, jac=True, method="L-BFGS-B", options={"maxiter": 150, "maxcor": 8}).x


def fit_topics(rows, told, count, penalty):
    """The weights of each topic."""
    columns, truth = rows.T.tocsr(), np.eye(count)[told]

    def loss(flat):
        weights = flat.reshape(rows.shape[1], count)
        z = rows @ weights
        z -= z.max(1, keepdims=True)
        share = np.exp(z)
        share /= share.sum(1, keepdims=True)
        cost = -np.log(share[np.arange(len(told)), told]).sum() + 0.5 * penalty * (weights**2).sum()
        return cost, (columns @ (share - truth) + penalty * weights).ravel()

    begun = np.zeros(rows.shape[1] * count)
    return minimize(loss, begun, jac=True, method="L-BFGS-B", options={"maxiter": 60}).x.reshape(-1, count)


def learned(lines, topics):
    """The model that these messages make."""
    told = np.array([line["topic"] != "none" for line in lines], float)
    counts = np.array(
        [HARMLESS if line.get("chore") else BESIDE if line.get("beside") else 1.0 for line in lines]
    )
    context = [[1.0, *(0.5 * (name in line["context"]) for name in CONTEXT[1:])] for line in lines]
    parts, scales = zip(*matrix(lines, likeness.GROUPS, likeness.PLACES, True), strict=True)
    weights = fit(sparse.hstack([sparse.csr_matrix(context), *parts]).tocsr(), told, counts, PENALTY)
    head = dict(zip(CONTEXT, weights[: len(CONTEXT)] * [1, 0.5, 0.5, 0.5], strict=True))
    by_group = weights[len(CONTEXT) :].reshape(len(likeness.GROUPS), likeness.PLACES) * np.array(scales)
    danger, step = in_steps(by_group.sum(0))  # two groups hardly ever share a place

    of_danger = [line for line in lines if line["topic"] != "none"]
    groups = [group for group in likeness.GROUPS if group in likeness.WITH_TOPIC]
    rows = sum(part for part, _ in matrix(of_danger, groups, likeness.TOPIC_PLACES, False))
    bias = sparse.csr_matrix(np.ones((len(of_danger), 1)))
    which = np.array([topics.index(line["topic"]) for line in of_danger])
    by_topic = fit_topics(sparse.hstack([bias, rows]).tocsr(), which, len(topics), TOPIC_PENALTY)
    topic, topic_step = in_steps(by_topic[1:].ravel())
    return likeness.Model(
        danger=memoryview(danger),
        step=step,
        context={name: round(float(weight), 3) for name, weight in head.items()},
        topics=topics,
        topic=memoryview(topic),
        topic_step=topic_step,
        topic_bias=[round(float(weight), 3) for weight in by_topic[0]],
        trained_on=digest(),
    )


def in_steps(weights):
    """Weights as a byte each, and what one step of that is worth."""
    step = float(f"{np.abs(weights).max() / 127:.4g}")
    return np.clip(np.round(weights / step), -127, 127).astype(np.int8).tobytes(), step


def check(lines, topics):
    """How each writer is heard with what the others taught, and all together."""
    writers = sorted({line["writer"] for line in lines if line["writer"].startswith("w")})
    total = []
    for writer in writers:
        model = likeness.decode(likeness.encode(learned([x for x in lines if x["writer"] != writer], topics)))
        rows = []
        for line in (x for x in lines if x["writer"] == writer):
            scene, spoken = house(line.get("house", "harbour")), line["chat"] == "wine"
            verdict = meaning(line["text"], scene, datetime.fromisoformat(SENT_AT), addressed=spoken)
            heard = dangers.listen(line["text"], scene, spoken=spoken, fact=dangers.tells(verdict))
            _, odds = dangers.likest(heard, model)
            rows.append((line, [one.topic for one in dangers.decide(heard, model)], odds))
        tell(writer, rows)
        total += rows
    tell("all", total)
    tell("all but w1, w2", [row for row in total if row[0]["writer"] not in ("w1", "w2")])
    return total


def tell(name, rows):
    told = [(line, found) for line, found, _ in rows if line["topic"] != "none"]
    heard = sum(bool(found) for _, found in told) / len(told)
    right = sum(line["topic"] in found for line, found in told) / len(told)
    by_rule = sum(bool(line["rules"]) for line, _ in told) / len(told)
    two = sum(len(found) > 1 for _, found in told) / len(told)
    out = f"{name}: heard {heard:.3f} (rules alone {by_rule:.3f}), topic {right:.3f}, two topics {two:.2f}; false alarms"
    for chat in ("family", "wine"):
        quiet = [(line, found) for line, found, _ in rows if line["topic"] == "none" and line["chat"] == chat]
        alarms = sum(bool(found) for _, found in quiet)
        rules = sum(bool(line["rules"]) for line, _ in quiet)
        out += f" {chat} {alarms}/{len(quiet)} (rules {rules})"
    print(out, flush=True)


def main():
    lines = seen(labelled())
    topics = [topic.danger.topic for topic in dangers.words_of("en").topics]
    if "--check" in sys.argv:
        check(lines, topics)
        return
    WEIGHTS.write_bytes(likeness.encode(learned(lines, topics)))
    print(f"{WEIGHTS.relative_to(ROOT)}: {WEIGHTS.stat().st_size} bytes from {len(lines)} messages")


if __name__ == "__main__":
    main()
