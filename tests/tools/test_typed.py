"""Typed values. Expected numbers are plain arithmetic; unit sizes from NIST SP 811, appendix B."""

from __future__ import annotations

import pytest

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem
from canvas.tools.typed import Entry, read_bearing, read_entry, read_length


@pytest.mark.parametrize(
    ("words", "metres"),
    [
        ("12.5", 12.5),
        (" 12.5 m", 12.5),
        ("1250 mm", 1.25),
        ("40 ft", 12.192),
        ("40'", 12.192),
        ("5' 6\"", 1.6764),
        ("0.5km", 500.0),
        ("-3", -3.0),
    ],
)
def test_lengths(words, metres):
    assert read_entry(words).length_m == pytest.approx(metres)


def test_plain_numbers_are_in_the_units_shown():
    assert read_entry("100", UnitSystem.US).length_m == pytest.approx(30.48)
    assert read_entry("100 m", UnitSystem.US).length_m == pytest.approx(100.0)


def test_decimal_comma_where_the_locale_has_it():
    assert read_entry("12,5", decimal_comma=True).length_m == pytest.approx(12.5)
    assert read_entry("12,5", decimal_comma=False).step_m == (12.0, 5.0)
    assert read_entry("12,5; 3,25", decimal_comma=True).step_m == (12.5, 3.25)
    assert read_entry("12,5 at 45,5", decimal_comma=True) == Entry(length_m=12.5, bearing_deg=45.5)


@pytest.mark.parametrize(
    ("words", "degrees"),
    [
        ("45°", 45.0),
        ("45.5°", 45.5),
        ("123°45'30\"", 123 + 45 / 60 + 30 / 3600),
        ("-90°", 270.0),
        ("360°", 0.0),
        ("N 45°30' E", 45.5),
        ("N45E", 45.0),
        ("S 30° E", 150.0),
        ("S 30° W", 210.0),
        ("N 30° W", 330.0),
        ("s30w", 210.0),
    ],
)
def test_bearings_as_on_a_title_plan(words, degrees):
    assert read_entry(words).bearing_deg == pytest.approx(degrees)


def test_length_and_bearing_together():
    both = Entry(length_m=12.5, bearing_deg=45.0)
    for words in ("12.5 at 45", "12.5 AT 45°", "12.5atN45E", "12.5, 45°", "12.5; N 45° E"):
        assert read_entry(words) == both, words
    assert read_entry("12,5, 45°", decimal_comma=True) == both
    assert read_entry("at 90") == Entry(bearing_deg=90.0)


def test_steps_and_positions():
    assert read_entry("3; -2").step_m == (3.0, -2.0)
    assert read_entry("3, -2").step_m == (3.0, -2.0)
    for words in ("3 E, 2 S", "2 S 3 E", "3e;2s", "3 m E, 200 cm S", "-3 W, -2 N"):
        assert read_entry(words).step_m == (3.0, -2.0), words
    assert read_entry("4 N").step_m == (0.0, 4.0)
    # NIST SP 811: 1 ft = 0.3048 m exactly.
    assert read_entry("10 ft W").step_m == pytest.approx((-3.048, 0.0))
    assert read_entry("10; 10", UnitSystem.US).step_m == pytest.approx((3.048, 3.048))
    assert read_entry("512300 E, 5812400 N").position_m == (512300.0, 5812400.0)
    assert read_entry("512300.5 5812400.25").position_m == (512300.5, 5812400.25)
    assert read_entry("E 512300 N 5812400").position_m == (512300.0, 5812400.0)
    assert read_entry("N 12 E 512300").position_m == (512300.0, 12.0)


def test_falls():
    assert read_entry("fall 0.3") == Entry(fall_m=0.3)
    assert read_entry("rise 0.3") == Entry(fall_m=-0.3)
    assert read_entry("12 fall 1%") == Entry(length_m=12.0, fall_ratio=0.01)
    assert read_entry("1.5%") == Entry(fall_ratio=0.015)
    assert read_entry("45° fall 2") == Entry(bearing_deg=45.0, fall_m=2.0)
    assert read_entry("12 fall 30 cm") == Entry(length_m=12.0, fall_m=0.3)


@pytest.mark.parametrize(
    "words",
    ["", "  ", "abc", "12 at", "12 at north", "12 @ 45", "3 -2", "100 90", "3 E, 2 W",
     "N 95° E", "12°75'", "3; 4; 5", "12 at 45 fall 1%",
     "3; 4 fall 1", "1,2,3", "12 stone"],
)  # fmt: skip
def test_what_cannot_be_read_is_said(words):
    with pytest.raises(BadData) as trouble:
        read_entry(words)
    assert trouble.value.what


def test_lengths_refuse_other_things():
    with pytest.raises(BadData, match="not a length"):
        read_length("12 at 45")
    with pytest.raises(BadData, match="not a bearing"):
        read_bearing("east")
