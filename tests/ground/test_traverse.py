"""Title plans: what may be typed, what closes, what does not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from canvas.base.errors import BadData
from canvas.ground.traverse import (
    Leg,
    against_deed,
    read_bearing,
    read_deed_area,
    read_distance,
    read_legs,
    split_lines,
    traverse,
)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("123.45", 123.45),
        ("123,45", 123.45),
        ("123.45°", 123.45),
        ("123°27'30\"", 123.458333),
        ("123°27′30″", 123.458333),
        ("123º27.5'", 123.458333),
        ("123 27 30", 123.458333),
        ("123-27-30", 123.458333),
        ("N45°30'E", 45.5),
        ("n 45 30 00 e", 45.5),
        ("S 10 W", 190.0),
        ("S45°30'15\"E", 134.495833),
        ("N 30.25 W", 329.75),
        ("E", 90.0),
        ("360", 0.0),
    ],
)
def test_bearings(text: str, degrees: float) -> None:
    assert read_bearing(text) == pytest.approx(degrees, abs=1e-6)


def test_packed_bearings() -> None:
    assert read_bearing("123.2730", packed=True) == pytest.approx(123 + 27 / 60 + 30 / 3600)
    assert read_bearing("90", packed=True) == 90
    assert read_bearing("45.3", packed=True) == pytest.approx(45.5)
    assert read_bearing("179.5959", packed=True) == pytest.approx(180 - 1 / 3600)
    assert read_bearing("N45.3E", packed=True) == pytest.approx(45.5)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("30.5", 30.5),
        ("30,5 m", 30.5),
        ("1 234.5", 1234.5),
        ("100 ft", 30.48),
        ("100'", 30.48),
        ("1,234.56 ft", 376.293888),
        # Gunter's chain: 66 feet, 100 links; exact by definition.
        ("1 chain", 20.1168),
        ("250 links", 50.292),
        ("4 perches", 20.1168),
        ("3937 usft", 1200.0),
    ],
)
def test_distances(text: str, metres: float) -> None:
    assert read_distance(text) == pytest.approx(metres, rel=1e-12)


def test_the_unit_typed_beats_the_usual_one() -> None:
    assert read_distance("10", "ft") == pytest.approx(3.048)
    assert read_distance("10 m", "ft") == 10
    assert read_deed_area("7.2 ha") == pytest.approx(72_000)
    assert read_deed_area("17.3", "ac") == pytest.approx(17.3 * 4046.8564224)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (("abc", "10"), "not an angle"),
        (("N95E", "10"), "more than 90°"),
        (("400", "10"), "between 0° and 360°"),
        (("12°75'", "10"), "60 or more"),
        (("12", "ten"), "not a distance"),
        (("12", "5 furlongs"), "not a distance"),
        (("12", "-5"), "not a distance"),
        (("12", "0"), "not above 0"),
        (("12", ""), "distance is missing"),
        (("", "5"), "bearing is missing"),
        (("-10", "5"), "between 0° and 360°"),
        (("N45°30'X", "5"), "not an angle"),
    ],
)
def test_bad_lines_are_named(row: tuple[str, str], says: str) -> None:
    with pytest.raises(BadData, match=says) as caught:
        read_legs([("0", "100"), ("", ""), row])
    assert caught.value.where == "Line 3"
    assert caught.value.remedy


def test_pasted_text() -> None:
    text = "N45°30'E 100.5 m\n123 27 30\t33\n90, 12.5\n90,5; 20,5 m\nS 10 W   12 ft\n\n"
    rows = split_lines(text)
    assert rows[:2] == [("N45°30'E", "100.5 m"), ("123 27 30", "33")]
    legs = read_legs(rows)
    assert [round(leg.bearing_deg, 3) for leg in legs] == [45.5, 123.458, 90, 90.5, 190]
    assert [round(leg.distance_m, 3) for leg in legs] == [100.5, 33, 12.5, 20.5, 3.658]


SQUARE = [Leg(0, 100), Leg(90, 50), Leg(180, 100), Leg(270, 50)]


def test_a_perfect_plan_closes() -> None:
    found = traverse(SQUARE, (500_000, 5_800_000))
    assert found.misclosure_m == 0
    assert math.isinf(found.precision)
    assert found.area_m2 == pytest.approx(5000)
    assert found.perimeter_m == 300
    assert found.xy_m[2] == pytest.approx([500_050, 5_800_100])


def test_the_gap_is_shared_out_by_distance_run() -> None:
    # 0.3 m too much on the third leg: the compass rule moves corner k by -gap x run / perimeter.
    legs = [Leg(0, 100), Leg(90, 50), Leg(180, 100.3), Leg(270, 50)]
    found = traverse(legs)
    assert found.gap_xy_m == pytest.approx((0, -0.3))
    assert found.misclosure_m == pytest.approx(0.3)
    assert found.precision == pytest.approx(300.3 / 0.3)
    assert found.xy_m[1] == pytest.approx([0, 100 + 0.3 * 100 / 300.3])
    assert found.xy_m[3] == pytest.approx([50, -0.3 + 0.3 * 250.3 / 300.3])
    assert found.polygon.area == pytest.approx(found.area_m2)
    assert found.raw_area_m2 == pytest.approx(5000 + 0.3 * 50 / 2 + 0.3 * 50 / 2, abs=0.01)


def test_the_mistyped_leg_is_pointed_at() -> None:
    bearings = [15, 80, 130, 200, 290]
    steps = [np.array([math.sin(math.radians(b)), math.cos(math.radians(b))]) for b in bearings]
    lengths = np.array([80.0, 95.0, 60.0])
    rest = -sum(k * s for k, s in zip(lengths, steps[:3], strict=True))
    last = np.linalg.solve(np.column_stack(steps[3:]), rest)
    legs = [Leg(b, d) for b, d in zip(bearings, [*lengths, *last], strict=True)]
    assert traverse(legs).misclosure_m == pytest.approx(0, abs=1e-9)
    legs[2] = Leg(130, 160.0)
    assert traverse(legs).suspect_leg == 2


def test_true_bearings_and_ground_distances() -> None:
    # Grid bearing = true bearing - convergence.
    found = traverse(SQUARE, convergence_deg=2.0, scale=0.9996)
    dx, dy = found.xy_m[1] - found.xy_m[0]
    assert math.degrees(math.atan2(dx, dy)) == pytest.approx(-2.0)
    assert found.area_m2 == pytest.approx(5000 * 0.9996**2)


def test_too_few_lines() -> None:
    with pytest.raises(BadData, match="at least three"):
        traverse(SQUARE[:2])


def test_the_deed() -> None:
    found = against_deed(71_820.0, 72_000.0)
    assert found.difference_m2 == pytest.approx(-180)
    assert found.share == pytest.approx(-0.0025)
    with pytest.raises(BadData):
        against_deed(1, 0)
