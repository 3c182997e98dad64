"""What is due for a vessel of a long name is known by its whole name"""

from collections.abc import Iterator
from hashlib import sha256
from html import unescape
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"

LEVELS = ("claimer ", "all ", "matters ", "watch ")
CUT = 50
"""Where the text of a thing to wash was cut before; one so long may have lost the end of the name."""

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REMINDERS = sa.table(
    "reminders",
    sa.column("id", ID),
    sa.column("household_id", ID),
    sa.column("step", sa.String()),
    sa.column("state", sa.String()),
    sa.column("told", sa.Text()),
)
CALENDAR = sa.table(
    "calendar",
    sa.column("id", ID),
    sa.column("household_id", ID),
    sa.column("step", sa.String()),
    sa.column("summary", sa.Text()),
)
VESSELS = sa.table("vessels", sa.column("household_id", ID), sa.column("name", sa.String()))
LOG = sa.table("log", sa.column("household_id", ID), sa.column("act", sa.JSON()))


def upgrade() -> None:
    """Each row of a cut key gets the key of the vessel that it is about. Where two vessels shared one, that is the one
    that its words name; what is only planned is planned anew for each of them, once anything is written."""
    names: dict[int, set[str]] = {}
    for table, words in ((REMINDERS, "told"), (CALENDAR, "summary")):
        for row in list(
            op.get_bind().execute(sa.select(table).where(table.c.step.contains("wash ")).order_by(table.c.id))
        ):
            level = next((level for level in LEVELS if row.step.startswith(level)), "")
            thing = row.step.removeprefix(level)
            if not thing.startswith("wash ") or len(thing) != CUT:
                continue
            if row.household_id not in names:
                names[row.household_id] = _names(row.household_id)
            start = " ".join(thing.split(" ")[:2]) + " "
            found = sorted(n for n in names[row.household_id] if f"{start}{n}"[:CUT] == thing)
            told = unescape(getattr(row, words) or "")
            about = max((n for n in found if n in told), key=len, default=found[0] if found else None)
            if about is not None:
                key = level + _whole(f"{start}{about}")
                op.execute(sa.update(table).where(table.c.id == row.id).values(step=key))


def _names(household_id: int) -> set[str]:
    """All that the household may have called a vessel."""
    run = op.get_bind().execute
    found = set(run(sa.select(VESSELS.c.name).where(VESSELS.c.household_id == household_id)).scalars())
    for act in run(sa.select(LOG.c.act).where(LOG.c.household_id == household_id)).scalars():
        found.update(_texts(act))
    return found


def _texts(plain: Any) -> Iterator[str]:
    if isinstance(plain, str):
        yield plain
    elif isinstance(plain, dict):
        for value in plain.values():
            yield from _texts(value)
    elif isinstance(plain, list):
        for value in plain:
            yield from _texts(value)


def _whole(thing: str) -> str:
    """The text of the key as it is written from now on: where it is too long, with a digest of the whole."""
    return thing if len(thing) <= CUT else f"{thing[:37]}~{sha256(thing.encode()).hexdigest()[:12]}"
