"""A room on a fresh SQLite file."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.house.room import Room


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    units = Units(open_engine(sqlite_url(tmp_path / "house.db")))
    yield Room(units)
    units.close()
