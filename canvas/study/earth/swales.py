"""Swales, diversion drains, level sills and checks in gullies, shaped on the ground."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.bank import Sill, Works
from canvas.ground.check import CheckSpec, check
from canvas.ground.crosssection import BankSection, Channel, Parabola, Trapezoid
from canvas.ground.designed import Designed
from canvas.ground.levelness import falling, mean_start_m
from canvas.ground.materials import material
from canvas.ground.profile import Sampled
from canvas.ground.swale import swale
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.study.earth.registry import Made, work_of

if TYPE_CHECKING:
    from canvas.study.scene import Scene

Channelled = Swale | Drain | LevelSill
#: The bank of a level sill: its top, and how it runs out below.
SILL_TOP_M = 0.3
SILL_OUTER = 3.0


@work_of("swale", rank=40)
def shape_swale(item: Swale, ground: Designed, scene: Scene) -> Made:
    """Return channel and bank in the ground, its sills and end blocks with it."""
    if item.sill != "none" and item.sill_above_m >= item.bank_m:
        raise BadData(
            "its sill is as high as its bank",
            remedy="Lower the sill, or raise the bank above it by the freeboard.",
        )
    return _channelled(item, ground)


@work_of("drain", rank=45)
def shape_drain(item: Drain, ground: Designed, scene: Scene) -> Made:
    """Return channel and bank in the ground, open at the lower end."""
    return _channelled(item, ground)


@work_of("level_sill", rank=50)
def shape_level_sill(item: LevelSill, ground: Designed, scene: Scene) -> Made:
    """Return the trench and its level edge, closed at both ends."""
    return _channelled(item, ground)


@work_of("check_dam", rank=55)
def shape_check(item: CheckDam, ground: Designed, scene: Scene) -> Made:
    """Return the wall across the gully with its notch."""
    spec = CheckSpec(
        item.geometry, item.height_m, item.notch_m, item.notch_deep_m, item.crest_m,
        item.upstream, item.downstream, item.key_m,
    )  # fmt: skip
    if item.notch_m >= item.geometry.length:
        raise BadData(
            "its notch is as wide as the check is long",
            remedy="Draw the check from bank to bank, or make the notch narrower.",
        )
    made = check(ground, spec)
    return Made(made, (made.patch,))


def _channelled(item: Channelled, ground: Designed) -> Made:
    made = swale(ground, item.geometry, lip_levels(item, ground), works_of(item))
    if not made.patch.meets:
        raise BadData(
            "its bank or cut never meets the ground: the hill is as steep as they are",
            remedy="Move it to gentler ground, or take steeper faces that still stand.",
        )
    return Made(made, (made.patch,))


def grade_of(item: Channelled) -> float:
    """Return the fall along the line, in its direction (ratio)."""
    return 0.0 if isinstance(item, LevelSill) else item.grade


def start_level_m(item: Channelled, ground: Sampled) -> float:
    """Return the lip's level at the line's start: as given, else the ground's mean."""
    if item.lip_m is not None:
        return item.lip_m
    found = mean_start_m(ground, item.geometry, grade_of(item))
    if math.isnan(found):
        raise BadData("it lies on no known ground", remedy="Move it onto the ground data.")
    return found


def lip_levels(item: Channelled, ground: Sampled) -> Floats:
    """Return the lip's level at each point of the line."""
    return falling(item.geometry, start_level_m(item, ground), grade_of(item))


def channel_of(item: Channelled) -> Channel:
    """Return the channel's section; `BadData` for one that is none."""
    if isinstance(item, LevelSill) or item.shape == "trapezoid":
        if item.bottom_m + 2 * item.side * item.depth_m <= 0:
            raise BadData(
                "its channel has no width", remedy="Give it a bottom width or sloping sides."
            )
        return Trapezoid(item.bottom_m, item.depth_m, item.side)
    return Parabola(item.top_m, item.depth_m)


def works_of(item: Channelled) -> Works:
    """Return what the element is made of, for the engine."""
    channel, long = channel_of(item), float(item.geometry.length)
    batter = material(item.soil).cut_batter
    if isinstance(item, LevelSill):
        bank = BankSection(SILL_TOP_M, item.head_m, max(item.side, 0.5), SILL_OUTER)
        return Works(channel, bank, cut_batter=batter, sills=(Sill(long / 2, long, 0.0),))
    bank = BankSection(item.bank_top_m, item.bank_m, item.inner, item.outer)
    batter = batter if item.cut_batter is None else item.cut_batter
    if isinstance(item, Drain):
        closed = (item.grade >= 0, item.grade < 0)
        return Works(
            channel, bank, item.berm_m, batter, end_blocks=closed, settlement=item.settlement
        )
    sills = () if item.sill == "none" else (Sill(sill_at_m(item), item.sill_m, item.sill_above_m),)
    blocks = (item.block_start, item.block_end)
    return Works(channel, bank, item.berm_m, batter, sills, blocks, item.settlement)


def sill_at_m(item: Swale) -> float:
    """Return where along the line the middle of a swale's sill lies, all of it on the line."""
    long = float(item.geometry.length)
    half = min(item.sill_m, long) / 2
    wanted = {
        "start": half,
        "end": long - half,
        "middle": long / 2,
        "station": item.sill_at_m if item.sill_at_m is not None else long / 2,
    }[item.sill]
    return min(max(wanted, half), long - half)
