"""What people ask, by the topic's id: how and why of the craft, and about their own batch."""

from collections.abc import Mapping
from types import MappingProxyType

from bot.cellar.log.subjects import (
    BottlesToCome,
    Compare,
    FermentRange,
    IsAllRight,
    IsFinished,
    IsStuck,
    LitresLeft,
    Lore,
    Matter,
    NextReading,
    Shopping,
    Subject,
    Vessels,
    WasDone,
)

_CRAFT = """
first_steps how_long_all equipment clean_how clean_why sanitise_how sanitise_rinse clean_or_sanitise leak_check
mix_how mix_temp tap_water volume_short sachets yeast_how yeast_old stir_when lid open_lid
airlock_how airlock_dry no_bubbles still_bubbling foam noises where_keep light too_cold too_warm
temp_swings hydrometer_read sample_how sg_meaning below_one temp_correction read_often no_hydrometer
same_reading smell_eggs smell_vinegar smell_sharp smell_normal smell_bad colour haze sediment
crystals film flies taste_now taste_sour taste_thin taste_sweet fizzy rack_how rack_why lees_left
topup oxygen degas_how degas_enough stabilise campden sorbate finings clear_time filter bottle_how
bottle_which bottle_clean cork_how label_how store drink_when keeps deposit_bottle serve
opened_bottle sweeter stronger weaker freeze holidays moving heavy share_kit two_at_once old_kit
spilled forgot_step wrong_order twice wrong_sachet dropped_in touched lost_leaflet give_away
label_law blend fruit reuse_yeast waste sulphite_health children vegan drive

what_is_must what_is_lees what_is_airlock what_is_hydrometer what_is_gravity what_is_racking
what_is_degassing what_is_finings what_is_sulphite what_is_sorbate what_is_nutrient what_is_pitching
what_is_demijohn what_is_siphon what_is_headspace what_is_dry what_is_abv what_is_tannin what_is_oak
what_is_bentonite what_is_pectin what_is_brix what_is_acidity what_is_ph what_is_stabilising
what_is_fermentation what_is_yeast what_is_sanitising what_is_topping_up what_is_starting_gravity
what_is_final_gravity what_is_corker
"""
CRAFT = frozenset(_CRAFT.split())
"""The topics of the craft. Each has its answer in `bot/say/craft/`."""

OWN: Mapping[str, Subject] = MappingProxyType(
    {
        "next": Matter(about="next"),
        "next_reading": NextReading(),
        "stage": Matter(about="stage"),
        "finished": IsFinished(),
        "all_right": IsAllRight(),
        "stuck": IsStuck(),
        "restart": IsStuck(restart=True),
        "abv": Matter(about="abv"),
        "ready_to_rack": Matter(about="ready_to_rack"),
        "ready_to_bottle": Matter(about="ready_to_bottle"),
        "finish_time": Matter(about="finish_time"),
        "readings": Matter(about="readings"),
        "temperature": Matter(about="temperature"),
        "ferment_range": FermentRange(),
        "chart": Matter(about="chart"),
        "cost": Matter(about="cost"),
        "stock": Matter(about="stock"),
        "bottles_to_come": BottlesToCome(),
        "litres_left": LitresLeft(),
        "who": Matter(about="who"),
        "additions": Matter(about="additions"),
        "did_we": WasDone(),
        "vessels": Vessels(),
        "overview": Matter(about="overview"),
        "story": Matter(about="story"),
        "reminders": Matter(about="reminders"),
        "shopping": Shopping(),
        "help": Matter(about="help"),
        "compare": Compare(),
    }
)
"""What is asked about one's own batch and answered from the log. What the words tell besides (which chore, which other
batch) is filled in by whoever heard them."""


def subject_of(topic: str) -> Subject | None:
    """The subject of a topic's id; None for an id that is none."""
    return Lore(topic=topic) if topic in CRAFT else OWN.get(topic)


def topic_of(subject: Subject) -> str | None:
    """The topic's id of a subject, whatever else it tells; None for a subject that is no topic."""
    if isinstance(subject, Lore):
        return subject.topic
    kind = type(subject)
    close = (topic for topic, own in OWN.items() if own == subject)
    alike = (topic for topic, own in OWN.items() if type(own) is kind and not isinstance(own, Matter))
    return next(close, None) or next(alike, None)
