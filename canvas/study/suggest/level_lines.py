"""Level lines worth a swale: long, high on the land, with much land draining to them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.progress import Progress, silent
from canvas.base.quantity import area_unit
from canvas.ground.catchment import catchment
from canvas.ground.levelline import LevelLine, Limits, level_line
from canvas.ground.surface import slope_aspect
from canvas.site.elements.swales import Swale
from canvas.study import waters
from canvas.study.along_hill import kept
from canvas.study.suggest.proposal import Proposal, Where, ranked, share, weighed, where

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Lines are started from so far apart over the land [m].
EVERY_M = 25.0
MOST_STARTS = 250
#: Lines that run closer to each other than this for most of their length are one and the same.
APART_M = 12.0
#: Room left round what is kept [m].
CLEAR_M = 1.0
#: Shorter ones are not worth a swale; common practice, no source.
SHORTEST_M = 20.0


def suggest_level_lines(
    study: Study,
    *,
    steepest: float = 0.18,
    longest_m: float = 400.0,
    most: int = 5,
    progress: Progress = silent,
) -> list[Proposal]:
    """Return level lines for swales on ground no steeper than `steepest` (ratio), best first.

    Longer, higher and with more land draining to it is better.
    """
    look = where(study, trees=False)
    limits = Limits(
        length_m=longest_m / 2, slope=steepest, within=look.within, obstacles=kept(study),
        clear_m=CLEAR_M,
    )  # fmt: skip
    lines = _traced(look, limits, progress)
    if not lines:
        return []
    flow = waters.flow_of(study, designed=True)
    levels = [float(np.mean(each.level_m)) for each in lines]
    known = look.ground.z[np.isfinite(look.ground.z)]
    low, high = float(known.min()), float(known.max())
    longest = max(each.length_m for each in lines)
    drained = [catchment(flow, each.line) for each in lines]
    areas = [d.area_m2 if d is not None else 0.0 for d in drained]
    most_area = max(areas)
    found = []
    for each, level, area, from_ in zip(lines, levels, areas, drained, strict=True):
        score, parts = weighed(
            [
                ("Length", share(each.length_m, 0, longest), 2.0),
                ("Height on the land", share(level, low, high), 1.0),
                ("Land draining to it", share(area, 0, most_area), 1.0),
            ]
        )
        at_least = from_ is not None and from_.at_least
        facts = (
            Fact("length_m", "Length", each.length_m, "m", basis="on the grid"),
            Fact("level_m", "Level", level, "m", basis=study.terrain.datum,
                 plus_minus=study.terrain.accuracy_m, remark=study.terrain.trust),
            Fact("level_error_m", "Holds level within", each.error_m, "m"),
            Fact("catchment_m2", "Drains to it", area, area_unit(area), basis="on the grid",
                 remark=waters.AT_LEAST if at_least else ""),
        )  # fmt: skip
        why = f"{each.length_m:.0f} m on the level, with {area / 10_000:.1f} ha draining to it."
        swale = Swale(geometry=each.line, lip_m=round(level, 3))
        found.append(Proposal(swale, score, parts, facts, why))
    return ranked(found, most)


def _traced(look: Where, limits: Limits, progress: Progress) -> list[LevelLine]:
    """Return level lines from all over the land, the longest first, none twice."""
    lines: list[LevelLine] = []
    starts = _starts(look, limits)
    for k, (x, y) in enumerate(starts):
        progress(k / max(len(starts), 1), "Tracing level lines")
        try:
            line = level_line(look.ground, float(x), float(y), limits)
        except BadData:
            continue
        free = look.keep_off is None or not line.line.intersects(look.keep_off)
        if line.length_m >= SHORTEST_M and free:
            lines.append(line)
    lines.sort(key=lambda each: -each.length_m)
    kept_: list[LevelLine] = []
    for line in lines:
        if all(not _same(line.line, other.line) for other in kept_):
            kept_.append(line)
    return kept_


def _starts(look: Where, limits: Limits) -> np.ndarray:
    """Return where lines are started from, (n, 2)."""
    area = look.within if look.within is not None else shapely.box(*look.ground.bounds)
    west, south, east, north = area.bounds
    step = max(EVERY_M, float(np.sqrt((east - west) * (north - south) / MOST_STARTS)))
    x, y = np.meshgrid(
        np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step)
    )
    x, y = x.ravel(), y.ravel()
    slope = slope_aspect(look.ground)[0].sample(x, y)
    keep = shapely.contains_xy(area, x, y) & (slope <= limits.slope)
    return np.column_stack((x[keep], y[keep]))


def _same(line: LineString, other: LineString) -> bool:
    """Return whether a shorter line runs beside a longer one for most of its length."""
    beside = line.intersection(other.buffer(APART_M))
    return bool(beside.length > 0.5 * line.length)
