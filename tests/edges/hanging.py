"""The whole bot, with one word in which it comes to a standstill: an expression that never ends and lets nothing
else of the process run. `python -m tests.edges.hanging serve`"""

import re
import sys
from collections.abc import Callable
from typing import Any

from bot.__main__ import main
from bot.house import messages

WORD = "treacle"


def hang(understand: Callable[..., Any]) -> Callable[..., Any]:
    def understood(text: str, *given: Any, **more: Any) -> Any:
        if WORD in text:
            re.match(r"(?:a+)+$", "a" * 60 + "b")
        return understand(text, *given, **more)

    return understood


if __name__ == "__main__":
    messages.reading = hang(messages.reading)
    sys.exit(main())
