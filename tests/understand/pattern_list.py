"""Run by itself: every regular expression of the code, as JSON Lines of its room, form and flags. The argument is a
house file; on standard input come messages that make the code compile what it compiles late."""

import ast
import importlib
import json
import pkgutil
import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

_compile: Any = re._compile  # type: ignore[attr-defined]  # private: every form goes through it
found: dict[tuple[str, int], str] = {}


def noting(pattern: Any, flags: Any) -> Any:
    """Compiles, and notes what our own code compiles."""
    frame = sys._getframe(1)
    while frame.f_back is not None and frame.f_globals.get("__name__") == "re":
        frame = frame.f_back
    owner = frame.f_globals.get("__name__", "")
    if owner.startswith("bot.") and isinstance(pattern, str):
        found.setdefault((pattern, int(flags)), owner)
    return _compile(pattern, flags)


def in_calls(module: str, source: str) -> Iterator[tuple[tuple[str, int], str]]:
    """The forms that are written where they are used: `re.search("...", text)`."""
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
            continue
        of, form = node.func.value, node.args[0]
        if (
            isinstance(of, ast.Name)
            and of.id == "re"
            and isinstance(form, ast.Constant)
            and isinstance(form.value, str)
        ):
            yield (form.value, 0), module


def main() -> None:
    re._compile = noting  # type: ignore[attr-defined]  # as above
    import bot

    for module in pkgutil.walk_packages(bot.__path__, "bot."):
        if "migrations" not in module.name and not module.name.endswith("__main__"):
            source = importlib.import_module(module.name).__file__
            for key, owner in in_calls(module.name, Path(str(source)).read_text(encoding="utf-8")):
                found.setdefault(key, owner)

    from bot.understand import understand
    from bot.understand.claims.reminders import letter_words
    from bot.understand.scene import scene_from_json

    scene = scene_from_json(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")))
    now = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
    for text in json.loads(sys.stdin.read()):
        understand(text, scene, now, by=scene.members[0], addressed=True)
    letter_words("en")
    for (form, flags), owner in found.items():
        sys.stdout.write(json.dumps([owner, form, flags]) + "\n")


if __name__ == "__main__":
    main()
