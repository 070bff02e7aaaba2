"""North is turned once and the right way; maps and readouts say what the ground is."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from pyproj import CRS, Geod, Transformer
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.measure import grid_on_earth
from canvas.site.elements.access import Path
from canvas.site.elements.writing import Note
from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.study.as_json import facts_json
from canvas.study.land import Land
from canvas.study.maps import MAP_KINDS
from canvas.study.study import Study
from canvas.study.suns import slope_sun
from canvas.study.tables import slope_shares, stretches, together
from made import EAST, NORTH, plane, study_of

#: Near the edge of a UTM zone convergence is largest: one site in each hemisphere.
EDGES = {
    "south": ("EPSG:32754", 780_000.0, 5_850_000.0),
    "north": ("EPSG:32629", 780_000.0, 4_380_000.0),
}


def study_at(code: str, x: float, y: float, clock_h: float | None = None) -> Study:
    crs = CRS(code)
    land = Land(crs, None, None, grid_on_earth(crs, x, y))
    return Study(Plan([Site(name="Edge", crs=code, clock_h=clock_h)]), land)


@pytest.mark.parametrize("where", EDGES)
def test_sun_azimuth_is_turned_to_the_grid_once(where: str) -> None:
    code, x, y = EDGES[where]
    study = study_at(code, x, y)
    assert abs(study.convergence_deg) > 1.5
    when = datetime.datetime(2026, 6, 21, 2 if where == "south" else 12, tzinfo=datetime.UTC)
    sun = study.sun(when)
    # Walk 10 km towards the sun over the ellipsoid, and see which way that is on the grid.
    earth = study.land.earth
    start = (earth.lon_deg, earth.lat_deg)
    lon, lat, _ = Geod(ellps="WGS84").fwd(*start, sun.true_azimuth_deg, 10_000)
    to_grid = Transformer.from_crs(4326, code, always_xy=True)
    x0, y0 = to_grid.transform(*start)
    x1, y1 = to_grid.transform(lon, lat)
    walked = np.degrees(np.arctan2(x1 - x0, y1 - y0)) % 360
    # Over 10 km the arc-to-chord correction of the projection stays below 0.02 degrees here.
    assert sun.azimuth_deg == pytest.approx(walked, abs=0.02)


def test_noon_stands_in_the_site_s_standard_time() -> None:
    code, x, y = EDGES["south"]
    day = datetime.date(2026, 12, 21)
    stated, guessed = study_at(code, x, y, 9.5).sun_day(day), study_at(code, x, y).sun_day(day)
    assert stated.noon.utcoffset() == datetime.timedelta(hours=9.5)
    # 144.1 E lies nearest to the ten-hour meridian, 150 E.
    assert guessed.noon.utcoffset() == datetime.timedelta(hours=10)
    assert abs(stated.noon - guessed.noon) < datetime.timedelta(seconds=90)


def test_sunny_side_is_north_in_the_south_and_south_in_the_north() -> None:
    for where, sunny in (("south", 0.0), ("north", 180.0)):
        study = study_at(*EDGES[where])
        winter = 5 if where == "south" else 11
        warm = slope_sun(study, 0.3, sunny).ratio[winter]
        cold = slope_sun(study, 0.3, (sunny + 180) % 360).ratio[winter]
        assert warm > 1.2
        assert cold < 0.8


def test_east_and_west_slopes_differ_only_by_the_convergence() -> None:
    study = study_at(*EDGES["south"])
    turn = study.convergence_deg
    east = slope_sun(study, 0.3, (90 - turn) % 360).slope_mj
    west = slope_sun(study, 0.3, (270 - turn) % 360).slope_mj
    assert np.allclose(east, west, rtol=1e-9)


def test_readout_on_a_plane() -> None:
    study = study_of(grid=plane(slope_east=0.03, slope_north=0.04))
    spot = study.readout(EAST + 50, NORTH + 50)
    assert spot.height_m == pytest.approx(100 + 1.5 + 2.0, abs=1e-9)
    assert spot.slope_ratio == pytest.approx(0.05, abs=1e-9)
    # It falls towards the south-west: 180 + atan(3/4).
    assert spot.aspect_deg == pytest.approx(180 + 36.8699, abs=1e-3)
    assert (spot.plus_minus_m, spot.datum) == (0.15, "AHD")
    outside = study.readout(EAST - 50, NORTH - 50)
    assert outside.height_m is None
    assert outside.slope_ratio is None


def test_every_map_covers_the_ground() -> None:
    study = study_of(grid=plane(slope_east=0.03, slope_north=0.04))
    for key in MAP_KINDS:
        answer = study.map(key)
        assert answer.grid.shape == study.land.grid.shape
        # A plane has no hollow, and nothing is dug.
        known = np.isfinite(answer.grid.z[5:-5, 5:-5])
        assert known.any() == known.all() == (key not in ("hollows", "cutfill")), key
    assert study.map("slope") is study.map("slope")


def test_both_gradients_agree_on_a_plane_and_differ_on_a_bump() -> None:
    flat = study_of(grid=plane(slope_north=0.10))
    assert np.allclose(flat.map("slope").grid.z, flat.map("slope_zt").grid.z)
    z = np.zeros((9, 9))
    z[4, 4] = 1.0
    bump = study_of(grid=Grid(z, EAST, NORTH + 9, 1.0))
    # Beside the bump: Horn weighs it 2 in 8, Zevenbergen-Thorne 1 in 2.
    assert bump.map("slope").grid.z[4, 3] == pytest.approx(0.25)
    assert bump.map("slope_zt").grid.z[4, 3] == pytest.approx(0.5)


def test_maps_without_ground_say_so() -> None:
    with pytest.raises(BadData, match="no ground"):
        study_of().map("slope")


def test_contours_stand_at_whole_intervals() -> None:
    study = study_of(grid=plane(slope_north=0.10))
    lines = study.contours(2.5)
    assert sorted(set(lines.level_m)) == pytest.approx([102.5, 105, 107.5, 110, 112.5, 115, 117.5])
    assert study_of().contours(1.0) is None


def test_slope_shares_add_up() -> None:
    shares = slope_shares(study_of(grid=plane(slope_north=0.10)))
    assert sum(row.area_m2 for row in shares) == pytest.approx(200 * 200, rel=1e-9)
    assert [row.letter for row in shares if row.area_m2] == ["C"]


def test_json_keeps_grid_coordinates_in_metres_whatever_the_units() -> None:
    note = Note(geometry=Point(EAST + 10, NORTH + 10), words="here")
    told = facts_json(study_of(note), [note.id])
    east = next(f for f in told["elements"][0]["facts"] if f["key"] == "east_m")
    assert (east["value"], east["unit"]) == (EAST + 10, "m")


def test_stretches_of_a_section_are_mean_grades() -> None:
    study = study_of(grid=plane(slope_north=0.10))
    cut = study.section(LineString([(EAST + 50, NORTH + 10), (EAST + 50, NORTH + 100)]))
    found = stretches(cut, 20.0)
    assert [round(each.to_m - each.from_m, 6) for each in found] == [20, 20, 20, 20, 10]
    assert [each.grade for each in found] == pytest.approx([0.10] * 5)


def test_several_elements_add_up() -> None:
    lines = [Path(geometry=LineString([(EAST, NORTH + y), (EAST + 30, NORTH + y)])) for y in (5, 9)]
    study = study_of(*lines)
    sums = {fact.key: fact.value for fact in together([study.facts(each.id) for each in lines])}
    assert sums["length_m"] == pytest.approx(60.0)
