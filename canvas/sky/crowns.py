"""The shade of crowns on sloping ground, as geometry; thousands of trees at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.sources import cites

#: Direct sun let through by a crown in leaf and by a bare one. The figures are the defaults of
#: an open urban-radiation model; measured ranges are 1-5 % and 40-52 % (from memory).
THROUGH_LEAVES = 0.03
THROUGH_TWIGS = 0.50
#: Light taken per leaf area met, leaves turned every way (from memory).
EXTINCTION = 0.5
#: Corners of a shadow's outline.
CORNERS = 32
#: Where ground falls away as steeply as the light, a shadow has no end: it is cut here [m].
LONGEST_M = 300.0

#: Crown forms as round pieces: (height and radius as shares of the crown's, half-height as share).
#: A shadow is the hull of its pieces' shadows.
_DOME = np.linspace(0.0, np.pi / 2, 7)
FORMS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "round": ((0.5, 1.0, 0.5),),
    "column": ((0.0, 1.0, 0.0), (1.0, 1.0, 0.0)),
    "cone": ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
    "dome": tuple((float(np.sin(t)), float(np.cos(t)), 0.0) for t in _DOME),
}


@dataclass(frozen=True, slots=True, eq=False)
class Crowns:
    """Crowns of trees and shrubs; arrays of one length."""

    x_m: Floats
    y_m: Floats
    #: Half the crown's diameter.
    radius_m: Floats
    #: Heights of the crown's bottom and top above the ground at the stem.
    base_m: Floats
    top_m: Floats
    #: Share of direct sun let through.
    through: Floats
    #: A key of `FORMS` each.
    form: NDArray[np.str_]

    @property
    def count(self) -> int:
        """How many there are."""
        return int(self.x_m.size)


def crowns(
    x_m: ArrayLike,
    y_m: ArrayLike,
    diameter_m: ArrayLike,
    top_m: ArrayLike,
    base_m: ArrayLike = 0.0,
    through: ArrayLike = THROUGH_LEAVES,
    form: ArrayLike = "round",
) -> Crowns:
    """Return crowns from their sizes; single values serve all. Empty crowns are left out."""
    arrays = [np.asarray(a, dtype=np.float64) for a in (x_m, y_m, diameter_m, base_m, top_m)]
    x, y, wide, low, high, share, kind = np.broadcast_arrays(
        *arrays, np.asarray(through, dtype=np.float64), np.asarray(form, dtype=np.str_)
    )
    unknown = set(np.unique(kind)) - set(FORMS)
    if unknown:
        raise InputError(f"no crown form called {sorted(unknown)}; forms: {', '.join(FORMS)}")
    keep = (wide > 0) & (high > low)
    x, y, wide, low, high, share, kind = (
        np.atleast_1d(a)[np.atleast_1d(keep)] for a in (x, y, wide, low, high, share, kind)
    )
    return Crowns(x, y, wide / 2, np.maximum(low, 0.0), high, share, kind)


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """How the ground lies at points: rise per metre to the east and to the north."""

    east: Floats
    north: Floats


def lie_at(ground: Grid | None, x_m: Floats, y_m: Floats, reach_m: float = 3.0) -> Lie:
    """Return the ground's lie over `reach_m` either side of points; level where it is unknown."""
    if ground is None:
        return Lie(np.zeros(x_m.shape), np.zeros(x_m.shape))
    d = max(reach_m, ground.cell_m)
    east = (ground.sample(x_m + d, y_m) - ground.sample(x_m - d, y_m)) / (2 * d)
    north = (ground.sample(x_m, y_m + d) - ground.sample(x_m, y_m - d)) / (2 * d)
    return Lie(np.nan_to_num(east), np.nan_to_num(north))


def rise_along(lie: Lie, azimuth_deg: float) -> Floats:
    """Return the ground's rise per metre towards an azimuth; above nought is uphill."""
    a = np.radians(azimuth_deg)
    return np.asarray(lie.east * np.sin(a) + lie.north * np.cos(a))


def pole_shadow_m(height_m: float, elevation_deg: float, rise: float = 0.0) -> float:
    """Return the level length of a pole's shadow on ground rising away from the sun by `rise`.

    Infinite where the ground falls away as steeply as the light.
    """
    steep = float(np.tan(np.radians(elevation_deg))) + rise
    return height_m / steep if steep > 0 else float("inf")


def _steepness(
    those: Crowns, lie: Lie, ground: Grid | None, elevation_deg: float, azimuth_deg: float
) -> Floats:
    """Return tan(elevation) plus the ground's rise under each shadow.

    Over real ground the rise is taken from the stem to the middle of the shadow, found in damped
    rounds, so that a long shadow follows the land it falls on.
    """
    light = float(np.tan(np.radians(elevation_deg)))
    rise = rise_along(lie, azimuth_deg + 180.0)
    middle = (those.base_m + those.top_m) / 2
    reach = those.top_m + those.radius_m * light
    least = reach / LONGEST_M
    if ground is not None:
        a = np.radians(azimuth_deg + 180.0)
        here = ground.sample(those.x_m, those.y_m)
        for _ in range(5):
            far = np.maximum(middle / np.maximum(light + rise, least), 1.0)
            there = ground.sample(those.x_m + far * np.sin(a), those.y_m + far * np.cos(a))
            secant = (there - here) / far
            rise = np.where(np.isfinite(secant), (rise + secant) / 2, rise)
    return np.asarray(np.maximum(light + rise, least))


def crown_shadows(
    those: Crowns,
    elevation_deg: float,
    azimuth_deg: float,
    ground: Grid | None = None,
    lie: Lie | None = None,
    corners: int = CORNERS,
) -> Floats:
    """Return the outlines of the crowns' shadows on the ground, shape (crowns, corners, 2) [m].

    Azimuth from grid north, elevation above nought. `lie` (or `ground`, which also bends long
    shadows to the land) says how the ground slopes; without either it is level. Light falls in
    parallel lines; a crown is a body of revolution, so a round one throws an exact ellipse.
    """
    if not elevation_deg > 0:
        raise InputError(f"no shadows with the sun at {elevation_deg}°")
    if lie is None:
        lie = lie_at(ground, those.x_m, those.y_m)
    light = float(np.tan(np.radians(elevation_deg)))
    steep = _steepness(those, lie, ground, elevation_deg, azimuth_deg)
    across = rise_along(lie, azimuth_deg + 90.0)
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    along_side = np.zeros((those.count, corners, 2))
    for form in np.unique(those.form):
        of = those.form == form
        along_side[of] = _outlines(those, of, FORMS[str(form)], light, steep[of], across[of], angle)
    a = np.radians(azimuth_deg + 180.0)
    u, v = np.array([np.sin(a), np.cos(a)]), np.array([-np.cos(a), np.sin(a)])
    rings = along_side[..., :1] * u + along_side[..., 1:] * v
    rings += np.stack((those.x_m, those.y_m), axis=-1)[:, None, :]
    return np.asarray(rings)


def _outlines(
    those: Crowns,
    of: NDArray[np.bool_],
    pieces: tuple[tuple[float, float, float], ...],
    light: float,
    steep: Floats,
    across: Floats,
    angle: Floats,
) -> Floats:
    """Return outlines (crowns, corners, 2) along and left of the shadow's direction.

    A point s ahead of the stem, w to the left and z up lands at ((z + s tan e - k w) / T, w)
    with k the ground's rise to the left and T = tan e + its rise ahead. Each piece, a flattened
    ball, so becomes an ellipse; per outward direction the furthest ellipse gives the corner.
    """
    r, low = those.radius_m[of], those.base_m[of]
    tall = those.top_m[of] - low
    k = across  # the rise 90° clockwise of the sun: to the left of the shadow
    # Outward directions spaced for an ellipse as long as the shadow, else its ends come out blunt.
    longer = r * steep / (tall / 2 + r * light)
    n = np.stack(
        (np.cos(angle) * longer[:, None], np.broadcast_to(np.sin(angle), (r.size, angle.size)))
    )
    best = np.full((r.size, angle.size), -np.inf)
    out = np.zeros((r.size, angle.size, 2))
    for height, radius, half in pieces:
        a, c = r * radius, tall * half
        ss = (a**2 * (light**2 + k**2) + c**2) / steep**2
        sw = -k * a**2 / steep
        ww = a**2
        middle = (low + tall * height) / steep
        gs = ss[:, None] * n[0] + sw[:, None] * n[1]
        gw = sw[:, None] * n[0] + ww[:, None] * n[1]
        size = np.sqrt(np.maximum(gs * n[0] + gw * n[1], 1e-12))
        reach = middle[:, None] * n[0] + size
        wins = reach > best
        best = np.where(wins, reach, best)
        out[..., 0] = np.where(wins, middle[:, None] + gs / size, out[..., 0])
        out[..., 1] = np.where(wins, gw / size, out[..., 1])
    return out


def chord_m(
    radius_m: float, half_height_m: float, elevation_deg: float, beside: float = 0
) -> float:
    """Return how far a ray runs inside a round crown [m].

    `beside` is how far from the middle it passes, as a share of the way out (0 to 1).
    """
    e = np.radians(elevation_deg)
    across = np.sqrt(np.cos(e) ** 2 / radius_m**2 + np.sin(e) ** 2 / half_height_m**2)
    return float(2 * np.sqrt(max(1 - beside**2, 0.0)) / across)


@cites("monsi_saeki1953")
def through_leaves(leaf_area_density: float, path_m: float, k: float = EXTINCTION) -> float:
    """Return the share of direct light left after a path through leaves [m²/m³] (Beer-Lambert)."""
    return float(np.exp(-k * leaf_area_density * path_m))


def through_of(evergreen: bool, in_leaf: bool) -> float:
    """Return the usual share of direct sun a crown lets through."""
    return THROUGH_LEAVES if evergreen or in_leaf else THROUGH_TWIGS


def leaf_months(mean_c: ArrayLike) -> tuple[bool, ...]:
    """Return for each of 12 months whether deciduous crowns are in leaf (common practice).

    In leaf in months of 10 °C and more on average; in both hemispheres, as the months fall.
    """
    months = np.asarray(mean_c, dtype=np.float64)
    return tuple(bool(t >= 10.0) for t in months)


def sun_through(
    those: Crowns,
    stem_z_m: Floats,
    point: tuple[float, float, float],
    elevation_deg: Floats,
    azimuth_deg: Floats,
) -> Floats:
    """Return the share of each sun's light that reaches a point through the crowns.

    `point` is east, north and height [m]; `stem_z_m` the ground's height at each crown. Crowns
    are cut into eight discs of their own width. Suns below level give 0.
    """
    e = np.asarray(elevation_deg, dtype=np.float64)
    a = np.radians(np.asarray(azimuth_deg, dtype=np.float64))
    up = e > 0
    light = np.tan(np.radians(np.clip(e, 0.05, 89.95)))
    share = np.where(up, 1.0, 0.0)
    dx, dy = those.x_m - point[0], those.y_m - point[1]
    level = stem_z_m - point[2]
    # Only crowns that stand above the lowest sun can matter.
    near = (level + those.top_m) > (np.hypot(dx, dy) - those.radius_m) * light[up].min(initial=90)
    for n in np.flatnonzero(near):
        edges = np.linspace(those.base_m[n], those.top_m[n], 9) + level[n]
        widths = _widths(str(those.form[n])) * those.radius_m[n]
        ahead = dx[n] * np.sin(a) + dy[n] * np.cos(a)
        aside = dx[n] * np.cos(a) - dy[n] * np.sin(a)
        hit = np.zeros(e.shape, dtype=bool)
        for i in range(8):
            # The stretch of the ray within this disc, and its point nearest to the stem.
            start = np.maximum(edges[i], 0.0) / light
            end = np.maximum(edges[i + 1], 0.0) / light
            off = np.clip(ahead, start, end) - ahead
            hit |= (end > 0) & (off**2 + aside**2 < widths[i] ** 2)
        share = np.where(hit, share * those.through[n], share)
    return np.asarray(share)


def _widths(form: str) -> Floats:
    """Return the radius of eight discs from bottom to top, as shares of the crown's."""
    h = (np.arange(8) + 0.5) / 8
    if form == "column":
        return np.ones(8)
    if form == "cone":
        return np.asarray(1 - h)
    return np.asarray(np.sqrt(1 - (2 * h - 1) ** 2) if form == "round" else np.sqrt(1 - h**2))
