"""Maps computed from the ground: what shades the canvas, and what can be exported."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.surface import SLOPE_CLASSES, Method, lit_by, slope_aspect, slope_classes
from canvas.sky import radiation
from canvas.study import waters

if TYPE_CHECKING:
    from canvas.study.study import Study


@dataclass(frozen=True, slots=True)
class MapClass:
    """One class of a map's legend, `low` up to and without `high`, in the map's unit."""

    label: str
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class MapAnswer:
    """A computed map with what is needed to read it."""

    key: str
    label: str
    grid: Grid
    #: A key of `base.quantity.UNITS`; "" for class numbers and brightness.
    unit: str
    #: Classes where the map has them; a continuous map has none.
    classes: tuple[MapClass, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class MapKind:
    """What the desk and the command line offer."""

    key: str
    label: str
    help: str
    work: Callable[..., MapAnswer]
    #: Whether it takes a month (1 to 12, 0 for the year).
    by_month: bool = False


MONTHS = (
    "January", "February", "March", "April", "May", "June", "July",
    "August", "September", "October", "November", "December",
)  # fmt: skip


def _ground(study: Study) -> Grid:
    if study.land.grid is None:
        raise BadData(
            study.land.trouble or "the site has no ground yet",
            remedy="Bring in a terrain model first.",
        )
    return study.land.grid


def _height(study: Study) -> MapAnswer:
    return MapAnswer("height", "Height", _ground(study), "m", note=study.terrain.datum)


def _faces(study: Study) -> tuple[Grid, Grid]:
    _ground(study)
    faces = study.terrain.faces()
    assert faces is not None
    return faces


def _slope(study: Study) -> MapAnswer:
    return MapAnswer("slope", "Slope", _faces(study)[0], "%", note="Horn")


def _smooth_faces(study: Study) -> tuple[Grid, Grid]:
    return slope_aspect(_ground(study), Method.ZEVENBERGEN_THORNE)


def _slope_smooth(study: Study) -> MapAnswer:
    faces = _smooth_faces(study)
    return MapAnswer("slope", "Slope", faces[0], "%", note="Zevenbergen–Thorne")


def _aspect_smooth(study: Study) -> MapAnswer:
    note = "from grid north, Zevenbergen–Thorne"
    return MapAnswer("aspect", "Aspect", _smooth_faces(study)[1], "deg", note=note)


def _classes(study: Study) -> MapAnswer:
    low = 0.0
    legend = []
    for each in SLOPE_CLASSES:
        legend.append(MapClass(f"{each.letter} {each.name}", low, each.below))
        low = each.below
    return MapAnswer(
        "slope_classes", "Slope classes", slope_classes(_faces(study)[0]), "", tuple(legend)
    )


def _aspect(study: Study) -> MapAnswer:
    return MapAnswer("aspect", "Aspect", _faces(study)[1], "deg", note="from grid north, Horn")


def _hillshade(study: Study) -> MapAnswer:
    return MapAnswer("hillshade", "Hill shading", lit_by(_ground(study)), "")


def _energy(study: Study, month: float = 0) -> MapAnswer:
    slope, aspect = _faces(study)
    earth = study.land.earth
    if earth is None:
        raise BadData("the site has no place yet", remedy="Draw or bring in its boundary.")
    number = int(month)
    if not 0 <= number <= 12:
        raise BadData(f"there is no month {number}", remedy="Give 1 to 12, or 0 for the year.")
    level = float(np.nanmean(_ground(study).z))
    asked = {"height_m": level, "turn_deg": earth.convergence_deg}
    if number:
        ratio = radiation.relative_energy(slope, aspect, earth.lat_deg, number, **asked)
    else:
        ratio = radiation.relative_energy_of_year(slope, aspect, earth.lat_deg, **asked)
    when = MONTHS[number - 1] if number else "the year"
    return MapAnswer(
        "energy",
        f"Clear-sky sun, {when}",
        ratio,
        "%",
        note="of what level ground receives; the skyline is not counted",
    )


def _flow(study: Study) -> MapAnswer:
    return MapAnswer(
        "flow",
        "Water gathers",
        waters.flow_of(study).area_m2(),
        "m2",
        note="area that drains through each cell; least where the ground data end",
    )


def _wetness(study: Study) -> MapAnswer:
    found = waters.flow_of(study)
    grid = found.ground.like(waters.wetness_of(found))
    return MapAnswer("wetness", "Wetness index", grid, "ratio", note="ln(area / slope)")


def _hollows(study: Study) -> MapAnswer:
    found = waters.flow_of(study)
    grid = found.ground.like(waters.hollow_depths(found))
    return MapAnswer("hollows", "Hollows", grid, "m", note="depth of water before it spills")


def catchment_map(study: Study, place: BaseGeometry) -> MapAnswer:
    """Return 1 on the cells that drain to a place, no data elsewhere."""
    found = study.catchment(place)
    note = waters.AT_LEAST if found.at_least else ""
    return MapAnswer("catchment", "Catchment", found.grid(), "count", note=note)


MAP_KINDS: dict[str, MapKind] = {
    kind.key: kind
    for kind in (
        MapKind("height", "Height", "Heights of the ground", _height),
        MapKind("slope", "Slope", "Steepness, rise over run (Horn)", _slope),
        MapKind(
            "slope_zt", "Slope, smooth ground", "Steepness (Zevenbergen–Thorne)", _slope_smooth
        ),
        MapKind("slope_classes", "Slope classes", "Steepness in eight classes", _classes),
        MapKind("aspect", "Aspect", "Direction the ground falls to, from grid north", _aspect),
        MapKind(
            "aspect_zt",
            "Aspect, smooth ground",
            "Direction the ground falls to (Zevenbergen–Thorne)",
            _aspect_smooth,
        ),
        MapKind("hillshade", "Hill shading", "Shading under four lamps", _hillshade),
        MapKind(
            "energy", "Sun on the slope", "Clear-sky energy relative to level ground", _energy, True
        ),
        MapKind("flow", "Water gathers", "Area that drains through each cell", _flow),
        MapKind("wetness", "Wetness index", "Where the ground stays wet", _wetness),
        MapKind("hollows", "Hollows", "How deep water can stand before it spills", _hollows),
    )
}


def map_kind(key: str) -> MapKind:
    """Return the kind of map called `key`; `BadData` lists those there are."""
    try:
        return MAP_KINDS[key]
    except KeyError:
        raise BadData(
            f"there is no map called “{key}”", remedy=f"Maps: {', '.join(MAP_KINDS)}, catchment."
        ) from None


def compute(study: Study, key: str, **options: float) -> MapAnswer:
    """Work out a map; options are those the kind takes."""
    kind = map_kind(key)
    if options and not kind.by_month:
        options = {}
    return kind.work(study, **options)
