"""Land: boundaries, parcels, easements, survey marks, zones."""

from __future__ import annotations

import math

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.ground.traverse import Traverse, read_legs, split_lines, traverse
from canvas.site.elements.land import Easement, Parcel, SiteBoundary, SurveyMark, Zone
from canvas.study.kinds import common
from canvas.study.kinds.shapes import corners
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("site_boundary", "parcel")
def outline_parts(item: SiteBoundary | Parcel, scene: Scene) -> Parts:
    """Return the area, its edge as a line and its corners."""
    shape = item.geometry
    return {"shape": shape, "edge_line": shape.boundary, "corners": corners(shape)}


@parts_of("easement", "zone")
def area_parts(item: Easement | Zone, scene: Scene) -> Parts:
    """Return the area and its edge as a line."""
    return {"shape": item.geometry, "edge_line": item.geometry.boundary}


@parts_of("survey_mark")
def mark_parts(item: SurveyMark, scene: Scene) -> Parts:
    """Return the point."""
    return {"shape": item.geometry}


def _deed_facts(item: SiteBoundary | Parcel, scene: Scene) -> list[Fact]:
    if item.deed_area_m2 is None:
        return []
    found = item.geometry.area / scene.combined_factor**2
    off = found - item.deed_area_m2
    share = off / item.deed_area_m2 if item.deed_area_m2 else None
    return [
        common.area("deed_area_m2", "Area in the deed", item.deed_area_m2, "as written"),
        common.area("deed_difference_m2", "Drawn less deed", off, "at ground level"),
        common.ratio("deed_difference", "Drawn less deed", share, "of the deed area"),
    ]


def traverse_of(item: SiteBoundary, scene: Scene) -> Traverse | None:
    """Return the title legs worked out, or None when there are none."""
    if not item.title_legs.strip():
        return None
    turn = scene.convergence_deg if item.bearings_from == "true" else 0.0
    legs = read_legs(split_lines(item.title_legs))
    return traverse(legs, convergence_deg=turn)


def _legs_facts(item: SiteBoundary, scene: Scene) -> list[Fact]:
    try:
        found = traverse_of(item, scene)
    except BadData as err:
        return [common.words("title_legs", "Title legs", err.text())]
    if found is None:
        return []
    exact = not math.isfinite(found.precision) or found.precision > 1e6
    closing = "closes" if exact else f"1 in {found.precision:.0f}"
    return [
        Fact("misclosure_m", "Misclosure of the title legs", found.misclosure_m, "m", decimals=3),
        common.words("closing_ratio", "Closing ratio", closing),
        common.area("title_area_m2", "Area by the title legs", found.area_m2, "adjusted"),
    ]


@facts_of("site_boundary")
def boundary_facts(item: SiteBoundary, scene: Scene) -> list[Fact]:
    """Return areas, outline, and how they stand to the deed and the title legs."""
    corner_count = len(item.geometry.exterior.coords) - 1
    return [
        *common.area_facts(item.geometry, scene),
        common.count("corners", "Corners", corner_count),
        *_deed_facts(item, scene),
        *_legs_facts(item, scene),
    ]


@facts_of("parcel")
def parcel_facts(item: Parcel, scene: Scene) -> list[Fact]:
    """Return areas, and how they stand to the deed."""
    return [*common.area_facts(item.geometry, scene), *_deed_facts(item, scene)]


@facts_of("easement", reads=("site_boundary",))
def easement_facts(item: Easement, scene: Scene) -> list[Fact]:
    """Return areas, and how much of it burdens the site."""
    facts = common.area_facts(item.geometry, scene)
    inside = sum(
        item.geometry.intersection(b.geometry).area for b in scene.of_kind("site_boundary")
    )
    return [*facts, common.area("area_inside_m2", "Of it inside the boundary", inside)]


@facts_of("survey_mark")
def mark_facts(item: SurveyMark, scene: Scene) -> list[Fact]:
    """Return where it is, its height, and how the ground model differs there."""
    facts = common.point_facts(item.geometry, scene)
    if item.height_m is not None:
        facts.append(Fact("height_m", "Height", item.height_m, "m", plus_minus=item.accuracy_m))
        ground = scene.terrain.height(item.geometry.x, item.geometry.y)
        if ground is not None:
            facts.append(
                Fact(
                    "ground_difference_m",
                    "Ground model less mark",
                    ground - item.height_m,
                    "m",
                    plus_minus=scene.terrain.accuracy_m,
                )
            )
    return facts


@facts_of("zone", reads=("site_boundary",))
def zone_facts(item: Zone, scene: Scene) -> list[Fact]:
    """Return areas, and the share of the site it takes."""
    facts = common.area_facts(item.geometry, scene)
    for boundary in scene.of_kind("site_boundary")[:1]:
        inside = item.geometry.intersection(boundary.geometry).area
        facts.append(
            common.ratio("site_share", "Share of the site", inside / boundary.geometry.area)
        )
    return facts
