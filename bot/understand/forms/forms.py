"""Messages that are read whole, by their form: vessels, splits, blends, costs, plans, stories, wishes, calendars.

They come before the grammar of clauses, and only where the whole message has a known form and every name in
it is one of the house's. What does not is left to the grammar. The forms are data, in
`patterns/<language>_forms.toml`.
"""

import re
from collections.abc import Callable, Iterable
from datetime import datetime
from functools import lru_cache
from typing import Any

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Blend,
    Cost,
    Follow,
    Question,
    Rota,
    Share,
    Split,
    Step,
    StepName,
    Turns,
    Vessel,
)
from bot.cellar.log.subjects import (
    BottlesToCome,
    FermentRange,
    IsAllRight,
    IsFinished,
    IsSafe,
    IsStuck,
    LitresLeft,
    Matter,
    Plans,
    Subject,
    Vessels,
)
from bot.understand.forms.pieces import HouseNames, Unknown, group
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import fold, scan, tidy
from bot.understand.text.whitespace import joined
from bot.understand.verdict import Doubt

LONGEST = 300
"""Characters of a message that may still have a form."""

MARK = re.compile(r"(?<!\?P)<\w+>")
_COMMA = re.compile(r" ?(?:,|&|\band\b|\bplus\b) ?")
_SHARE = re.compile(
    r"(?P<vessel>.+?)(?:[ (:=]{1,4}(?P<litres>\d{1,4}(?:[.,]\d{1,3})?) ?(?P<unit>l|litres?|liters?|gal|gals|gallons?)\)?)?$"
)
_SHARE_FIRST = re.compile(
    r"(?P<litres>\d{1,4}(?:[.,]\d{1,3})?) ?(?P<unit>l|litres?|liters?|gal|gals|gallons?) (?:in|into|to) (?P<vessel>.+)$"
)


class Forms:
    """The forms of a language, ready to be matched."""

    def __init__(self, tables: dict[str, Any]) -> None:
        words: dict[str, str] = tables["words"]
        self.open = re.compile(tables["open"])
        self.wish = re.compile(tables["occasion"]["wish"] + "$")
        self.days: dict[str, str] = tables["occasion"]["days"]
        self.between = re.compile(tables["occasion"]["between"])
        self.no_tap = re.compile(rf"\b(?:{words['no_tap']})\b")
        self.everybody = tuple(words["everybody"].split("|"))
        self.readings = re.compile(words["readings"])
        self.pots = tuple(words["pots"].split("|"))
        self.by_name = {
            name: tuple(compiled(form, tables) for form in table["forms"])
            for name, table in tables.items()
            if isinstance(table, dict) and "forms" in table
        }


def compiled(form: str, tables: dict[str, Any], *, end: str | None = None) -> re.Pattern[str]:
    """A form as a pattern, its marks filled in; `tables` are those of the file of forms, `end` what may follow it
    where that is not their "when" and "close"."""
    words: dict[str, str] = tables["words"]
    the = r"(?:the |our |my )?"
    parts = {
        "<batch>": the + r"(?P<batch>[^\W\d_][^,;:?]{0,39}?)(?: (?:wine|batch|kit))?",
        "<other>": the + r"(?P<other>[^\W\d_][^,;:?]{0,39}?)(?: (?:wine|batch))?",
        "<vessel>": the + r"(?P<vessel>[^\W\d_][^,;:?]{0,39}?)",
        "<plan>": r"(?P<plan>[^\W\d_][^,;:?]{0,39}?)",
        "<list>": the + r"(?P<list>[^\W\d_].{0,80}?)",
        "<shares>": r"(?P<shares>.{3,160}?)",
        "<ids>": r"(?P<ids>[a-z0-9](?: ?(?:,|and|&|\+|, and) ?[a-z0-9])*)",
        "<number>": r"(?P<number>\d{1,4}(?:[.,]\d{1,2})?)",
        "<volume>": rf"(?P<volume>{words['volume']})\b",
        "<money>": words["money"],
        "<second>": words["money"].replace("P<money>", "P<second>"),
        "<tap>": words["tap"],
        "<people>": r"(?P<people>[^\W\d_][^;:?]{0,60}?)",
        "<chore>": rf"(?:the |our |taking the |taking )?(?P<chore>{words['readings']}|[^\W\d_]+ing)",
        "<cellar>": rf"(?:the |our )?(?:{words['cellar']})",
        "<stands>": words["stands"],
        "<sanitiser>": words["sanitiser"],
        "<thing>": rf"(?P<thing>{words['thing']})",
    }
    whole = MARK.sub(lambda mark: parts[mark[0]], form)
    return re.compile(rf"{whole}{tables['when'] if end is None else end}{tables['close']}$")


@lru_cache(maxsize=8)
def forms_of(language: str) -> Forms:
    """The forms of a language; English where it is not known."""
    return Forms(tables_of(language, "patterns/{}_forms.toml"))


def wording(text: str) -> str:
    """The message as forms see it: lower case, single spaces, no final mark."""
    return " ".join(tidy(text).casefold().split()).rstrip(" .!?")


def read_form(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None = None,
    *,
    addressed: bool = False,
) -> tuple[tuple[Act, ...], Unknown | None]:
    """The acts of a message that has a form, none for any other; and a vessel or person that it names and the
    house does not have, where that is what it lacks. Some forms are only meant for the bot when it is `addressed`."""
    if len(text) > LONGEST or "\n" in text.strip():
        return (), None
    said = wording(text)
    forms = forms_of(scene.language)
    bare = forms.open.sub("", said, count=1)
    asked = text.rstrip().endswith("?")
    house = HouseNames(scene, sent_at, replying_to)
    for name, read in _READERS.items():
        if (asked and name in _FACTS) or (name == "vessel_asked" and not asked):
            continue
        if name in _ADDRESSED and not addressed:
            continue
        for form in forms.by_name[name]:
            for words in dict.fromkeys((bare, said)):
                found = form.match(words)
                acts = read(found, house, forms) if found else None
                if found and acts:
                    return (house.timed(acts, found) if name in _FACTS else acts), None
                if found and house.unknown is not None and name in _FACTS:
                    return (), house.unknown
    return (), None


def _vessels(found: re.Match[str], house: HouseNames) -> list[str] | None:
    """Every vessel of a list; None when one of the names is none."""
    parts = [part.removeprefix("the ") for part in _COMMA.split(found["list"]) if part]
    for index, part in enumerate(parts):
        if index and part.isdecimal():  # "buckets 1, 2 and 3"
            parts[index] = f"{parts[index - 1].rpartition(' ')[0]} {part}"
    names = [house.vessel(part) for part in parts]
    return None if not names or None in names else [name for name in names if name is not None]


def _clean(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    return tuple(Vessel(of=name, state="clean") for name in _vessels(found, house) or ())


def _dirty(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    return tuple(Vessel(of=name, state="dirty") for name in _vessels(found, house) or ())


def _vessel_is(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    said, with_tap = found["vessel"].strip(), group(found, "with")
    of = house.vessel(said)
    number = group(found, "number")
    if of is None:
        tokens = scan(tidy(said))
        new = len(tokens) == 2 and tokens[0].fold in forms.pots and tokens[1].kind == "num"
        if not new and not (number and said.startswith(forms.pots)):
            return ()
        of = said
    litres = house.litres(number, group(found, "volume")) if number else None
    tap = None if with_tap is None else forms.no_tap.search(with_tap) is None
    kind = next((pot for pot in forms.pots if of.casefold().startswith(pot)), None)
    return (Vessel(of=of, kind=kind, litres=litres, tap=tap),)


def _sizes(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """What empty vessels can hold; of one with wine in it, the same words tell how much wine there is."""
    said = group(found, "kind")
    if said is not None:
        kind = next((pot for pot in forms.pots if said.startswith(pot)), None)
        names: list[str] | None = list(house.names.of_kind(kind or ""))
    else:
        names = _vessels(found, house)
    litres = house.litres(found["number"], group(found, "volume"))
    outright = group(found, "outright") is not None or said is not None or len(names or ()) > 1
    if not names or (not outright and any(name in house.targets.in_vessel for name in names)):
        return ()
    return tuple(Vessel(of=name, litres=litres) for name in names)


def _split(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of = house.batch(found)
    shares: list[Share] = []
    for part in _COMMA.split(found["shares"]):
        hit = _SHARE_FIRST.match(part) or _SHARE.match(part)
        vessel = house.vessel(hit["vessel"].strip().removeprefix("the ")) if hit else None
        if hit is None or vessel is None:
            return ()
        litres = house.litres(hit["litres"], hit["unit"]) if hit["litres"] else None
        shares.append(Share(vessel=vessel, litres=litres))
    if of is None or len({share.vessel for share in shares}) < 2:
        return ()
    return (Split(of=of, into=tuple(shares)),)


def _half(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    return _some(found, house, forms)


def _some(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """A part of the batch moves; the rest stays where it is."""
    of, vessel = house.batch(found), house.vessel(found["vessel"])
    batch = next((batch for batch in house.scene.under_way if batch.name == of), None)
    if batch is None or vessel is None or batch.vessel is None or vessel == batch.vessel:
        return ()
    number = group(found, "number")
    moved = house.litres(number, group(found, "volume")) if number else None
    if number is None and batch.litres is not None:
        moved = round(batch.litres / 2, 3)
    if moved is not None and batch.litres is not None and moved > batch.litres:
        return ()
    rest = None if moved is None or batch.litres is None else round(batch.litres - moved, 3)
    if rest == 0:
        return (Step(of=of, step="rack", to=vessel),)
    return (Split(of=of, into=(Share(vessel=batch.vessel, litres=rest), Share(vessel=vessel, litres=moved))),)


def _blend(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of, other = house.batch(found), house.batch(found, piece="other")
    said = group(found, "vessel")
    to = house.vessel(said)
    if of is None or other is None or of == other or (said is not None and to is None):
        return ()
    return (Blend(of=of, other=other, to=to),)


def _cost(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of = house.batch(found, bottled=False)
    if of is None:
        return ()
    what = group(found, "thing") or "kit"
    acts: list[Act] = []
    if group(found, "second") is not None:
        acts.append(Cost(of=of, what="kit", amount=_money(found["money"])))
        return (*acts, Cost(of=of, what=what, amount=_money(found["second"])))
    return (Cost(of=of, what=what, amount=_money(found["money"])),)


def _money(said: str) -> float:
    return float(said.replace(",", "."))


def _sachets(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of = house.batch(found)
    ids = re.findall(r"\b[a-z0-9]\b", found["ids"])
    if of is None or ("sachet" not in found[0] and "pack" not in found[0] and ids == ["a"]):
        return ()
    return tuple(Addition(of=of, what=f"sachet {one.upper()}") for one in ids)


def _follow(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of, plan = house.batch(found), _plan(found["plan"], house.scene)
    return (Follow(of=of, plan=plan),) if of is not None and plan is not None else ()


def _plan(said: str | None, scene: Scene) -> str | None:
    wanted = (said or "").removeprefix("the ").strip()
    return next((plan for plan in scene.plans if plan.casefold() == wanted), None)


def _rota(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Who does a chore; none where somebody is not of the house, or the word is no chore."""
    members = {member.casefold(): member for member in house.scene.members}
    people: list[str] = []
    every = (said := group(found, "people")) is None or said in forms.everybody
    chore = group(found, "chore")
    step = _chore(chore, house.scene, forms) if chore is not None else None
    for part in [] if every else _COMMA.split(said or ""):
        if part not in members:
            if step is not None and _strange(part, house.scene):
                house.unknown = (Doubt.UNKNOWN_MEMBER, part)
            return ()
        people.append(members[part])
    of = house.batch(found) if group(found, "batch") is not None else None
    if (chore is not None and step is None) or (group(found, "batch") is not None and of is None):
        return ()
    nobody = group(found, "nobody") is not None
    return (Rota(of=of, step=step, people=tuple(people), all=every and not nobody),)


def _strange(word: str, scene: Scene) -> bool:
    """Whether it may be somebody's name: a single word that means nothing here."""
    return word.isalpha() and not lexicon(scene.language).tags(fold(word))


def _chore(word: str, scene: Scene, forms: Forms) -> Turns | None:
    if forms.readings.fullmatch(word):
        return "reading"
    tags = [tag for tag in lexicon(scene.language).tags(fold(word)) if tag.kind == "step"]
    return msgspec.convert(tags[0].value, StepName) if tags else None


def _about_batch(
    subject: Subject, *, bottled: bool = False
) -> Callable[[re.Match[str], HouseNames, Forms], tuple[Act, ...]]:
    def read(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
        of = house.batch(found, bottled=bottled)
        if of is None and group(found, "batch") not in (None, "it", "that", "this"):
            return ()
        if of is None and not house.scene.batches:
            return ()
        return (Question(subject=subject, of=of),)

    return read


def _how_much(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """How many litres there are, in a batch or in one of its vessels."""
    target = house.target(found["batch"])
    if target is None or target.batch is None or target.batch.bottled is not None:
        return ()
    in_part = target.batch.also_in and house.vessel(found["batch"]) is not None
    return (Question(subject=LitresLeft(vessel=target.vessel if in_part else None), of=target.of),)


def _asks_vessels(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    said = group(found, "vessel")
    of = house.vessel(said)
    if said is not None and of is None:
        return ()
    return (Question(subject=Vessels(vessel=of)),)


def _asks_plans(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    if (said := group(found, "batch")) is not None:
        of = house.batch(found)
        return (Question(subject=Plans(), of=of),) if of is not None and said else ()
    if (said := group(found, "plan")) is None:
        return (Question(subject=Plans()),) if found[0] not in ("plan", "plans", "the plan") else ()
    plan = _plan(said, house.scene)
    return (Question(subject=Plans(plan=plan)),) if plan else ()


def _asks_calendar(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """The dates to come as a file: of all, of the batch that is named, or of the one replied to."""
    said = group(found, "batch")
    if group(found, "when"):
        return ()
    of = house.batch(found) if said is not None or house.replied is not None else None
    return (Question(subject=Matter(about="calendar"), of=of),) if of is not None or said is None else ()


_FACTS = frozenset(
    {
        "vessel_clean",
        "vessel_dirty",
        "vessel_both",
        "vessel_is",
        "vessel_sizes",
        "split",
        "half",
        "some",
        "blend",
        "poured",
        "cost",
    }
    | {"costs_both", "sachets", "follow", "rota", "rota_bare"}
)
_ADDRESSED = frozenset({"rota_bare"})


def _is_safe(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    of = house.batch(found, bottled=True)
    if not house.scene.batches or (of is None and group(found, "batch") not in (None, "it", "that", "this")):
        return ()
    return (Question(subject=IsSafe(drink=bool(group(found, "drink"))), of=of),)


_READERS: dict[str, Callable[[re.Match[str], HouseNames, Forms], tuple[Act, ...]]] = {
    "vessel_clean": _clean,
    "vessel_dirty": _dirty,
    "vessel_is": _vessel_is,
    "vessel_sizes": _sizes,
    "how_much": _how_much,
    "split": _split,
    "half": _half,
    "some": _some,
    "blend": _blend,
    "poured": _blend,
    "costs_both": _cost,
    "cost": _cost,
    "sachets": _sachets,
    "follow": _follow,
    "rota": _rota,
    "rota_bare": _rota,
    "story": _about_batch(Matter(about="story"), bottled=True),
    "who": _about_batch(Matter(about="who"), bottled=True),
    "vessels": _asks_vessels,
    "vessel_asked": _asks_vessels,
    "plans": _asks_plans,
    "all_right": _about_batch(IsAllRight()),
    "restart": _about_batch(IsStuck(restart=True)),
    "stuck": _about_batch(IsStuck()),
    "stopped": _about_batch(IsFinished(stopped=True)),
    "safe": _is_safe,
    "finished": _about_batch(IsFinished()),
    "shopping": _about_batch(Matter(about="next")),
    "to_do": _about_batch(Matter(about="next")),
    "contact": lambda found, house, forms: (Question(subject=Matter(about="contact")),),
    "temperature_range": _about_batch(FermentRange()),
    "expected_bottles": _about_batch(BottlesToCome()),
    "reminders": lambda found, house, forms: (Question(subject=Matter(about="reminders")),),
    "calendar": _asks_calendar,
}


def plan_mentioned(text: str, plans: Iterable[str]) -> tuple[str, str] | None:
    """The plan that a beginning names, and the message without it: "new batch: elder, 23 l, elder plan"."""
    text = joined(text)
    folded = text.casefold()
    for plan in sorted(plans, key=len, reverse=True):
        if plan.casefold() not in folded:
            continue
        form = rf"[,;]? ?(?:(?:with|on|by|using|following|after) )?(?:the |our )?(?:plan:? {re.escape(plan)}|{re.escape(plan)}(?:'s)? plan)\b"
        found = re.search(form, text, re.I)
        if found:
            return plan, (text[: found.start()] + text[found.end() :]).strip()
    return None
