"""Questions that are sums: "abv from 1.080 to 0.994", "convert 20 brix"."""

from collections.abc import Sequence

from bot.understand.drafts import Draft
from bot.understand.scene import Scene
from bot.understand.spans import Span
from bot.understand.targets import Targets


def sum_asked(spans: Sequence[Span], scene: Scene, targets: Targets) -> Draft | None:
    """The sum that a message asks for."""
    return None
