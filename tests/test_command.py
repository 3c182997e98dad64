"""The command as people and supervisors use it: real processes."""

import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.botapi.double import BotApi
from tests.edges.bench import wait_until
from tests.house.room import Room

ROOT = Path(__file__).parent.parent
SCRIPTS = ROOT / "fixtures" / "conversations"


def bucketside(
    *words: str | Path, data: Path | None = None, given: str | None = None, **settings: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "bot", *map(str, words)],
        cwd=ROOT,
        env=environment(data, **settings),
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def environment(data: Path | None, **settings: str) -> dict[str, str]:
    plain = {name: value for name, value in os.environ.items() if not name.startswith("BUCKETSIDE_")}
    if data is not None:
        settings["DATA_DIR"] = str(data)
    return plain | {f"BUCKETSIDE_{name}": value for name, value in settings.items()}


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys, bot.__main__ as m\ntry: m.main(['--help'])\nexcept SystemExit: pass\nprint(*sys.modules)"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    ).stdout
    assert "usage: bucketside" in loaded
    heavy = (
        "sqlalchemy",
        "alembic",
        "telegram",
        "apscheduler",
        "rich",
        "prompt_toolkit",
        "msgspec",
        "bot.house",
    )
    assert not set(heavy) & set(loaded.split())


def test_the_version_is_that_of_the_project() -> None:
    said = subprocess.run(
        [sys.executable, "-m", "bot", "--version"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    ).stdout
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert said == f"bucketside {project['version']}\n"


def test_understand_and_reckon_load_no_database_and_no_chat_service() -> None:
    code = "import sys, bot.understand, bot.edges.reckon\nprint(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    ).stdout
    assert not {"sqlalchemy", "alembic", "telegram", "apscheduler", "asyncio", "scipy"} & set(loaded.split())


def test_the_first_answer_loads_no_maker_of_calendars(tmp_path: Path) -> None:
    script = tmp_path / "short.txt"
    script.write_text("ana: new batch: plum, 23 l in bucket 2, 14 day kit\n> begun\n")
    code = f"import sys, bot.__main__ as m\nm.main(['try', '--script', {str(script)!r}])\nprint(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    ).stdout.split()
    assert "bot.house.letters.calendar" in loaded
    assert not {"icalendar", "bot.say.calendar", "telegram", "aiohttp"} & set(loaded)


def test_a_script_shows_where_its_files_are(tmp_path: Path) -> None:
    played = bucketside("try", "--script", SCRIPTS / "calendar.txt", "--data", tmp_path)
    assert (played.returncode, played.stderr) == (0, "")
    shown = re.findall(r"^ +\[calendar: (.+)\]$", played.stdout, re.M)
    assert len(shown) == len(set(shown)) >= 5
    for path in map(Path, shown):
        assert path.parent == tmp_path / "files"
        assert path.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")


def test_what_a_script_expects_of_files_can_fail(tmp_path: Path) -> None:
    script = tmp_path / "wrong.txt"
    script.write_text("ana: new batch: plum, 23 l in bucket 2, 14 day kit\nana: calendar\n> [chart: \n")
    played = bucketside("try", "--script", script)
    assert (played.returncode, "line 3" in played.stderr) == (1, True)


def test_a_script_prints_the_whole_batch(tmp_path: Path) -> None:
    played = bucketside("try", "--script", SCRIPTS / "white-in-7-days.txt", "--data", tmp_path)
    assert (played.returncode, played.stderr) == (0, "")
    assert "bottled" in played.stdout
    assert "27 of mill white" in played.stdout
    printed = bucketside("log", "--json", data=tmp_path)
    lines = [json.loads(line) for line in printed.stdout.splitlines()]
    assert [line["entry"] for line in lines] == sorted(line["entry"] for line in lines)
    keys = {
        "household",
        "chat_id",
        "entry",
        "update_id",
        "by",
        "said_at",
        "written_at",
        "at",
        "act",
        "struck",
    }
    assert all(set(line) == keys for line in lines)
    assert all(line["written_at"] >= line["said_at"] for line in lines)
    assert lines[0]["act"]["do"] == "begin"
    assert {line["by"] for line in lines} == {"nell", "otto"}
    told = bucketside("log", "--household", "the mill lane HOUSE", data=tmp_path)
    assert "nell: begun: mill white" in told.stdout
    assert bucketside("log", "--household", "nobody", data=tmp_path).stdout == ""


def test_a_household_is_forgotten_by_its_name_after_a_question(tmp_path: Path) -> None:
    assert bucketside("forget", "--household", "Quay", data=tmp_path).returncode == 2, "there is no log yet"
    path = tmp_path / "bucketside.db"
    room = Room(Units(open_engine(sqlite_url(path))))
    batches = ("dawnbell", "noonbell", "duskbell")
    for chat, name in ((-1, "Quay"), (-2, "Quay"), (-3, "Forge")):
        begin = f"new batch: {batches[-chat - 1]}, 23 l in bucket 2, 14 day kit"
        room.say(begin, chat_id=chat, chat_title=name)
    forget = ("forget", "--household", "quay")
    running = bucketside(*forget, "--yes", data=tmp_path)
    assert (running.returncode, "stop the bot" in running.stderr) == (2, True)
    room.units.close()
    for words in ((), ("--number", "3"), ("--number", "9")):
        kept = bucketside(*forget, *words, "--yes", data=tmp_path)
        assert (kept.returncode, "nothing was changed" in kept.stderr) == (1, True)
    for answer in ("", "quai\n"):
        kept = bucketside(*forget, "--number", "2", data=tmp_path, given=answer)
        assert (kept.returncode, "nothing was changed" in kept.stderr) == (1, True)
        assert "number 2: Quay, 1 people, 1 entries" in kept.stdout
    assert bucketside("log", data=tmp_path).stdout.count("bell") == 3
    gone = bucketside(*forget, "--number", "2", data=tmp_path, given="Quay\n")
    assert (gone.returncode, gone.stderr) == (0, "")
    left = bucketside("log", data=tmp_path).stdout
    assert [batch in left for batch in batches] == [True, False, True]
    assert b"noonbell" not in path.read_bytes()


def test_a_script_fails_at_the_first_expectation_and_names_its_line(tmp_path: Path) -> None:
    script = tmp_path / "wrong.txt"
    script.write_text(
        "house: Here\nana: new batch: plum, 23 l in bucket 2, 14 day kit\n> plum\n> a pony\n> x\n"
    )
    played = bucketside("try", "--script", script)
    assert played.returncode == 1
    assert "line 4" in played.stderr
    assert "a pony" in played.stderr


@pytest.mark.parametrize(
    "line", ["ana taps", "@ yesterday", "+ soon", "ana replies r9: hello", "> /(/", "hello"]
)
def test_a_line_of_no_known_form_is_named(tmp_path: Path, line: str) -> None:
    script = tmp_path / "odd.txt"
    script.write_text(f"house: Here\n{line}\n")
    played = bucketside("try", "--script", script)
    assert played.returncode == 1
    assert "line 2" in played.stderr
    assert "Traceback" not in played.stderr


def test_a_missing_script_is_one_line() -> None:
    played = bucketside("try", "--script", "no-such-file.txt")
    assert played.returncode == 2
    assert played.stderr.count("\n") == 1


def test_a_piped_chat_moves_the_clock_and_presses_choices(tmp_path: Path) -> None:
    lines = "ana: new batch: plum, 23 l in bucket 2, 14 day kit\n2\n1\nbo: sanitised bucket 2\n+10m\nchart\ncalendar\n"
    played = bucketside("try", data=tmp_path, given=lines)
    assert (played.returncode, played.stderr) == (0, "")
    assert "Struck out" in played.stdout
    assert "Back in" in played.stdout
    assert "10 minutes are up" in played.stdout
    assert f"[calendar: {tmp_path / 'files'}" in played.stdout
    assert "\x1b" not in played.stdout
    printed = bucketside("log", "--json", data=tmp_path).stdout.splitlines()
    assert [json.loads(line)["by"] for line in printed] == ["ana", "ana", "ana", "bo"]
    assert [json.loads(line)["struck"] for line in printed] == [None, 3, None, None]


def test_the_log_is_one_line_an_entry_whatever_is_in_it(tmp_path: Path) -> None:
    lines = "ana: new batch: plum, 23 l in bucket 2, 14 day kit\nana: note plum: smells of pears\n"
    bucketside("try", data=tmp_path, given=lines)
    odd = "pears\n    9  2026-01-01 00:00  bo: racked\r\x1b[2J\x9b\u2028\u202e" + "\\n"
    with sqlite3.connect(tmp_path / "bucketside.db") as database:
        database.execute("UPDATE log SET act = json_set(act, '$.text', ?) WHERE act LIKE '%pears%'", (odd,))
    database.close()
    told = bucketside("log", data=tmp_path).stdout
    assert len(told.split("\n")) == 3
    assert r"pears\n    9  2026-01-01 00:00  bo: racked\r\x1b[2J\x9b\u2028\u202e\\n" in told
    assert all(char.isprintable() or char == "\n" for char in told)


def test_the_log_of_nothing_is_one_line_and_makes_nothing(tmp_path: Path) -> None:
    printed = bucketside("log", data=tmp_path)
    assert (printed.returncode, printed.stdout) == (2, "")
    assert printed.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_newer_database_is_one_line_and_status_2(tmp_path: Path) -> None:
    bucketside("try", data=tmp_path, given="")
    database = sqlite3.connect(tmp_path / "bucketside.db")
    database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.commit()
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    content = (tmp_path / "bucketside.db").read_bytes()
    for words in (("try",), ("log",), ("serve",)):
        ended = bucketside(*words, data=tmp_path, given="", TOKEN="1:abc", API_URL="http://127.0.0.1:9")
        assert ended.returncode == 2
        assert "newer" in ended.stderr
        assert "Traceback" not in ended.stderr
    assert (tmp_path / "bucketside.db").read_bytes() == content


def test_serve_says_what_is_missing_in_one_line(tmp_path: Path) -> None:
    for settings, says in (
        ({}, "token"),
        ({"TOKEN_FILE": str(tmp_path / "none")}, "token file"),
        ({"TOKEN": "1:abc", "API_URL": "ftp://x"}, "http"),
        ({"TOKEN": "1:abc", "WEBHOOK_URL": "https://wine.example.org/u"}, "secret"),
        ({"TOKEN": "1:abc", "DATABASE_URL": "postgresql+psycopg://nobody@127.0.0.1:1/none"}, "database"),
    ):
        ended = bucketside("serve", data=tmp_path, **settings)
        assert ended.returncode == 2, (settings, ended.stderr)
        assert says in ended.stderr
        assert "Traceback" not in ended.stderr


def test_serve_with_a_wrong_token_ends_with_status_2(tmp_path: Path) -> None:
    with BotApi() as api:
        ended = bucketside("serve", data=tmp_path, TOKEN="999:wrong", API_URL=api.url)
    assert ended.returncode == 2
    assert "999:wrong" not in ended.stderr + ended.stdout


def test_serve_answers_logs_and_stops_when_told(tmp_path: Path) -> None:
    with BotApi() as api:
        group = api.world.group("The Mill Lane house")
        serving = subprocess.Popen(
            [sys.executable, "-W", "error", "-m", "bot", "serve"],
            cwd=ROOT,
            env=environment(tmp_path, TOKEN=api.world.token, API_URL=api.url),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            api.world.say("nell", "new batch: heron, 23 litres in bucket 1, 7 day kit", group)
            wait_until(lambda: any("begun: heron" in text for text in api.world.said(group)), "an answer", 30)
            printed = bucketside("log", "--json", data=tmp_path)
            (line,) = [json.loads(line) for line in printed.stdout.splitlines()]
            assert (line["chat_id"], line["by"], line["household"]) == (group, "Nell", "The Mill Lane house")
            assert line["update_id"] == api.world.newest_update
            serving.send_signal(signal.SIGTERM)
            out, err = serving.communicate(timeout=20)
        finally:
            serving.kill()
            serving.communicate()
    assert serving.returncode == 0, err
    assert api.world.token not in out + err
    assert "heron" not in out + err
    assert "Traceback" not in err
