"""What the documents show is what happens: commands run, and the conversation is the bot's own."""

import re
import shlex
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from sybil import Document
from sybil.parsers.markdown.lexers import FencedCodeBlockLexer

from bot.edges.console import ConsoleChat
from bot.edges.script import play
from bot.house.desk import Desk
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units

ROOT = Path(__file__).parent.parent
HARMLESS = re.compile(r"(\.venv/bin/bucketside (reckon|understand)|sh ops/try --script) ")


def blocks(document: str, language: str) -> list[str]:
    """The fenced blocks of that language."""
    whole = Document((ROOT / document).read_text(encoding="utf-8"), document)
    return [str(region.lexemes["source"]) for region in FencedCodeBlockLexer(language)(whole)]


COMMANDS = [
    line.split("   #")[0].strip()
    for document in ("README.md", "DEVELOPERS.md")
    for block in blocks(document, "sh")
    for line in block.splitlines()
    if HARMLESS.match(line.strip())
]


@pytest.mark.parametrize("line", COMMANDS)
def test_a_command_in_the_documents_runs(line: str, tmp_path: Path) -> None:
    line, _, source = line.partition(" < ")
    if source:
        example = '{"text": "sg 1.012 bucket 2", "sent_at": "2026-03-04T19:30:00+00:00", "from": "ana"}\n'
        (tmp_path / source).write_text(example, encoding="utf-8")
    words = shlex.split(line.replace("sh ops/try", ".venv/bin/bucketside try"))
    ran = subprocess.run(
        [sys.executable, "-m", "bot", *words[1:]],
        cwd=ROOT,
        input=(tmp_path / source).read_text(encoding="utf-8") if source else None,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout


def test_there_are_commands_to_run() -> None:
    assert len(COMMANDS) >= 4


def test_the_readmes_conversation_is_the_bots_own(tmp_path: Path) -> None:
    (conversation,) = [block for block in blocks("README.md", "text") if "bot:" in block]
    heard: list[str] = []
    chat = ConsoleChat(
        lambda: Desk(Units(open_engine(sqlite_url(tmp_path / "house.db"))), timezone="Europe/London")
    )
    try:
        lines = [line for line in conversation.splitlines() if re.match(r"\w+: |\+|@", line)]
        script = "\n".join(line for line in lines if not line.startswith("bot: "))
        play(script, chat, heard.append)
    finally:
        chat.close()
    shown = [line.strip().removeprefix("bot:").strip() for line in "\n".join(heard).splitlines()]
    told = [line.strip().removeprefix("bot:").strip() for line in conversation.splitlines() if line.strip()]
    places = [shown.index(line) for line in told]
    assert places == sorted(places)


def test_the_files_that_developers_are_sent_to_are_there() -> None:
    text = re.sub(r"```.*?```", "", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), flags=re.S)
    named = set(re.findall(r"`([^`\s*@]+/[^`\s*@]*)`", text))
    missing = {name for name in named if not any((ROOT / room / name).exists() for room in (".", "bot"))}
    assert len(named) > 60
    assert not missing


def test_the_map_of_the_rooms_shows_every_module() -> None:
    (shown,) = blocks("DEVELOPERS.md", "text")
    modules = [path for path in (ROOT / "bot").rglob("*.py") if "migrations" not in path.parts]
    there = Counter(path.name for path in modules if path.name != "__init__.py")
    assert Counter(re.findall(r"\b\w+\.py\b|__main__\.py", shown)) == there
