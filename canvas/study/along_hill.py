"""Water works along the hill: what is kept in their way, soaking away, their neighbours, flows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.ground.bank import Works
from canvas.ground.frames import line_points
from canvas.site.elements.swales import Drain, Swale
from canvas.site.records import Element
from canvas.study.pits import nearest_pit
from canvas.water import soak
from canvas.water.sections import Parabola, Trapezoid, roughnesses

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: Kinds a traced line goes round when they are to stay, by the parts that count.
KEPT = {
    "tree": ("root_zone", "stem"),
    "building": ("wall", "shape"),
    "tank": ("body",),
    "well": ("body",),
    "septic_tank": ("shape",),
    "septic_field": ("field",),
    "water_body": ("shape",),
}
#: Water works a traced line ends at, by the part they cover: it can't run through them.
WATER_WORKS = ("swale", "drain", "level_sill", "dam", "dug_pond")
#: Room round a point to be kept [m]; common practice, no source.
POINT_M = 1.0
#: Places along a line from which neighbours are looked for.
PLACES = 25
#: Hydraulic roughness by the key of the lining.
N_OF = {"bare": "bare soil", "rock": "riprap"}
GRASSED = "grassed"


def kept(scene: Scene, but: str = "") -> tuple[Polygon | MultiPolygon, ...]:
    """Return what is to stay where it is: trees' root zones, buildings, tanks, fields, ponds."""
    found: list[Polygon | MultiPolygon] = []
    for key, names in KEPT.items():
        for item in scene.of_kind(key):
            if item.id == but or (key == "tree" and item.status != "existing"):
                continue
            parts = scene.parts(item.id)
            shape = next((parts[n] for n in names if n in parts and not parts[n].is_empty), None)
            if shape is None:
                continue
            if not shape.area > 0:
                shape = shape.buffer(POINT_M)
            if isinstance(shape, Polygon | MultiPolygon):
                found.append(shape)
    return tuple(found)


def water_works(scene: Scene, but: str = "") -> BaseGeometry:
    """Return the ground other water works cover, with the water they hold."""
    covers = []
    for key in WATER_WORKS:
        for item in scene.of_kind(key):
            if item.id != but:
                parts = scene.parts(item.id)
                covers += [parts[name] for name in ("toe", "water") if name in parts]
    return shapely.union_all([each for each in covers if each.area > 0])


def half_width_m(works: Works) -> float:
    """Return how far from its line the work reaches on even ground, on its wider side."""
    bank = works.bank
    return works.crest_m + bank.top_m / 2 + bank.outer * bank.height_m


@dataclass(frozen=True, slots=True)
class Filled:
    """A channel with its bank as one section, asked at a depth of water over the bed."""

    works: Works
    hill_slope: float

    @property
    def full_m(self) -> float:
        """Depth at which it starts to spill."""
        return self.works.channel.depth_m + self.works.full_m

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area."""
        return self.works.area_m2(depth_m - self.works.channel.depth_m, self.hill_slope)

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""
        channel, over = self.works.channel, depth_m - self.works.channel.depth_m
        if over <= 0:
            return channel.width_m(depth_m)
        return channel.top_m + self.works.berm_m + over * self.works.bank.inner + self._hill_m(over)

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter."""
        works, channel = self.works, self.works.channel
        over = depth_m - channel.depth_m
        if over <= 0:
            return channel.wetted_m(depth_m)
        bank = over * math.hypot(1.0, works.bank.inner)
        return channel.wetted_m(channel.depth_m) + works.berm_m + bank + self._hill_m(over, True)

    def _hill_m(self, over_m: float, along: bool = False) -> float:
        """Return how far the water lies up the hill's side, flat or along the ground."""
        cut, slope = self.works.cut_batter, self.hill_slope
        gentler = 1 / slope - cut if slope > 0 else math.inf
        start = self.works.channel.top_m / 2 / gentler if 0 < gentler < math.inf else math.inf
        under = min(over_m, start)
        if not along:
            return under * cut + (over_m - under) / slope if over_m > under else under * cut
        above = (over_m - under) * math.hypot(1.0, 1 / slope) if over_m > under else 0.0
        return under * math.hypot(1.0, cut) + above


def soaking_mm_h(item: Swale, scene: Scene) -> tuple[float, float | None, str]:
    """Return the rate to design with, the other source's mean if there is one, and whence.

    Measured at the swale, else in the nearest test pit, else by texture.
    """
    if item.soaks_mm_h is not None:
        return soak.design_rate_mm_h(item.soaks_mm_h), None, "half the measured rate"
    near = nearest_pit(item.geometry, scene)
    if near is not None and near.pit.soaked is not None:
        rate = soak.design_rate_mm_h(near.pit.soaked.soaks_mm_h)
        return rate, None, f"half of what was measured in {near.basis}"
    texture = soak.textures()[item.texture]
    other = sum(texture.basic_mm_h) / 2 if texture.basic_mm_h else None
    return texture.ksat_mm_h, other, f"{texture.label.lower()}, not measured"


def water_section(item: Drain) -> Trapezoid | Parabola:
    """Return a drain's channel, its sides going on above the lip, as flow asks for it."""
    if item.shape == "trapezoid":
        return Trapezoid.even(item.bottom_m, item.side)
    return Parabola(item.top_m, item.depth_m)


def roughness(item: Drain) -> float:
    """Return Manning's n: as given, else of the lining."""
    known = roughnesses()
    return item.roughness if item.roughness is not None else known[N_OF.get(item.lining, GRASSED)]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The next work of a kind up or down the hill."""

    ident: str
    horizontal_m: float
    vertical_m: float


def neighbours(
    item: Element, level_m: float, others: Sequence[tuple[Element, float]]
) -> tuple[Neighbour | None, Neighbour | None]:
    """Return the next above and the next below, from (element, level) pairs.

    Only what lies beside it counts: places whose nearest point on the other is not its end.
    """
    line = item.geometry
    assert isinstance(line, LineString)
    run = float(line.length)
    spots = shapely.line_interpolate_point(line, np.linspace(0, run, PLACES))
    found: dict[bool, Neighbour] = {}
    for other, level in others:
        if other.id == item.id:
            continue
        apart = beside_m(spots, other.geometry)
        if apart is None:
            continue
        above = level > level_m
        known = found.get(above)
        if known is None or apart < known.horizontal_m:
            found[above] = Neighbour(other.id, apart, abs(level - level_m))
    return found.get(True), found.get(False)


def beside_m(spots: np.ndarray, other: BaseGeometry) -> float | None:
    """Return the middle distance from places to a line they lie beside; None when they don't."""
    if not isinstance(other, LineString):
        return None
    long = line_points(other)[1][-1]
    at = shapely.line_locate_point(other, spots)
    beside = (at > 1e-6) & (at < long - 1e-6)
    if beside.sum() < len(spots) / 5:
        return None
    return float(np.median(shapely.distance(spots[beside], other)))
