"""What a gravity was read with, in words."""

from bot.cellar.log.acts import Instrument

NAMES: dict[Instrument, str] = {"refractometer": "Refractometer", "hydrometer": "Hydrometer"}
WHICH = (
    "Were those Brix read with a refractometer or a hydrometer? Once there is alcohol they are not the same. "
    "I ask this once."
)
BRIX_LIKE = (
    "Write <code>/brix refractometer</code> or <code>/brix hydrometer</code>: what your Brix are read with."
)


def kept(instrument: Instrument) -> str:
    """From now on the house's Brix come from this."""
    other = "hydrometer" if instrument == "refractometer" else "refractometer"
    return f"I take your Brix as the {instrument}'s from now on (/brix {other} changes that)."
