"""Run by itself: every regular expression that the code compiles, as JSON Lines of its place, form and flags."""

import importlib
import json
import pkgutil
import re
import sys
from datetime import UTC, datetime

found: dict[tuple[str, int], str] = {}
_compile = re._compile  # type: ignore[attr-defined]


def _noting(pattern, flags):  # type: ignore[no-untyped-def]
    frame = sys._getframe(1)
    while frame is not None and frame.f_globals.get("__name__") == "re":
        frame = frame.f_back
    owner = frame.f_globals.get("__name__", "") if frame is not None else ""
    if owner.startswith("bot.") and isinstance(pattern, str):
        found.setdefault((pattern, int(flags)), owner)
    return _compile(pattern, flags)


re._compile = _noting  # type: ignore[attr-defined]

import bot  # noqa: E402

for module in pkgutil.walk_packages(bot.__path__, "bot."):
    if "migrations" not in module.name and not module.name.endswith("__main__"):
        importlib.import_module(module.name)

from bot.understand import understand  # noqa: E402
from bot.understand.letterwords import letter_words  # noqa: E402
from bot.understand.scene import scene_from_json  # noqa: E402

house = json.loads(open(sys.argv[1], encoding="utf-8").read())
scene = scene_from_json(house)
for text in json.loads(sys.stdin.read()):
    understand(text, scene, datetime(2026, 3, 4, 19, 30, tzinfo=UTC), by=scene.members[0], addressed=True)
letter_words("en", tuple(scene.members))
for (form, flags), owner in found.items():
    print(json.dumps([owner, form, flags]))
