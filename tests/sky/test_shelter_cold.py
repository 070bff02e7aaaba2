"""Shelter behind windbreaks, cold-air classes, warm sides and real skies."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.surface import slope_aspect
from canvas.sky.cloud import diffuse_share, real_sun
from canvas.sky.cold_air import FROST_CLASSES, cold_dams, frost_risk, position_index
from canvas.sky.examples import example
from canvas.sky.warm_side import aspect_name, heat_load, side
from canvas.sky.windbreak import open_wind, shelter, strip_kc

LINE = shapely.LineString([(0, 0), (200, 0)])


def test_bands_lie_behind_the_break() -> None:
    found = shelter(LINE, 8.0, 0.5, 0.0)  # wind from the north
    assert found.reach_m == 80
    assert found.design.bounds == pytest.approx((8, -80, 192, 0), abs=1e-6)
    assert [b.shape.bounds[1] for b in found.bands[1:]] == pytest.approx(
        [-40, -80, -120, -160, -240], abs=1e-6
    )
    upwind = found.bands[0]
    assert (upwind.from_h, upwind.to_h) == (-5, 0)
    assert upwind.shape.bounds[3] == pytest.approx(40)
    winds = [b.wind for b in found.bands[1:]]
    assert winds == sorted(winds)


def test_an_oblique_wind_shelters_a_narrower_strip() -> None:
    found = shelter(LINE, 8.0, 0.5, 60.0)
    # Square to the line by the cosine of 60 degrees.
    assert found.design.bounds[1] == pytest.approx(-40, abs=1e-6)
    along = shelter(LINE, 8.0, 0.5, 90.0)
    assert along.design.is_empty


def test_what_a_break_should_know() -> None:
    short = shelter(shapely.LineString([(0, 0), (30, 0)]), 8.0, 0.9, 0.0)
    assert any("ten heights" in n for n in short.notes)
    assert any("eddies" in n for n in short.notes)
    assert "fuel" in short.caution
    with pytest.raises(InputError):
        shelter(LINE, 0.0, 0.5, 0.0)
    with pytest.raises(InputError):
        open_wind(5, 0.0)


def test_open_wind() -> None:
    # 0.50 at ten heights behind a break of 40 to 60 % (EC1763, from memory).
    assert open_wind(10, 0.5) == pytest.approx(0.50, abs=0.05)
    assert open_wind(35, 0.5) == 1
    # A thin break does little, and less than a fair one.
    assert open_wind(5, 0.05) > 0.9
    # Solid ones let the wind back soonest.
    assert open_wind(10, 1.0) > open_wind(10, 0.5)


def test_water_of_a_strip() -> None:
    assert strip_kc(6, 3) == 2.5
    assert strip_kc(6, 8) == pytest.approx(1.95)


def slope_with_a_hollow() -> tuple[Grid, Grid, Grid, Grid]:
    """A crest, a long even slope to the south ending on near level ground, a hollow halfway."""
    row, col = np.mgrid[0:300, 0:100]
    z = np.where(row < 250, 0.15 * (250 - row), 0.0) + 0.0 * col
    z += np.where(row < 60, -0.30 * (60 - row), 0.0)
    z = np.where(row >= 250, 0.004 * (300 - row) - 0.2, z)
    hole = np.hypot(row - 160, col - 50) < 6
    level = float(z[166, 50])
    filled = np.where(hole, np.maximum(level, z - 3.0), z)
    z = np.where(hole, level - 1.0, z)
    ground = Grid(z, 0, 300, 1.0)
    above = ground.like((np.abs(row - 60) + 1.0) * 100.0)
    return ground, ground.like(filled), slope_aspect(ground)[0], above


def test_cold_air_gathers_low() -> None:
    ground, filled, slope, above = slope_with_a_hollow()
    risk = frost_risk(ground, filled, slope, above).z
    labels = [c.label for c in FROST_CLASSES]
    assert labels[int(risk[160, 50])] == "frost pocket"
    assert labels[int(risk[153, 50])] == "frost pocket"  # within 2 m of its outlet
    assert labels[int(risk[175, 50])] == "ordinary"  # below it the air has run out
    assert labels[int(risk[280, 20])] == "likely pool"
    assert labels[int(risk[150, 15])] == "ordinary"
    assert labels[int(risk[60, 15])] == "thermal belt"
    with pytest.raises(InputError):
        frost_risk(ground, filled, slope, Grid(np.zeros((2, 2)), 0, 0, 1.0))


def test_position_on_a_slope() -> None:
    ground = Grid(np.fromfunction(lambda r, c: 0.1 * r + 0 * c, (60, 60)), 0, 60, 5.0)
    assert position_index(ground).z == pytest.approx(np.zeros((60, 60)), abs=1e-9)
    hill = Grid(-np.fromfunction(lambda r, c: np.hypot(r - 30, c - 30), (61, 61)), 0, 61, 5.0)
    assert position_index(hill).z[30, 30] > 5
    z = hill.z.copy()
    z[0, 0] = np.nan
    assert np.isnan(position_index(hill.like(z)).z[0, 0])


def test_a_hedge_across_the_slope_dams() -> None:
    ground, _, _, above = slope_with_a_hollow()
    across = shapely.LineString([(10, 90), (90, 90)])
    down = shapely.LineString([(20, 180), (20, 60)])
    found = cold_dams(
        ground, above, [across, down, across, across], [2, 2, 0.5, 2], [0.9, 0.9, 0.9, 0.3]
    )
    assert [d.index for d in found] == [0]
    # One to three heights uphill, which is north.
    assert found[0].shape.bounds == pytest.approx((10, 92, 90, 96), abs=0.2)
    assert cold_dams(ground, above.like(np.full(above.shape, 100.0)), [across], [2], [0.9]) == ()


def test_sides_of_the_hill() -> None:
    assert aspect_name(10, 350) == "N"
    assert aspect_name(10, 44) == "NE"
    assert aspect_name(2, 44) == "flat"
    assert (side(38, 15, 180), side(-38, 15, 180)) == ("warm", "cool")
    assert (side(38, 15, 10), side(-38, 15, 10)) == ("cool", "warm")
    assert (side(38, 15, 90), side(5, 15, 10), side(38, 1, 10)) == ("between", "tropical", "flat")


@pytest.mark.parametrize(
    ("lat", "slope", "aspect", "index"),
    # Handbook, from the formula in two open implementations.
    [
        (38, 20, 225, 0.9657), (38, 20, 45, 0.5135), (38, 20, 180, 1.0196), (38, 20, 0, 0.6523),
        (38, 0, 0, 0.8022), (-34, 20, 315, 1.0022), (-34, 20, 135, 0.5646),
    ],
)  # fmt: skip
def test_heat_load(lat: float, slope: float, aspect: float, index: float) -> None:
    assert float(heat_load(lat, slope, aspect)) == pytest.approx(index, abs=1e-4)


def test_skies_are_cloudier_where_days_and_nights_are_alike() -> None:
    moist, desert = (real_sun(example(k).normals) for k in ("cool_moist", "hot_desert"))
    assert np.all(moist.share < desert.share)
    assert np.all((desert.share > 0.5) & (desert.share <= 1))
    assert "estimated" in moist.how
    assert np.all(np.diff(diffuse_share(np.linspace(0.1, 0.85, 20))) <= 1e-9)


def test_measured_sun_comes_first() -> None:
    from dataclasses import replace

    base = example("cool_moist").normals
    hours = replace(base, columns={**base.columns, "sun_h": np.full(12, 4.0)})
    assert real_sun(hours).how == "from hours of sunshine"
    both = replace(hours, columns={**hours.columns, "radiation_mj": np.full(12, 8.0)})
    found = real_sun(both)
    assert found.how == "measured"
    assert found.real_mj.tolist() == [8.0] * 12
