"""Vessels by their form: clean or not, how big, and how a batch is split over them, moved in part, or blended."""

import re

from bot.cellar.log.acts import (
    Act,
    Blend,
    Question,
    Share,
    Split,
    Step,
    Vessel,
)
from bot.cellar.log.subjects import (
    LitresLeft,
    Vessels,
)
from bot.understand.forms.notation import (
    COMMA,
    Forms,
    HouseNames,
    group,
)
from bot.understand.text.scan import scan, tidy

_SHARE = re.compile(
    r"(?P<vessel>.+?)(?:[ (:=]{1,4}(?P<litres>\d{1,4}(?:[.,]\d{1,3})?) ?(?P<unit>l|litres?|liters?|gal|gals|gallons?)\)?)?$"
)

_SHARE_FIRST = re.compile(
    r"(?P<litres>\d{1,4}(?:[.,]\d{1,3})?) ?(?P<unit>l|litres?|liters?|gal|gals|gallons?) (?:in|into|to) (?P<vessel>.+)$"
)


def _vessels(found: re.Match[str], house: HouseNames) -> list[str] | None:
    """Every vessel of a list; None when one of the names is none."""
    parts = [part.removeprefix("the ") for part in COMMA.split(found["list"]) if part]
    for index, part in enumerate(parts):
        if index and part.isdecimal():  # "buckets 1, 2 and 3"
            parts[index] = f"{parts[index - 1].rpartition(' ')[0]} {part}"
    names = [house.vessel(part) for part in parts]
    return None if not names or None in names else [name for name in names if name is not None]


def clean(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """They are clean now."""
    return tuple(Vessel(of=name, state="clean") for name in _vessels(found, house) or ())


def dirty(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """They are to be washed."""
    return tuple(Vessel(of=name, state="dirty") for name in _vessels(found, house) or ())


def described(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """What a vessel is: its kind, what it holds, whether it has a tap; one that is new too."""
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


def sizes(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
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


def split_over(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """One batch in several vessels; none where a share cannot be read."""
    of = house.batch(found)
    shares: list[Share] = []
    for part in COMMA.split(found["shares"]):
        hit = _SHARE_FIRST.match(part) or _SHARE.match(part)
        vessel = house.vessel(hit["vessel"].strip().removeprefix("the ")) if hit else None
        if hit is None or vessel is None:
            return ()
        litres = house.litres(hit["litres"], hit["unit"]) if hit["litres"] else None
        shares.append(Share(vessel=vessel, litres=litres))
    if of is None or len({share.vessel for share in shares}) < 2:
        return ()
    return (Split(of=of, into=tuple(shares)),)


def some(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
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
    stays, goes = parted(batch.vessel, batch.litres, vessel, moved)
    if stays.litres == 0:
        return (Step(of=of, step="rack", to=vessel),)
    return (Split(of=of, into=(stays, goes)),)


def parted(vessel: str, litres: float | None, to: str, moved: float | None) -> tuple[Share, Share]:
    """What stays of a wine in its vessel, and what went to another, in litres where they are known."""
    rest = None if moved is None or litres is None else round(litres - moved, 3)
    return Share(vessel=vessel, litres=rest), Share(vessel=to, litres=moved)


def blend(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Two batches become one."""
    of, other = house.batch(found), house.batch(found, piece="other")
    said = group(found, "vessel")
    to = house.vessel(said)
    if of is None or other is None or of == other or (said is not None and to is None):
        return ()
    return (Blend(of=of, other=other, to=to),)


def how_much(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """How many litres there are, in a batch or in one of its vessels."""
    target = house.target(found["batch"])
    if target is None or target.batch is None or target.batch.bottled is not None:
        return ()
    in_part = target.batch.also_in and house.vessel(found["batch"]) is not None
    return (Question(subject=LitresLeft(vessel=target.vessel if in_part else None), of=target.of),)


def asks_vessels(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """How the vessels are, or one of them."""
    said = group(found, "vessel")
    of = house.vessel(said)
    if said is not None and of is None:
        return ()
    return (Question(subject=Vessels(vessel=of)),)
