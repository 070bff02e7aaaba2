"""Fields typed and shown in the owner's units."""

from __future__ import annotations

import pytest

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem
from canvas.desk.forms import read, written
from canvas.site.records import element_kinds, kind

METRIC, US = UnitSystem.METRIC, UnitSystem.US


def test_a_length_is_typed_in_feet_and_kept_in_metres():
    # 1 ft = 0.3048 m exactly (NIST SP 811, appendix B).
    spec = kind("track").spec("width_m")
    assert read("10", spec, US) == pytest.approx(3.048)
    assert written(3.048, spec, US) == "10"


def test_a_share_is_typed_in_per_cent():
    spec = kind("vegetation").spec("crown_cover")
    assert read("60", spec, METRIC) == pytest.approx(0.6)
    assert written(0.6, spec, METRIC) == "60"


def test_comma_and_point_are_both_decimal():
    spec = kind("track").spec("width_m")
    assert read("3,5", spec, METRIC) == read("3.5", spec, METRIC) == 3.5


@pytest.mark.parametrize("words", ["wide", "99", "-1", "1e400"])
def test_what_cannot_be_is_named(words):
    spec = kind("track").spec("width_m")
    with pytest.raises(BadData):
        read(words, spec, METRIC)


def test_an_empty_number_is_unknown_where_that_may_be():
    assert read("", kind("tree").spec("height_m"), METRIC) is None
    with pytest.raises(BadData, match="a number is needed"):
        read("", kind("track").spec("width_m"), METRIC)


def test_every_default_of_every_kind_reads_back_as_it_is_written():
    for each in element_kinds().values():
        for spec in each.specs:
            if spec.type.value in ("number", "integer") and spec.default is not None:
                for units in (METRIC, US):
                    back = read(written(spec.default, spec, units), spec, units)
                    assert back == pytest.approx(spec.default, rel=1e-5), (each.key, spec.name)
