"""The level book: staff readings as they were written down."""

from __future__ import annotations

from canvas.site.fields import choice, date, number, rows, text
from canvas.site.records import Record, record
from canvas.site.tabular import Column

READINGS = (
    Column("point", "Point", None, help="A name; a mark or spot height of that name takes it"),
    Column("back_m", "Back", "m", -10, 10, may_be_empty=True, help="Backsight: opens a set-up"),
    Column("between_m", "Between", "m", -10, 10, may_be_empty=True, help="Intermediate sight"),
    Column("fore_m", "Fore", "m", -10, 10, may_be_empty=True, help="Foresight: closes a set-up"),
    Column("distance_m", "Sight", "m", 0, 1000, may_be_empty=True, help="Its length, if noted"),
    Column("known_m", "Known", "m", -500, 9000, may_be_empty=True,
           help="At the start, and where the run closes"),
)  # fmt: skip
WAYS = (("rise and fall", "Rise and fall"), ("height of instrument", "Height of instrument"))


@record("level_book", label="Level book", plural="Level books")
class LevelBook(Record):
    """One run of levelling."""

    name: str = text("Name", default="Level book")
    levelled: str = date("Levelled on", default="")
    readings: str = rows("Readings", READINGS, default="")
    way: str = choice("Reduced by", WAYS, default="rise and fall")
    allowed_mm: float = number(
        "Misclosure allowed", "mm", default=12.0, low=0.1, high=200,
        help="For one kilometre levelled; it grows with the root of the length",
    )  # fmt: skip
    remark: str = text("Remark", default="", long=True)
