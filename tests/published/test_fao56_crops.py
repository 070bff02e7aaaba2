"""FAO-56's worked examples of chapters 6 to 10: coefficients, soil's store, mulch, mixed crops."""

from __future__ import annotations

import numpy as np
import pytest
from published.ref import Ref

from canvas.sky import crop_water as cw

FAO = "FAO Irrigation and Drainage Paper 56 (1st ed.), example"


def test_26_ground_wetted_in_part() -> None:
    Ref(30, 0.0, f"{FAO} 26").check(12 / 0.4)
    Ref(0.42, 1e-9, f"{FAO} 26").check(cw.kc_initial_wetted(1.05, 0.4))


@pytest.mark.parametrize(("day", "kcb"), [(12, 0.15), (37, 0.63), (65, 1.14), (90, 0.70)])
def test_30_coefficients_through_the_season(day: int, kcb: float) -> None:
    stages = cw.Stages(25, 25, 30, 20, 0.15, 1.14, 0.25)
    Ref(kcb, 0.01, f"{FAO} 30").check(cw.kc_on_day(stages, day))


def test_31_bare_soil_dries() -> None:
    """Loam, 20 mm in the top of which 9 come easily, ET0 4.5 mm: ten days after rain."""
    printed = [5.4, 5.4, 5.2, 3.3, 2.1, 1.5, 1.2, 0.9, 0.8, 0.8]
    lost = 0.0
    for n, each in enumerate(printed):
        ke = cw.soil_ke(0.15, 1.20, 1.0, cw.drying(lost, 9.0, 20.0))
        Ref(each, 0.1, f"{FAO} 31, day {n + 1}").check((0.15 + ke) * 4.5)
        lost += ke * 4.5


def test_32_to_34_soil_beside_plants() -> None:
    most = cw.kc_most(0.9, 3.0, 0.20, 1.0)
    Ref(1.30, 0.005, f"{FAO} 32").check(most)
    cover = cw.cover_of(0.9, most, 1.0)
    Ref(0.53, 0.005, f"{FAO} 32").check(cover)
    sprinkled = cw.soil_ke(0.9, most, cw.exposed_wet(cover, 1.0))
    Ref(1.30, 0.01, f"{FAO} 32").check(0.9 + sprinkled)
    wet = cw.exposed_wet(cover, 0.3, under_canopy_drip=True)
    Ref(0.19, 0.005, f"{FAO} 34").check(wet)
    dripped = cw.soil_ke(0.9, most, wet)
    Ref(0.25, 0.005, f"{FAO} 34").check(dripped)
    Ref(1.15, 0.005, f"{FAO} 34").check(0.9 + dripped)


@pytest.mark.parametrize(
    ("soil", "capacity", "wilting", "table"),
    [
        ("loamy sand", 0.15, 0.06, [(36, 11), (72, 29), (108, 59)]),
        ("silt", 0.32, 0.15, [(68, 20), (136, 54), (204, 112)]),
        ("silty clay", 0.35, 0.23, [(48, 14), (96, 38), (144, 79)]),
    ],
)
def test_36_total_and_ready_water(
    soil: str, capacity: float, wilting: float, table: list[tuple[float, float]]
) -> None:
    for depth, p, (total, ready) in zip((0.4, 0.8, 1.2), (0.30, 0.40, 0.55), table, strict=True):
        got = cw.total_water_mm(capacity, wilting, depth)
        Ref(total, 0.5, f"{FAO} 36, {soil}").check(got)
        # Printed from rounded totals.
        Ref(ready, 0.6, f"{FAO} 36, {soil}").check(p * got)


def test_37_a_dry_spell() -> None:
    """160 mm in reach, 64 ready, 55 gone, 6 mm a day."""
    factors = [1, 1, 0.97, 0.91, 0.85, 0.80, 0.75, 0.70, 0.66, 0.62]
    ends = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5]
    got = cw.soil_days(np.zeros(10), np.full(10, 6.0), 160.0, 0.4, 55.0)
    for n in range(10):
        Ref(factors[n], 0.0051, f"{FAO} 37, day {n + 1}").check(float(got.used[n]) / 6)
        Ref(ends[n], 0.06, f"{FAO} 37, day {n + 1}").check(float(got.depleted[n]))


@pytest.mark.parametrize(
    ("p", "et", "got"), [(0.65, 3.0, 0.73), (0.40, 7.0, 0.32), (0.20, 9.0, 0.10)]
)
def test_share_drawn_without_stress(p: float, et: float, got: float) -> None:
    Ref(got, 1e-9, "FAO-56 table 22, note 2").check(cw.share_drawn(p, et))


def test_39_salt() -> None:
    Ref(0.92, 0.005, f"{FAO} 39").check(cw.salt_stress(1.5, 1.0, 19, 1.15))


def test_41_sparse_vegetables() -> None:
    full = cw.kc_full(2.0, 1.5, 0.55)
    Ref(1.15, 0.005, f"{FAO} 41").check(full)
    # 40° N on 19 July: noon at 90 - 40 + 20.7 degrees; as tall as wide.
    shaded = cw.cover_in_shade(0.3, 70.7, 1.0)
    Ref(0.41, 0.006, f"{FAO} 41").check(shaded)
    Ref(0.75, 0.005, f"{FAO} 41").check(cw.kcb_sparse(full, 0.3, 2.0, shaded))


def test_43_olives() -> None:
    cover = np.pi * 5**2 / 4 / 100
    full = cw.kc_full(5.0, 2.0, 0.25)
    Ref(1.29, 0.005, f"{FAO} 43").check(full)
    shaded = cw.cover_in_shade(cover, 83.2)
    Ref(0.20, 0.005, f"{FAO} 43").check(shaded)
    kcb = cw.kcb_sparse(full, cover, 5.0, shaded)
    Ref(0.60, 0.005, f"{FAO} 43").check(kcb)
    factor = cw.stomata_factor(420, 0.189, 0.0676, 2.0)
    Ref(0.67, 0.005, f"{FAO} 43").check(factor)
    Ref(0.40, 0.005, f"{FAO} 43").check(kcb * factor)
    closer = cw.kcb_sparse(full, 2 * cover, 5.0, 2 * shaded)
    Ref(0.70, 0.01, f"{FAO} 43, 5 x 10 m").check(closer * factor)


def test_44_yield_tells_of_stress() -> None:
    Ref(0.66, 0.005, f"{FAO} 44").check(cw.stress_of_yield(1100, 1800, 1.15))


def test_46_crops_among_each_other() -> None:
    rows = [(0.3, 2.0, 1.20), (0.7, 0.3, 0.95)]
    Ref(1.14, 0.005, f"{FAO} 46").check(cw.kc_between(rows))


def test_47_climate_adjustment() -> None:
    Ref(0.70, 0.005, f"{FAO} 47, citrus").check(cw.kc_in_climate(0.60, 2.0, 0.20, 3.0))
    Ref(1.09, 0.005, f"{FAO} 47, dates").check(cw.kc_in_climate(0.95, 2.0, 0.20, 10.0))


def test_organic_mulch() -> None:
    # 5 % of evaporation for each 10 % covered; 80 % is forty.
    Ref(0.36, 0.0005, "FAO-56 p. 197").check(cw.mulched(0.60, 0.15, 0.8, first_stage=True))
    Ref(1.13, 0.0005, "FAO-56 p. 197").check(cw.mulched(1.15, 1.10, 0.8))


def test_open_water() -> None:
    Ref(1.05, 0.0, "FAO-56 table 12, open water below 2 m").check(cw.KC_OPEN_WATER)


def test_leaching() -> None:
    share = cw.leaching_share(1.0, 2.5)
    Ref(0.0870, 0.0005, "FAO-29 rev. 1, eq. 9").check(share)
    Ref(876.2, 0.5, "FAO-29 rev. 1, eq. 8").check(cw.gross_mm(800, 1.0, share))


def test_landscape_coefficient() -> None:
    Ref(0.66, 1e-9, "Costello, Matheny & Clark 2000").check(cw.landscape_coefficient(0.5, 1.1, 1.2))
