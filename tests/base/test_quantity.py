"""Units against NIST SP 811 (2008), appendix B.8 (values from memory), and how numbers are written.

How locales write numbers: Unicode CLDR, number symbols (from memory).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.base.errors import BadData, InputError
from canvas.base.quantity import (
    TYPED,
    UNITS,
    UnitSystem,
    area_unit,
    read_number,
    show,
    shown,
    to_si,
    unit,
)

US = UnitSystem.US

#: US unit of a key -> its size in SP 811 (seven digits printed), in the key's own unit.
SP811 = {
    "m": 3.048e-1,
    "mm": 25.4,
    "cm": 2.54,
    "m2": 9.290304e-2,
    "m3": 7.645549e-1,
    "L": 3.785412,
    "L/s": 6.309020e-2,
    "kPa": 6.894757,
    "MJ/m2/day": 3.6,
}


@pytest.mark.parametrize("key", SP811)
def test_sizes_of_us_units(key: str) -> None:
    assert 1 / shown(key, US).factor == pytest.approx(SP811[key], rel=2e-7)


def test_acre_is_the_international_one() -> None:
    # 43 560 square feet; SP 811 prints the survey acre, 4 parts in a million larger.
    assert 1 / shown("ha", US).factor == pytest.approx(43_560 * 0.3048**2, rel=1e-12)
    assert 1 / shown("ha", US).factor == pytest.approx(4.046873e3, rel=5e-6)


@pytest.mark.parametrize("key", UNITS)
def test_each_unit_is_the_si_one_in_metric(key: str) -> None:
    made = unit(key)
    assert made.key == key
    # "%" holds a fraction and "ha" square metres; all else is shown as it is held.
    assert made.metric.factor == {"%": 100.0, "ha": 1e-4}.get(key, 1.0)
    assert made.metric.decimals >= 0


@pytest.mark.parametrize(
    ("value", "key", "system", "wanted"),
    [
        (12.345, "m", UnitSystem.METRIC, "12.35 m"),
        (30.48, "m", US, "100.0 ft"),
        (40_468.564224, "ha", US, "10.000 ac"),
        (70_110.0, "ha", UnitSystem.METRIC, "7.011 ha"),
        (0.084, "%", UnitSystem.METRIC, "8.4 %"),
        (45.0, "deg", UnitSystem.METRIC, "45.0°"),
        (7.0, "count", UnitSystem.METRIC, "7"),
        (22_500.0, "L", UnitSystem.METRIC, "22 500 L"),
        (1_234_567.0, "m2", UnitSystem.METRIC, "1 234 567 m²"),
        (-0.001, "m", UnitSystem.METRIC, "0.00 m"),
        (-0.006, "m", UnitSystem.METRIC, "-0.01 m"),
        (None, "m", UnitSystem.METRIC, "–"),
        (math.nan, "m", UnitSystem.METRIC, "–"),
        (math.inf, "m", UnitSystem.METRIC, "–"),
    ],
)
def test_shown_numbers(value: float | None, key: str, system: UnitSystem, wanted: str) -> None:
    got = show(value, key, system)
    assert got.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ") == (
        wanted
    )
    assert " " not in got, "a number and its unit must not be torn apart at a line's end"


def test_decimals_can_be_asked_for() -> None:
    assert show(3.14159, "ratio", decimals=4) == "3.1416"


def test_small_areas_read_in_square_metres() -> None:
    assert [area_unit(a) for a in (0, 999.9, 1000, -5000)] == ["m2", "m2", "ha", "ha"]


def test_an_unknown_unit_is_a_fault_of_the_program() -> None:
    with pytest.raises(InputError, match="furlong"):
        show(1.0, "furlong")


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("12.5", 12.5),
        ("12,5", 12.5),
        (" -3 ", -3.0),
        ("\N{MINUS SIGN}3", -3.0),
        ("1,234.5", 1234.5),  # en
        ("1.234,5", 1234.5),  # de, it
        ("1\N{NARROW NO-BREAK SPACE}234,5", 1234.5),  # fr
        ("1\N{NO-BREAK SPACE}234,5", 1234.5),  # pt-PT
        ("1\N{RIGHT SINGLE QUOTATION MARK}234.5", 1234.5),  # de-CH
        ("1'234.5", 1234.5),
        ("12,345,678.9", 12_345_678.9),
        ("1e3", 1000.0),
    ],
)
def test_typed_numbers(typed: str, wanted: float) -> None:
    assert read_number(typed) == wanted


@pytest.mark.parametrize("typed", ["", "  ", "ten", "1.2.3", "nan", "inf", "1e999", "12 m", "--1"])
def test_what_is_no_number_is_refused(typed: str) -> None:
    with pytest.raises(BadData) as told:
        read_number(typed)
    assert f"“{typed}”" in told.value.what
    assert told.value.remedy


@given(st.floats(-1e9, 1e9), st.sampled_from(sorted(UNITS)), st.sampled_from(UnitSystem))
def test_what_is_shown_can_be_typed_back(value: float, key: str, system: UnitSystem) -> None:
    how = shown(key, system)
    number = show(value, key, system).removesuffix(how.symbol)
    half = 0.5 * 10.0**-how.decimals / how.factor
    assert to_si(read_number(number), key, system) == pytest.approx(
        value, abs=half * (1 + 1e-9), rel=1e-12
    )


def test_units_typed_after_a_number() -> None:
    """As the table above: 100 ft, 2 ac, 10 gal in SI."""
    for words, (base, value) in {
        "ft": ("m", 0.3048),
        "in": ("m", 0.0254),
        "yd": ("m", 0.9144),
        "ac": ("m2", 43_560 * 0.3048**2),
        "ha": ("m2", 1e4),
        "gal": ("L", 3.785411784),
    }.items():
        key, size = TYPED[words]
        assert key == base
        assert size == pytest.approx(value, rel=1e-12)
    assert {key for key, _ in TYPED.values()} <= set(UNITS)
