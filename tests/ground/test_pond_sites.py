"""Places for dams: as good as an exhaustive scan finds, apart, and where they may be."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.dam import Bank, behind, dam
from canvas.ground.flow import flow
from canvas.ground.pond import Basin
from canvas.ground.pond_sites import PondWish, pond_sites

CELL = 2.0
WISH = PondWish(heights_m=(3.0,), least_catchment_m2=4000.0, longest_m=70.0)


def narrows() -> Grid:
    """A valley that falls 3 % southward, wide above and narrow at two places."""
    rows, cols = 200, 120
    y = np.arange(rows)[:, None] * CELL
    x = (np.arange(cols)[None, :] - cols / 2 + 0.5) * CELL
    sides = 0.18 + 0.35 * np.exp(-(((y - 250) / 25) ** 2)) + 0.2 * np.exp(-(((y - 120) / 20) ** 2))
    return Grid(100 - 0.03 * y + sides * np.abs(x), 500_000.0, 6_000_000.0, CELL)


def scan(ground: Grid, wish: PondWish) -> tuple[float, float]:
    """Return the best water for earth over dams square to the valley every metre, and its place."""
    basin, best = Basin(ground), (0.0, 0.0)
    middle = ground.west_m + ground.shape[1] * CELL / 2
    for north in np.arange(ground.bounds[1] + 20, ground.bounds[3] - 20, 1.0):
        along = np.arange(-wish.longest_m, wish.longest_m, CELL / 2)
        z = ground.sample(middle + along, np.full(len(along), north))
        crest = float(z.min()) + wish.heights_m[0]
        below = np.flatnonzero(z < crest)
        ends = middle + along[max(below[0] - 1, 0)] - 1, middle + along[below[-1] + 1] + 1
        if ends[1] - ends[0] > wish.longest_m + 2:
            continue
        bank = Bank(
            LineString([(ends[0], north), (ends[1], north)]), crest, wish.width_m, wish.upstream,
            wish.downstream, strip_m=wish.strip_m,
        )  # fmt: skip
        try:
            found = behind(dam(ground, bank), crest - wish.freeboard_m, basin)
        except BadData:
            continue
        if found.holds and found.water_per_earth > best[0]:
            best = found.water_per_earth, float(north)
    return best


@pytest.fixture(scope="module")
def found():
    return pond_sites(flow(narrows()), WISH)


def test_the_best_is_as_good_as_an_exhaustive_scan_finds(found):
    ratio, north = scan(narrows(), WISH)
    assert found[0].water_per_earth >= 0.98 * ratio
    assert found[0].axis.centroid.y == pytest.approx(north, abs=6.0)


def test_places_are_ranked_and_lie_apart(found):
    ratios = [site.water_per_earth for site in found]
    assert ratios == sorted(ratios, reverse=True)
    assert len(found) >= 2
    for i, site in enumerate(found):
        assert all(not site.axis.intersects(other.axis) for other in found[i + 1 :])
    assert all(site.pond.holds for site in found)
    assert all(site.catchment_m2 >= WISH.least_catchment_m2 for site in found)


def test_what_is_kept_is_kept(found):
    best = found[0]
    off = best.axis.buffer(15.0)
    again = pond_sites(flow(narrows()), WISH, keep_off=off)
    assert all(not site.axis.intersects(off) for site in again)
    west, south, east, north = narrows().bounds
    half = shapely.box(west, (south + north) / 2, east, north)
    inside = pond_sites(flow(narrows()), WISH, within=half)
    assert inside
    assert all(half.covers(site.axis) for site in inside)
    assert all(half.covers(shapely.make_valid(site.pond.water.edge())) for site in inside)
