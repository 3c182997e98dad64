"""The whole bot as a process, on a Bot API double and a data folder that outlive it."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from bot.edges.clock import now
from tests.botapi.double import BotApi
from tests.edges.bench import wait_until

ROOT = Path(__file__).parents[2]
TOKEN = "4711:a_token-for_tests"


class House:
    """A bot process on a data folder that outlives it."""

    def __init__(self, api: BotApi, folder: Path) -> None:
        self.world = api.world
        self.world.token = TOKEN
        self.world.moment = now()
        self.log = folder / "stderr.log"
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("BUCKETSIDE_")},
            "BUCKETSIDE_TOKEN": TOKEN,
            "BUCKETSIDE_API_URL": api.url,
            "BUCKETSIDE_DATA_DIR": str(folder / "data"),
        }

    @contextmanager
    def running(self, module: str = "bot", **more: str) -> Iterator["subprocess.Popen[bytes]"]:
        """Starts the bot, with more in its environment if need be; it is killed at the end if it still runs."""
        with self.log.open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", module, "serve"], cwd=ROOT, env=self.environment | more, stderr=log
            )
        try:
            yield process
        finally:
            process.kill()
            process.wait()

    def wait_for_answers(self, count: int, process: "subprocess.Popen[bytes]") -> None:
        """Returns when the bot has sent that many messages, over all of its lives."""
        wait_until(
            lambda: len(self.world.sent) >= count or process.poll() is not None, f"{count} answers", 60
        )
        assert process.returncode is None, self.log.read_text()

    def entries(self) -> list[dict[str, Any]]:
        """What `bucketside log --json` prints."""
        command = [sys.executable, "-m", "bot", "log", "--json"]
        done = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, check=True)
        return [json.loads(line) for line in done.stdout.splitlines()]
