"""What one transaction knows of a household, loaded once and kept in step with what it writes."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import msgspec

from bot.cellar.answers import Surroundings
from bot.cellar.batch.place import awaited
from bot.cellar.batch.proof import true_sg
from bot.cellar.home.vessels import Known, VesselView, clash, names_in, vessel_views
from bot.cellar.log.acts import Act, Addition, Begin, Gravity, Step, Vessel
from bot.cellar.log.fold import Batch, Entry, Folded, HouseView, fold
from bot.house.hours import hours_of
from bot.ids import BatchId, EntryId, HouseholdId
from bot.say.manner import Manner
from bot.store.queries.households import HouseholdRow
from bot.store.queries.logbook import Source
from bot.store.queries.people import MemberRow
from bot.store.unit import Unit
from bot.understand import signs_of
from bot.understand.scene import Recent, Scene, SceneBatch, SceneVessel

_RECENT = 8
TOLD_WITHIN = timedelta(days=14)
"""So long after a batch was begun what that left out may be told."""


class Home:
    """A household inside one transaction, which holds it."""

    def __init__(self, unit: Unit, row: HouseholdRow, now: datetime) -> None:
        self.unit, self.row, self.now = unit, row, now
        everybody = unit.people.everybody(row.id)
        self.members = tuple(member for member in everybody if member.state == "in")
        log = unit.log.kept(row.id, {member.id: member.name for member in everybody}, row.joins)
        self._log = log
        self.known = [Known(name=v.name, litres=v.litres) for v in unit.people.vessels(row.id)]
        self._scene: Scene | None = None

    @property
    def id(self) -> HouseholdId:
        return self.row.id

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The log, oldest first."""
        return self._log.entries

    @property
    def view(self) -> HouseView:
        """The house by its log."""
        return self._log.view

    @property
    def vessels(self) -> tuple[Known, ...]:
        """Set up with /vessel, or told of since."""
        return names_in(self.view, self.known)

    def vessel_views(self) -> tuple[VesselView, ...]:
        """Every vessel as it is now."""
        return vessel_views(self.view, self.known, self.now)

    def surroundings(self) -> Surroundings:
        """What the house has to keep wine in, its day, and what its notes tell of wines that are not well."""
        signs = {
            note.entry: signs_of(note.text, self.row.language)
            for batch in self.view.under_way
            for note in batch.notes
        }
        return Surroundings(
            known=tuple(self.known),
            today=self.now.astimezone(self.zone).date(),
            signs=signs,
            contact=self.contact,
        )

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.row.timezone)

    @property
    def contact(self) -> timedelta:
        """How long the household's sanitiser has to stand: what its pack says."""
        return timedelta(minutes=self.row.contact_minutes)

    @property
    def manner(self) -> Manner:
        return Manner(
            zone=self.zone,
            now=self.now,
            temperature_unit=self.row.temperature_unit,
            volume_unit=self.row.volume_unit,
            gallon=self.row.gallon,
            waking=hours_of(self.row).decent,
        )

    def write(
        self,
        act: Act,
        member: MemberRow,
        source: Source,
        *,
        said_at: datetime,
        at: datetime | None = None,
        batch: BatchId | None = None,
        strikes: EntryId | None = None,
    ) -> Entry:
        """Appends an entry and brings the view up to date. It was `at` that time where the act says no other,
        else when it was said."""
        at = act.at or at or said_at
        entry = self.unit.log.write(
            self.id,
            act,
            member,
            source,
            said_at=said_at,
            at=at,
            written_at=self.now,
            batch=batch,
            strikes=strikes,
        )
        self._log, self._scene = self.unit.log.now(self.id), None
        return entry

    def batch_of(self, act: Act) -> BatchId | None:
        """The batch that an act's `of` means now; what is said of a vessel is said of no batch."""
        if isinstance(act, Vessel):
            return None
        view = self.view.named(act.of)
        return view.batch if view is not None else None

    def clash_after(
        self, new: Sequence[tuple[Act, BatchId | None, EntryId | None]]
    ) -> tuple[str, str, str] | None:
        """The vessel that would hold two batches if these acts (each with its batch and what it strikes) were
        written down, and the names of the two."""
        if clash(self.view) is not None:
            return None
        first = max((entry.entry for entry in self.entries), default=0) + 1
        trial = [
            Entry(
                entry=EntryId(first + number),
                act=act,
                by="",
                said_at=self.now,
                at=act.at or self.now,
                batch=batch,
                strikes=strikes,
            )
            for number, (act, batch, strikes) in enumerate(new)
        ]
        return clash(fold([*self.entries, *trial]))

    def settle(self, **settings: str | int) -> None:
        """Changes settings."""
        self.unit.households.settle(self.id, **settings)
        self.row, self._scene = self.unit.households.lock(self.id), None

    def add_vessel(self, name: str, litres: float | None = None) -> None:
        self.unit.people.add_vessel(self.id, name, litres)
        self.known.append(Known(name=name, litres=litres))
        self._scene = None

    def scene(self, without: Collection[EntryId] = ()) -> Scene:
        """The house as a message sees it; `without` these entries, when the message is to replace them."""
        if without:
            return self._as_seen(without)
        if self._scene is None:
            self._scene = self._as_seen(without)
        return self._scene

    def _as_seen(self, without: Collection[EntryId]) -> Scene:
        log = Folded.of([e for e in self.entries if e.entry not in without]) if without else self._log
        view = log.view
        return msgspec.convert(
            {
                "name": self.row.name,
                "timezone": self.row.timezone,
                "language": self.row.language,
                "temperature_unit": self.row.temperature_unit,
                "volume_unit": self.row.volume_unit,
                "gallon": self.row.gallon,
                "brix_by": self.row.brix_by,
                "members": tuple(member.name for member in self.members),
                "vessels": tuple(
                    SceneVessel(
                        name=vessel.name,
                        nicknames=view.vessel_nicknames.get(vessel.name, ()),
                        litres=vessel.litres,
                    )
                    for vessel in self.vessels
                ),
                "plans": tuple(dict.fromkeys(plan.title for plan in view.plans)),
                "batches": tuple(self._scene_batch(batch, log) for batch in view.batches),
                "recent": tuple(map(recent_of, islice(log.newest(), _RECENT))),
            },
            type=Scene,
        )

    def _scene_batch(self, view: Batch, log: Folded) -> SceneBatch:
        bottled = view.ended_at
        return SceneBatch(
            name=view.name,
            nicknames=view.nicknames,
            colour=view.colour,
            vessel=view.vessel,
            litres=view.litres,
            started=view.begun_at,
            readings=tuple((r.at, view.thinned(true_sg(view, r), r)) for r in view.readings),
            sugar_added=tuple(added.at for added in view.additions if added.what == "sugar"),
            bottled=bottled.astimezone(self.zone).date() if bottled else None,
            bottles_left=view.bottles_left,
            unlabelled=view.bottled_at is not None and view.gone_at is None and view.done("label") is None,
            also_in=view.vessels[1:],
            ferments_from=view.starting.sg if view.starting and view.pitched_at else None,
            bottles_made=view.bottles_made,
            begun_in=view.vessel if len(view.stays) == 1 else None,
            starting=_starting(view),
            told=() if bottled else _told(view),
            holds={part.vessel: part.litres for part in view.parts if part.litres is not None},
            next=awaited(view),
            by=view.begun_by,
            begun=self._begun(view, log),
        )

    def _begun(self, view: Batch, log: Folded) -> Recent | None:
        """The beginning of a batch that may still be told more of, as it was put right since."""
        if view.ended_at is not None or self.now - view.begun_at > TOLD_WITHIN:
            return None
        one = next(
            (e for e in log.standing if isinstance(e.act, Begin) and (e.batch or e.entry) == view.batch), None
        )
        if one is None or not isinstance(one.act, Begin):
            return None
        act = msgspec.structs.replace(
            one.act,
            colour=view.colour,
            days=view.kit_days,
            litres=view.litres if one.act.litres is None else one.act.litres,
            vessel=view.stays[0].vessel if view.stays else None,
        )
        return Recent(entry=one.entry, act=act, by=one.by, said_at=one.said_at, at=one.at)


def recent_of(entry: Entry) -> Recent:
    """An entry as a message sees it."""
    return Recent(entry=entry.entry, act=entry.act, by=entry.by, said_at=entry.said_at, at=entry.at)


def _starting(view: Batch) -> Recent | None:
    first = view.starting
    if first is None:
        return None
    act = Gravity(of=view.name, sg=first.sg, temp_c=first.temp_c)
    return Recent(entry=first.entry, act=act, by=first.by, said_at=first.at, at=first.at)


def _told(view: Batch) -> tuple[Recent, ...]:
    """The latest of each chore and addition, newest first."""
    latest: dict[tuple[str, str], Recent] = {}
    for chore in view.chores:
        act = Step(of=view.name, step=chore.step, to=chore.to)
        latest["step", chore.step] = Recent(
            entry=chore.entry, act=act, by=chore.by, said_at=chore.at, at=chore.at
        )
    for added in view.additions:
        put_in = Addition(of=view.name, what=added.what)
        latest["addition", added.what] = Recent(
            entry=added.entry, act=put_in, by=added.by, said_at=added.at, at=added.at
        )
    return tuple(sorted(latest.values(), key=lambda told: told.said_at, reverse=True))
