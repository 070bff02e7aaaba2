"""Places for dams along the valleys, by water held for earth placed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.base.progress import Progress, silent
from canvas.base.quantity import area_unit
from canvas.ground.pond_sites import PondSite, PondWish, pond_sites
from canvas.site.elements.ponds import Dam
from canvas.study import waters
from canvas.study.suggest.proposal import Proposal, ranked, share, weighed, where

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Water for earth from which more hardly makes a place better; common practice, no source.
GOOD_RATIO = 8.0
#: Fillings in a dry year from which more is no better: the spillway carries them off.
GOOD_FILLINGS = 3.0
#: Standing trees lost from which one more hardly matters.
MANY_TREES = 10


def suggest_ponds(
    study: Study,
    wish: PondWish | None = None,
    *,
    dry_runoff_mm: float | None = None,
    most: int = 5,
    progress: Progress = silent,
) -> list[Proposal]:
    """Return places for a dam and pond, best first.

    `dry_runoff_mm` is what runs off the catchment in a dry year: places it would not fill are left
    out. Without it the runoff each place needs is told, and nothing is left out for that.
    """
    wish = wish or PondWish()
    look = where(study, but=("water_body", "watercourse"), trees=False)
    sites = pond_sites(
        waters.flow_of(study, designed=True), wish, within=look.within, keep_off=look.keep_off,
        most=4 * most, progress=progress,
    )  # fmt: skip
    trees = [item.geometry for item in study.of_kind("tree") if item.status == "existing"]
    found = []
    for site in sites:
        fillings = None
        if dry_runoff_mm is not None:
            fillings = site.catchment_m2 * dry_runoff_mm / 1000 / site.pond.water.volume_m3
            if fillings < 1:
                continue
        found.append(_proposal(site, wish, fillings, _lost(site, trees)))
    return ranked(found, most)


def _lost(site: PondSite, trees: Sequence[BaseGeometry]) -> int:
    """Return how many standing trees would be drowned or buried."""
    if not trees:
        return 0
    area = shapely.make_valid(site.pond.water.edge()).union(
        shapely.make_valid(site.pond.dam.footprint())
    )
    shapely.prepare(area)
    return int(np.count_nonzero(shapely.intersects(area, np.array(trees, object))))


def _proposal(site: PondSite, wish: PondWish, fillings: float | None, lost: int) -> Proposal:
    water, earth = site.pond.water.volume_m3, site.pond.dam.placed_m3
    needs_mm = 1000 * water / site.catchment_m2
    fill = ("Filled in a dry year", share(fillings, 1, GOOD_FILLINGS), 1.0) if fillings else None
    score, parts = weighed(
        [
            ("Water for earth", share(site.water_per_earth, 0, GOOD_RATIO), 3.0),
            *([fill] if fill else []),
            ("Depth", share(site.pond.water.deepest_m, 0.5, 3.0), 1.0),
            ("Trees kept", 1 - share(lost, 0, MANY_TREES), 1.0),
        ]
    )
    remark = waters.AT_LEAST if site.at_least else ""
    facts = (
        Fact("holds_m3", "Holds", water, "m3"),
        Fact("earth_m3", "Earth placed", earth, "m3", basis="compacted"),
        Fact("water_to_earth", "Water for earth", site.water_per_earth, "ratio"),
        Fact("height_m", "Crest above the ground", site.height_m, "m"),
        Fact("length_m", "Crest length", float(site.axis.length), "m"),
        Fact("deepest_m", "Deepest", site.pond.water.deepest_m, "m"),
        Fact("catchment_m2", "Drains to it", site.catchment_m2, area_unit(site.catchment_m2),
             basis="on the grid", remark=remark),
        Fact("trees_lost", "Standing trees under it", float(lost), "count"),
        Fact("fills_at_mm", "Runoff that fills it", needs_mm, "mm"),
    )  # fmt: skip
    dam = Dam(
        geometry=site.axis, crest_by="level", level_m=round(site.crest_m, 3),
        rise_m=round(site.height_m, 2), strip_m=wish.strip_m,
        sill_below_m=wish.freeboard_m, width_m=wish.width_m, upstream=wish.upstream,
        downstream=wish.downstream,
    )  # fmt: skip
    why = (
        f"{water:.0f} m³ of water for {earth:.0f} m³ of earth; {needs_mm:.0f} mm of runoff from"
        f" its catchment fills it." + (f" {lost} standing trees would be lost." if lost > 1 else "")
    )
    return Proposal(dam, score, parts, facts, why)
