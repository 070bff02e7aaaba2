"""Which figures of an element stand beside the pointer while it is drawn or reshaped."""

from __future__ import annotations

from collections.abc import Iterable

from canvas.base.fact import Fact
from canvas.base.quantity import UnitSystem

#: Keys of facts by kind, in the order they are read.
LIVE: dict[str, tuple[str, ...]] = {
    "platform": ("trouble", "level_m", "cut_m3", "fill_m3", "left_over_m3", "wall_height_m"),
    "terraces": ("trouble", "level_m", "riser_m", "cut_m3", "fill_m3"),
    "heap": ("trouble", "holds_m3", "fill_height_m"),
    "borrow_pit": ("trouble", "gives_m3", "cut_depth_m"),
    "dam": ("trouble", "pool", "crest_m", "holds_m3", "deepest_m", "earth_m3", "water_to_earth"),
    "dug_pond": ("trouble", "full_m", "holds_m3", "cut_m3", "fill_m3"),
    "swale": ("trouble", "holds_m3", "cut_m3", "fill_m3", "level_error_m", "catchment_m2"),
    "drain": ("trouble", "capacity_m3s", "speed_m_s", "cut_m3", "level_error_m", "catchment_m2"),
    "level_sill": ("trouble", "sill_capacity_m3s", "level_error_m"),
    "track": ("trouble", "sustained_grade", "cut_m3", "fill_m3", "left_over_m3"),
    "turning_head": ("trouble", "turn_radius_m", "turn_arm_m", "cut_m3", "fill_m3"),
    "passing_bay": ("trouble", "passing_width_m"),
    "culvert": ("trouble", "pipe_m", "cover_m", "capacity_m3s", "peak_m3s"),
    "ford": ("trouble", "ramp", "capacity_m3s", "peak_m3s", "ford_depth_m"),
    "water_bar": ("trouble", "angle_deg", "capacity_m3s", "peak_m3s"),
    "check_dam": ("trouble", "wall_m3", "sill_capacity_m3s", "spacing_m"),
}


def live_words(kind_key: str, facts: Iterable[Fact], units: UnitSystem) -> tuple[str, ...]:
    """Return the figures that stand beside the pointer, a line each; none for most kinds."""
    asked = LIVE.get(kind_key, ())
    if not asked:
        return ()
    first = {fact.key: fact for fact in reversed(list(facts))}
    told = [first[key] for key in asked if key in first]
    return tuple(
        f"{fact.label} {fact.shown(units)}{_at_least(fact)}"
        if isinstance(fact.value, str)
        else f"{_short(fact)} {fact.shown(units).split(' ±')[0]}{_at_least(fact)}"
        for fact in told
        if fact.value is not None
    )


def _short(fact: Fact) -> str:
    """Return a label without what follows its comma."""
    return fact.label.split(",")[0]


def _at_least(fact: Fact) -> str:
    return " at least" if fact.remark.startswith("at least") else ""
