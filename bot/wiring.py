"""Settings from the environment, and everything built from them once. The only file that knows all rooms."""

import asyncio
import json
import logging
import os
import signal
import sys
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from platformdirs import user_data_path
from sqlalchemy import URL
from tzlocal import get_localzone_name

from bot.cellar.log.acts import Undo
from bot.cellar.log.fold import struck_out
from bot.cellar.log.plain import to_plain
from bot.edges import script
from bot.edges.clock import Alarm, now
from bot.edges.console import ConsoleChat, Terminal
from bot.house.desk import TIDY_EVERY, Desk
from bot.house.people.doors import FOUNDED_AN_HOUR
from bot.say.company import COMMANDS
from bot.say.facts import fact
from bot.say.manner import Manner, plain, visible
from bot.store.database import StoreError, compact, must_be_alone, open_engine, sqlite_url
from bot.store.unit import Units

if TYPE_CHECKING:
    from bot.edges.telegram.webhook import Webhook

log = logging.getLogger(__name__)


class SettingsError(ValueError):
    """A setting is missing or wrong: its text says which, in one line."""


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """What the environment says."""

    token: str | None
    api_url: str | None
    data_dir: Path
    database_url: str | None
    webhook_url: str | None
    webhook_secret: str | None
    listen: str
    founded_an_hour: int


def read_settings(environment: Mapping[str, str] = os.environ, data_dir: Path | None = None) -> Settings:
    """The settings; `data_dir` goes before the environment's. Raises SettingsError."""

    def value(name: str) -> str | None:
        return environment.get(f"BUCKETSIDE_{name}") or None

    token, token_file = value("TOKEN"), value("TOKEN_FILE")
    if token is None and token_file is not None:
        try:
            token = Path(token_file).read_text(encoding="utf-8").strip() or None
        except (OSError, UnicodeDecodeError) as error:
            raise SettingsError(f"the token file {token_file} cannot be read") from error
    wanted = value("DATA_DIR")
    founded = value("FOUNDED_AN_HOUR") or str(FOUNDED_AN_HOUR)
    if not founded.isascii() or not founded.isdecimal() or len(founded) > 9:
        raise SettingsError("BUCKETSIDE_FOUNDED_AN_HOUR must be a whole number, like 100")
    return Settings(
        token=token,
        api_url=value("API_URL"),
        data_dir=data_dir or (Path(wanted) if wanted else user_data_path("bucketside", appauthor=False)),
        database_url=value("DATABASE_URL"),
        webhook_url=value("WEBHOOK_URL"),
        webhook_secret=value("WEBHOOK_SECRET"),
        listen=value("LISTEN") or "127.0.0.1:8080",
        founded_an_hour=int(founded),
    )


def _database(settings: Settings) -> str | URL:
    if settings.database_url is not None:
        return settings.database_url
    try:
        _keep_private(settings.data_dir)
    except OSError as error:
        raise SettingsError(
            f"the data folder {settings.data_dir} cannot be made: {error.strerror}"
        ) from error
    return sqlite_url(settings.data_dir / "bucketside.db")


_OURS = ("bucketside.db", "files", "history")


def _keep_private(folder: Path) -> None:
    """Makes the data folder, for nobody else to open, and so everything that this program makes. One that is
    shared with other things stays as it is: what we make in it is private all the same."""
    os.umask(0o077)
    folder.mkdir(parents=True, exist_ok=True)
    ours = folder.stat().st_uid == os.geteuid() and all(
        item.name.startswith(_OURS) for item in folder.iterdir()
    )
    if ours and folder.stat().st_mode & 0o077:
        folder.chmod(0o700)


def open_desk(url: str | URL, founded_an_hour: int = FOUNDED_AN_HOUR, born: datetime | None = None) -> Desk:
    """A desk on that database. Raises StoreError."""
    return Desk(
        Units(open_engine(url)),
        timezone=get_localzone_name() or "UTC",
        founded_an_hour=founded_an_hour,
        born=born,
    )


def _console(settings: Settings) -> ConsoleChat:
    url = _database(settings)
    first_id = int(now().timestamp() * 1_000_000)
    return ConsoleChat(lambda: open_desk(url), first_id, files=settings.data_dir / "files")


def try_it(data_dir: Path | None) -> int:
    """A chat in this terminal."""
    settings = read_settings(data_dir=data_dir)
    chat = _console(settings)
    try:
        chat.open(script.House(name="Home", timezone=get_localzone_name() or "UTC", chat="wine"), now())
        Terminal(chat, now, settings.data_dir / "history").run()
    finally:
        chat.close()
    return 0


def play_script(path: Path, data_dir: Path | None) -> int:
    """Plays a conversation script, on a fresh data folder unless one is given; 1 when it fails."""
    with tempfile.TemporaryDirectory(prefix="bucketside-") as fresh:
        settings = read_settings({}, data_dir or Path(fresh))
        chat = _console(settings)
        try:
            text = path.read_text(encoding="utf-8")
            script.play(text, chat, print)
        except (OSError, UnicodeDecodeError) as error:
            print(f"{path} cannot be read: {error}", file=sys.stderr)
            return 2
        except (script.FailedError, script.ScriptError) as error:
            print(f"{path}: {error}", file=sys.stderr)
            return 1
        finally:
            chat.close()
    return 0


def serve(began: float | None = None) -> int:
    """The bot on Telegram, until SIGTERM or SIGINT. `began` is when this process did (s since 1970)."""
    from bot.edges.telegram.service import TokenRefusedError

    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    settings = read_settings()
    if settings.token is None:
        raise SettingsError("no token: set BUCKETSIDE_TOKEN or BUCKETSIDE_TOKEN_FILE")
    born = datetime.fromtimestamp(began, UTC) if began is not None else now()
    logging.getLogger("alembic").setLevel(logging.WARNING)
    doorway = _doorway(settings)
    desk = open_desk(_database(settings), settings.founded_an_hour, born)
    try:
        if asyncio.run(_serving(desk, settings, settings.token, doorway)):
            # What still runs would be waited for at the interpreter's end, perhaps for ever.
            log.warning("stopped while something was still running; it goes on at the next start")
            logging.shutdown()
            os._exit(0)
    except TokenRefusedError as error:
        raise SettingsError(str(error)) from error
    except OSError as error:
        raise SettingsError(f"cannot listen on {settings.listen}: {error.strerror}") from error
    log.info("stopped")
    return 0


def _doorway(settings: Settings) -> "Webhook | None":
    """The webhook, if that is wanted. Raises SettingsError for any address or secret that cannot be one, before
    anything is begun."""
    from bot.edges.telegram.service import TelegramEdge, TokenRefusedError
    from bot.edges.telegram.webhook import Webhook

    try:
        TelegramEdge.must_be_usable(settings.token or "", settings.api_url)
        if settings.webhook_url is None:
            return None
        return Webhook(settings.webhook_url, settings.webhook_secret or "", settings.listen)
    except (ValueError, TokenRefusedError) as error:
        raise SettingsError(str(error)) from error


async def _serving(desk: Desk, settings: Settings, token: str, doorway: "Webhook | None") -> bool:
    """Serves until it is told to stop; whether something would not end."""
    from bot.edges.standstill import Standstill
    from bot.edges.telegram.service import TelegramEdge

    stop = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)

    def introduced(username: str, reads_groups: bool) -> None:
        desk.username, desk.hears_all = username, reads_groups

    standstill = Standstill(sys.stderr)
    edge = TelegramEdge(
        desk,
        token,
        settings.api_url,
        now,
        lambda: alarm.set(now()),
        doorway=doorway,
        on_introduced=introduced,
        commands=COMMANDS,
        watch=standstill,
    )

    async def wake() -> datetime:
        """Once a day in any case: what has had its time goes then."""
        following, tomorrow = await edge.wake(), now() + TIDY_EVERY
        return tomorrow if following is None else min(following, tomorrow)

    alarm = Alarm(wake)
    alarm.set(now())
    alarm.start()
    log.info("serving")
    try:
        await edge.run(stop)
    finally:
        alarm.stop()
        standstill.close()
        if not edge.stuck:  # taken away from under what still runs, the database brings the process down
            desk.close()
    return edge.stuck


def print_log(as_json: bool, household: str | None) -> int:
    """Every entry, oldest first, to standard output; changes nothing."""
    units = Units(open_engine(_database(read_settings()), only_read=True))
    with units.read() as unit:
        rows = list(unit.log.all_entries(household))
        struck = struck_out(row.entry for row in rows)
    units.close()
    for row in rows:
        entry = row.entry
        if as_json:
            line = {
                "household": row.household,
                "chat_id": row.chat_id,
                "entry": entry.entry,
                "update_id": row.update_id,
                "by": entry.by,
                "said_at": entry.said_at.isoformat(),
                "written_at": row.written_at.isoformat(),
                "at": entry.at.isoformat(),
                "act": to_plain(entry.act),
                "struck": struck.get(entry.entry),
            }
            print(json.dumps(line, ensure_ascii=False))
        else:
            manner = Manner(zone=row.zone, now=now())
            gone = f"  (struck out by {struck[entry.entry]})" if entry.entry in struck else ""
            told = plain(fact(msgspec.structs.replace(entry.act, at=None), manner))
            told += f" entry {entry.strikes}" if isinstance(entry.act, Undo) else ""
            when = f"{entry.at.astimezone(row.zone):%Y-%m-%d %H:%M}"
            print(f"{entry.entry:>5}  {when}  {visible(entry.by)}: {visible(told)}{gone}")
    return 0


def forget(name: str, number: int | None, *, sure: bool) -> int:
    """Takes a household out of the database for good, once somebody said yes; 1 when it was not. The bot must not be
    running on an SQLite file: it could not tell that from a file that was overwritten."""
    database = _database(read_settings())
    must_be_alone(database)
    units = Units(open_engine(database))
    try:
        with units.read() as unit:
            found = [row for row in unit.households.named(name) if number in (None, row.id)]
            told = [(row, len(unit.people.everybody(row.id)), len(unit.log.entries(row.id))) for row in found]
        for row, people, entries in told:
            print(f"number {row.id}: {visible(row.name)}, {people} people, {entries} entries")
        if len(found) != 1:
            why = (
                f"{len(found)} households have that name: say which with --number"
                if found
                else "no such household"
            )
            print(f"bucketside: {why}; nothing was changed", file=sys.stderr)
            return 1
        if not sure and not _agreed(found[0].name):
            print("bucketside: nothing was changed", file=sys.stderr)
            return 1
        with units.begin() as unit:
            unit.retention.forget(found[0].id, now())
        compact(units.engine)
    finally:
        units.close()
    print("It is forgotten.")
    return 0


def _agreed(name: str) -> bool:
    print("All of it goes for good. To go on, write its name again: ", end="", flush=True)
    return sys.stdin.readline().strip() == name


__all__ = ["SettingsError", "StoreError", "forget", "play_script", "print_log", "serve", "try_it"]
