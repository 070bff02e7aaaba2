"""One spot's sun: its own skyline, the sun's paths over it, and when light reaches it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.sky import kernels
from canvas.sky.crowns import Crowns, sun_through
from canvas.sky.position import apparent_sun, day_times, equation_of_time_min, sun_position
from canvas.sky.walls import Solid, skyline_of

#: A first step of half a cell, then a hundredth of the way come: fine near by, coarse far off.
_GROWTH = 0.01
#: How far the land is followed [m].
FURTHEST_M = 30_000.0


@dataclass(frozen=True, slots=True, eq=False)
class Skyline:
    """What stands round a spot, in even steps from GRID north, shape (n,)."""

    azimuths_deg: Floats
    #: The land, from 0 up [degrees].
    land_deg: Floats
    #: Buildings and walls [degrees]; -90 where there are none.
    solids_deg: Floats

    @property
    def heights_deg(self) -> Floats:
        """Land and solids together."""
        return np.asarray(np.maximum(self.land_deg, self.solids_deg))

    def _at(self, heights: Floats, azimuth_deg: Floats) -> Floats:
        return np.interp(np.asarray(azimuth_deg) % 360.0, self.azimuths_deg, heights, period=360)

    def land_at(self, azimuth_deg: Floats) -> Floats:
        """Return the land's height at azimuths, straight between directions."""
        return self._at(self.land_deg, azimuth_deg)

    @property
    def sky_view(self) -> float:
        """The share of an evenly bright sky's light a level surface there gets."""
        return float(np.mean(np.cos(np.radians(np.maximum(self.heights_deg, 0.0))) ** 2))


def skyline(
    x_m: float,
    y_m: float,
    ground: Grid,
    far: Grid | None = None,
    solids: Sequence[Solid] = (),
    eye_m: float = 0.0,
    directions: int = 360,
) -> Skyline:
    """Return the skyline of a spot `eye_m` above the ground.

    The land is followed outwards in growing steps, over `ground` and then over the coarser `far`
    ground; the Earth's round is counted. Raises `InputError` where there is no ground.
    """
    here = float(ground.sample(x_m, y_m))
    if not math.isfinite(here):
        raise InputError(f"there is no ground at {x_m:.1f}, {y_m:.1f}")
    z = here + eye_m
    azimuths = np.arange(directions) * 360.0 / directions
    distance = _steps(ground, far)
    a = np.radians(azimuths)[:, None]
    x, y = x_m + distance * np.sin(a), y_m + distance * np.cos(a)
    heights = ground.sample(x, y)
    if far is not None:
        heights = np.where(np.isnan(heights), far.sample(x, y), heights)
    rise = heights - z - kernels.BEND * distance**2
    angle = np.degrees(np.arctan2(rise, distance))
    land = np.nan_to_num(np.fmax.reduce(angle, axis=1, initial=0.0))
    return Skyline(azimuths, land, skyline_of(solids, (x_m, y_m, z), azimuths))


def _steps(ground: Grid, far: Grid | None) -> Floats:
    """Return the distances the land is looked at [m]."""
    grids = [ground] if far is None else [ground, far]
    reach = max(math.hypot(g.shape[0], g.shape[1]) * g.cell_m for g in grids)
    reach = min(reach, FURTHEST_M)
    distances, d = [], ground.cell_m / 2
    while d <= reach:
        distances.append(d)
        d += max(ground.cell_m / 2, _GROWTH * d)
    return np.array(distances)


@dataclass(frozen=True, slots=True, eq=False)
class SunPath:
    """The sun's path on one day, above the level horizon; arrays of one length."""

    day: date
    label: str
    #: Hours of solar time (12: due south or north, at its highest).
    solar_h: Floats
    elevation_deg: Floats
    #: From GRID north.
    azimuth_deg: Floats


def sun_paths(lat_deg: float, turn_deg: float = 0.0) -> tuple[SunPath, ...]:
    """Return the paths of the longest day, the equinoxes and the shortest day, with hours to mark.

    The same three arcs serve both hemispheres and the tropics, where the sun passes north and
    south of overhead. `turn_deg` is the grid's convergence.
    """
    days = (
        (date(2025, 6, 21), "21 June"),
        (date(2025, 3, 20), "20 March and 23 September"),
        (date(2025, 12, 21), "21 December"),
    )
    return tuple(sun_path(lat_deg, day, label, turn_deg) for day, label in days)


def sun_path(lat_deg: float, day: date, label: str = "", turn_deg: float = 0.0) -> SunPath:
    """Return the sun's path on a day, every ten minutes of solar time."""
    noon = np.datetime64(day, "us") + np.timedelta64(12, "h")
    # At longitude nought the sun's clock is that of Greenwich but for the equation of time.
    hours = np.arange(0, 24 * 6 + 1) / 6
    when = noon + np.round((hours - 12) * 3.6e9).astype("timedelta64[us]")
    when = when - np.round(equation_of_time_min(when) * 6e7).astype("timedelta64[us]")
    found = sun_position(when, lat_deg, 0.0)
    up = found.elevation_deg > 0
    return SunPath(
        day,
        label or f"{day:%d %B}",
        hours[up],
        found.elevation_deg[up],
        (found.azimuth_deg[up] - turn_deg) % 360.0,
    )


@dataclass(frozen=True, slots=True)
class SunSector:
    """Between which directions the sun passes on one day, from GRID north."""

    label: str
    #: Where it rises and sets on a level horizon; None where it does neither that day.
    rise_deg: float | None
    set_deg: float | None
    #: Its height at noon, and whether it then stands north of overhead.
    noon_deg: float
    noon_north: bool


def sun_sectors(lat_deg: float, turn_deg: float = 0.0) -> tuple[SunSector, SunSector]:
    """Return the sectors of the longest and the shortest day, for a diagram of the site.

    On the equator, where all days are alike, those of June and December.
    """
    found = []
    for day in (date(2025, 6, 21), date(2025, 12, 21)):
        noon = np.asarray(np.datetime64(day, "us") + np.timedelta64(12, "h"))
        decl = float(apparent_sun(noon).declination_deg)
        cosine = math.sin(math.radians(decl)) / max(math.cos(math.radians(lat_deg)), 1e-9)
        rise = sets = None
        if abs(cosine) < 1:
            angle = math.degrees(math.acos(cosine))
            rise, sets = (angle - turn_deg) % 360.0, (-angle - turn_deg) % 360.0
        found.append(SunSector("", rise, sets, 90 - abs(lat_deg - decl), decl > lat_deg))
    june, december = found
    longest, shortest = (june, december) if lat_deg >= 0 else (december, june)
    return replace(longest, label="longest day"), replace(shortest, label="shortest day")


@dataclass(frozen=True, slots=True)
class Lit:
    """A stretch of one day, in the zone asked for."""

    start: datetime
    end: datetime
    #: "sun", "land", "building" or "crown".
    what: str
    #: Share of direct sun that comes through.
    share: float


@dataclass(frozen=True, slots=True)
class SpotDay:
    """When one spot gets sun on one day, from sunrise to sunset on a level horizon."""

    day: date
    stretches: tuple[Lit, ...]
    #: Hours the sun is up, hours it reaches the spot, and the same with crowns' share counted.
    up_h: float
    sun_h: float
    light_h: float


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """A spot on the ground with all that can shade it."""

    x_m: float
    y_m: float
    #: Height of the eye on the ground's datum.
    z_m: float
    around: Skyline
    those: Crowns | None = None
    #: Ground height at each crown's stem.
    stem_z_m: Floats | None = None
    solids: tuple[Solid, ...] = ()


def spot(
    x_m: float,
    y_m: float,
    ground: Grid,
    far: Grid | None = None,
    those: Crowns | None = None,
    solids: Sequence[Solid] = (),
    eye_m: float = 0.0,
) -> Spot:
    """Gather what can shade a spot `eye_m` above the ground."""
    around = skyline(x_m, y_m, ground, far, solids, eye_m)
    z = float(ground.sample(x_m, y_m)) + eye_m
    stems = None
    if those is not None:
        stems = ground.sample(those.x_m, those.y_m)
        stems = np.where(np.isfinite(stems), stems, z - eye_m)
    return Spot(x_m, y_m, z, around, those, stems, tuple(solids))


def light_at(place: Spot, elevation_deg: Floats, azimuth_deg: Floats) -> tuple[Floats, Floats]:
    """Return the share of each sun's light that arrives, and what takes the rest.

    Azimuths from grid north. What: 0 nothing, 1 the land, 2 a building or wall, 3 a crown; 4
    night.
    """
    e = np.asarray(elevation_deg, dtype=np.float64)
    a = np.asarray(azimuth_deg, dtype=np.float64)
    share = np.where(e > 0, 1.0, 0.0)
    what = np.where(e > 0, 0.0, 4.0)
    if place.those is not None and place.stem_z_m is not None and place.those.count:
        seen = sun_through(place.those, place.stem_z_m, (place.x_m, place.y_m, place.z_m), e, a)
        what = np.where((what == 0) & (seen < 1), 3.0, what)
        share = share * seen
    for solid in place.solids:
        top = skyline_of([solid], (place.x_m, place.y_m, place.z_m), a)
        behind = (e > 0) & (e <= top)
        share = np.where(behind, share * solid.through, share)
        what = np.where(behind, 2.0, what)
    hidden = (e > 0) & (e <= place.around.land_at(a))
    return np.where(hidden, 0.0, share), np.where(hidden, 1.0, what)


_WORDS = ("sun", "land", "building", "crown", "night")


def spot_day(
    place: Spot,
    day: date,
    lat_deg: float,
    lon_deg: float,
    zone: tzinfo,
    turn_deg: float = 0.0,
    step_min: float = 5.0,
) -> SpotDay:
    """Return when a spot gets sun on a civil day: stretches of light and what shades it between."""
    when = day_times(day, zone, step_min)[:-1] + np.timedelta64(round(step_min * 3e7), "us")
    sun = sun_position(when, lat_deg, lon_deg)
    share, what = light_at(place, sun.elevation_deg, sun.azimuth_deg - turn_deg)
    each = step_min / 60
    start = datetime.combine(day, datetime.min.time(), tzinfo=zone)
    stretches: list[Lit] = []
    edges = np.flatnonzero(np.diff(what, prepend=-1, append=-1))
    for first, end in itertools.pairwise(edges):
        if what[first] == 4:
            continue
        stretches.append(
            Lit(
                start + timedelta(minutes=float(first) * step_min),
                start + timedelta(minutes=float(end) * step_min),
                _WORDS[int(what[first])],
                float(share[first:end].mean()),
            )
        )
    return SpotDay(
        day,
        tuple(stretches),
        float((what != 4).sum() * each),
        float((what == 0).sum() * each),
        float(share.sum() * each),
    )


def spot_year(
    place: Spot, lat_deg: float, lon_deg: float, zone: tzinfo, turn_deg: float = 0.0
) -> tuple[SpotDay, ...]:
    """Return the spot's sun on the middle day of each month."""
    return tuple(
        spot_day(place, date(2025, month, 15), lat_deg, lon_deg, zone, turn_deg, 10.0)
        for month in range(1, 13)
    )


def crown_outline(
    those: Crowns, n: int, stem_z_m: float, point: tuple[float, float, float], corners: int = 32
) -> Floats | None:
    """Return a crown's outline in the sky as seen from a point: (azimuth, height) [degrees].

    Shape (corners, 2); a round crown's true limb, other forms as the round one of their size.
    None for a crown overhead or around the point.
    """
    centre = np.array(
        [
            those.x_m[n] - point[0],
            those.y_m[n] - point[1],
            stem_z_m + (those.base_m[n] + those.top_m[n]) / 2 - point[2],
        ]
    )
    size = np.array([those.radius_m[n]] * 2 + [(those.top_m[n] - those.base_m[n]) / 2])
    # In units of its own axes the crown is a ball, whose limb is a circle.
    ball = centre / size
    far = float(np.linalg.norm(ball))
    if far <= 1.0 or math.hypot(centre[0], centre[1]) <= size[0]:
        return None
    axis = ball / far
    side = np.cross(axis, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    rise = np.cross(side, axis)
    ring = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    radius = math.sqrt(far**2 - 1) / far
    limb = axis * (far - 1 / far) + radius * (
        np.cos(ring)[:, None] * side + np.sin(ring)[:, None] * rise
    )
    seen = limb * size
    azimuth = np.degrees(np.arctan2(seen[:, 0], seen[:, 1]))
    middle = math.degrees(math.atan2(centre[0], centre[1]))
    # Kept together across north, so that the outline can be drawn as it is.
    azimuth = middle + (azimuth - middle + 180.0) % 360.0 - 180.0
    height = np.degrees(np.arctan2(seen[:, 2], np.hypot(seen[:, 0], seen[:, 1])))
    return np.stack((azimuth, height), axis=-1)
