"""Places for a platform: little earth, sun, and a way to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

from canvas.base.fact import Fact
from canvas.base.progress import Progress, part, silent
from canvas.ground.pad_sites import PadSite, apart, pad_sites
from canvas.site.elements.earthworks import Platform
from canvas.study.suggest.proposal import Proposal, ranked, share, weighed, where

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Distance to a way from which a place counts as out of reach [m]; common practice, no source.
FAR_M = 300.0
#: Places compared by sun and access: those with least earth.
LOOKED_AT = 400


@dataclass(frozen=True, slots=True)
class PadWish:
    """What a platform is to be like."""

    length_m: float = 18.0
    depth_m: float = 12.0
    steepest: float = 0.30


def suggest_platforms(
    study: Study, wish: PadWish | None = None, *, most: int = 5, progress: Progress = silent
) -> list[Proposal]:
    """Return places for a platform, best first: by earth moved, winter sun and access."""
    wish = wish or PadWish()
    look = where(study)
    sites = pad_sites(
        look.ground, wish.length_m, wish.depth_m, within=look.within, keep_off=look.keep_off,
        most_slope=wish.steepest, progress=part(progress, 0.0, 0.6),
    )[:LOOKED_AT]  # fmt: skip
    if not sites:
        return []
    earth = study.land.earth
    month = 6 if earth is not None and earth.lat_deg < 0 else 12
    sun = study.map("energy", month=month, designed=True).grid if earth is not None else None
    ways = [item.geometry for key in ("track", "public_road") for item in study.of_kind(key)]
    access = shapely.union_all(ways) if ways else None
    most_earth = max(site.earth_m3 for site in sites) or 1.0
    rows = []
    for site in sites:
        middle = site.outline.centroid
        energy = float(sun.sample(middle.x, middle.y)) if sun is not None else None
        away = float(site.outline.distance(access)) if access is not None else None
        rows.append((site, energy, away))
    progress(0.9, "Weighing places")
    best_sun = max((energy for _, energy, _ in rows if energy is not None), default=1.0)
    scored = []
    for site, energy, away in rows:
        weights = [("Little earth", 1 - share(site.earth_m3, 0, most_earth), 2.0)]
        if energy is not None:
            weights.append(("Winter sun", share(energy, 0, best_sun), 1.0))
        if away is not None:
            weights.append(("Near a way", 1 - share(away, 0, FAR_M), 1.0))
        score, parts = weighed(weights)
        scored.append((score, parts, site, energy, away))
    scored.sort(key=lambda row: -row[0])
    chosen = {id(site) for site in apart([row[2] for row in scored], most)}
    found = [_proposal(*row) for row in scored if id(row[2]) in chosen]
    return ranked(found, most)


def _proposal(
    score: float,
    parts: tuple[tuple[str, float], ...],
    site: PadSite,
    energy: float | None,
    away: float | None,
) -> Proposal:
    facts = [
        Fact("earth_m3", "Earth cut and filled", site.earth_m3, "m3", basis="under the pad"),
        Fact("drop_m", "Ground falls across it", site.drop_m, "m"),
        Fact("slope", "Slope", site.slope, "%"),
    ]
    why = f"About {site.earth_m3:.0f} m³ of earth under it on a slope of {site.slope:.0%}"
    if energy is not None:
        facts.append(Fact("winter_sun", "Winter sun", energy, "%", basis="of level ground"))
        why += f"; {energy:.0%} of level ground’s winter sun"
    if away is not None:
        facts.append(Fact("access_m", "To the nearest way", away, "m"))
        why += f"; {away:.0f} m from a way"
    return Proposal(Platform(geometry=site.outline), score, parts, tuple(facts), f"{why}.")
