"""Shadows of buildings, walls and fences on sloping ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid

#: A shadow is cut here where the ground falls away as steeply as the light [m].
LONGEST_M = 300.0


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A building: upright walls round an outline, a roof on top; or a wall along a line.

    Heights count on the ground's datum. `gx`, `gy` are the ground's rise per metre east and north
    around it, and `ground_m` its height at the middle of the outline.
    """

    #: Corners (n, 2); closed for a building (last = first), open for a wall.
    outline: Floats
    #: Height of the wall's top at each corner, shape (n,).
    top_m: Floats
    ground_m: float
    gx: float = 0.0
    gy: float = 0.0
    #: Ridge or other high points of the roof (m, 3), x, y, height.
    ridge: Floats | None = None
    #: Share of direct sun let through (0 for masonry, more for a paling fence).
    through: float = 0.0
    closed: bool = True

    @property
    def middle(self) -> Floats:
        """The mean of its corners, where the ground's plane is pinned."""
        corners = self.outline[:-1] if self.closed else self.outline
        return np.asarray(corners.mean(axis=0))


def _plane(outline: Floats, ground: Grid | None) -> tuple[float, float, float]:
    """Return the ground's height at the outline's middle and its rise east and north.

    The plane that fits the ground's heights at the corners and around the outline best.
    """
    middle = outline.mean(axis=0)
    if ground is None:
        return 0.0, 0.0, 0.0
    size = float(np.ptp(outline, axis=0).max()) / 2 + 3.0
    ring = middle + size * np.array(
        [[np.sin(a), np.cos(a)] for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)]
    )
    points = np.concatenate((outline, ring))
    z = ground.sample(points[:, 0], points[:, 1])
    known = np.isfinite(z)
    if known.sum() < 3:
        return 0.0, 0.0, 0.0
    left = np.column_stack((np.ones(known.sum()), points[known] - middle))
    fit = np.linalg.lstsq(left, z[known], rcond=None)[0]
    return float(fit[0]), float(fit[1]), float(fit[2])


def building(
    outline: shapely.Polygon,
    height_m: float,
    ground: Grid | None = None,
    ridge: BaseGeometry | None = None,
    ridge_m: float = 0.0,
) -> Solid:
    """Return a building: level eaves `height_m` above the ground at the outline's middle.

    `ridge`, a line or point, stands `ridge_m` above the same ground.
    """
    if outline.is_empty:
        raise InputError("a building has an outline")
    ring = np.asarray(shapely.get_coordinates(outline.exterior))
    z, gx, gy = _plane(ring[:-1], ground)
    roof = None
    if ridge is not None:
        at = shapely.get_coordinates(ridge)
        roof = np.column_stack((at, np.full(len(at), z + ridge_m)))
    return Solid(ring, np.full(len(ring), z + height_m), z, gx, gy, roof)


def wall(
    line: shapely.LineString, height_m: float, ground: Grid | None = None, through: float = 0.0
) -> Solid:
    """Return a wall or fence along a line, its top `height_m` above the ground below it."""
    if line.is_empty:
        raise InputError("a wall runs along a line")
    path = np.asarray(shapely.get_coordinates(line))
    z, gx, gy = _plane(path, ground)
    foot = z + (path - path.mean(axis=0)) @ np.array([gx, gy])
    if ground is not None:
        sampled = ground.sample(path[:, 0], path[:, 1])
        foot = np.where(np.isfinite(sampled), sampled, foot)
    return Solid(path, foot + height_m, z, gx, gy, None, through, closed=False)


def thrown(solid: Solid, points: Floats, elevation_deg: float, azimuth_deg: float) -> Floats:
    """Return where points (n, 3) of a solid throw their shadow on its plane of ground, (n, 2).

    A point at or below the ground stays where it is.
    """
    a = np.radians(azimuth_deg + 180.0)
    ahead = np.array([np.sin(a), np.cos(a)])
    light = np.tan(np.radians(elevation_deg))
    rise = solid.gx * ahead[0] + solid.gy * ahead[1]
    foot = solid.ground_m + (points[:, :2] - solid.middle) @ np.array([solid.gx, solid.gy])
    above = np.maximum(points[:, 2] - foot, 0.0)
    run = above / np.maximum(light + rise, np.maximum(above, 1e-9) / LONGEST_M)
    return np.asarray(points[:, :2] + run[:, None] * ahead)


def solid_shadow(solid: Solid, elevation_deg: float, azimuth_deg: float) -> BaseGeometry:
    """Return the ground shaded by a solid, its own outline included; azimuth from grid north.

    Every wall's shadow and the roof's, joined; so an L-shaped house keeps its sunny corner.
    """
    if not elevation_deg > 0:
        raise InputError(f"no shadows with the sun at {elevation_deg}°")
    tops = thrown(solid, np.column_stack((solid.outline, solid.top_m)), elevation_deg, azimuth_deg)
    feet = solid.outline
    sides = np.stack((feet[:-1], feet[1:], tops[1:], tops[:-1]), axis=1)
    parts: list[BaseGeometry] = [shapely.MultiPoint(each).convex_hull for each in sides]
    if solid.closed:
        parts += [shapely.Polygon(feet), shapely.Polygon(tops)]
        parts += _roof(solid, tops, elevation_deg, azimuth_deg)
    whole = [p if p.is_valid else shapely.make_valid(p) for p in parts]
    return shapely.union_all([p for p in whole if p.area > 0])


def _roof(
    solid: Solid, tops: Floats, elevation_deg: float, azimuth_deg: float
) -> list[BaseGeometry]:
    """Return the shadow of what stands above the eaves."""
    if solid.ridge is None:
        return []
    high = thrown(solid, solid.ridge, elevation_deg, azimuth_deg)
    if shapely.Polygon(solid.outline).convex_hull.area < 1.01 * shapely.Polygon(solid.outline).area:
        return [shapely.MultiPoint(np.concatenate((tops, high))).convex_hull]
    # Without knowing the planes of the roof: from each wall's top to the nearest high point.
    hulls = []
    for i in range(len(tops) - 1):
        middle = (solid.outline[i] + solid.outline[i + 1]) / 2
        nearest = int(np.argmin(np.hypot(*(solid.ridge[:, :2] - middle).T)))
        hulls.append(shapely.MultiPoint([tops[i], tops[i + 1], high[nearest]]).convex_hull)
    return hulls


def skyline_of(
    solids: Sequence[Solid], point: tuple[float, float, float], azimuths_deg: Floats
) -> Floats:
    """Return how high solids stand above level [degrees] at azimuths, as seen from a point.

    Shape of `azimuths_deg` (from grid north); -90 where there is nothing. Solids that let light
    through count by the same outline: see `Solid.through`.
    """
    a = np.radians(azimuths_deg)
    ray = np.stack((np.sin(a), np.cos(a)))
    best = np.full(a.shape, -90.0)
    for solid in solids:
        for start, end in _edges(solid):
            p, d = start[:2] - point[:2], end[:2] - start[:2]
            cross = ray[0] * d[1] - ray[1] * d[0]
            with np.errstate(divide="ignore", invalid="ignore"):
                far = (p[0] * d[1] - p[1] * d[0]) / cross
                along = (p[0] * ray[1] - p[1] * ray[0]) / cross
                hit = (far > 1e-6) & (along >= 0) & (along <= 1)
                z = start[2] + (end[2] - start[2]) * along - point[2]
                height = np.degrees(np.arctan2(z, far))
            best = np.where(hit & (height > best), height, best)
    return best


def _edges(solid: Solid) -> list[tuple[Floats, Floats]]:
    """Return the upper edges light can be cut by: wall tops and the ridge, as (x, y, z) pairs."""
    tops = np.column_stack((solid.outline, solid.top_m))
    edges = [(tops[i], tops[i + 1]) for i in range(len(tops) - 1)]
    if solid.ridge is not None:
        edges += [(solid.ridge[i], solid.ridge[i + 1]) for i in range(len(solid.ridge) - 1)]
        # Gable ends: from the ridge's ends down to the corners of the nearest wall.
        for end in (solid.ridge[0], solid.ridge[-1]):
            reach = np.hypot(*(solid.outline[:-1] - end[:2]).T)
            edges += [(end, tops[i]) for i in np.argsort(reach)[:2]]
    return edges
