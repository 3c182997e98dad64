"""A message and what the house looks like, to a verdict. Pure, deterministic, explainable."""

from bot.understand.judge import understand

__all__ = ["understand"]
