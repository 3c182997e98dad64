"""How often the cellar's functions are called for one message through the desk: `sh ops/bench calls`.

What a batch's facts tell is worked out once a fold; this shows whether that still holds. Counted are calls of Python
functions under `bot/cellar` (a cached answer counts as asked, not as worked out), so the figures are the same on
every machine.
"""

import sys
import tempfile
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import CodeType, FrameType

sys.path.insert(0, str(Path(__file__).parents[1]))

from bot.house.desk import Desk
from bot.house.talk import Incoming
from bot.wiring import open_desk

BEGUN = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
CELLAR = str(Path(__file__).parents[1] / "bot" / "cellar")
SHOWN = 12

STORY = (
    (0, "begin plum in bucket 1"),
    (1, "sg 1.085 bucket 1"),
    (2, "pitched the yeast in bucket 1"),
    (4, "begin sloe in bucket 2"),
    (5, "sg 1.080 bucket 2"),
    (6, "pitched the yeast in bucket 2"),
    *(
        (24 * day, f"sg {sg} {21 + day % 3} C bucket 1")
        for day, sg in enumerate(("1.070", "1.052", "1.038", "1.027", "1.019"), start=2)
    ),
    *((24 * day + 1, f"sg {sg} bucket 2") for day, sg in enumerate(("1.060", "1.041", "1.028"), start=2)),
)
"""Hours since the first, and what was said: two batches under way."""

ASKED = ("sg 1.012 bucket 1", "is plum stuck?", "what is next?")


class House:
    """A household at one desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.said = desk, 0

    def say(self, text: str, at: datetime) -> None:
        self.said += 1
        self.desk.handle(
            Incoming(
                update_id=self.said,
                chat_id=-1,
                private=False,
                sender_id=1,
                sender_name="ana",
                message_id=self.said,
                sent_at=at,
                text=text,
            ),
            at,
        )


def counted(house: House, text: str, at: datetime) -> tuple[Counter[str], Counter[str]]:
    """How often each function of the cellar was called while the message was handled, and how often something that a
    batch remembers was asked for."""
    worked: Counter[CodeType] = Counter()
    asked: Counter[str] = Counter()

    def seen(frame: FrameType, event: str, _arg: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(CELLAR):
            if code.co_name == "remembered":
                asked[frame.f_locals["work"].__qualname__] += 1
            else:
                worked[code] += 1

    sys.setprofile(seen)
    try:
        house.say(text, at)
    finally:
        sys.setprofile(None)
    names: Counter[str] = Counter()
    for code, count in worked.items():
        names[f"{Path(code.co_filename).stem}.{code.co_qualname}"] += count
    return names, asked


def main() -> None:
    """Prints the calls of each message: all, and the most frequent."""
    with tempfile.TemporaryDirectory(prefix="bucketside-bench-") as folder:
        desk = open_desk(f"sqlite:///{Path(folder) / 'bucketside.db'}")
        house = House(desk)
        for hours, text in STORY:
            house.say(text, BEGUN + timedelta(hours=hours))
        for number, text in enumerate(ASKED):
            worked, asked = counted(house, text, BEGUN + timedelta(days=7, minutes=number))
            print(f"{text!r}: {sum(worked.values())} calls in the cellar")
            for name, count in worked.most_common(SHOWN):
                print(f"  {count:5}  {name}")
            for name, count in asked.most_common(SHOWN):
                print(f"  {count:5}  asked of what the batch remembers: {name}")
        desk.close()


if __name__ == "__main__":
    main()
