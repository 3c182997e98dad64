"""What in a message may hurt somebody: heard beside whatever else it says.

A danger is hardly ever said twice in the same words, so no sentences are looked for: words stand for classes
(a substance, a part of the body, a mishap), and a rule names the classes that have to stand near each other, in
any order. The words and the rules are data, in `dangers.toml`, where their form is explained.
What no rule hears may still be like the messages that told of a danger (`likeness.py`), and what a rule hears in a
message that is like none of them is not believed: in an evening's chatter some words of some rule always stand near each
other. A danger that is missed is far worse than a short line too many, so a chat for the wine needs less likeness than
family talk does.

Every step is linear in the length of the text: a word's classes are looked up, phrases and windows have a
largest length, and of one class no more than `MOST_HITS` places count.
"""

import re
import unicodedata
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache, partial
from itertools import pairwise, product
from typing import Any, NamedTuple

import msgspec
from rapidfuzz.distance import OSA

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Note, Question, Step, Temperature
from bot.cellar.log.subjects import Matter, Safety
from bot.understand.claims import likeness
from bot.understand.claims.likeness import Model, model_of
from bot.understand.forms.safety import signs_of
from bot.understand.scene import Scene
from bot.understand.text.language import tables_of
from bot.understand.text.scan import fold
from bot.understand.verdict import ASKS_SOMETHING, RESEMBLES, Doubt, Verdict

LONGEST = 12_000
"""Characters of a message that are listened to: more than three times what a chat service lets through."""

MOST_HITS = 64
MOST_TOPICS = 2
"""Of one message: more than that nobody reads before they act."""

ENOUGH_IN_TALK, ENOUGH_BESIDE_WINE = 0.8, -0.6
"""The log odds from which a message is like one of danger, though no rule hears it."""

_BELIEVED, _BELIEVED_SURELY = -1.0, -0.5
"""The log odds from which a rule is believed, and from which what it hears is told whole."""

_SURELY = 1.5
"""So far above what is enough, it is told whole."""

_ONE, _OTHER = 0.6, 0.15
"""A topic with less than the share `_ONE` is told with the next one, where that has `_OTHER`."""

_TOGETHER = 240
"""Characters that are weighed together: the rest of a long message neither drowns a danger nor makes one of what is
far apart."""

_SHORTEST_SLIP = 6
_LONGEST_WORD = 24
_WINDOW = 14
_COMMA, _STOP = 2, 6  # what a mark counts, in words
_ENDINGS = ("", "e", "s", "es", "ed", "ing")
_DENIES_WITHIN = 3
_FEWEST_TOLD = 2
"""Words: one alone says nothing of its own."""

_OF_THE_WINE = frozenset({"wine", "vessel", "tradeword", "ferment"})
_WORD = re.compile(r"\d+(?:[.,:]\d+)*|[^\W_]+|[.!?;\n…]|[,:()]|(?<=\s)[-–—](?=\s)|[–—]")
_SENTENCE = re.compile(r"[^.!?\n]{1,380}[.!?\n]{0,20}|[.!?\n]{1,100}")
_SAYING = re.compile(r"[^.,;!?\n]{1,380}[.,;!?\n]{0,20}")
_CLAUSE = re.compile(r"[^,;]{1,160}(?:[,;]\s{0,9}|\s|$)|.{1,160}", re.DOTALL)
_WILL = re.compile("['’‘ʼ`´]ll\\b")  # "I'll" is not ill
_APOSTROPHES = str.maketrans("", "", "'’‘ʼ`´")


class Danger(msgspec.Struct, frozen=True):
    """A danger by its topic; `doubts` are the kinds of fact that it puts in doubt, `misread` those that words about
    it are mistaken for. What is not `sure` is said in short."""

    topic: str
    doubts: frozenset[str] = frozenset()
    misread: frozenset[str] = frozenset()
    sure: bool = True


class Hearing(msgspec.Struct, frozen=True):
    """What stands in a message, and the dangers that rules hear in it; `words` are those that are no wine's name,
    `pieces` the parts of a long message, `told` the clauses in which a rule hears one by themselves."""

    words: tuple[str, ...]
    classes: frozenset[str]
    context: tuple[str, ...]
    by_rule: tuple[Danger, ...]
    language: str
    pieces: tuple["Hearing", ...] = ()
    told: tuple["Hearing", ...] = ()


class _Hit(NamedTuple):
    """Where a class stands, in words. A tuple, since places are sorted and weighed by both ends for every rule."""

    lo: int
    hi: int


class _Element(msgspec.Struct, frozen=True):
    words: frozenset[str]
    stems: tuple[str, ...]

    def fits(self, word: str) -> bool:
        return word in self.words or (bool(self.stems) and word.startswith(self.stems))


class _Phrase(msgspec.Struct, frozen=True):
    elements: tuple[_Element | None, ...]
    name: str


class _Nearness(msgspec.Struct, frozen=True):
    slots: tuple[tuple[str, ...], ...]
    unless: tuple[str, ...]
    within: int
    needs: str


class _Topic(msgspec.Struct, frozen=True):
    danger: Danger
    rules: tuple[_Nearness, ...]


class _Case(NamedTuple):
    """A rule, and the topic by its number that it is one of."""

    topic: int
    rule: _Nearness


def dangers(text: str, scene: Scene, *, spoken: bool, fact: bool) -> tuple[Danger, ...]:
    """The dangers in a message, the most urgent first. `spoken` says that it is said to the bot or in a chat for
    the wine, `fact` that it tells or asks something of a wine: either way it needs no word of the trade."""
    return decide(listen(text, scene, spoken=spoken, fact=fact), model_of(scene.language))


def tells(verdict: Verdict) -> bool:
    """Whether a message of that verdict tells or asks something of a wine."""
    return verdict.verdict != "ignore" and verdict.doubt not in (
        Doubt.NOT_UNDERSTOOD,
        Doubt.NO_ANSWER,
        Doubt.THANKED,
    )


def listen(text: str, scene: Scene, *, spoken: bool, fact: bool) -> Hearing:
    """What stands in a message, and what the rules hear in it."""
    text = text[:LONGEST]
    hear = partial(_listen, scene=scene, spoken=spoken, fact=fact)
    whole = hear(text)
    pieces = tuple(map(hear, _parts(text))) if len(text) > _TOGETHER else ()
    clauses = _SAYING.findall(text)[:MOST_HITS] if whole.by_rule else ()
    told = tuple(heard for heard in map(hear, clauses) if heard.by_rule)
    by_rule = tuple(_in_place(whole.by_rule, text, hear)) if whole.by_rule else ()
    return msgspec.structs.replace(whole, by_rule=by_rule, pieces=pieces, told=told)


def _in_place(found: Sequence[Danger], text: str, hear: Callable[[str], Hearing]) -> Iterator[Danger]:
    """The dangers of a message, with what their own sentences make of them: one that is told apart from the wine puts
    nothing that was done to it in doubt, and where nothing else is said, what seems to be asked may be misread."""
    words = words_of(hear("").language)
    sentences = [hear(said) for said in _SENTENCE.findall(text)[:MOST_HITS]]
    alone = all(
        len(part.words) < _FEWEST_TOLD or part.classes - words.of_wine
        for part in map(hear, words.parted(text))
    )
    for one in found:
        own = [said for said in sentences if any(one.topic == each.topic for each in said.by_rule)]
        apart = bool(own) and all(said.classes.isdisjoint(_OF_THE_WINE) for said in own)
        misasked = words.misasked[one.topic] if alone else frozenset()
        yield msgspec.structs.replace(
            one, doubts=frozenset() if apart else one.doubts, misread=one.misread | misasked
        )


def _listen(text: str, scene: Scene, *, spoken: bool, fact: bool) -> Hearing:
    words = words_of(scene.language)
    heard = _Places(text, words, _names(scene))
    near = spoken or fact
    holds = {"": True, "spoken": near, "trade": near or heard.has("trade")}
    heard_of: set[int] = set()
    for name in heard.classes:
        for topic, rule in words.cases.get(name, ()):
            if topic not in heard_of and holds[rule.needs] and heard.fits(rule):
                heard_of.add(topic)
    found = [words.topics[topic].danger for topic in sorted(heard_of)]
    hidden = {other for one in found for other in words.covers.get(one.topic, ())}
    doubts = frozenset(kind for one in found for kind in one.doubts)
    said = [one for one in found if one.topic not in hidden][:MOST_TOPICS]
    context = {"spoken": spoken, "fact": fact, "asked": "?" in text}
    return Hearing(
        words=tuple(heard.said),
        classes=heard.classes,
        context=tuple(name for name, so in context.items() if so),
        by_rule=tuple(msgspec.structs.replace(one, doubts=doubts) for one in said),
        language=scene.language,
    )


def decide(heard: Hearing, model: Model) -> tuple[Danger, ...]:
    """The dangers to answer: those of the rules that are believed, else what the message is like enough."""
    weighed = [(one, _odds_of(one, heard, model)) for one in heard.by_rule]
    believed = [
        msgspec.structs.replace(one, sure=odds >= _BELIEVED_SURELY)
        for one, odds in weighed
        if odds >= _BELIEVED
    ]
    if believed:
        return tuple(believed)
    part, odds = likest(heard, model)
    beside_wine = "spoken" in heard.context or "fact" in heard.context
    over = odds - (ENOUGH_BESIDE_WINE if beside_wine else ENOUGH_IN_TALK)
    if over < 0:
        return ()
    (likeliest, share), (other, less), *_ = likeness.topics(part.words, part.classes, model)
    named = {likeliest, other} if share < _ONE and less > _OTHER else {likeliest}
    known = [topic.danger for topic in words_of(heard.language).topics if topic.danger.topic in named]
    return tuple(msgspec.structs.replace(one, sure=over >= _SURELY) for one in known)


def likest(heard: Hearing, model: Model) -> tuple[Hearing, float]:
    """The message, or the part of a long one that is most like a danger, and how like, as log odds."""
    weighed = [(part, _odds(part, model)) for part in heard.pieces or (heard,)]
    return max(weighed, key=lambda pair: pair[1])


def _odds_of(danger: Danger, heard: Hearing, model: Model) -> float:
    """How like a danger the message is where a rule hears this one: that of the clause or the part that it stands in,
    so that what else is told takes nothing from it."""
    parts = [*heard.pieces, *heard.told]
    within = [part for part in parts if any(one.topic == danger.topic for one in part.by_rule)]
    if not heard.pieces or not within:
        within.append(heard)
    by_itself = (msgspec.structs.replace(part, context=()) for part in within)
    return max(_odds(part, model) for part in (*within, *by_itself))


def _odds(heard: Hearing, model: Model) -> float:
    return likeness.odds(heard.words, heard.classes, heard.context, model)


def _parts(text: str) -> list[str]:
    """A long text in parts of whole sentences, or of clauses where a sentence is long."""
    parts = [""]
    for sentence in _SENTENCE.findall(text):
        for clause in [sentence] if len(sentence) <= _TOGETHER else _CLAUSE.findall(sentence):
            if parts[-1] and len(parts[-1]) + len(clause) > _TOGETHER:
                parts.append("")
            parts[-1] += clause
    return [part for part in parts if part.strip()]


def beside(verdict: Verdict, found: Sequence[Danger], language: str) -> Verdict:
    """The verdict with the dangers as questions about safety: what a program is told of the message."""
    found = not_told(found, verdict.acts, language)
    if not found:
        return verdict
    asked = tuple(Question(subject=Safety(topic=one.topic)) for one in found)
    verdict = in_view_of(verdict, found, language)
    if hardly_meant(verdict, found):
        return Verdict(verdict="act", acts=asked, why="about safety")
    return msgspec.structs.replace(verdict, acts=(*verdict.acts, *asked))


def in_view_of(verdict: Verdict, found: Sequence[Danger], language: str) -> Verdict:
    """The verdict without what words about a danger were mistaken for, and asked about where a danger puts a fact in
    doubt."""
    misread = {kind for one in found for kind in one.misread}
    kept = tuple(act for act in verdict.acts if _kind(act) not in misread)
    if kept != verdict.acts:
        options = (tuple(act for act in option if _kind(act) not in misread) for option in verdict.options)
        verdict = msgspec.structs.replace(verdict, acts=kept, options=tuple(filter(None, options)))
        if kept and verdict.doubted is not None and verdict.doubted not in kept:
            verdict = Verdict(verdict="act", acts=kept, why=verdict.why)
    verdict = _whole_again(verdict, found, language)
    if not kept:
        return msgspec.structs.replace(verdict, verdict="ignore") if verdict.verdict == "act" else verdict
    doubts = {kind for one in found if one.sure for kind in one.doubts}
    if verdict.verdict == "act" and any(_kind(act) in doubts for act in kept):
        return msgspec.structs.replace(verdict, verdict="ask", doubt=Doubt.DANGER, options=(kept,))
    return verdict


def _whole_again(verdict: Verdict, found: Sequence[Danger], language: str) -> Verdict:
    """The verdict as if all of the message had been understood, where what was not are words about a danger."""
    half = verdict.doubt is Doubt.HALF_UNDERSTOOD and len(verdict.options) == 1
    if not half or not found or verdict.unread is None:
        return verdict
    rest = listen(verdict.unread, Scene(language=language), spoken=True, fact=True)
    heard = {one.topic for one in decide(rest, model_of(language))}
    of_danger = rest.classes - words_of(language).of_wine and not any(
        word[0].isdecimal() for word in rest.words
    )
    if heard.isdisjoint(one.topic for one in found) and not of_danger:
        return verdict
    return Verdict(verdict="act", acts=verdict.options[0], why=verdict.why)


def hardly_meant(verdict: Verdict, found: Sequence[Danger]) -> bool:
    """Whether a message with these dangers in it is about nothing else: what may be a question besides is not asked
    about, nor answered where one of them is sure."""
    if verdict.why == RESEMBLES and verdict.verdict == "ask" and not _reports(verdict.acts):
        return True
    asks = all(isinstance(act, Question) for act in verdict.acts)
    sure = any(one.sure for one in found)
    return asks and (verdict.verdict != "act" or (sure and verdict.why == ASKS_SOMETHING))


def _reports(acts: Sequence[Act]) -> bool:
    """Whether somebody reports on wine: a value, bottles lost, or several things."""
    lost = any(isinstance(act, Bottles) and act.reason == "broke" for act in acts)
    return lost or len(acts) > 1 or any(isinstance(act, Gravity | Temperature) for act in acts)


def not_told(found: Sequence[Danger], acts: Sequence[Act], language: str) -> tuple[Danger, ...]:
    """Without what the answer to the message says anyhow: notes of mould and broken bottles have their advice."""
    noted = [act.text for act in acts if isinstance(act, Note)]
    broke = any(isinstance(act, Bottles) and act.reason == "broke" for act in acts)
    moulds = any("mould" in signs_of(text, language) for text in noted)
    told = {"mould"} if moulds else set()
    told |= {"glass", "cracked"} if broke else set()
    return tuple(one for one in found if one.topic not in told)


def _kind(act: Act) -> str:
    if isinstance(act, Step):
        return act.step
    if isinstance(act, Question) and isinstance(act.subject, Matter):
        return act.subject.about
    return "addition" if isinstance(act, Addition) else type(act).__name__.lower()


class _Places:
    """The places of every class in a message; `said` are its words but for the names of wines."""

    said: Sequence[str]

    def __init__(
        self, text: str, words: "_Vocabulary", names: Mapping[tuple[str, ...], tuple[str, ...]]
    ) -> None:
        self._places: dict[str, list[_Hit]] = {}
        self._words = words
        folded: list[str] = []
        at: list[int] = []
        clause: list[int] = []
        place = breaks = 0
        last = ""
        for token in _tokens(text):
            if token in _MARKS:
                place += _MARKS[token] if last not in _MARKS else 0  # "!!!" parts no more than "!"
                last = token
                breaks += 1
                if token == "?":
                    self._put("asked", place, place)
                continue
            last = token
            place += 1
            folded.append(token)
            at.append(place)
            clause.append(breaks)
        self._read(folded, at, clause, names)
        for name, rule in words.joined:
            for hit in self._matches(rule):
                self._put(name, hit.lo, hit.hi)
        for places in self._places.values():
            places.sort()
        self.classes = frozenset(self._places)

    def has(self, name: str) -> bool:
        return name in self.classes

    def fits(self, rule: _Nearness) -> bool:
        return any(True for _ in self._matches(rule))

    def _put(self, name: str, lo: int, hi: int) -> None:
        places = self._places.setdefault(name, [])
        if len(places) < MOST_HITS:
            places.append(_Hit(lo, hi))

    def _read(
        self,
        folded: Sequence[str],
        at: Sequence[int],
        clause: Sequence[int],
        names: Mapping[tuple[str, ...], tuple[str, ...]],
    ) -> None:
        words, taken = self._words, -1
        denied_until = denying = -1
        starts = {name[0] for name in names}
        named: set[int] = set()
        longest = max((len(name) for name in names), default=0)
        for index, word in enumerate(folded):
            if word in starts:
                for size in range(1, longest + 1):
                    kinds = names.get(tuple(folded[index : index + size]), ())
                    for kind in kinds:
                        self._put(kind, at[index], at[min(index + size, len(at)) - 1])
                    if "wine" in kinds:  # a wine called Rusty is not of rust
                        taken = max(taken, index + size - 1)
                        named.update(range(index, index + size))
            if word in words.denials:
                denied_until = index + _DENIES_WITHIN
                denying = clause[index]
            denied = index <= denied_until and clause[index] == denying
            found = words.phrases_at(folded, index, clause)
            for name, stop in found:
                if name == "nothing":
                    taken = max(taken, stop - 1)
                elif index > taken and not (denied and name in words.deniable and word not in words.denials):
                    self._put(name, at[index], at[stop - 1])
            if index <= taken:
                continue
            for name in words.classes(word):
                if not (denied and name in words.deniable):
                    self._put(name, at[index], at[index])
        self.said = [word for index, word in enumerate(folded) if index not in named]

    def _matches(self, rule: _Nearness) -> Iterator[_Hit]:
        """The windows in which every slot of a rule has a place of its own, and nothing speaks against it."""
        if any(self._places.keys().isdisjoint(names) for names in rule.slots):
            return
        slots = [sorted(hit for name in names for hit in self._places.get(name, ())) for names in rule.slots]
        against = sorted(hit.lo for name in rule.unless for hit in self._places.get(name, ()))
        pointers = [0] * len(slots)
        while True:
            here = [places[pointer] for places, pointer in zip(slots, pointers, strict=True)]
            lo, hi = min(hit.lo for hit in here), max(hit.hi for hit in here)
            if hi - lo <= rule.within and _apart(here):
                after = bisect_left(against, lo - _WINDOW // 2)
                if after == len(against) or against[after] > hi + _WINDOW // 2:
                    yield _Hit(lo, hi)
            first = min(range(len(here)), key=here.__getitem__)
            pointers[first] += 1
            if pointers[first] == len(slots[first]):
                return


def _apart(hits: Sequence[_Hit]) -> bool:
    """Whether no two of them are the same words."""
    ordered = sorted(hits)
    return all(one.hi < other.lo for one, other in pairwise(ordered))


_MARKS = {**dict.fromkeys(".!?;\n…", _STOP), **dict.fromkeys(",:()-–—", _COMMA)}


def _tokens(text: str) -> Iterator[str]:
    text = text[:LONGEST]
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text)[:LONGEST]
    text = _WILL.sub(" will", text.lower()).translate(_APOSTROPHES).replace("\r", "\n")
    found = _WORD.findall(text)
    return iter(found) if text.isascii() else (token if token.isascii() else fold(token) for token in found)


def _names(scene: Scene) -> dict[tuple[str, ...], tuple[str, ...]]:
    """The house's own names, and what each of them is."""
    names: dict[tuple[str, ...], tuple[str, ...]] = {}

    def put(name: str, *kinds: str) -> None:
        if words := _words_in(name):
            names[words] = kinds
            names.setdefault((*words[:-1], f"{words[-1]}s"), kinds)  # "the plum's fizzy"

    for vessel in scene.vessels:
        for name in (vessel.name, *vessel.nicknames):
            put(name, "trade", "vessel")
    for batch in scene.batches:
        for name in (batch.name, *batch.nicknames):
            put(name, "trade", "wine", *(["bottled"] if batch.bottled is not None else ["working"]))
    return names


@lru_cache(maxsize=4_000)
def _words_in(name: str) -> tuple[str, ...]:
    return tuple(token for token in _tokens(name) if token not in _MARKS)


class _Vocabulary:
    """A language's classes and rules, ready to be looked up."""

    def __init__(self, tables: Mapping[str, Any]) -> None:
        self.denials = frozenset(tables["settings"]["denials"].split())
        self.deniable = frozenset(tables["settings"]["deniable"].split())
        self.of_wine = frozenset(tables["settings"]["of_wine"].split())
        self._real = frozenset(tables["settings"]["real"].split())
        self._exact: dict[str, set[str]] = {}
        self._stems: dict[str, set[str]] = {}
        self._first: dict[str, list[_Phrase]] = {}
        self._first_stem: dict[str, list[_Phrase]] = {}
        for name, entries in tables["classes"].items():
            for entry in entries.replace("\n", ",").split(","):
                if entry.strip():
                    self._add(name, entry.split())
        self._widen(tables["wider"])
        self._slips: dict[str, set[str]] = {}
        mended = frozenset(tables["settings"]["mended"].split())
        stems = ((stem + end, names) for stem, names in self._stems.items() for end in _ENDINGS)
        for word, names in (*self._exact.items(), *stems):
            if len(word) >= _SHORTEST_SLIP and word.isalpha() and not mended.isdisjoint(names):
                for shorter in _one_less(word):
                    self._slips.setdefault(shorter, set()).add(word)
        self.joined = tuple(
            (name, _rule(text)) for name, texts in tables.get("joined", {}).items() for text in texts
        )
        self.topics = tuple(
            _Topic(
                Danger(
                    topic["name"],
                    doubts=frozenset(topic.get("doubts", "").split()),
                    misread=frozenset(topic.get("misread", "").split()),
                ),
                tuple(_rule(text) for text in topic["rules"]),
            )
            for topic in tables["topics"]
        )
        self.cases = _by_rarest_class(self.topics)
        """The rules, by the classes of which each needs one."""
        self.misasked = {
            topic["name"]: frozenset(topic.get("misasked", "").split()) for topic in tables["topics"]
        }
        """What each topic's own words are mistaken for a question about."""
        self._joins = re.compile(rf"[.,;!?\n]|\b(?:{'|'.join(tables['settings']['joins'].split())})\b")
        self.covers = {topic["name"]: tuple(topic.get("covers", "").split()) for topic in tables["topics"]}

    def parted(self, text: str) -> Sequence[str]:
        """The parts of a text that each may say something of its own."""
        return [part for part in self._joins.split(text.lower())[:MOST_HITS] if part.strip()]

    def _add(self, name: str, parts: Sequence[str]) -> None:
        if len(parts) == 1 and "|" not in parts[0]:
            word = fold(parts[0])
            (self._stems if word.endswith("*") else self._exact).setdefault(word.rstrip("*"), set()).add(name)
            return
        choices: list[list[_Element | str | None]] = []
        for part in parts:
            if part == "_":
                choices.append([None])
                continue
            options = [fold(option) for option in part.removesuffix("?").split("|")]
            element = _Element(
                frozenset(option for option in options if not option.endswith("*")),
                tuple(option[:-1] for option in options if option.endswith("*")),
            )
            choices.append([element, ""] if part.endswith("?") else [element])
        for way in product(*choices):
            phrase = _Phrase(tuple(element for element in way if element != ""), name)  # type: ignore[misc]  # "" is none of them
            first = phrase.elements[0]
            assert first is not None, f"a phrase cannot begin with a gap: {parts}"
            for word in first.words:
                self._first.setdefault(word, []).append(phrase)
            for stem in first.stems:
                self._first_stem.setdefault(stem, []).append(phrase)

    def _widen(self, wider: Mapping[str, str]) -> None:
        """What is of one class is of a wider one too."""
        above: dict[str, set[str]] = {}
        for name, narrower in wider.items():
            for each in narrower.split():
                above.setdefault(each, set()).add(name)
        for table in (self._exact, self._stems):
            for names in table.values():
                names |= {wide for name in names for wide in above.get(name, ())}
        for phrases in (*self._first.values(), *self._first_stem.values()):
            phrases += [
                msgspec.structs.replace(phrase, name=wide)
                for phrase in phrases
                for wide in sorted(above.get(phrase.name, ()))
            ]

    @lru_cache(maxsize=20_000)  # noqa: B019 - one for each language, kept as long as the process
    def classes(self, word: str) -> tuple[str, ...]:
        """What a word stands for, a slip of one letter mended."""
        found = self._plain_classes(word)
        if not found and word.endswith("s"):
            found = self._exact.get(word[:-1], set())
        if not found and _SHORTEST_SLIP - 1 <= len(word) <= _LONGEST_WORD and word not in self._real:
            meant = self._nearest(word)
            found = self._plain_classes(meant) if meant is not None else set()
        return tuple(sorted(found))

    def _plain_classes(self, word: str) -> set[str]:
        found = set(self._exact.get(word, ()))
        if not word.isdecimal():
            for size in range(3, min(len(word), _LONGEST_WORD) + 1):
                found |= self._stems.get(word[:size], set())
        return found

    def _nearest(self, word: str) -> str | None:
        """The one word of a class that this was meant to be; the first letter is hardly ever the slip."""
        near = {
            known
            for shorter in _one_less(word)
            for known in self._slips.get(shorter, ())
            if known[0] == word[0] and OSA.distance(known, word, score_cutoff=1) <= 1
            if len(word) >= _SHORTEST_SLIP or _undoubled(known, word)
        }
        return min(near) if near else None

    def phrases_at(self, words: Sequence[str], at: int, clause: Sequence[int]) -> list[tuple[str, int]]:
        """The phrases that begin with a word: what each stands for, and where it ends."""
        by_second, others = self._beginning(words[at])
        after = at + 1
        found: Iterable[_Phrase] = others
        if after < len(words) and words[after] in by_second:
            found = (*by_second[words[after]], *others)
        ends = []
        for phrase in found:
            end = _follow(phrase.elements, 1, words, after, clause)
            if end is not None:  # what stands in a gap is no part of it: "took the demijohn up"
                ends.append((phrase.name, after if None in phrase.elements else end))
        return ends

    @lru_cache(maxsize=20_000)  # noqa: B019 - as above
    def _beginning(self, word: str) -> tuple[Mapping[str, Sequence[_Phrase]], Sequence[_Phrase]]:
        """The phrases that begin with a word: by the second one where it is said whole, and the others."""
        found = list(self._first.get(word, ()))
        for size in range(2, min(len(word), _LONGEST_WORD) + 1):
            found += self._first_stem.get(word[:size], ())
        by_second: dict[str, list[_Phrase]] = {}
        others = []
        for phrase in found:
            second = phrase.elements[1] if len(phrase.elements) > 1 else None
            if second is None or second.stems:
                others.append(phrase)
            else:
                for each in second.words:
                    by_second.setdefault(each, []).append(phrase)
        return by_second, others


def _follow(
    elements: Sequence[_Element | None], which: int, words: Sequence[str], at: int, clause: Sequence[int]
) -> int | None:
    """Where the rest of a phrase ends; a gap is up to two words. None where it does not follow."""
    if which == len(elements):
        return at
    element = elements[which]
    if element is None:
        for skipped in range(3):
            end = _follow(elements, which + 1, words, at + skipped, clause)
            if end is not None:
                return end
        return None
    if at >= len(words) or clause[at] != clause[at - 1] or not element.fits(words[at]):
        return None
    return _follow(elements, which + 1, words, at + 1, clause)


def _undoubled(known: str, word: str) -> bool:
    """Whether one of two equal letters is missing: "celar"."""
    pairs = (index for index in range(1, len(known)) if known[index] == known[index - 1])
    return any(known[:index] + known[index + 1 :] == word for index in pairs)


def _one_less(word: str) -> set[str]:
    """The word, and the word without any one of its letters."""
    return {word, *(word[:index] + word[index + 1 :] for index in range(len(word)))}


def _rule(text: str) -> _Nearness:
    """A rule from its line: `class|class class -class ~words @needs`."""
    slots, unless, within, needs = [], [], _WINDOW, ""
    for part in text.split():
        if part.startswith("-"):
            unless.append(part[1:])
        elif part.startswith("~"):
            within = int(part[1:])
        elif part.startswith("@"):
            needs = part[1:]
        else:
            slots.append(tuple(part.split("|")))
    return _Nearness(tuple(slots), tuple(unless), within, needs)


def _by_rarest_class(topics: Sequence[_Topic]) -> dict[str, list[_Case]]:
    """Each rule under the classes of that of its slots whose classes the fewest rules want: most messages have none of
    them, and so few rules are looked at."""
    cases = [_Case(number, rule) for number, topic in enumerate(topics) for rule in topic.rules]
    wanted = Counter(name for _, rule in cases for names in rule.slots for name in names)
    found: dict[str, list[_Case]] = {}
    for case in cases:
        for name in min(case.rule.slots, key=lambda names: sum(wanted[name] for name in names)):
            found.setdefault(name, []).append(case)
    return found


@lru_cache(maxsize=8)
def words_of(language: str) -> _Vocabulary:
    """The classes and rules of a language."""
    return _Vocabulary(tables_of(language, "dangers"))
