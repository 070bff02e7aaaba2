"""The storm a site is designed for: its depth from the rain table or as typed, and its pattern."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import show
from canvas.site.records import changed
from canvas.site.storms import RAIN_COLUMNS, DesignStorm, RainRows
from canvas.site.tabular import parse
from canvas.water import storms
from canvas.water.rain import RainTable
from canvas.water.runoff import Moisture
from canvas.water.storms import Storm

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Step of alternating blocks [min].
BLOCK_MIN = 5.0
NO_RAIN = (
    "There is no rain to design for yet. Type or paste the weather service's depths into the rain "
    "table, or type the depth of the storm."
)
CAUTION = (
    "Runoff, peaks and overflow are estimates from curve numbers and the ground model. Local "
    "hydrology, local codes and licensed practice come first."
)


@dataclass(frozen=True, slots=True, eq=False)
class DesignRain:
    """The design storm, worked out; or why there is none."""

    record: DesignStorm
    #: None while there is no rain; `trouble` then says what to do.
    storm: Storm | None
    #: Return period of the depth [years]; None for a typed depth the table can't rank.
    years: float | None
    table: RainTable | None
    #: Where the depth comes from, in words.
    basis: str
    #: What to know before trusting it.
    remarks: tuple[str, ...] = ()
    trouble: str = ""

    @property
    def known(self) -> bool:
        """Whether there is a storm."""
        return self.storm is not None

    @property
    def depth_mm(self) -> float:
        """Depth of the storm [mm]; 0 while there is none."""
        return self.storm.depth_mm if self.storm is not None else 0.0

    @property
    def hours(self) -> float:
        """How long it lasts."""
        return self.record.hours

    @property
    def moisture(self) -> Moisture:
        """How wet the soil is before it."""
        return Moisture(self.record.moisture)

    @property
    def day_mm(self) -> float | None:
        """Rain of 24 hours at the storm's return period [mm]; None where it can't be told."""
        if self.storm is not None and abs(self.hours - 24.0) < 1e-9:
            return self.storm.depth_mm
        if self.table is not None and self.years is not None:
            return self.table.depth(24 * 60.0, self.years)
        return None

    def intensity(self, minutes: float) -> float:
        """Return the heaviest mean rain over a duration [mm/h].

        From the table at the storm's return period; without one, from the storm's own pattern.
        """
        if self.table is not None and self.record.depth_mm is None and self.years is not None:
            return self.table.intensity(max(minutes, 1.0), self.years)
        return heaviest_mm_h(self.needed(), minutes)

    def needed(self) -> Storm:
        """Return the storm; `BadData` says what to do while there is none."""
        if self.storm is None:
            raise BadData(self.trouble or NO_RAIN)
        return self.storm

    def years_of(self, depth_mm: float) -> str:
        """Say how rare a depth is over the storm's duration; "" without a table."""
        if self.table is None or depth_mm <= 0:
            return ""
        minutes = self.hours * 60.0
        first, last = float(self.table.years[0]), float(self.table.years[-1])
        if depth_mm < self.table.depth(minutes, first) * (1 - 1e-9):
            return f"more often than once in {first:g} years"
        if depth_mm > self.table.depth(minutes, last) * (1 + 1e-9):
            return f"rarer than once in {last:g} years"
        return f"once in {self.table.years_of(minutes, depth_mm):.2g} years"

    def said(self) -> str:
        """Return the storm in one line."""
        if self.storm is None:
            return "no storm yet"
        rare = f"{self.years:g} years, " if self.years is not None else ""
        depth = show(self.depth_mm, "mm", decimals=1)
        return f"{rare}{self.hours:g} h, {depth}, {self.storm.label}"


def heaviest_mm_h(storm: Storm, minutes: float) -> float:
    """Return the heaviest mean rain of a storm over a duration [mm/h]."""
    length = min(max(minutes, 1.0) * 60.0, storm.length_s)
    starts = np.concatenate((storm.time_s, storm.time_s - length))
    starts = np.clip(starts, 0.0, storm.length_s - length)
    fell = storm.at(starts + length) - storm.at(starts)
    return float(fell.max()) / length * 3600.0


def rain_table(record: RainRows) -> RainTable | None:
    """Return a typed table of depths; None when it has no rows. `BadData` names what is amiss."""
    rows = parse(record.depths, RAIN_COLUMNS)
    if not rows:
        return None
    cells = {(float(str(h)), float(str(y))): float(str(d)) for h, y, d in rows}
    hours = sorted({h for h, _ in cells})
    years = sorted({y for _, y in cells})
    for h in hours:
        for y in years:
            if (h, y) not in cells:
                raise BadData(
                    f"the rain table lacks the depth for {h:g} h, {y:g} years",
                    where=record.name,
                    remedy="Give a depth for every duration and return period.",
                )
    depths = [[cells[h, y] for y in years] for h in hours]
    minutes = [h * 60.0 for h in hours]
    return RainTable.typed(minutes, years, depths, source=record.source, dated=record.dated)


def record_of(study: Study) -> DesignStorm:
    """Return the site's design storm as recorded, or a fresh one."""
    found = study.noted(DesignStorm)
    return found[0] if found else DesignStorm()


def design_rain(study: Study, years: float | None = None) -> DesignRain:
    """Return the design storm; `years` asks for another return period from the table."""
    record = record_of(study)
    if years is not None:
        record = changed(record, years=years, depth_mm=None)
    tables = [each for each in study.noted(RainRows) if each.in_use and each.depths.strip()]
    try:
        table = rain_table(tables[0]) if tables else None
        return _made(record, table, tables[:1])
    except UserError as err:
        return DesignRain(record, None, None, None, "", (), err.text())


def _made(record: DesignStorm, table: RainTable | None, tables: Sequence[RainRows]) -> DesignRain:
    minutes = record.hours * 60.0
    remarks = []
    if record.depth_mm is not None:
        depth, basis = record.depth_mm, "depth as typed"
        rare = table.years_of(minutes, depth) if table is not None else None
        if rare is not None and table is not None:
            inside = table.depth(minutes, rare)
            rare = rare if abs(inside - depth) < 1e-6 * depth else None
    elif table is not None:
        depth, rare = table.depth(minutes, record.years), record.years
        source = tables[0].source or "no source named"
        basis = f"rain table “{tables[0].name}”, {source}"
        if tables[0].dated:
            basis += f", read {tables[0].dated}"
        beyond = table.beyond(minutes, record.years)
        remarks += [beyond] if beyond else []
        if tables[0].mark != "read" or not tables[0].source:
            remarks.append("rain table unconfirmed: look the depths up with the weather service")
    else:
        return DesignRain(record, None, None, None, "", (), NO_RAIN)
    storm = _storm(record, depth, table, rare)
    if storm.source:
        remarks.append("this pattern was made for the United States: elsewhere seek local advice")
    return DesignRain(record, storm, rare, table, basis, tuple(remarks))


def _storm(
    record: DesignStorm, depth_mm: float, table: RainTable | None, years: float | None
) -> Storm:
    if record.pattern == "uniform":
        return storms.uniform(depth_mm, record.hours)
    if record.pattern == "triangular":
        return storms.triangular(depth_mm, record.hours)
    if record.pattern != "alternating":
        return storms.synthetic(depth_mm, record.hours, record.pattern)
    if table is None:
        raise BadData(
            "alternating blocks are built from the rain table, and there is none",
            remedy="Type the table, or choose another pattern.",
        )
    made = storms.alternating(table, years or record.years, record.hours, BLOCK_MIN)
    return made.times(depth_mm / made.depth_mm)
