"""What is on and about the land already, as elements of a plan."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from canvas.site.elements.access import PublicRoad, Track
from canvas.site.elements.building import Building, Fence, Gate
from canvas.site.elements.land import Easement, Parcel, SiteBoundary, SurveyMark
from canvas.site.elements.services import OverheadLine
from canvas.site.elements.vegetation import Tree, Vegetation
from canvas.site.elements.water import Tank, WaterBody, Watercourse
from canvas.site.records import Element

from . import plan
from .frame import ORIGIN_E, ORIGIN_N
from .landscape import Feature, Landscape

#: Trees this far beyond the boundary still matter to the plan.
TREES_BEYOND_M = 28.0
#: Everything else this far.
BEYOND_M = 150.0

COVERS = {
    "bracken": "scrub",
    "scrub": "scrub",
    "tussock grass": "grass",
    "stubble": "crop",
    "reeds": "reeds",
    "open eucalypt woodland": "woodland",
}
#: Trees in the way of the house or dead beside the drive.
FELLED = 1.0


def slug(words: str) -> str:
    """Return a name as an identity."""
    return "".join(c if c.isalnum() else "_" for c in words.lower()).strip("_")


def parts(shape: shapely.Geometry) -> list[Any]:
    """Return the simple parts of a geometry."""
    return list(shapely.get_parts(shape))


def clear(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a shape to the centimetre, valid."""
    tidy = shapely.set_precision(shape, 0.01)
    return tidy if tidy.is_valid else shapely.make_valid(tidy)


def elements(land: Landscape, ground: Any) -> Iterator[Element]:
    """Yield everything surveyed; `ground` gives levels for the marks."""
    yield boundary(land)
    yield from parcels(land)
    yield from marks(land, ground)
    near = land.boundary.buffer(BEYOND_M)
    for number, feature in enumerate(land.features):
        if feature.kind == "tree":
            if land.boundary.buffer(TREES_BEYOND_M).contains(feature.geometry):
                yield tree(feature)
        elif feature.geometry.intersects(near):
            yield from other(feature, number, near)


def boundary(land: Landscape) -> SiteBoundary:
    """Return the boundary with its title legs, rounded as a title plan prints them."""
    corners = list(land.boundary.exterior.coords)
    legs = []
    for (x0, y0), (x1, y1) in itertools.pairwise(corners):
        bearing = math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360
        degrees, minutes = divmod(round(bearing * 60), 60)
        legs.append(f"{degrees}°{minutes:02d}′ {math.dist((x0, y0), (x1, y1)):.2f}")
    return SiteBoundary(
        id="boundary",
        name="Kestrel Rise",
        geometry=land.boundary,
        title_ref="Lot 3, invented plan of subdivision",
        deed_area_m2=74_100.0,
        title_legs="\n".join(legs),
    )


def parcels(land: Landscape) -> Iterator[Parcel]:
    """Yield our lot and the neighbour's to the north."""
    yield Parcel(id="lot_3", name="Lot 3", geometry=land.boundary, use="Grazing")
    u, v = 22.0, 147.0
    north = [(u, v), (150, 137), (156, 240), (150, 330), (4, 330), (10, 250)]
    shape = Polygon([(ORIGIN_E + a, ORIGIN_N + b) for a, b in north])
    yield Parcel(
        id="lot_2", name="Lot 2", geometry=shape, owner="neighbour", use="Dwelling and grazing"
    )


def marks(land: Landscape, ground: Any) -> Iterator[SurveyMark]:
    """Yield a peg at every corner, two control points and a benchmark."""
    for number, (x, y) in enumerate(list(land.boundary.exterior.coords)[:-1], start=1):
        yield SurveyMark(id=f"peg_{number}", name=f"Peg {number}", geometry=Point(x, y), mark="peg")
    places = {
        "benchmark": ("BM 1", "benchmark", (143.0, -66.0), 0.02),
        "control_1": ("CP 1", "control", (-22.0, -104.0), 0.03),
        "control_2": ("CP 2", "control", (118.0, 96.0), 0.03),
    }
    for ident, (name, mark, (u, v), accuracy) in places.items():
        x, y = ORIGIN_E + u, ORIGIN_N + v
        level = round(float(ground.sample(x, y)) + 0.04, 2)
        yield SurveyMark(
            id=ident,
            name=name,
            geometry=Point(x, y),
            mark=mark,
            height_m=level,
            accuracy_m=accuracy,
        )


def tree(feature: Feature) -> Tree:
    """Return a surveyed tree; dead ones are to come down."""
    facts = feature.facts
    alive = facts["alive"]
    return Tree(
        id=slug(feature.name),
        geometry=feature.geometry,
        owner=feature.owner,
        status="existing" if alive else "remove",
        species=facts["species"],
        height_m=facts["height_m"],
        crown_m=facts["crown_m"],
        mature_crown_m=facts["crown_m"],
        mature_height_m=facts["height_m"],
        stem_cm=float(facts["stem_cm"]),
        remark="" if alive else "Dead: fell before the fire season, leave the log on the ground.",
    )


def other(feature: Feature, number: int, near: shapely.Geometry) -> Iterator[Element]:
    """Yield the elements of a feature that is no tree, cut to what is near."""
    for place, shape in enumerate(parts(clear(feature.geometry.intersection(near)))):
        if shape.geom_type not in ("Point", "LineString", "Polygon"):
            continue
        ident = f"{slug(feature.kind)}_{number}" + (f"_{place}" if place else "")
        made = one(feature, shape, ident)
        if made is not None:
            yield made


def one(feature: Feature, shape: Any, ident: str) -> Element | None:  # noqa: PLR0911
    """Return the element of one simple shape; None for what the plan doesn't show."""
    facts = feature.facts
    name = feature.name[:1].upper() + feature.name[1:]
    same = {"id": ident, "name": name, "owner": feature.owner, "status": "existing"}
    match feature.kind:
        case "fence":
            return Fence(geometry=shape.simplify(0.02), height_m=facts["height_m"], **same)
        case "gate":
            bearing = (90.0 - facts["along_deg"]) % 180
            return Gate(geometry=shape, width_m=facts["width_m"], bearing_deg=bearing, **same)
        case "building":
            return Building(
                geometry=shape,
                use=facts["use"],
                wall_height_m=facts["wall_m"],
                ridge_height_m=facts["ridge_m"],
                **same,
            )
        case "tank":
            across = facts["across_m"]
            litres = math.pi * across**2 / 4 * facts["height_m"] * 1000
            return Tank(
                geometry=shape.centroid,
                diameter_m=across,
                height_m=facts["height_m"],
                volume_l=round(litres, -2),
                **same,
            )
        case "overhead line":
            same["name"] = "Rural power line"
            return OverheadLine(
                geometry=shape, voltage_kv=12.7, spread_m=0.0, height_m=plan.WIRE_LOW_M, **same
            )
        case "easement":
            return Easement(geometry=shape, purpose="power", beneficiary="Network company", **same)
        case "public road":
            return PublicRoad(
                geometry=shape.simplify(0.05), width_m=facts["width_m"], surface="gravel", **same
            )
        case "track":
            return track(feature, shape, same)
        case "watercourse":
            return Watercourse(
                geometry=shape.simplify(0.1), flow="seasonal", width_m=facts["bed_m"], **same
            )
        case "water body":
            return WaterBody(geometry=shape, body="dam", depth_m=facts["depth_m"], **same)
        case "vegetation":
            return vegetation(feature, shape, same)
    return None


def track(feature: Feature, shape: LineString, same: dict[str, Any]) -> Track:
    """Return an old wheel track, or the neighbour's drive."""
    ours = feature.owner == "ours"
    if ours:
        same["remark"] = "Two wheel marks in the grass; left to grow over once the drive is built."
        same["status"] = "remove"
    width = feature.facts["width_m"]
    return Track(
        geometry=shape.simplify(0.05),
        width_m=width,
        clear_width_m=width,
        surface=feature.facts["surface"],
        fire_access=False,
        **same,
    )


def vegetation(feature: Feature, shape: Polygon | MultiPolygon, same: dict[str, Any]) -> Vegetation:
    """Return a patch of what grows there."""
    cover = COVERS[feature.facts["cover"]]
    crowns = 0.35 if cover == "woodland" else None
    return Vegetation(
        geometry=shape.simplify(0.3),
        cover=cover,
        height_m=feature.facts["height_m"],
        crown_cover=crowns,
        **same,
    )
