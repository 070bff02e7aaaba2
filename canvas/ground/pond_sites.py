"""Where a dam holds most: places along the valleys, by water held for earth placed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.base.progress import Progress, silent
from canvas.ground.dam import Bank, Pond, behind, dam
from canvas.ground.flow import Flow
from canvas.ground.pond import Basin
from canvas.ground.valleys import DrainageLine, drainage_lines

#: The valley's direction is taken over this stretch [m].
ALONG_M = 30.0
#: Axes tried beside the square one, degrees off it.
TURNS = (-30.0, -15.0, 0.0, 15.0, 30.0)
#: Firm ground a dam's ends run into beyond its crest [m].
INTO_BANK_M = 1.0


@dataclass(frozen=True, slots=True)
class PondWish:
    """What a pond is to be like."""

    #: Crest above the valley's floor, each tried [m].
    heights_m: tuple[float, ...] = (2.0, 3.0, 4.0)
    #: Full water below the crest [m].
    freeboard_m: float = 0.9
    width_m: float = 3.0
    upstream: float = 3.0
    downstream: float = 2.5
    #: Topsoil taken off under the dam [m].
    strip_m: float = 0.15
    #: Longest crest [m].
    longest_m: float = 80.0
    least_catchment_m2: float = 20_000.0
    least_volume_m3: float = 100.0
    #: Places are looked at so far apart along the valleys [m], then nearer the best.
    every_m: float = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class PondSite:
    """One place for a dam."""

    axis: LineString
    crest_m: float
    #: Crest above the lowest ground on the axis.
    height_m: float
    pond: Pond
    catchment_m2: float
    #: Its catchment touches the data's edge.
    at_least: bool

    @property
    def water_per_earth(self) -> float:
        """Water held for earth placed."""
        return self.pond.water_per_earth


@dataclass(frozen=True, slots=True)
class _Station:
    line: int
    distance_m: float


def pond_sites(
    found: Flow,
    wish: PondWish,
    *,
    within: Polygon | MultiPolygon | None = None,
    keep_off: BaseGeometry | None = None,
    most: int = 5,
    progress: Progress = silent,
) -> list[PondSite]:
    """Return places for dams along the drainage lines, most water for its earth first.

    Dam and water lie `within` an area and off another; the water stays behind the dam. Places
    are looked at every few metres, then anew round the best; of places nearer to each other than
    a crest is long only the better is named.
    """
    lines = drainage_lines(found, wish.least_catchment_m2)
    search = _Search(found, wish, lines, within, keep_off)
    stations = [
        _Station(i, float(d))
        for i, each in enumerate(lines)
        for d in np.arange(wish.every_m / 2, each.line.length, wish.every_m)
    ]
    sites: list[tuple[PondSite, _Station, float]] = []
    for k, station in enumerate(stations):
        progress(0.8 * k / max(len(stations), 1), "Trying places along the valleys")
        sites.extend((site, station, turn) for site, turn in search.at(station, TURNS))
    sites.sort(key=lambda row: -row[0].water_per_earth)
    refined = []
    for k, (site, station, turn) in enumerate(_apart(sites, 3 * most)):
        progress(0.8 + 0.2 * k / (3 * most), "Looking closer at the best")
        refined.append(max([site, *search.near(station, turn)], key=lambda s: s.water_per_earth))
    refined.sort(key=lambda site: -site.water_per_earth)
    return [row[0] for row in _apart([(site, None, 0.0) for site in refined], most)]


def _apart(rows: Iterable[tuple[PondSite, _Station | None, float]], most: int) -> list:  # type: ignore[type-arg]
    """Return the first rows whose dams lie apart from those before them."""
    kept: list[tuple[PondSite, _Station | None, float]] = []
    for row in rows:
        middle = row[0].axis.interpolate(0.5, normalized=True)
        if all(middle.distance(k[0].axis) > max(k[0].axis.length / 2, 15.0) for k in kept):
            kept.append(row)
        if len(kept) == most:
            break
    return kept


class _Search:
    """Tries dams on one ground."""

    def __init__(
        self,
        found: Flow,
        wish: PondWish,
        lines: Sequence[DrainageLine],
        within: BaseGeometry | None,
        keep_off: BaseGeometry | None,
    ) -> None:
        self.found, self.wish, self.lines = found, wish, lines
        self.ground = found.ground
        self.within, self.keep_off = within, keep_off
        self.basin = Basin(found.ground)

    def at(self, station: _Station, turns: Iterable[float]) -> list[tuple[PondSite, float]]:
        """Return what dams at a station would hold, one for each height and turn that can be."""
        line = self.lines[station.line].line
        middle = line.interpolate(station.distance_m)
        if self.within is not None and not shapely.contains(self.within, middle):
            return []
        back = line.interpolate(max(station.distance_m - ALONG_M / 2, 0.0))
        on = line.interpolate(min(station.distance_m + ALONG_M / 2, line.length))
        across = math.atan2(on.y - back.y, on.x - back.x) + math.pi / 2
        sites = []
        for turn in turns:
            angle = across + math.radians(turn)
            for height in self.wish.heights_m:
                site = self._site(middle, angle, height)
                if site is not None:
                    sites.append((site, turn))
        return sites

    def near(self, station: _Station, turn: float) -> list[PondSite]:
        """Return what dams close to a station would hold, turned by little either way."""
        step, length = self.wish.every_m / 4, self.lines[station.line].line.length
        places = (station.distance_m + k * step for k in (-2, -1, 0, 1, 2))
        turns = (turn - 7.5, turn, turn + 7.5)
        return [
            site
            for place in places
            if 0 < place < length
            for site, _ in self.at(_Station(station.line, place), turns)
        ]

    def _site(self, middle: Point, angle: float, height: float) -> PondSite | None:
        wish, ground = self.wish, self.ground
        half = wish.longest_m
        along = np.arange(-half, half + 1e-9, ground.cell_m / 2)
        x, y = middle.x + along * math.cos(angle), middle.y + along * math.sin(angle)
        z = ground.sample(x, y)
        axis, crest = _span(np.column_stack((x, y)), z, len(along) // 2, height)
        if axis is None or axis.length > wish.longest_m + 2 * INTO_BANK_M:
            return None
        if self.within is not None and not shapely.covers(self.within, axis):
            return None
        if self.keep_off is not None and axis.intersects(self.keep_off):
            return None
        bank = Bank(axis, crest, wish.width_m, wish.upstream, wish.downstream, strip_m=wish.strip_m)
        try:
            pond = behind(dam(ground, bank), crest - wish.freeboard_m, self.basin)
        except BadData:
            return None
        if not pond.holds or pond.water.volume_m3 < wish.least_volume_m3 or not self._free(pond):
            return None
        cell = ground.cell_at(middle.x, middle.y)
        assert cell is not None  # the axis has levels there
        near = _window(self.found.count, cell)
        area = float(near.max()) * ground.cell_m**2
        at_least = bool(_window(self.found.at_least, cell).any())
        return PondSite(axis, crest, height, pond, area, at_least)

    def _free(self, pond: Pond) -> bool:
        """Return whether the water lies where it may."""
        if self.within is None and self.keep_off is None:
            return True
        edge = shapely.make_valid(pond.water.edge())
        if self.within is not None and not shapely.covers(self.within, edge):
            return False
        return self.keep_off is None or not edge.intersects(self.keep_off)


def _window(values: np.ndarray, cell: tuple[int, int]) -> np.ndarray:
    row, col = cell
    return values[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]


def _span(xy: Floats, z: Floats, middle: int, height: float) -> tuple[LineString | None, float]:
    """Return the stretch of a line through a hollow that lies below a crest, and the crest.

    The crest stands so high above the lowest ground; its ends run a little into the banks.
    """
    floor = z[middle]
    if np.isnan(floor):
        return None, 0.0
    for _ in range(3):
        crest = floor + height
        below = z < crest
        if not below[middle]:
            return None, 0.0
        first, last = middle, middle
        while first > 0 and below[first]:
            first -= 1
        while last < len(z) - 1 and below[last]:
            last += 1
        if first == 0 or last == len(z) - 1 or np.isnan(z[first : last + 1]).any():
            return None, 0.0
        lowest = float(z[first : last + 1].min())
        if lowest >= floor - 0.01:
            break
        floor = lowest
    step = float(np.hypot(*(xy[1] - xy[0])))
    more = max(round(INTO_BANK_M / step), 1)
    ends = xy[max(first - more, 0)], xy[min(last + more, len(xy) - 1)]
    return LineString(ends), float(floor + height)
