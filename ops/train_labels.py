"""Learns `bot/understand/words/en/labels.weights`: what a piece of a message tells or asks; run by `ops/train`.

A multinomial logistic model, by stochastic descent of few rounds from nothing: what few messages show gets little
weight, and what it takes for likely is so. Messages are labelled whole; which piece of one says what is found in turns
with the weights: first from messages of one piece, then each label goes to the piece that says it likeliest, and nothing is
learned from what is left over, unless its own words plainly say the same. Of a message of a talk what stands around it is learned from too: the talks are
played for that, with labels that know nothing, so that the same data gives the same bytes. A question of a talk may be any
(`ASKS`, `ANSWERED`), until the weights tell which is likeliest. What was set aside (`aside*`) is never read.
"""

import hashlib
import json
import re
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy import sparse
from sklearn.feature_extraction.text import CountVectorizer
from sklearn.linear_model import LogisticRegression

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from bot.understand.claims import labels  # noqa: E402
from bot.understand.claims.setting import WHATS  # noqa: E402
from bot.understand.text import near  # noqa: E402
from bot.understand.text.message import Message  # noqa: E402
from bot.understand.text.sayings import asks, sayings, whole  # noqa: E402
from ops.watched import lines_watched, talks_learned, watch  # noqa: E402
from tests.talks import read as read_talk  # noqa: E402
from tests.talks import wants  # noqa: E402
from tests.understand.labelled import SENT_AT, house  # noqa: E402
from tests.understand.pieces import pairs, pieces  # noqa: E402

MESSAGES = ROOT / "fixtures" / "messages"
LINES = ROOT / "fixtures" / "lines"
WEIGHTS = ROOT / "bot" / "understand" / "words" / "en" / "labels.weights"
ROUNDS = 1
PASSES, FIRST_PASSES = 16, 6
"""How often every piece is looked at, in the end and to find which piece says what."""
AT_ONCE = 32
RATE = 0.8
BIAS_RATE = 5.0
"""So much faster the biases are learned."""
POINTING = 5.0
"""How much where the words point counts beside a group of features."""
FEWEST = 4
"""A label of fewer messages is not learned."""
RAREST = 2
SMALLEST = 0.05
"""A weight below this says nothing."""
LEFT_OUT = (("w3", "w7", "w11", "w15", "w17"), ("w1", "w5", "w9", "w13", "w18"))
"""The writers that `--check` leaves out, some at a time."""

PLAINLY = 0.5
"""How likely the words of a piece alone must say what its message tells, where another piece tells it already."""

QUESTION_RAREST, QUESTION_RATE = 3, 1.0
"""Words of fewer messages tell no question; how far the weights may go by which they do."""
STANDS_OPEN = frozenset({"ask", "answered", "talk", "rest", "untold"})
"""Kinds of labels of what may be a question, marked as one or not."""
SENTENCE_END = re.compile(r"[.!?;\n]|,(?!\d)")
WORD = re.compile(r"[\w']+")

PAIRS = 1
"""With so many others each of the pieces is put together."""

LANGUAGE = "en"

ASKS, ANSWERED, GONE, UNTOLD = "ask", "answered", "bottles:gone", "untold"
"""Stand for any question, where which one is not known; for what is answered, a question, a remark or thanks; for bottles
of which it is not known how they went; and for whatever tells nothing that has happened."""
NO_FACTS = ("talk", "note", "mine", "claim", "later", "remind")
"""What, beside a question, `UNTOLD` may be."""
REST = 2
"""Of the pieces that are left over beside facts, and are plainly none of these, every second teaches that it tells none."""
OF_ONE_PIECE = frozenset({"gravity", "temperature", "step", "add", "bottles"})
"""Facts that are told in one piece each; a beginning, or a reminder, is told in several."""
STAND_FOR_OTHERS = frozenset({ASKS, ANSWERED, GONE, UNTOLD})

SAME = {"step:fine": "add:finings", "add:yeast": "step:pitch"}


def label_of(act):
    """The label of an act in the contract's form; None where none is learned from it."""
    do = act["do"]
    if do == "addition":
        what = str(act.get("what") or "other").casefold()
        known = what == "yeast" or what in WHATS
        found = f"add:{what}" if known else "add:sachet" if what.startswith("sachet") else "add:other"
    elif do == "step":
        found = f"step:{act['step']}"
    elif do == "bottles":
        how = act.get("reason") or ("found" if float(act.get("change") or -1) > 0 else None)
        found = "bottles:left" if act.get("left") is not None else f"bottles:{how}" if how else GONE
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


class Line(NamedTuple):
    """A message and the labels of all that it tells; in a house of the fixtures, where it is known whether it was `addressed`
    to the bot, or `at` its place in the talk `writer`."""

    text: str
    says: list[str]
    house: str
    writer: str
    at: int | None = None
    addressed: bool | None = None


def labelled():
    """Messages with the labels of what they tell; of what is answered, a question by its words is one without its mark."""
    lines = list(as_judged())
    unmarked = [line for line in lines if line.says == [ANSWERED]]
    asked = {id(line) for line, asks in zip(unmarked, questions(lines, unmarked), strict=True) if asks}
    for line in lines:
        yield line._replace(says=[ASKS]) if id(line) in asked else line


def questions(lines, unmarked):
    """Whether messages without a question mark are questions: learned from those that are known to be some, or have the mark,
    and from those that tell facts."""
    asking = [line for line in lines if "?" in line.text or all(each.startswith(ASKS) for each in line.says)]
    telling = [
        line for line in lines if "?" not in line.text and not STANDS_OPEN & set(map(kind_of, line.says))
    ]
    words = CountVectorizer(analyzer=phrased, binary=True, min_df=QUESTION_RAREST)
    told = words.fit_transform([line.text for line in (*asking, *telling)])
    model = LogisticRegression(C=QUESTION_RATE, max_iter=2_000)
    model.fit(told, [True] * len(asking) + [False] * len(telling))
    return model.predict(words.transform([line.text for line in unmarked]))


def kind_of(label):
    return label.partition(":")[0]


def phrased(text):
    """The words and pairs of words of a message in lower case, with where sentences begin and end."""
    found = []
    for part in SENTENCE_END.split(text.casefold()):
        every = ["<", *WORD.findall(part), ">"]
        found += every[1:-1]
        found += [f"{one} {two}" for one, two in pairwise(every)]
    return found


def as_judged():
    """Messages with the labels of what they tell, as they were judged."""
    for path in sorted(LINES.glob("seen*.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            found = list(dict.fromkeys(SAME.get(each, each) for each in said["says"]))
            yield Line(said["text"], found, "plain", said.get("w", path.stem))
    for path in sorted(MESSAGES.glob("*.jsonl")):
        if path.name.startswith("aside") or path.name.endswith("danger.jsonl"):
            continue
        for line in path.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            if said.get("replying_to") or said.get("forwarded"):
                continue
            found = ["talk"] if said.get("verdict") == "ignore" else told(said.get("acts", ()))
            if found:
                addressed = said.get("addressed", False) or said.get("chat") == "wine"
                yield Line(said["text"], found, said.get("house", "harbour"), path.stem, None, addressed)
    few = list(pieces())
    for piece in (*few, *pairs(few, PAIRS)):
        found = [label_of(act) for act in piece.message["acts"]] + [UNTOLD] * piece.untold
        yield Line(piece.message["text"], found, "harbour", piece.file, None, True)
    for path in talks_learned():
        yield from of_talk(path)


def of_talk(path):
    """The lines of a talk that say what they mean, with what stands around them."""
    said = (line for line in read_talk(path)[2] if line.who is not None)
    for at, line in enumerate(said):
        if " replies " in line.text.partition(":")[0]:
            continue
        text = line.text.partition(": ")[2]
        kind, acts = next(iter(wants(line.want)))
        found = None
        if kind == "silent":
            found = ["talk"]
        elif kind == "answer":
            found = [ASKS if "?" in text else ANSWERED]
        elif kind == "acts":
            found = told([{**act, "step": act.get("step")} for act in acts])
        if found:
            yield Line(text, found, "plain", path.stem, at)


def scenes_of(path, names):
    """What stood around the messages of a talk: the scene, when it was sent, by whom, whether for the bot; by their places
    in the talk."""
    nothing = labels.Weights(
        LANGUAGE,
        names,
        np.zeros(len(names), np.float32),
        1.0,
        np.zeros((labels.PLACES, len(names)), np.int8),
        np.zeros((near.near_of(LANGUAGE).direction([]).size, len(names)), np.float32),
        "",
    )
    watched = watch(nothing)
    found = {}
    for at, _, _ in lines_watched(path, watched):
        seen = watched.first[-1]
        found[path.stem, at] = (seen.scene, seen.sent_at, seen.by, seen.addressed)
    return found


def played(lines):
    """What stood around the messages of all talks."""
    names = known(lines)[1]
    paths = talks_learned()
    with ProcessPoolExecutor(2) as pool:
        parts = pool.map(scenes_of, paths, [names] * len(paths), chunksize=4)
        return {key: each for part in parts for key, each in part.items()}


def digest(lines):
    """What the weights are learned from, in short."""
    seen = json.dumps([near.near_of(LANGUAGE).digest, *sorted(map(repr, lines))])
    return hashlib.sha256(seen.encode()).hexdigest()[:16]


class Cut(NamedTuple):
    """A saying with words or a number: the number of its message, what stands in it, whether it is all of a message of
    several, has the form of a question, and holds a number."""

    number: int
    row: labels.Traits
    whole: bool = False
    asks: bool = False
    counts: bool = False


class Spoken(NamedTuple):
    """A message as it was said, by its number, in its sayings; whether it is known what stood around it."""

    number: int
    message: Message
    parts: list
    placed: bool


def spoken(lines, scenes):
    """Every message, in the house and at the place of its talk where it was said."""
    moment = datetime.fromisoformat(SENT_AT)
    for number, line in enumerate(lines):
        where = house("harbour" if line.house == "plain" else line.house)
        plain = (where, moment, None, line.addressed is not False)
        around = scenes.get((line.writer, line.at))
        scene, sent_at, by, addressed = around or plain
        message = Message(line.text, scene, sent_at, by=by, replying_to=None, addressed=addressed)
        yield Spoken(number, message, sayings(message), around is not None or line.addressed is not None)


def cut(lines, scenes):
    """Every saying with words or a number, and after those of a message all of it as one where it has several."""
    found = []
    for number, message, parts, placed in spoken(lines, scenes):
        said = list(labels.rows_of(parts, message, LANGUAGE))
        wordy = [Cut(number, row, asks=asks(part), counts=counts(part)) for part, row in said if tells(part)]
        if len(parts) > 1 and wordy:
            every = next(labels.rows_of([whole(parts)], message, LANGUAGE))[1]
            wordy.append(Cut(number, every, whole=True))
        if not placed:  # nothing is known of when it was said
            for each in wordy:
                each.row.places[labels.SETTING] = []
        found += wordy
    return found


def tells(part):
    """Whether a saying has words of its own or a number: "1.018, smells of eggs" is a gravity by its first."""
    return part.wordy or counts(part)


def counts(part):
    return any(span.qty is not None for span in part.spans)


class Seen:
    """Pieces as rows: their features, each group of length one, and where their words point."""

    def __init__(self, features, pointing):
        self.features, self.pointing = features, pointing

    def __getitem__(self, rows):
        return Seen(self.features[rows], self.pointing[rows])


def seen(rows):
    """The pieces as rows."""
    data, at, columns = [], [], []
    for number, row in enumerate(rows):
        for group, places in row.places.items():
            data += [labels.share_of(group, places)] * len(places)
            at += [number] * len(places)
            columns += places
    features = sparse.csr_matrix((data, (at, columns)), shape=(len(rows), labels.PLACES), dtype=np.float32)
    return Seen(features, np.stack([row.direction for row in rows]).astype(np.float32))


def fit(rows, truth, count, passes=PASSES):
    """The weights of places and of dimensions (a column a label), and the biases. Places that only one piece has get
    none."""
    count_of = np.asarray((rows.features > 0).sum(0)).ravel()
    often = np.flatnonzero(count_of >= RAREST)
    rare = (np.log((rows.features.shape[0] + 1) / (count_of[often] + 1)) + 1).astype(np.float32)
    kept = (rows.features[:, often] @ sparse.diags(rare)).tocsr().astype(np.float32)
    directions = rows.pointing * np.float32(POINTING)
    weights, pointing = (np.zeros((size, count), np.float32) for size in (len(often), directions.shape[1]))
    bias = np.zeros(count, np.float32)
    random = np.random.default_rng(0)
    steps = passes * -(-len(truth) // AT_ONCE)
    done = 0
    for _ in range(passes):
        order = random.permutation(len(truth))
        for start in range(0, len(truth), AT_ONCE):
            some = order[start : start + AT_ONCE]
            rate = np.float32(RATE * max(0.01, 1 - done / steps) / len(some))
            done += 1
            batch, point = kept[some], directions[some]
            used, at = np.unique(batch.indices, return_inverse=True)
            small = sparse.csr_matrix(
                (batch.data, at.astype(np.int32), batch.indptr), shape=(len(some), len(used))
            )
            were = weights[used]
            wrong = chances(small @ were + point @ pointing + bias)
            wrong[np.arange(len(some)), truth[some]] -= 1
            wrong *= rate
            weights[used] = were - small.T.tocsr() @ wrong
            pointing -= point.T @ wrong
            bias -= np.float32(BIAS_RATE) * wrong.sum(0)
    every = np.zeros((labels.PLACES, count), np.float32)
    every[often] = weights * rare[:, None]
    return every, pointing * np.float32(POINTING), bias


def by_itself(row):
    """A piece without the words and all else that stands around it."""
    kept = {group: places for group, places in row.places.items() if group not in ("around", labels.SETTING)}
    return labels.Traits(kept, row.direction)


def chances(z):
    """What is made of sums of weights: shares that sum to one."""
    found = np.exp(z - z.max(1, keepdims=True))
    return found / found.sum(1, keepdims=True)


def shares(rows, weights, pointing, bias):
    return chances(rows.features @ weights + rows.pointing @ pointing + bias)


def learned(lines, cuts, names, rows):
    """The model that these messages make."""
    truth = told_apart(lines, cuts, names, rows)
    known = sorted(truth)
    return fit(rows[known], np.array([truth[row] for row in known]), len(names))


def told_apart(lines, cuts, names, rows):
    """What the pieces of messages say, a column of the labels each by the number of the piece, where that is known."""
    of = {}
    columns = {name: [at] for at, name in enumerate(names)}
    columns[ASKS] = [at for at, name in enumerate(names) if name.startswith("ask:")]
    columns[GONE] = [columns[f"bottles:{how}"][0] for how in ("drank", "gave", "broke")]
    columns[ANSWERED] = [*columns[ASKS], *columns["note"], *columns.get("thanks", [])]
    columns[UNTOLD] = [*columns[ASKS], *(at for name in NO_FACTS for at in columns.get(name, ()))]
    wholes = {}
    for row, each in enumerate(cuts):
        if not each.whole:
            of.setdefault(each.number, []).append(row)
        elif len(lines[each.number].says) == 1:
            wholes[row] = columns[lines[each.number].says[0]]
    asking = {row for row, each in enumerate(cuts) if each.asks}
    asks = set(columns[ASKS])
    telling = {row for row, each in enumerate(cuts) if each.asks or each.counts}
    alone = seen([by_itself(each.row) for each in cuts])
    given = {}
    for number, mine in of.items():
        wanted = lines[number].says
        if len(mine) == 1 and len(wanted) == 1:
            given[mine[0]] = columns[wanted[0]]
        elif wanted == ["talk"]:
            given |= dict.fromkeys(mine, columns["talk"])
        elif len(mine) == len(wanted):
            given |= {row: columns[each] for row, each in zip(mine, wanted, strict=True)}
    for _ in range(ROUNDS):
        every = only(given, wholes)
        known = sorted(every)
        truth = np.array([every[row] for row in known])
        model = fit(rows[known], truth, len(names), FIRST_PASSES)
        likely = np.log(shares(rows, *model) + 1e-9)
        by_words = shares(alone, *fit(alone[known], truth, len(names), FIRST_PASSES))
        given = {}
        for number, mine in of.items():
            wanted = [columns[each] for each in lines[number].says]
            given |= shared_out(mine, wanted, likely, by_words, columns, asking)
            if all(each.partition(":")[0] in OF_ONE_PIECE for each in lines[number].says):
                left = [row for row in mine if row not in given and row not in telling]
                given |= {row: columns["rest"] for row in left if row % REST == 0}
        wholes = {row: likeliest(one_of, likely[row], asks) for row, one_of in wholes.items()}
    return only(given, wholes)


def only(given, wholes):
    """The pieces that can say but one thing."""
    return {row: one_of[0] for row, one_of in {**given, **wholes}.items() if len(one_of) == 1}


def likeliest(one_of, likely, asks=frozenset()):
    """The likeliest of some columns, as they are given; that any question is asked counts as one."""
    asked = [column for column in one_of if column in asks]
    others = [column for column in one_of if column not in asks]
    if asked and others and np.logaddexp.reduce(likely[asked]) >= max(likely[others]):
        one_of = asked
    elif asked and others:
        one_of = others
    return [max(one_of, key=lambda column: likely[column])]


def shared_out(mine, wanted, likely, by_words, columns, asking):
    """Which piece of a message says what: each label somewhere, the others what they plainly say again of these, by their
    own words. Which question it is that stands beside a fact is not known: nothing is learned from these."""
    questions = set(columns[ASKS])
    if len(mine) == 1:
        return {mine[0]: likeliest([at for one_of in wanted for at in one_of], likely[mine[0]], questions)}
    if wanted == [columns["talk"]]:
        return dict.fromkeys(mine, wanted[0])
    given, left = {}, list(mine)
    if not asking.issuperset(mine) and not any(questions.issuperset(one_of) for one_of in wanted):
        left = [row for row in left if row not in asking]

    def how(row, one_of):
        return max(likely[row, column] for column in one_of)

    for each in sorted(wanted, key=lambda each: -max(how(row, each) for row in left)):
        if not left:
            break
        best = max(left, key=lambda row: how(row, each))
        given[best] = likeliest(each, likely[best], questions)
        left.remove(best)
    others = [at for one_of in wanted for at in one_of]
    for row in left:
        best = max(others, key=lambda column: by_words[row, column])
        if by_words[row, best] >= PLAINLY:
            given[row] = [best]
    return given


def packed(weights, pointing, bias, names, trained_on):
    """The model with a byte a weight."""
    weights = np.where(np.abs(weights) < SMALLEST, 0, weights)
    step = float(f"{np.abs(weights).max() / 127:.4g}")
    steps = np.clip(np.round(weights / step), -127, 127).astype(np.int8)
    return labels.Weights(LANGUAGE, names, bias, step, steps, pointing, trained_on)


def known(lines):
    """The messages whose labels are common enough, and the labels."""
    often = Counter(each for line in lines for each in line.says)
    names = sorted(
        ({each for each, count in often.items() if count >= FEWEST} | {"rest", "talk"}) - STAND_FOR_OTHERS
    )
    return [line for line in lines if set(line.says) <= {*names, *STAND_FOR_OTHERS}], names


def check(lines):
    """How the messages of some writers are labelled with what the others taught."""
    scenes = played(lines)
    lines, names = known(lines)
    cuts = cut(lines, scenes)
    rows = seen([each.row for each in cuts])
    for writers in LEFT_OUT:
        theirs = [lines[each.number].writer in writers for each in cuts]
        kept, tried = np.flatnonzero(np.logical_not(theirs)), np.flatnonzero(theirs)
        model = learned(lines, [cuts[at] for at in kept], names, rows[kept])
        tell(", ".join(writers), lines, [cuts[at] for at in tried], shares(rows[tried], *model), names)


def tell(who, lines, cuts, likely, names):
    """How often messages of one label got the right one, had it among three, and what was lost a message; how often those
    of several got just these."""
    pieces, wholes = {}, {}
    for each, share in zip(cuts, likely, strict=True):
        if each.whole:
            wholes[each.number] = share
        else:
            pieces.setdefault(each.number, []).append(share)
    right, count, lost = Counter(), Counter(), []
    for number, parts in pieces.items():
        wanted = lines[number].says
        if len(wanted) > 1:
            count["several"] += 1
            found = {names[int(np.argmax(share))] for share in parts} - {"rest", "talk"}
            right["several"] += found == set(wanted)
            continue
        top = wholes.get(number, parts[0])
        best = [names[each] for each in np.argsort(-top)[:3]]
        lost.append(-np.log(top[names.index(wanted[0])] + 1e-9))
        for key, is_right in (("one", best[0] == wanted[0]), ("one of three", wanted[0] in best)):
            count[key] += 1
            right[key] += is_right
    told = ", ".join(f"{key} {right[key] / count[key]:.3f} of {count[key]}" for key in sorted(count))
    print(f"without {who}: {told}; {np.mean(lost):.3f} lost a message", flush=True)


def main():
    lines = list(labelled())
    if "--check" in sys.argv:
        check(lines)
        return
    trained_on = digest(lines)
    scenes = played(lines)
    lines, names = known(lines)
    cuts = cut(lines, scenes)
    model = learned(lines, cuts, names, seen([each.row for each in cuts]))
    WEIGHTS.write_bytes(labels.encode(packed(*model, names, trained_on)))
    print(
        f"{WEIGHTS.relative_to(ROOT)}: {WEIGHTS.stat().st_size} bytes, {len(names)} labels from {len(lines)} messages"
    )


if __name__ == "__main__":
    main()
