"""Plays the talks and prints how they were heard: a line a talk, then the figures of wine and family chats, of the
talks that rules were written from (`seen-`), of those that only weights were learned from (`learn-`) and of those set
aside (`aside-`) apart. With --show, every message of the
seen ones that was not heard. Run: sh ops/talks
"""

import argparse
import json
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.talks import Judged, play, score

TALKS = Path(__file__).parents[1] / "fixtures" / "talks"


def one(path: Path) -> list[Judged]:
    """A talk, judged."""
    shelf = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(dir=shelf) as folder:
        return play(path, Path(folder))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("name", nargs="?", default="", help="only talks with this in their name")
    parser.add_argument("--talks", type=Path, default=TALKS)
    parser.add_argument("--set", choices=("seen", "learn", "aside"), help="only these")
    parser.add_argument(
        "--show",
        action="store_true",
        help="what was not heard (of talks that nobody reads only when asked for by --set)",
    )
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    paths = sorted(given.talks.glob("*.txt"))
    paths = [path for path in paths if given.name in path.stem and path.stem.startswith(given.set or "")]
    with ProcessPoolExecutor(given.jobs) as pool:
        talks = dict(zip(paths, pool.map(one, paths), strict=True))
    for path, judged in talks.items():
        print(f"{path.stem:28} {judged[0].chat:7} {score(judged)}")
    everything = [each for judged in talks.values() for each in judged]
    if given.show:
        for each in everything:
            if each.verdict not in ("right", "free") and (
                given.set or not each.talk.startswith(("aside", "learn"))
            ):
                said = each.said.replace("\n", " / ")[:220]
                print(f"\n{each.verdict:8} {each.talk} ({each.chat})  {each.line}\n   want {each.want}")
                print(f"   wrote {json.dumps(each.wrote, default=str)}\n   said {said!r}")
        print()
    for kept in ("seen", "learn", "aside", ""):
        for chat in ("wine", "family"):
            told = [each for each in everything if each.talk.startswith(kept) and each.chat == chat]
            if told:
                print(f"{kept or 'all':6} {chat:7} {score(told)}")


if __name__ == "__main__":
    main()
