"""FAO-56's worked examples 2 to 20: air, sun and reference evapotranspiration."""

from __future__ import annotations

import numpy as np
import pytest
from published.ref import Ref

from canvas.sky import et, et_hours
from canvas.sky.climate_record import Daily, Normals, Station
from canvas.sky.radiation import (
    MID_MONTH_DAYS,
    daylight_hours,
    extraterrestrial_mj,
    pressure_kpa,
)

FAO = "FAO Irrigation and Drainage Paper 56 (1st ed.), example"


def arr(value: float) -> np.ndarray:
    return np.array([value])


def test_2_pressure_and_psychrometric_constant() -> None:
    Ref(81.8, 0.05, f"{FAO} 2").check(pressure_kpa(1800))
    Ref(0.054, 0.0005, f"{FAO} 2").check(et.psychrometric(1800))


def test_3_saturation() -> None:
    Ref(3.075, 0.0005, f"{FAO} 3").check(float(et.vapour_kpa(24.5)))
    Ref(1.705, 0.0005, f"{FAO} 3").check(float(et.vapour_kpa(15.0)))
    Ref(2.39, 0.005, f"{FAO} 3").check(float(et.saturation_kpa(24.5, 15.0)))
    Ref(2.30, 0.005, f"{FAO} 3").check(float(et.vapour_kpa(19.75)))


def test_4_two_bulbs() -> None:
    Ref(87.9, 0.05, f"{FAO} 4").check(pressure_kpa(1200))
    Ref(2.267, 0.0005, f"{FAO} 4").check(float(et.vapour_kpa(19.5)))
    Ref(1.91, 0.005, f"{FAO} 4").check(et.vapour_by_bulbs(25.6, 19.5, 1200, 0.000662))


def test_5_and_6_humidity() -> None:
    got = float(et.vapour_by_humidity(25.0, 18.0, 0.82, 0.54))
    Ref(1.70, 0.005, f"{FAO} 5").check(got)
    Ref(1.78, 0.005, f"{FAO} 5, eq. 19").check(
        float(et.vapour_by_humidity(25.0, 18.0, rh_mean=0.68))
    )
    Ref(0.91, 0.005, f"{FAO} 6").check(float(et.saturation_kpa(25.0, 18.0)) - got)


def test_8_and_9_sun_outside_the_air() -> None:
    outside = extraterrestrial_mj(-20.0, 246)
    Ref(32.2, 0.05, f"{FAO} 8").check(outside)
    Ref(13.1, 0.05, f"{FAO} 8").check(outside * et.MM_PER_MJ)
    Ref(11.7, 0.05, f"{FAO} 9").check(daylight_hours(-20.0, 246))


def test_10_to_12_rio_in_may() -> None:
    outside = arr(extraterrestrial_mj(-22.90, 135))
    sun = et.sun_by_hours(arr(220 / 31), arr(daylight_hours(-22.90, 135)), outside)
    Ref(25.1, 0.05, f"{FAO} 10").check(float(outside[0]))
    Ref(14.5, 0.05, f"{FAO} 10").check(float(sun[0]))
    lost = et.net_long_mj(arr(25.1), arr(19.1), arr(2.1), sun, 0.75 * outside)
    Ref(3.5, 0.05, f"{FAO} 11").check(float(lost[0]))
    Ref(7.6, 0.05, f"{FAO} 12").check(float((0.77 * sun - lost)[0]))


def test_13_soil_heat() -> None:
    # March 14.1, April 16.1, May 18.8 degrees.
    Ref(0.33, 0.005, f"{FAO} 13").check(0.07 * (18.8 - 14.1))


def test_14_wind() -> None:
    Ref(2.4, 0.05, f"{FAO} 14").check(float(et.wind_at_2m(3.2, 10.0)))
    Ref(0.748, 0.0005, f"{FAO}, table 2.9: 10 m").check(float(et.wind_at_2m(1.0, 10.0)))


def test_15_sun_from_temperatures() -> None:
    outside = arr(extraterrestrial_mj(45.72, 196))
    clear = et.clear_mj(outside, 200)
    got = et.sun_by_range(arr(26.6), arr(14.8), outside, clear, 0.16)
    Ref(40.6, 0.05, f"{FAO} 15").check(float(outside[0]))
    Ref(22.3, 0.05, f"{FAO} 15").check(float(got[0]))


def test_16_net_radiation_without_a_radiometer() -> None:
    outside = arr(extraterrestrial_mj(13.73, 105))
    clear = et.clear_mj(outside, 0)
    sun = et.sun_by_range(arr(34.8), arr(25.6), outside, clear, 0.19)
    lost = et.net_long_mj(arr(34.8), arr(25.6), arr(2.85), sun, clear)
    Ref(21.9, 0.05, f"{FAO} 16").check(float(sun[0]))
    Ref(28.5, 0.05, f"{FAO} 16").check(float(clear[0]))
    Ref(16.9, 0.05, f"{FAO} 16").check(float(0.77 * sun[0]))
    Ref(3.0, 0.05, f"{FAO} 16").check(float(lost[0]))
    Ref(13.9, 0.05, f"{FAO} 16").check(float((0.77 * sun - lost)[0]))


def bangkok() -> Normals:
    """April as printed; the months around it hold only the temperatures the example gives."""
    hot, cold = np.full(12, 34.8), np.full(12, 25.6)
    # Means of March, April, May: 29.2, 30.2, and 31.2 so that eq. 43 gives the printed 0.14.
    hot[2], cold[2] = 33.8, 24.6
    hot[4], cold[4] = 35.8, 26.6
    # Dew point of 2.85 kPa.
    dew = 237.3 * np.log(2.85 / 0.6108) / (17.27 - np.log(2.85 / 0.6108))
    columns = {"tmax_c": hot, "tmin_c": cold, "dew_c": np.full(12, dew)}
    columns |= {"wind_ms": np.full(12, 2.0), "sun_h": np.full(12, 8.5)}
    return Normals(Station(13.73, 2.0, wind_height_m=2.0), columns)


def test_17_a_month() -> None:
    found = et.reference_of_months(bangkok())
    assert found.estimated == ()
    Ref(14.33, 0.01, f"{FAO} 17").check(float(found.net_mj[3]))
    Ref(5.72, 0.01, f"{FAO} 17").check(float(found.mm[3]) / 30)


def test_18_a_day() -> None:
    columns = {
        "tmax_c": arr(21.5),
        "tmin_c": arr(12.3),
        "rh_max": arr(0.84),
        "rh_min": arr(0.63),
        "wind_ms": arr(10 / 3.6),
        "sun_h": arr(9.25),
    }
    day = Daily(Station(50.80, 100.0), np.array(["2021-07-06"], "M8[D]"), columns)
    found = et.reference_of_days(day)
    assert found.estimated == ()
    Ref(2.078, 0.001, f"{FAO} 18").check(float(found.wind_ms[0]))
    Ref(13.28, 0.01, f"{FAO} 18").check(float(found.net_mj[0]))
    Ref(3.88, 0.01, f"{FAO} 18").check(float(found.mm[0]))


@pytest.mark.parametrize(
    ("middle", "t", "rh", "wind", "sun", "outside", "net", "mm"),
    [
        (2.5, 28, 0.90, 1.9, 0.0, 0.0, -0.100, 0.00),
        (14.5, 38, 0.52, 3.3, 2.450, 3.543, 1.749, 0.63),
    ],
)
def test_19_hours(
    middle: float, t: float, rh: float, wind: float, sun: float, outside: float, net: float,
    mm: float,
) -> None:  # fmt: skip
    got = et_hours.outside_hour_mj(16.22, -16.25, -1, 274, middle)
    Ref(outside, 0.001, f"{FAO} 19").check(got)
    Ref(net, 0.001, f"{FAO} 19").check(et_hours.net_hour_mj(t, rh, sun, got, 8))
    Ref(mm, 0.005, f"{FAO} 19").check(et_hours.reference_hour_mm(t, rh, wind, sun, got, 8))


def test_19_hour_angles() -> None:
    for middle, angle in ((2.5, -2.46), (14.5, 0.682)):
        Ref(angle, 0.005, f"{FAO} 19").check(et_hours.solar_angle_rad(274, middle, -16.25, -1))


def lyon(wind: float) -> Normals:
    columns = {"tmax_c": np.full(12, 26.6), "tmin_c": np.full(12, 14.8)}
    columns["wind_ms"] = np.full(12, wind)
    return Normals(Station(45.72, 200.0, wind_height_m=2.0), columns)


@pytest.mark.parametrize(
    ("wind", "mm", "within"), [(2, 4.56, 0.01), (1, 4.2, 0.05), (3, 4.8, 0.05)]
)
def test_20_temperatures_alone(wind: float, mm: float, within: float) -> None:
    found = et.reference_of_months(lyon(wind))
    Ref(mm, within, f"{FAO} 20").check(float(found.mm[6]) / 31)
    assert len(found.estimated) == 2


def test_20_hargreaves() -> None:
    Ref(5.0, 0.05, f"{FAO} 20").check(float(et.hargreaves_of_months(lyon(2)).mm[6]) / 31)


def test_wind_is_taken_as_two_metres_a_second() -> None:
    bare = lyon(9.0)
    without = Normals(bare.station, {k: v for k, v in bare.columns.items() if k != "wind_ms"})
    got = et.reference_of_months(without)
    Ref(2.0, 0.0, "FAO-56 p. 63").check(float(got.wind_ms[6]))
    Ref(4.56, 0.01, f"{FAO} 20").check(float(got.mm[6]) / 31)


def test_conversion_of_energy() -> None:
    Ref(0.408, 0.0, "FAO-56 table 3").check(et.MM_PER_MJ)
    assert len(MID_MONTH_DAYS) == 12
