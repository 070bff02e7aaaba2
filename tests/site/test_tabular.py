"""Small tables in one field: what is refused, and that numbers come back the very same."""

from __future__ import annotations

import pytest

from canvas.base.errors import BadData
from canvas.site import tabular
from canvas.site.tabular import Column

COLUMNS = (
    Column("station_m", "Station", "m", low=0),
    Column("level_m", "Level", "m"),
    Column("note", "Note", None, may_be_empty=True),
)


def test_numbers_and_words_come_back() -> None:
    rows = ((0.0, 101.25, "gate"), (12.1, 1 / 3, ""))
    assert tabular.parse(tabular.form(rows), COLUMNS) == rows


def test_words_cannot_break_the_table() -> None:
    text = tabular.form([(0.0, 1.0, "by the gate; on\nrock")])
    assert tabular.parse(text, COLUMNS) == ((0.0, 1.0, "by the gate, on rock"),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("0;1\n-2;1", "row 2, Station: -2 lies outside"),
        ("0;high", "row 1, Level: “high” is not a number"),
        ("0", "row 1 lacks “Level”"),
        ("0;1;a;b", "row 1 has 4 values, not 3"),
    ],
)
def test_trouble_names_row_and_column(text: str, says: str) -> None:
    with pytest.raises(BadData, match=says):
        tabular.parse(text, COLUMNS)
    assert says in tabular.problem(text, COLUMNS)
