"""Maps computed from the ground: what shades the canvas, and what can be exported."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.flow import Flow
from canvas.ground.spread import spread
from canvas.ground.surface import SLOPE_CLASSES, Method, lit_by, slope_aspect, slope_classes
from canvas.sky import radiation
from canvas.study import waters
from canvas.study.rains import answers as rains
from canvas.study.terrain import Terrain

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
    #: Whether it can be had of the ground as surveyed and as designed.
    of_both: bool = True


@dataclass(frozen=True, slots=True)
class On:
    """The ground a map is made of: as surveyed or as designed."""

    study: Study
    designed: bool

    @property
    def grid(self) -> Grid:
        """Heights; `BadData` while there is no ground."""
        grid = self.terrain.grid
        if grid is None:
            raise BadData(
                self.study.land.trouble or "the site has no ground yet",
                remedy="Bring in a terrain model first.",
            )
        return grid

    @property
    def terrain(self) -> Terrain:
        """The ground asked in many ways."""
        return self.study.terrain_as(designed=self.designed)

    @property
    def flow(self) -> Flow:
        """Where water runs over it."""
        return waters.flow_of(self.study, designed=self.designed)

    def faces(self) -> tuple[Grid, Grid]:
        """Return slope and aspect."""
        assert self.grid is not None
        faces = self.terrain.faces()
        assert faces is not None
        return faces


#: Said of a map of the designed ground.
DESIGNED = "designed ground"
#: Changes of level smaller than this are not shown as dug or filled [m].
LEAST_CHANGE_M = 0.005
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July",
    "August", "September", "October", "November", "December",
)  # fmt: skip


def _height(on: On) -> MapAnswer:
    return MapAnswer("height", "Height", on.grid, "m", note=on.terrain.datum)


def _slope(on: On) -> MapAnswer:
    return MapAnswer("slope", "Slope", on.faces()[0], "%", note="Horn")


def _smooth_faces(on: On) -> tuple[Grid, Grid]:
    return slope_aspect(on.grid, Method.ZEVENBERGEN_THORNE)


def _slope_smooth(on: On) -> MapAnswer:
    return MapAnswer("slope", "Slope", _smooth_faces(on)[0], "%", note="Zevenbergen–Thorne")


def _aspect_smooth(on: On) -> MapAnswer:
    note = "from grid north, Zevenbergen–Thorne"
    return MapAnswer("aspect", "Aspect", _smooth_faces(on)[1], "deg", note=note)


def _classes(on: On) -> MapAnswer:
    low = 0.0
    legend = []
    for each in SLOPE_CLASSES:
        legend.append(MapClass(f"{each.letter} {each.name}", low, each.below))
        low = each.below
    grid = slope_classes(on.faces()[0])
    return MapAnswer("slope_classes", "Slope classes", grid, "", tuple(legend))


def _aspect(on: On) -> MapAnswer:
    return MapAnswer("aspect", "Aspect", on.faces()[1], "deg", note="from grid north, Horn")


def _hillshade(on: On) -> MapAnswer:
    return MapAnswer("hillshade", "Hill shading", lit_by(on.grid), "")


def _energy(on: On, number: int) -> MapAnswer:
    slope, aspect = on.faces()
    earth = on.study.land.earth
    if earth is None:
        raise BadData("the site has no place yet", remedy="Draw or bring in its boundary.")
    if not 0 <= number <= 12:
        raise BadData(f"there is no month {number}", remedy="Give 1 to 12, or 0 for the year.")
    level = float(np.nanmean(on.grid.z))
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


def _cut_fill(on: On) -> MapAnswer:
    assert on.grid is not None
    ground = on.study.designed()
    assert ground is not None
    change = np.where(np.abs(ground.change.z) < LEAST_CHANGE_M, np.nan, ground.change.z)
    note = "designed less existing ground: below 0 is dug, above 0 filled"
    return MapAnswer("cutfill", "Cut and fill", ground.change.like(change), "m", note=note)


def _designed(on: On) -> MapAnswer:
    there = On(on.study, designed=True)
    return MapAnswer("designed", "Designed height", there.grid, "m", note=on.terrain.datum)


def _flow(on: On) -> MapAnswer:
    return MapAnswer(
        "flow",
        "Water gathers",
        on.flow.area_m2(),
        "m2",
        note="area that drains through each cell; least where the ground data end",
    )


def _flow_to(on: On) -> MapAnswer:
    grid = on.flow.ground.like(waters.ways_deg(on.flow))
    return MapAnswer("flow_to", "Way of the water", grid, "deg", note="from grid north, one of 8")


def _spread(on: On) -> MapAnswer:
    note = "area that drains through each cell, shared by two neighbours"
    return MapAnswer("spread", "Water spreads", spread(on.flow).area_m2, "m2", note=note)


def _spread_to(on: On) -> MapAnswer:
    grid = spread(on.flow).azimuth_deg
    return MapAnswer("spread_to", "True way of the water", grid, "deg", note="from grid north")


def _filled(on: On) -> MapAnswer:
    return MapAnswer("filled", "Filled ground", on.flow.filled, "m", note=on.terrain.datum)


def _wetness(on: On) -> MapAnswer:
    grid = on.flow.ground.like(waters.wetness_of(on.flow))
    return MapAnswer("wetness", "Wetness index", grid, "ratio", note="ln(area / slope)")


def _hollows(on: On) -> MapAnswer:
    grid = on.flow.ground.like(waters.hollow_depths(on.flow))
    return MapAnswer("hollows", "Hollows", grid, "m", note="depth of water before it spills")


def rain_map(study: Study, key: str, run: str = "") -> MapAnswer:
    """Return the greatest depth or speed of a kept storm run; "" takes the newest."""
    found = rains.needed(study.rains(), run)
    storm, cell = found.told["storm"]["said"], found.told["cell_m"]
    note = f"{rains.GREATEST}, {storm}, {cell:g} m cells; {rains.MODEL}"
    if key == "rain_speed":
        return MapAnswer(key, "Speed of water", rains.speed_map(found), "m/s", note=note)
    return MapAnswer(key, "Depth of water", rains.depth_map(found), "m", note=note)


def _rain_depth(on: On) -> MapAnswer:
    return rain_map(on.study, "rain_depth")


def _rain_speed(on: On) -> MapAnswer:
    return rain_map(on.study, "rain_speed")


def catchment_map(study: Study, place: BaseGeometry, *, designed: bool = False) -> MapAnswer:
    """Return 1 on the cells that drain to a place, no data elsewhere."""
    found = study.catchment(place, designed=designed)
    notes = [waters.AT_LEAST] if found.at_least else []
    notes += [DESIGNED] if designed else []
    return MapAnswer("catchment", "Catchment", found.grid(), "count", note="; ".join(notes))


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
        MapKind("designed", "Designed height", "Heights with the earthworks built", _designed,
                of_both=False),
        MapKind("cutfill", "Cut and fill", "What is dug and filled", _cut_fill, of_both=False),
        MapKind("flow", "Water gathers", "Area that drains through each cell", _flow),
        MapKind("flow_to", "Way of the water", "Direction of fall, one neighbour (D8)", _flow_to),
        MapKind("spread", "Water spreads", "Area drained, shared by two neighbours (D-infinity)",
                _spread),
        MapKind("spread_to", "True way of the water", "Direction of fall (D-infinity)", _spread_to),
        MapKind("filled", "Filled ground", "Heights with every hollow full", _filled),
        MapKind("wetness", "Wetness index", "Where the ground stays wet", _wetness),
        MapKind("hollows", "Hollows", "How deep water can stand before it spills", _hollows),
    )
}  # fmt: skip

#: Maps of the storm run over the land last; there are none before the first.
RUN_KINDS: dict[str, MapKind] = {
    kind.key: kind
    for kind in (
        MapKind("rain_depth", "Rain on the land: depth",
                "Greatest depth of water in the last storm run", _rain_depth, of_both=False),
        MapKind("rain_speed", "Rain on the land: speed",
                "Greatest speed of water in the last storm run", _rain_speed, of_both=False),
    )
}  # fmt: skip


def map_kind(key: str) -> MapKind:
    """Return the kind of map called `key`; `BadData` lists those there are."""
    every = MAP_KINDS | RUN_KINDS
    try:
        return every[key]
    except KeyError:
        raise BadData(
            f"there is no map called “{key}”", remedy=f"Maps: {', '.join(every)}, catchment."
        ) from None


def compute(study: Study, key: str, *, month: int = 0, designed: bool = False) -> MapAnswer:
    """Work out a map of the ground as surveyed or designed; `month` where the kind takes one."""
    kind = map_kind(key)
    on = On(study, designed and kind.of_both)
    answer: MapAnswer = kind.work(on, month) if kind.by_month else kind.work(on)
    if not on.designed:
        return answer
    return replace(answer, note="; ".join(filter(None, (answer.note, DESIGNED))))
