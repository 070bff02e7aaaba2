"""Rain tables as people paste them, and the storm as it is told."""

from __future__ import annotations

import pytest
from shapely import LineString

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem
from canvas.site.elements.swales import Swale
from canvas.site.storms import RAIN_COLUMNS, DesignStorm
from canvas.site.tabular import parse
from canvas.study.storm.chain import Chain
from canvas.study.storm.pasted import read_pasted
from canvas.study.storm.told import HEADINGS, books, notes, rows
from made import EAST, NORTH, plane, study_of

WANTED = {(0.5, 2.0, 14.5), (0.5, 100.0, 36.0), (24.0, 2.0, 60.0), (24.0, 100.0, 155.0)}


@pytest.mark.parametrize(
    "text",
    [
        "duration\t2\t100\n30 min\t14.5\t36\n24 h\t60\t155",
        "duration;2;100\n30 min;14,5;36\n24 h;60;155",
        "min;1 in 2;1 in 100\n30;14,5;36\n1440;60;155",
        "hours  2 years  100 years\n0.5  14.5  36\n24  60  155",
        "Duration (min)\t50 %\t1 %\n30\t14,5\t36,0\n1440\t60\t155",
        "| h | 2 | 100 |\n| 0,5 | 14,5 | 36 |\n| 24 | 60 | 155 |",
        "hours;years;depth mm\n0,5;2;14,5\n0,5;100;36\n24;2;60\n24;100;155",
        "0.5\t2\t14.5\n0.5\t100\t36\n1 day\t2\t60\n1 day\t100\t155",
        "30min 14.5 36\n24h 60 155".join(["2 100\n", ""]),
    ],
)
def test_tables_are_read_however_they_are_pasted(text: str) -> None:
    assert set(parse(read_pasted(text), RAIN_COLUMNS)) == WANTED


def test_intensities_become_depths() -> None:
    found = parse(read_pasted("min\t10\n30\t44\n60\t30", intensity=True), RAIN_COLUMNS)
    assert found == ((0.5, 10.0, 22.0), (1.0, 10.0, 30.0))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no table"),
        ("duration;2;100\n30 min;14.5", "1 depths for 2 return periods"),
        ("x;2;100\n30;14.5;36\n60;20;50", "minutes or hours"),
        ("duration;2;100\n30 min;14.5;much", "not a number"),
        ("duration;2;100\n30 min;20;36\n60 min;14;50", "less than"),
    ],
)
def test_what_is_no_table_is_refused_with_the_reason(text: str, says: str) -> None:
    with pytest.raises(BadData, match=says):
        read_pasted(text)


@pytest.fixture(scope="module")
def chain() -> Chain:
    lines = {y: LineString([(EAST + 60, NORTH + y), (EAST + 140, NORTH + y)]) for y in (150, 80)}
    swales = [Swale(id=f"s{y}", name=f"Swale {y}", geometry=g) for y, g in lines.items()]
    return study_of(DesignStorm(depth_mm=100.0, group="D"), *swales, grid=plane()).chain()


def test_every_store_has_a_line_of_cells(chain: Chain) -> None:
    found = rows(chain)
    assert [row.ident for row in found] == ["s150", "s80"]
    assert all(len(row.cells) == len(HEADINGS) for row in found)
    assert found[0].at_least
    assert found[0].cells[3].startswith("≥")
    assert found[0].cells[8] == "sill: to Swale 80"
    assert found[1].cells[8] == "sill: off the land"


def test_units_are_the_owners(chain: Chain) -> None:
    assert "yd³" in rows(chain, UnitSystem.US)[0].cells[1]


def test_the_books_say_whether_they_close(chain: Chain) -> None:
    told = dict(books(chain))
    assert told["Lacking"].endswith("(closes)")


def test_cautions_stand_beside_the_figures(chain: Chain) -> None:
    told = " ".join(notes(chain))
    assert "licensed practice" in told
    assert "edge of the ground data" in told


def test_flows_over_time_hold_the_volumes(chain: Chain) -> None:
    for ident in chain.order:
        hours, came, spilt = chain.flows(ident)
        step = (hours[1] - hours[0]) * 3600.0
        found = chain.routed(ident)
        assert found is not None
        assert came.sum() * step == pytest.approx(found.inflow_m3, rel=0.01)
        assert spilt.sum() * step == pytest.approx(found.spilled_m3, rel=1e-6)
