"""A track between two points that holds a grade with least earth."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.progress import Progress, silent
from canvas.ground.route import Wish, route
from canvas.site.elements.access import Track
from canvas.study.suggest.proposal import Proposal, share, weighed, where

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Sets of wishes tried: grade as a share of the steepest, and what a cubic metre is worth.
TRIED = ((1.0, 0.5), (1.0, 2.0), (0.8, 0.5))


def suggest_tracks(
    study: Study,
    start_xy_m: tuple[float, float],
    end_xy_m: tuple[float, float],
    *,
    steepest: float = 0.12,
    width_m: float = 3.5,
    radius_m: float = 12.0,
    progress: Progress = silent,
) -> list[Proposal]:
    """Return ways between two points no steeper than `steepest` (ratio), best first.

    Shorter with more earth, longer with less, gentler: as far as they differ. Raises `BadData`
    where there is none at all.
    """
    look = where(
        study, but=("track", "public_road", "platform", "watercourse", "easement", "overhead_line")
    )
    routes = []
    for k, (gentler, worth) in enumerate(TRIED):
        progress(k / len(TRIED), "Searching a way")
        wish = Wish(steepest * gentler, width_m, radius_m, worth)
        try:
            routes.append(
                route(look.ground, start_xy_m, end_xy_m, wish, within=look.within,
                      keep_off=look.keep_off)
            )  # fmt: skip
        except BadData:
            # The gentler wishes may have no way; the first must.
            if k == 0:
                raise
    shortest = min(each.length_m for each in routes)
    least = min(each.earth_m3 for each in routes)
    direct = math.dist(start_xy_m, end_xy_m)
    found: list[Proposal] = []
    for each in routes:
        near = (p.element.geometry for p in found)
        if any(each.line.hausdorff_distance(other) < width_m for other in near):
            continue
        score, parts = weighed(
            [
                ("Short", share(shortest / each.length_m, 0, 1), 1.0),
                ("Little earth", share((least + 1) / (each.earth_m3 + 1), 0, 1), 2.0),
                ("Gentle", 1 - share(each.steepest, 0, steepest * 1.2), 1.0),
            ]
        )
        facts = (
            Fact("length_m", "Length", each.length_m, "m", basis="on the grid"),
            Fact("steepest", "Steepest grade", each.steepest, "%", basis="on the ground"),
            Fact("earth_m3", "Earth, roughly", each.earth_m3, "m3", remark="for comparing"),
            Fact("detour", "Longer than straight by", each.length_m / direct - 1, "%"),
        )
        why = (
            f"{each.length_m:.0f} m, nowhere steeper than {each.steepest:.1%}, about"
            f" {each.earth_m3:.0f} m³ of earth."
        )
        track = Track(geometry=each.line, width_m=width_m, forming="out", radius_m=radius_m)
        found.append(Proposal(track, score, parts, facts, why))
    return sorted(found, key=lambda proposal: -proposal.score)
