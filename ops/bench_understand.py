"""How long a message takes to understand, over the fixture messages on one core; and how long the start takes.

Run: python ops/bench_understand.py
"""

import json
import statistics
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

from bot.understand import understand
from bot.understand.scene import ReplyTo, Scene, scene_from_json

FIXTURES = Path(__file__).parents[1] / "fixtures"
SENT_AT = "2026-03-04T19:30:00+00:00"
ROUNDS = 5
STRANGE = (
    "1.012 " * 2000,
    "(" * 5000,
    "b2 " * 3000,
    "a" * 20000,
    "🍷" * 5000,
    "one point oh " * 800,
    "12:" * 4000,
)


def main() -> None:
    houses: dict[str, Scene] = {}
    taken: list[float] = []
    lines = [
        json.loads(line)
        for path in sorted((FIXTURES / "messages").glob("*.jsonl"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.strip()
    ]
    for _ in range(ROUNDS):
        for line in lines:
            name = line.get("house", "harbour")
            if name not in houses:
                plain = json.loads((FIXTURES / "houses" / f"{name}.json").read_text(encoding="utf-8"))
                houses[name] = scene_from_json(plain)
            reply = line.get("replying_to")
            replying = ReplyTo(of=reply) if isinstance(reply, str) else ReplyTo(**reply) if reply else None
            sent_at = datetime.fromisoformat(line.get("sent_at", SENT_AT))
            start = time.perf_counter()
            understand(line["text"], houses[name], sent_at, replying_to=replying)
            taken.append((time.perf_counter() - start) * 1000)
    taken.sort()
    print(f"{len(lines)} messages, {ROUNDS} rounds")
    print(
        f"median {statistics.median(taken):.3f} ms, p99 {taken[int(len(taken) * 0.99)]:.3f} ms, most {taken[-1]:.2f} ms"
    )
    sent_at = datetime.fromisoformat(SENT_AT)
    for text in STRANGE:
        start = time.perf_counter()
        understand(text, houses["harbour"], sent_at)
        print(f"{text[:12]!r} x {len(text)}: {(time.perf_counter() - start) * 1000:.2f} ms")
    start = time.perf_counter()
    subprocess.run(
        [
            sys.executable,
            "-c",
            "import bot.understand; from bot.understand.text.lexicon import lexicon; lexicon('en')",
        ],
        check=True,
    )
    print(f"a fresh process with the words loaded: {time.perf_counter() - start:.3f} s")


if __name__ == "__main__":
    main()
