"""Design rain: a table of depths by duration and return period, and the risk it means."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites


@dataclass(frozen=True, slots=True, eq=False)
class RainTable:
    """Depths of rain by duration and return period, from the local weather service.

    `minutes` (n,) and `years` (m,) rise; `depth_mm` (n, m). `source` and `dated` say where the
    figures come from; they are shown wherever the table is used.
    """

    minutes: Floats
    years: Floats
    depth_mm: Floats
    source: str = ""
    dated: str = ""

    @classmethod
    def typed(
        cls,
        minutes: ArrayLike,
        years: ArrayLike,
        values: ArrayLike,
        *,
        intensity: bool = False,
        source: str = "",
        dated: str = "",
    ) -> RainTable:
        """Return a table as typed: depths [mm] or, with `intensity`, intensities [mm/h].

        `BadData` names the first figure that cannot be: depths grow with duration and with
        return period.
        """
        t = np.atleast_1d(np.asarray(minutes, float))
        years_ = np.atleast_1d(np.asarray(years, float))
        depth = np.asarray(values, float).reshape(len(t), len(years_))
        if intensity:
            depth = depth * t[:, None] / 60.0
        for name, axis in (("durations", t), ("return periods", years_)):
            if not (np.isfinite(axis).all() and (axis > 0).all() and (np.diff(axis) > 0).all()):
                raise BadData(f"The {name} must be above nought and rise from one to the next.")
        if not (np.isfinite(depth).all() and (depth > 0).all()):
            raise BadData("Every depth of rain must be a number above nought.")
        for i, j in np.argwhere(np.diff(depth, axis=0) < -1e-9):
            raise BadData(
                f"Rain of {t[i + 1]:g} min, {years_[j]:g} years is less than of {t[i]:g} min.",
                remedy="A longer rain is never less deep: look at these two figures.",
            )
        for i, j in np.argwhere(np.diff(depth, axis=1) < -1e-9):
            raise BadData(
                f"Rain of {t[i]:g} min is less for {years_[j + 1]:g} than for {years_[j]:g} years.",
                remedy="A rarer rain is never less deep: look at these two figures.",
            )
        return cls(t, years_, depth, source, dated)

    def beyond(self, minutes: float, years: float) -> str:
        """Say where a duration or return period lies outside the table; "" inside."""
        parts = []
        if not self.minutes[0] * (1 - 1e-9) <= minutes <= self.minutes[-1] * (1 + 1e-9):
            parts.append(
                f"duration {minutes:g} min, table {self.minutes[0]:g} to {self.minutes[-1]:g} min"
            )
        if not self.years[0] * (1 - 1e-9) <= years <= self.years[-1] * (1 + 1e-9):
            parts.append(
                f"return period {years:g} years, table {self.years[0]:g} to {self.years[-1]:g}"
            )
        return "outside the rain table: " + "; ".join(parts) if parts else ""

    def depth(self, minutes: float, years: float) -> float:
        """Return the depth [mm], on straight lines between logarithms.

        Outside the table the end lines are drawn on; `beyond` says so.
        """
        if not (minutes > 0.0 and years > 0.0):
            raise InputError(f"rain of {minutes} min, {years} years")
        by_year = _line(np.log(self.minutes), np.log(self.depth_mm), math.log(minutes))
        return math.exp(float(_line(np.log(self.years), by_year, math.log(years))))

    def intensity(self, minutes: float, years: float) -> float:
        """Return the mean intensity [mm/h]."""
        return self.depth(minutes, years) * 60.0 / minutes

    def years_of(self, minutes: float, depth_mm: float) -> float:
        """Return the return period [years] of a depth [mm] in a duration, held inside the table."""
        logs = [math.log(self.depth(minutes, y)) for y in self.years]
        found = np.interp(math.log(depth_mm), logs, np.log(self.years))
        return float(np.exp(found))


def _line(x: Floats, y: Floats, at: float) -> Floats:
    """Return y at `at` on straight lines through the points, the end lines drawn on.

    `y` has a row for each x: its columns are lines of their own.
    """
    if len(x) == 1:
        return np.asarray(y[0], np.float64)
    i = min(max(int(x.searchsorted(at)) - 1, 0), len(x) - 2)
    return np.asarray(y[i] + (y[i + 1] - y[i]) * (at - x[i]) / (x[i + 1] - x[i]), np.float64)


@cites("hec22")
def risk(return_years: float, years: float) -> float:
    """Return the chance that a storm of this return period is reached at least once in `years`."""
    if not return_years >= 1.0:
        raise InputError(f"a return period is at least one year, got {return_years}")
    return float(1.0 - (1.0 - 1.0 / return_years) ** years)
