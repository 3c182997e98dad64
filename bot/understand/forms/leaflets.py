"""A leaflet's text to the lines of a plan. Nothing is dropped: what is not understood is kept as written.

A line may hold several sentences, a sentence several clauses; each clause that says what to do is one step.
A day holds until the next one is named. How things are said is data, in `leaflets.toml`.
"""

import re
from datetime import timedelta
from functools import lru_cache
from typing import Literal

import msgspec

from bot.cellar.plans.leaflet import LONGEST_DAYS, Line, compose
from bot.cellar.plans.model import Does, Gate, Plan
from bot.science import practice
from bot.understand.text.language import tables_of
from bot.understand.text.scan import joined

WAKING_HOURS = 12
"""What is done several times a day is spread over so much of it."""

USUAL_HOURS = practice.DEGAS_EVERY.value // timedelta(hours=1)
"""How long apart "three times" are where the leaflet does not say."""

MOST_TIMES, LONGEST_HOURS = 60, 168

_MARK = re.compile(r" ?\x00(\d{1,3})\x00")
_NUMBERED = re.compile(r"<(times|per|days|every|hours)>")

_WRITTEN = re.compile(r"(?P<title>.+), (?P<times>\d{1,2}) times, (?P<every>\d+(?:\.\d+)?) hours apart$")

MOST_LINES = 60
LONGEST_LINE = 500
"""A sentence longer than this is kept as written: nobody's step."""
_SENTENCE = re.compile(r"\n+|;|(?<=\w)\.(?=\s|$)|(?<=\))\.(?=\s|$)|(?<=[.;,]) (?=days? ?\d)", re.I)
_BULLET = re.compile(r"^ ?(?:[-*•·–]|\d{1,2}[.)](?!\d)|\?) ?")
_THEN = re.compile(r" ?, ?(?:and )?(?:then )?| and then | then ")
_AND = re.compile(r" (?:and|&) ")
_FEW = 3
"""A clause of so few words that says nothing to do belongs to the one before it."""
Says = Does | Literal["wait"]
"""What a line says to do: a chore, or to wait."""


def _possible(times: float, every_hours: float) -> bool:
    return 2 <= times <= MOST_TIMES and 0 < every_hours <= LONGEST_HOURS


class Repeat(msgspec.Struct, frozen=True):
    """How often in all, how long apart, and the words that said so."""

    times: int
    every_hours: float
    said: str
    alone: bool
    """Only how often was said."""


class Repeats:
    """The words of a language for it."""

    def __init__(self, language: str) -> None:
        table = tables_of(language, "leaflets")["repeats"]
        self._does, self._alone = frozenset(table["does"]), frozenset(table["alone"])
        self.numbers: dict[str, int] = table["numbers"]
        number = rf"\d{{1,2}}(?:\.\d{{1,2}})?|{'|'.join(self.numbers)}"
        self.forms = [
            re.compile(
                _NUMBERED.sub(
                    lambda mark: rf"\b(?P<{mark[1]}>{number})", form.replace("<lead>", table["lead"])
                ),
                re.IGNORECASE,
            )
            for form in table["forms"]
        ]

    def fits(self, does: str | None, repeat: Repeat) -> bool:
        """Whether such a chore is done over and over, when that is said of it."""
        return does in (self._alone if repeat.alone else self._does)

    def marked(self, text: str) -> tuple[str, list[Repeat]]:
        """The text with each such phrase taken out and its place marked, and what they said."""
        text = text.replace("\x00", " ")
        found: list[Repeat] = []
        for form in self.forms:
            at = 0
            while (hit := form.search(text, at)) is not None:
                repeat = self._repeat(hit)
                at = hit.end()
                if repeat is not None:
                    mark = f"\x00{len(found)}\x00"
                    found.append(repeat)
                    text = text[: hit.start()] + mark + text[hit.end() :]
                    at = hit.start() + len(mark)
        return text, found

    def written_out(self, title: str) -> Repeat | None:
        """What the bot itself writes behind a step; `said` is the title before it."""
        hit = _WRITTEN.match(title)
        if hit is None or not _possible(float(hit["times"]), float(hit["every"])):
            return None
        return Repeat(int(hit["times"]), float(hit["every"]), hit["title"], alone=False)

    def _repeat(self, hit: re.Match[str]) -> Repeat | None:
        told = hit.groupdict()
        days, every, hours = (self._number(told.get(name)) for name in ("days", "every", "hours"))
        alone = not {"days", "every", "hours", "per", "twice", "once"} & {k for k, v in told.items() if v}
        alone = alone and (told.get("times") or told.get("pair")) is not None
        times = 2.0 if told.get("pair") else self._number(told.get("times"))
        per = 2 if told.get("twice") else 1 if told.get("once") else self._number(told.get("per"))
        if every is not None:
            span = days * 24 if days is not None else hours
            times = times if times is not None else span / every if span is not None and every else None
        elif times is not None:
            every = USUAL_HOURS
        else:
            per = per if per is not None else 1
            times = per * (days if days is not None else 1)
            every = 24.0 if per <= 1 else WAKING_HOURS / (per - 1)
        if times is None or not _possible(times, every):
            return None
        return Repeat(int(times), round(every, 2), hit[0], alone)

    def _number(self, said: str | None) -> float | None:
        if said is None:
            return None
        return float(self.numbers.get(said.lower(), said))


@lru_cache(maxsize=8)
def repeats_of(language: str) -> Repeats:
    """The words of a language; English where it is not known."""
    return Repeats(language)


def unmarked(clause: str, found: list[Repeat]) -> tuple[str, Repeat | None]:
    """The clause without the first mark in it, and what that said; other marks become words again."""
    first: list[Repeat] = []

    def words(mark: re.Match[str]) -> str:
        repeat = found[int(mark[1])]
        if first:
            return repeat.said
        first.append(repeat)
        return ""

    bare = _MARK.sub(words, clause)
    return bare.strip(" ,:;"), first[0] if first else None


def as_written(clause: str, found: list[Repeat]) -> str:
    """The clause with all its words."""
    return _MARK.sub(lambda mark: found[int(mark[1])].said, clause)


class Leaflet(msgspec.Struct, frozen=True):
    """What was read: the plan's name where one was given, its lines, and how sure it is that this is one."""

    name: str | None
    days: int | None
    lines: tuple[Line, ...]
    ferment_c: tuple[float, float] | None
    headed: bool

    @property
    def clear(self) -> int:
        """How many lines say what to do."""
        return sum(not line.unclear for line in self.lines)

    def plan(self, name: str) -> Plan:
        """The plan that it makes, under its own name or else this one."""
        return compose(self.name or name, self.lines, days=self.days, ferment_c=self.ferment_c)


def read_leaflet(text: str, language: str = "en") -> Leaflet | None:
    """The leaflet that a message holds; None when it is none.

    It is one when its first line says so and something follows, or when it names two days and most of it says
    what to do.
    """
    forms = _forms(language)
    text = joined(text)
    if (exact := _exact(text, forms)) is not None:
        return exact
    pieces = [piece for part in _SENTENCE.split(text) if (piece := _tidy(part))]
    if not pieces:
        return None
    name, days, headed = None, None, False
    pieces = _head_apart(pieces, forms)
    head = next((found for form in forms.header if (found := form.match(pieces[0].lower()))), None)
    if head is not None:
        start, end = head.span("name")
        name = pieces[0][start:end].strip() if end > start else None
        days = int(head["days"]) if head["days"] else None
        headed, pieces = True, pieces[1:]
    if not headed and sum(map(forms.names_a_day, pieces[:MOST_LINES])) < 2:
        return None  # it takes two days named, each at the head of a sentence
    reader = _LineMaker(forms)
    for piece in pieces[:MOST_LINES]:
        reader.take(piece)
    lines = tuple(reader.lines)
    leaflet = Leaflet(name, days, lines, reader.ferment_c, headed)
    acting = sum(line.does is not None for line in lines)
    dated = reader.dated
    enough = acting >= 1 and (dated >= 1 or acting >= 2) if headed else dated >= 2 and acting >= 2
    most = leaflet.clear * 2 >= len(lines) if headed else leaflet.clear * 3 >= len(lines) * 2
    late = any((line.day or 0) > LONGEST_DAYS for line in lines)
    return leaflet if enough and most and not late else None


def _exact(text: str, forms: "_LeafletForms") -> Leaflet | None:
    """A plan as the bot itself writes it out, read to the letter."""
    rows = text.split("\n")
    head = forms.exact.match(rows[0]) if rows else None
    if head is None or not any(rows[1:]):
        return None
    reader = _LineMaker(forms)
    rows = [row for row in rows[1:] if row][:MOST_LINES]
    if found := forms.exact_keep.match(rows[0]):
        reader.ferment_c = (float(found["low"]), float(found["high"]))
        rows = rows[1:]
    for row in rows:
        reader.take_exact(row)
    return Leaflet(head["name"].strip(), int(head["days"]), tuple(reader.lines), reader.ferment_c, True)


class _Hold(msgspec.Struct, frozen=True):
    """What a step waits for: a gate, its gravity, and whether the wine has to be clear."""

    gate: Gate | None = None
    sg: float | None = None
    clear: bool = False


class _LeafletForms(msgspec.Struct, frozen=True):
    exact: re.Pattern[str]
    exact_line: re.Pattern[str]
    exact_keep: re.Pattern[str]
    header: tuple[re.Pattern[str], ...]
    day: re.Pattern[str]
    week: re.Pattern[str]
    after: re.Pattern[str]
    gates: dict[str, re.Pattern[str]]
    does: tuple[tuple[Says, re.Pattern[str]], ...]
    sachet_named: re.Pattern[str]
    sachet_bare: re.Pattern[str]
    substances: dict[str, re.Pattern[str]]
    minutes: re.Pattern[str]
    dose: re.Pattern[str]
    days: re.Pattern[str]
    range_c: re.Pattern[str]
    repeats: Repeats
    verb: re.Pattern[str]

    def names_a_day(self, piece: str) -> bool:
        """Whether a sentence may begin with its day."""
        return any(form.match(piece) for form in (self.day, self.week, self.after))


@lru_cache(maxsize=8)
def _forms(language: str) -> _LeafletForms:
    plain = tables_of(language, "leaflets")
    does = tuple((msgspec.convert(row["name"], Says), re.compile(row["says"], re.I)) for row in plain["does"])
    return _LeafletForms(
        exact=re.compile(plain["exact"], re.I),
        exact_line=re.compile(plain["exact_line"], re.I),
        exact_keep=re.compile(plain["exact_keep"], re.I),
        header=tuple(re.compile(form, re.I) for form in plain["header"]),
        day=re.compile(plain["day"], re.I),
        week=re.compile(plain["week"], re.I),
        after=re.compile(plain["after"], re.I),
        gates={name: re.compile(rf"[(,]? ?\b(?:{form})\)?", re.I) for name, form in plain["gates"].items()},
        does=does,
        sachet_named=re.compile(plain["sachet"]["named"].replace("<unit>", plain["sachet"]["unit"]), re.I),
        sachet_bare=re.compile(plain["sachet"]["bare"].replace("<unit>", plain["sachet"]["unit"])),
        substances={name: re.compile(form, re.I) for name, form in plain["substances"].items()},
        minutes=re.compile(plain["amounts"]["minutes"], re.I),
        dose=re.compile(plain["amounts"]["dose"], re.I),
        days=re.compile(plain["amounts"]["days"], re.I),
        range_c=re.compile(plain["amounts"]["range_c"], re.I),
        repeats=repeats_of(language),
        verb=re.compile("|".join(f"(?:{row['says']})" for row in plain["does"]), re.I),
    )


def _tidy(part: str) -> str:
    said = part.strip().strip(".").strip()
    mark = said.startswith("?")
    said = _BULLET.sub("", said).strip()
    return f"? {said}" if mark and said else said


def _head_apart(pieces: list[str], forms: _LeafletForms) -> list[str]:
    """A heading on the same line as the first step: "elder plan: Day 1 add sachet A"."""
    head, colon, rest = pieces[0].partition(":")
    heads = any(form.match(head.lower() + ":") for form in forms.header)
    if colon and rest.strip() and heads and not forms.day.match(head.lower()):
        return [head + ":", _tidy(rest), *pieces[1:]]
    return pieces


class _LineMaker:
    """Reads one sentence after the other; a day holds until the next one is named."""

    def __init__(self, forms: _LeafletForms) -> None:
        self.forms = forms
        self.lines: list[Line] = []
        self.day: int | None = None
        self.dated = 0
        self.ferment_c: tuple[float, float] | None = None
        self.repeats: list[Repeat] = []

    def take(self, piece: str) -> None:
        if piece.startswith("? "):
            self._unclear(piece[2:])
            return
        rest = self._dated(piece)
        if not rest:
            return
        if len(rest) > LONGEST_LINE:
            self._unclear(rest)
            return
        hold, rest = self._hold(rest)
        rest, self.repeats = self.forms.repeats.marked(rest)
        before = len(self.lines)
        for clause in self._clauses(rest):
            self._clause(clause, hold, fresh=len(self.lines) == before)

    def take_exact(self, row: str) -> None:
        """One step a line: what stands before the colon is its day and gate, the rest its words."""
        unclear = row.startswith("? ")
        found = self.forms.exact_line.match(row.removeprefix("? "))
        self.day = int(found["day"]) if found and found["day"] else None
        title = found["title"] if found else row.removeprefix("? ")
        if unclear:
            self._unclear(title)
            return
        sg = float(found["sg"]) if found and found["sg"] else None
        steady, clear = bool(found and found["steady"]), bool(found and found["clear"])
        repeat = self.forms.repeats.written_out(title)
        if repeat is not None and self.forms.repeats.fits(self._does(repeat.said)[0], repeat):
            title = repeat.said
        else:
            repeat = None
        gate: Gate | None = "settled" if steady else "sg_at_most" if sg else None
        self._add(title, _Hold(gate, sg, clear), title=title, repeat=repeat)

    def _dated(self, piece: str) -> str:
        """What follows the day that the sentence begins with."""
        forms = self.forms
        if found := forms.day.match(piece):
            self.day, self.dated = int(found["day"]), self.dated + 1
        elif found := forms.week.match(piece):
            self.day, self.dated = (int(found["week"]) - 1) * 7 + 1, self.dated + 1
        elif (found := forms.after.match(piece)) and self.day is not None:
            size = 7 if found["unit"].startswith("week") else 1
            self.day, self.dated = self.day + int(found["count"]) * size, self.dated + 1
        return piece[found.end() :].strip(" ,:-") if found else piece

    def _hold(self, rest: str) -> tuple[_Hold, str]:
        """What the sentence waits for, and the sentence without it."""
        gate: Gate | None = None
        sg: float | None = None
        if clear := self.forms.gates["clear"].search(rest):
            rest = _without(rest, clear)
        if found := self.forms.gates["sg_at_most"].search(rest):
            gate, sg = "sg_at_most", _sg(found["sg"])
            rest = _without(rest, found)
        if found := self.forms.gates["settled"].search(rest):
            gate = "settled"
            rest = _without(rest, found)
        return _Hold(gate, sg, clear is not None), rest.strip(" ,:-()")

    def _clauses(self, rest: str) -> list[str]:
        """Split where a new thing to do begins: not within "add B and C"."""
        clauses: list[str] = []
        for part in _THEN.split(rest):
            for bit in _AND.split(part):
                verb = self.forms.verb.search(bit)
                starts = verb is not None and verb.start() <= 12
                if clauses and (not starts or _is_sachets(bit)) and bit is not part:
                    clauses[-1] += f" and {bit}"
                elif clauses and _is_sachets(bit):
                    clauses[-1] += f", {bit}"
                else:
                    clauses.append(bit)
        return [clause.strip(" .:") for clause in clauses if clause.strip(" .:")]

    def _clause(self, clause: str, hold: _Hold, *, fresh: bool) -> None:
        forms = self.forms
        if found := forms.range_c.search(clause):
            self.ferment_c = (float(found["low"]), float(found["high"]))
        clause, repeat, written = self._repeated(clause)
        if not clause:
            self._again(repeat, written)
            return
        does, _ = self._does(clause)
        last = self.lines[-1] if self.lines and not fresh else None
        if last is not None and not last.unclear:
            small = does is None and len(clause.split()) <= _FEW
            stirred = (
                does == "stir"
                and last.does in ("add", "mix", "pitch", "stabilise", "fine")
                and len(clause.split()) <= _FEW
            )
            if small or stirred:
                self.lines[-1] = msgspec.structs.replace(last, title=f"{last.title}, {_lower(written)}")
                return
        self._add(clause, hold, repeat=repeat)

    def _repeated(self, clause: str) -> tuple[str, Repeat | None, str]:
        """The clause without what says that it is done over and over, that, and the clause as written."""
        written = as_written(clause, self.repeats)
        bare, repeat = unmarked(clause, self.repeats)
        if repeat is None or (bare and not self.forms.repeats.fits(self._does(bare)[0], repeat)):
            return written, None, written
        return bare, repeat, written

    def _again(self, repeat: Repeat | None, written: str) -> None:
        """ "Repeat daily for three days": the line before it is done so often."""
        last = self.lines[-1] if self.lines else None
        if last is None or repeat is None or last.times > 1 or not self.forms.repeats.fits(last.does, repeat):
            self._unclear(written.strip(" ,:;"))
            return
        self.lines[-1] = msgspec.structs.replace(last, times=repeat.times, every_hours=repeat.every_hours)

    def _does(self, clause: str) -> tuple[Says | None, tuple[str, ...]]:
        """What a clause says to do, and the sachets in it."""
        does = next((name for name, says in self.forms.does if says.search(clause)), None)
        sachets = self._sachets(clause)
        if does is None and sachets:
            return "add", sachets
        if does == "add" and not sachets and not self._substances(clause):
            return None, ()
        return does, sachets

    def _substances(self, clause: str) -> tuple[str, ...]:
        return tuple(name for name, says in self.forms.substances.items() if says.search(clause))

    def _add(
        self,
        clause: str,
        hold: _Hold,
        title: str | None = None,
        repeat: Repeat | None = None,
    ) -> None:
        """Adds the clause as a step, or as one that is not clear; under its own words or this title."""
        forms = self.forms
        does, sachets = self._does(clause)
        if does is None:
            self._unclear(clause)
            return
        named = self._substances(clause) if not sachets else ()
        amount, unit = _dose(forms, clause)
        self.lines.append(
            Line(
                title=title or self._title(clause, sachets, does),
                does=None if does == "wait" else does,
                day=self.day,
                gate=hold.gate,
                sg=hold.sg,
                clear=hold.clear,
                sachets=sachets,
                substances=named if does == "add" or amount is not None else (),
                amount=amount,
                unit=unit,
                minutes=_minutes(forms, clause),
                times=repeat.times if repeat is not None else 1,
                every_hours=repeat.every_hours if repeat is not None else 0,
                wait_hours=_hours(forms, clause) if does == "wait" else 0,
            )
        )

    def _sachets(self, clause: str) -> tuple[str, ...]:
        found = self.forms.sachet_named.search(clause) or self.forms.sachet_bare.search(clause)
        if found is None and _is_sachets(clause):
            return tuple(_ids(clause))
        return tuple(_ids(found["ids"])) if found else ()

    def _title(self, clause: str, sachets: tuple[str, ...], does: str) -> str:
        """The clause in the leaflet's words, sachets always named the same way."""
        if does != "add" or not sachets:
            return _lower(clause)
        found = self.forms.sachet_named.search(clause) or self.forms.sachet_bare.search(clause)
        after = clause[found.end() :].strip() if found else ""
        named = (
            f"sachet {sachets[0]}"
            if len(sachets) == 1
            else f"sachets {', '.join(sachets[:-1])} and {sachets[-1]}"
        )
        return f"add {named} {after}".strip()

    def _unclear(self, said: str) -> None:
        self.lines.append(Line(title=said, day=self.day, unclear=True))


def _sg(said: str) -> float:
    value = float(said.replace(",", "."))
    return round(value / 1000 if value > 100 else value, 3)


def _without(rest: str, found: re.Match[str]) -> str:
    return f"{rest[: found.start()].strip(' ,:-(')} {rest[found.end() :].strip(' ,:-)')}".strip()


def _is_sachets(bit: str) -> bool:
    return re.fullmatch(r"(?:sachet |packet |pack )?[A-Z0-9]", bit.strip()) is not None


def _ids(said: str) -> list[str]:
    return [word.upper() for word in re.findall(r"\b[A-Za-z0-9]\b", re.sub(r"\band\b", ",", said))]


def _lower(clause: str) -> str:
    """The first letter small, unless it is a word all in capitals."""
    first = clause.split()[0]
    return clause if len(first) > 1 and first.isupper() else clause[0].lower() + clause[1:]


def _minutes(forms: _LeafletForms, clause: str) -> float | None:
    found = forms.minutes.search(clause)
    return float(found["n"]) if found else None


def _dose(forms: _LeafletForms, clause: str) -> tuple[float | None, str | None]:
    """How much goes in, in grams or tablets."""
    found = forms.dose.search(clause)
    if found is None:
        return None, None
    size = {"k": 1000.0, "m": 0.001}.get(found["unit"][0].lower(), 1.0)
    unit = "tablet" if "tab" in found["unit"].lower() else "g"
    return float(found["n"].replace(",", ".")) * size, unit


def _hours(forms: _LeafletForms, clause: str) -> float:
    found = forms.days.search(clause)
    if found is None:
        return 0
    size = {"h": 1, "d": 24, "w": 168}[found["unit"][0].lower()]
    return float(found["n"]) * size
