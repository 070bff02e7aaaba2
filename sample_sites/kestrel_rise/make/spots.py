"""Where a family's design would go on Kestrel Rise: good spots, checked against the ground.

All names hold shapely geometries in the site's CRS (EPSG:7854, metres); levels are of the bare
ground. `tests/sample` measures the claims made here.

- ``HOUSE``: polygon 18 × 10 m, long side to the north, on the level shoulder of the spur
  (257.4 m, 4 %). North of the garden the ground falls away at 20–28 % for about 8 m.
- ``SHED``: polygon 12 × 8 m, upslope of the house beside its track (260.5 m, 9 %).
- ``ENTRY_GATE``: point on the east boundary at the old paddock gate, on Windmill Road.
- ``TRACK``: line by its corners, from the road through the gate to the turning head by the house,
  134 m. The bare ground under its climb is a little over 16 % (at most 18.5 %) for about 20 m: the
  drive is shaped to 12 %.
  ``SHED_TRACK`` goes on to the shed.
- ``GARDEN``: vegetable beds on the level ground north of the house. ``ORCHARD``: polygon on the
  north-facing slope below it (11–18 %). ``PATH``: on foot from house to orchard.
- ``TANK``: point on the spur behind, over 7 m above the house. ``WELL``: point low on the west
  side near the creek flat. ``SEPTIC``: absorption field along the contour north-east of the house,
  over 30 m from the well and 60 m from creek, gullies and ponds. ``BURIED``: water pipe from tank
  to house.
- ``NORTH_HEDGE``: low hedge against the hot north wind, far enough down the slope to keep the
  winter sun. ``SOUTH_WEST_BELT``: windbreak against the cold south-westerly.
- ``FIREBREAK``: ring 4 m wide, 18 m out from house and shed.
- ``ZONES``: polygons by use intensity 0 (house) to 5 (left wild); they share edges, do not
  overlap and together fill the boundary.
"""

from __future__ import annotations

import numpy as np
import shapely
import shapely.affinity

from . import landscape, paths, plan
from .frame import ORIGIN_E, ORIGIN_N

Corners = tuple[tuple[float, float], ...]


def _at(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a local shape in the site's CRS, to the centimetre."""
    return shapely.transform(shape, lambda xy: np.round(xy + np.array([ORIGIN_E, ORIGIN_N]), 2))


def _box(u: float, v: float, long: float, wide: float, turn: float) -> shapely.Polygon:
    """Return a local rectangle on its middle, its length turned from east by degrees."""
    box = shapely.box(u - long / 2, v - wide / 2, u + long / 2, v + wide / 2)
    return shapely.affinity.rotate(box, turn, origin=(u, v))


def _eased(points: Corners, reach: float) -> shapely.LineString:
    """Return a local line through corners rounded over some metres."""
    line = paths.eased(np.array(points, dtype=float), reach)
    return shapely.LineString(line).simplify(0.05)


_BOUNDARY = shapely.Polygon(plan.BOUNDARY)
_HOUSE = _box(14.0, -36.0, 18.0, 10.0, -6.0)
_SHED = _box(0.0, -69.0, 12.0, 8.0, -14.0)
_TRACK = shapely.LineString(
    ((160, -62), (149.3, -61.5), (122, -58), (98, -60), (84, -60), (62, -70), (48, -66), (36, -50))
)
_ORCHARD = shapely.Polygon(((-42, 8), (24, 5), (32, 16), (18, 32), (8, 46), (-44, 42)))
_GARDEN = _box(13.0, -25.0, 17.0, 6.5, -6.0)

HOUSE = _at(_HOUSE)
SHED = _at(_SHED)
ENTRY_GATE = _at(shapely.Point(149.3, -61.5))
TRACK = _at(_TRACK)
SHED_TRACK = _at(shapely.LineString(((36, -50), (24, -56), (16, -60), (10.5, -62))))
PATH = _at(_eased(((5, -34), (-8, -28), (-16, -16), (-14, -3), (-6, 8), (-3, 24), (-4, 40)), 3.0))
ORCHARD = _at(_ORCHARD)
GARDEN = _at(_GARDEN)
TANK = _at(shapely.Point(-16.0, -131.0))
WELL = _at(shapely.Point(-56.0, 46.0))
SEPTIC = _at(_box(37.0, -15.0, 14.0, 6.0, -12.0))
BURIED = _at(shapely.LineString(((-16, -131), (-10, -84), (8, -56), (11, -41))))
NORTH_HEDGE = _at(_eased(((-28, 3), (4, 2), (26, 1)), 4.0))
SOUTH_WEST_BELT = _at(_eased(((-58, -40), (-48, -66), (-30, -90), (-2, -102)), 6.0))
_RING = shapely.union_all([_HOUSE, _SHED]).convex_hull.buffer(18.0)
FIREBREAK = _at(shapely.difference(_RING.buffer(4.0), _RING))


def _zones() -> dict[int, shapely.Geometry]:
    """Return zones 0 to 5, each cut from what the nearer ones leave of the land."""
    land = landscape.load()
    creek = shapely.transform(
        land.named("Kestrel Creek").geometry, lambda xy: xy - np.array([ORIGIN_E, ORIGIN_N])
    )
    wild = shapely.union_all([creek.buffer(20.0), shapely.Polygon(plan.BRACKEN).buffer(4.0)])
    wanted = {
        0: _HOUSE.buffer(4.0, join_style="mitre"),
        1: shapely.union_all([_HOUSE.buffer(15.0), _GARDEN.buffer(3.0), _SHED.buffer(5.0)]),
        2: shapely.union_all([_ORCHARD.buffer(4.0), _RING.buffer(4.0)]).convex_hull,
        5: wild.buffer(-4.0).buffer(4.0),
        4: shapely.Polygon(
            ((-160, -40), (-74, 0), (-60, -44), (-34, -80), (-8, -98), (30, -100), (60, -150),
             (-30, -170), (-160, -90))),
        3: _BOUNDARY,
    }  # fmt: skip
    left, out = _BOUNDARY, {}
    for intensity, shape in wanted.items():
        out[intensity] = shapely.intersection(shape, left)
        left = shapely.difference(left, shape)
    return {k: _largest(_at(out[k].simplify(0.0))) for k in sorted(out)}


def _largest(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a polygon, or several where the zone is in parts worth keeping (over 300 m²)."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 300]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


ZONES = _zones()
