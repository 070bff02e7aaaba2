"""What is known about the site as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.base.fact import Fact
from canvas.site.elements.land import SiteBoundary
from canvas.study.counts import counts
from canvas.study.kinds import common

if TYPE_CHECKING:
    from canvas.study.study import Study


def site_facts(study: Study) -> list[Fact]:
    """Return place, grid, ground, areas and counts of a site."""
    return [*_place(study), *_ground(study), *_land(study), *_counts(study)]


def _place(study: Study) -> list[Fact]:
    site, earth = study.plan.site, study.land.earth
    facts = [
        common.words("name", "Site", site.name),
        common.words("crs", "CRS", f"{site.crs} {study.crs.name}"),
        common.words("heights_datum", "Heights datum", site.heights_datum or "not named"),
        common.words("rule_sets", "Rule sets", ", ".join(site.sets()) or "none"),
    ]
    if earth is not None:
        facts += [
            Fact("lon_deg", "Longitude", earth.lon_deg, "deg", decimals=5),
            Fact("lat_deg", "Latitude", earth.lat_deg, "deg", decimals=5),
            Fact(
                "convergence_deg",
                "Grid convergence",
                earth.convergence_deg,
                "deg",
                remark="add to a grid bearing for the true one",
                source="snyder1987",
                decimals=4,
            ),
            Fact("scale_factor", "Scale factor", earth.scale, "ratio", decimals=6,
                 basis="grid to ellipsoid", source="snyder1987"),
            Fact("combined_factor", "Combined factor", earth.combined, "ratio", decimals=6,
                 basis="grid to ground", source="snyder1987"),
        ]  # fmt: skip
    return facts


def _ground(study: Study) -> list[Fact]:
    ground, grid = study.land.ground, study.land.grid
    if study.land.trouble:
        return [common.words("ground", "Ground", study.land.trouble)]
    if ground is None or grid is None:
        return [common.words("ground", "Ground", "none yet")]
    surface = "bare earth" if ground.surface == "bare_earth" else "top of plants and roofs"
    return [
        common.words("ground", "Ground", ground.source or ground.name, surface),
        common.words("ground_surveyed", "Surveyed on", ground.surveyed or "not stated"),
        Fact("ground_cell_m", "Cell size", grid.cell_m, "m"),
        Fact("ground_accuracy_m", "Vertical accuracy", ground.accuracy_m, "m",
             basis="standard error", remark=study.terrain.trust),
    ]  # fmt: skip


def _land(study: Study) -> list[Fact]:
    facts: list[Fact] = []
    for boundary in study.plan.of(SiteBoundary)[:1]:
        facts += common.area_facts(boundary.geometry, study)
    return facts


def _counts(study: Study) -> list[Fact]:
    return [
        common.count(f"count_{each.key}", each.label, each.all, each.words())
        for each in counts(study)
    ]
