"""What must hold of sun, shade and climate whatever the place: mirrored hemispheres mirror, …"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from canvas.base.grid import Grid
from canvas.ground.surface import slope_aspect
from canvas.sky.climate_record import Normals, Station
from canvas.sky.crop_water import soil_days
from canvas.sky.crowns import FORMS, Lie, crown_shadows, crowns, pole_shadow_m, sun_through
from canvas.sky.design_rain import design_rain
from canvas.sky.et import hargreaves_of_months, reference_of_months
from canvas.sky.horizon import code_of, height_of, horizons, sky_view
from canvas.sky.koppen import koppen
from canvas.sky.rain import aridity, as_span, effective_dependable, effective_scs
from canvas.sky.seasons import season_windows
from canvas.sky.spot import skyline
from canvas.sky.sunhours import a_month, sun_energy, sun_hours, suns
from canvas.sky.walls import Solid, solid_shadow

SMALL = settings(max_examples=25, deadline=None)


def hills(seed: int, size: int = 40) -> Grid:
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:size, 0:size]
    z = np.zeros((size, size))
    for _ in range(4):
        k = rng.uniform(-0.25, 0.25, 2)
        z += rng.uniform(1, 8) * np.sin(k[0] * row + k[1] * col + rng.uniform(0, 6))
    return Grid(z, 0, size, 1.0)


@SMALL
@given(st.integers(0, 10_000), st.floats(-60, 60), st.integers(1, 12))
def test_mirrored_land_under_a_mirrored_sun(seed: int, lat: float, month: int) -> None:
    """Land and sun flipped north for south: the same light on every cell."""
    north = hills(seed)
    south = north.like(north.z[::-1])
    of = suns(a_month(month), lat, 0.0)
    mirrored = replace(of, azimuth_deg=(180.0 - of.azimuth_deg) % 360.0)
    a, b = horizons(north, directions=16), horizons(south, directions=16)
    # Lines may pass a cell's middle on the other side, half a cell off.
    hours = sun_hours(a, of).z - sun_hours(b, mirrored).z[::-1]
    assert np.abs(hours).mean() < 0.02
    faces_n, faces_s = slope_aspect(north), slope_aspect(south)
    energy_n = sun_energy(a, *faces_n, of).z
    energy_s = sun_energy(b, *faces_s, mirrored).z[::-1]
    assert np.abs(energy_n - energy_s).mean() < 0.05
    assert sky_view(a, *faces_n).z == pytest.approx(sky_view(b, *faces_s).z[::-1], abs=0.02)


@SMALL
@given(st.integers(0, 10_000), st.floats(0, 45), st.sampled_from([6, 12]))
def test_hemispheres_mirror(seed: int, lat: float, month: int) -> None:
    """The same half a year later in the other hemisphere, at the turns of the sun.

    (At other times the two halves of the year, unequal for the Earth's oval path, differ by up to
    1° of the sun's height, and by 7 % of its strength.)
    """
    north = hills(seed)
    south = north.like(north.z[::-1])
    here, there = suns(a_month(month), lat, 0.0), suns(a_month(18 - month), -lat, 0.0)
    a, b = horizons(north, directions=16), horizons(south, directions=16)
    assert np.abs(sun_hours(a, here).z - sun_hours(b, there).z[::-1]).mean() < 0.15
    energy_n = sun_energy(a, *slope_aspect(north), here).z
    energy_s = sun_energy(b, *slope_aspect(south), there).z[::-1]
    assert abs(energy_n.mean() / energy_s.mean() - 1) < 0.09


@SMALL
@given(st.integers(0, 10_000), st.integers(1, 3))
def test_turning_the_land_turns_the_horizon(seed: int, quarters: int) -> None:
    land = hills(seed)
    turned = land.like(np.rot90(land.z, -quarters))  # clockwise
    a, b = horizons(land, directions=8), horizons(turned, directions=8)
    for k in range(0, 8, 2):
        rotated = np.rot90(a.codes[k], -quarters)
        assert height_of(rotated) == pytest.approx(
            height_of(b.codes[(k + 2 * quarters) % 8]), abs=0.01
        )


@SMALL
@given(st.integers(0, 10_000), st.floats(0.5, 30))
def test_a_higher_wall_never_lets_more_sun_in(seed: int, more: float) -> None:
    land = hills(seed)
    z = land.z.copy()
    z[:, 30] += more
    low, high = horizons(land, directions=16), horizons(land.like(z), directions=16)
    of = suns(a_month(3), 40.0, 0.0)
    before, after = sun_hours(low, of).z[:, :28], sun_hours(high, of).z[:, :28]
    assert np.all(after <= before + 1e-5)


@SMALL
@given(st.integers(0, 10_000), st.integers(5, 34), st.integers(5, 34))
def test_hours_lie_between_none_and_the_day(seed: int, row: int, col: int) -> None:
    land = hills(seed)
    of = suns(a_month(6), -34.0, 20.0)
    hours = sun_hours(horizons(land, directions=16), of).z
    assert hours.min() >= 0
    assert hours.max() <= float(of.hours.sum() / of.period.length_days) + 1e-4
    x, y = float(land.x_m()[col]), float(land.y_m()[row])
    view = skyline(x, y, land, directions=36).sky_view
    assert 0 <= view <= 1


@given(st.lists(st.floats(0, 89.9), min_size=2, max_size=20))
def test_codes_keep_the_order_of_heights(heights: list[float]) -> None:
    codes = code_of(np.sort(np.array(heights)))
    assert np.all(np.diff(codes) >= 0)


@given(st.floats(0.5, 25), st.floats(5, 80), st.floats(0.5, 9.5), st.floats(-0.05, 0.4))
def test_shadows_shorten_as_the_sun_climbs(
    height: float, elevation: float, climb: float, rise: float
) -> None:
    low = pole_shadow_m(height, elevation, rise)
    assert pole_shadow_m(height, elevation + climb, rise) < low
    # And uphill they are shorter than on the level, downhill longer.
    level = pole_shadow_m(height, elevation)
    assert (low - level) * rise <= 1e-9


@SMALL
@given(
    st.sampled_from(list(FORMS)), st.floats(8, 70), st.floats(0, 360), st.floats(-0.2, 0.2),
    st.floats(-0.2, 0.2),
)  # fmt: skip
def test_crown_shadows_shrink_and_stay_convex(
    form: str, elevation: float, azimuth: float, gx: float, gy: float
) -> None:
    tree = crowns(3.0, -2.0, 5.0, 9.0, 2.0, form=form)
    if np.tan(np.radians(elevation)) < np.hypot(gx, gy) + 0.02:
        return
    ground = Lie(np.array([gx]), np.array([gy]))
    far = []
    for up in (elevation, elevation + 10):
        shape = shapely.Polygon(crown_shadows(tree, up, azimuth, lie=ground)[0])
        assert shape.is_valid
        assert shapely.convex_hull(shape).area == pytest.approx(shape.area, rel=1e-6)
        far.append(shape.hausdorff_distance(shapely.Point(3, -2)))
    assert far[1] <= far[0] + 1e-6


@SMALL
@given(st.floats(10, 80), st.floats(0, 360), st.floats(-0.15, 0.15), st.floats(-0.15, 0.15))
def test_a_house_shades_at_least_its_floor(
    elevation: float, azimuth: float, gx: float, gy: float
) -> None:
    ring = np.asarray(shapely.get_coordinates(shapely.box(-5, -4, 5, 4).exterior))
    for up in (elevation, min(elevation + 8, 89)):
        shade = solid_shadow(Solid(ring, np.full(5, 4.0), 0.0, gx, gy), up, azimuth)
        assert shade.buffer(1e-6).covers(shapely.box(-5, -4, 5, 4))
        longest = 6.5 + 6 / np.tan(np.radians(up)) / max(1 - 0.22 / np.tan(np.radians(up)), 0.02)
        assert shade.hausdorff_distance(shapely.Point(0, 0)) <= longest + 7


@SMALL
@given(st.floats(0, 1), st.floats(0, 1), st.floats(5, 85), st.floats(0, 360))
def test_crowns_never_make_light(one: float, two: float, elevation: float, azimuth: float) -> None:
    trees = crowns([2.0, -3.0], [4.0, 1.0], 6.0, 9.0, 1.0, through=[one, two])
    got = sun_through(
        trees, np.zeros(2), (0.0, 0.0, 0.0), np.array([elevation]), np.array([azimuth])
    )[0]
    assert one * two - 1e-9 <= got <= 1


climates = st.tuples(
    st.lists(st.floats(-20, 32), min_size=12, max_size=12),
    st.lists(st.floats(3, 18), min_size=12, max_size=12),
    st.lists(st.floats(0, 400), min_size=12, max_size=12),
)


def months(climate: tuple[list[float], list[float], list[float]], lat: float = 40.0) -> Normals:
    low, span, rain = (np.array(each) for each in climate)
    columns = {"tmin_c": low, "tmax_c": low + span, "rain_mm": rain}
    return Normals(Station(lat, 200.0), columns)


@SMALL
@given(climates)
# Nights at which 28 days hold 0.096 frosts and 31 days 0.106: once counted by the calendar month.
@example(([8.113] * 12, [15.0] * 12, [100.0] * 12))
def test_windows_move_by_six_months(climate: tuple[list[float], list[float], list[float]]) -> None:
    north = months(climate)
    et = hargreaves_of_months(north).mm
    a = season_windows(north, et)
    b = season_windows(north.rolled(6), np.roll(et, 6))
    for one, two in zip(a.windows, b.windows, strict=True):
        # The wet season starts after the driest month: ties may fall either way.
        if one.key not in ("trees", "tender", "earthworks"):
            assert {(m + 5) % 12 + 1 for m in one.months} == set(two.months)


@SMALL
@given(climates)
def test_a_class_never_depends_on_the_hemisphere(
    climate: tuple[list[float], list[float], list[float]],
) -> None:
    north = months(climate)
    t, p = north.mean_c, north.need("rain_mm")
    if abs(t[3:9].sum() - np.delete(t, range(3, 9)).sum()) > 1e-6:
        assert koppen(t, p).code == koppen(np.roll(t, 6), np.roll(p, 6)).code


@SMALL
@given(climates, st.floats(-65, 65))
def test_evapotranspiration_is_sound(
    climate: tuple[list[float], list[float], list[float]], lat: float
) -> None:
    record = months(climate, lat)
    found = reference_of_months(record)
    assert np.all(np.isfinite(found.mm))
    assert np.all((found.mm >= 0) & (found.mm < 600))
    assert len(found.estimated) == 3
    windy = Normals(record.station, {**record.columns, "wind_ms": np.full(12, 8.0)})
    # More wind can't wet the air: with dry air it takes more.
    assert reference_of_months(windy).mm.sum() >= 0.8 * found.mm.sum()


@given(st.floats(0, 2000), st.floats(0.01, 50))
def test_effective_rain_is_part_of_the_rain(rain: float, more: float) -> None:
    for effective in (effective_scs, effective_dependable):
        got = float(effective(rain))
        assert 0 <= got <= rain + 1e-9
        assert float(effective(rain + more)) >= got - 1e-9


@given(st.floats(0, 5000), st.floats(1, 3000))
def test_drier_is_drier(rain: float, et: float) -> None:
    names = ["hyper-arid", "arid", "semi-arid", "dry sub-humid", "humid"]
    assert names.index(aridity(rain, et).name) >= names.index(aridity(rain * 0.5, et).name)


@given(st.sets(st.integers(1, 12)))
def test_spans_hold_the_months(given_months: set[int]) -> None:
    held = []
    for first, last in as_span(tuple(sorted(given_months))):
        held += [(first - 1 + n) % 12 + 1 for n in range((last - first) % 12 + 1)]
    assert sorted(held) == sorted(given_months)


@SMALL
@given(
    st.lists(st.floats(0, 60), min_size=30, max_size=90),
    st.floats(0, 9),
    st.floats(20, 200),
    st.floats(0.1, 0.8),
    st.booleans(),
)
def test_water_is_neither_made_nor_lost(
    rain: list[float], use: float, store: float, p: float, watered: bool
) -> None:
    got = soil_days(
        np.array(rain), np.full(len(rain), use), store, p, 0.0, p * store if watered else None
    )
    change = got.depleted[-1]
    into = sum(rain) + got.irrigated.sum()
    assert into - got.used.sum() - got.drained.sum() == pytest.approx(-change, abs=1e-6)
    assert np.all((got.depleted >= 0) & (got.depleted <= store + 1e-9))


@SMALL
@given(st.lists(st.floats(5, 300), min_size=10, max_size=40), st.floats(1.05, 3))
def test_rarer_rain_is_deeper_and_scales(top: list[float], factor: float) -> None:
    found = design_rain(top)
    assert np.all(np.diff(found.depth_mm) >= -1e-9)
    more = design_rain(np.array(top) * factor)
    assert more.depth_mm == pytest.approx(found.depth_mm * factor, rel=1e-9, abs=1e-9)
