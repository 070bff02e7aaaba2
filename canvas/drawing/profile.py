"""A section as a drawing: ground as it is and as designed, cut and fill, a design profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show, shown
from canvas.drawing.chart import Axis, Chart, ChartStyle, Series, line_chart
from canvas.drawing.entries import Areas, Entry, Fill, Hatch, Lines, Path, Stroke, Text
from canvas.drawing.furniture import ring
from canvas.drawing.typeface import width_mm
from canvas.ground.gradeline import GradeLine

#: The design profile is drawn by points so far apart [m].
STEP_M = 0.5
#: Cut is ruled one way, fill the other: told apart without colour.
CUT = Fill("earth", Hatch.LINES, 0.9, 45.0, 1.1, 0.16)
FILL = Fill("way_edge", Hatch.LINES, 0.9, 135.0, 1.1, 0.16)


@dataclass(frozen=True, slots=True, eq=False)
class SectionPicture:
    """What a section shows; arrays are (stations,), metres."""

    run_m: Floats
    ground_m: Floats
    #: None where no earthwork comes near.
    designed_m: Floats | None = None
    #: A track's design profile, drawn with its points.
    profile: GradeLine | None = None
    #: Heights the picture spans at least; () to fit it.
    span_m: tuple[float, ...] = ()


def section_chart(
    what: SectionPicture, width_mm_: float, height_mm: float, units: UnitSystem, style: ChartStyle
) -> Chart | None:
    """Return the chart of a section in the shown unit; None without a single height."""
    if not np.isfinite(what.ground_m).any():
        return None
    how = shown("m", units)
    k = how.factor
    series = [
        Series("Existing ground", what.run_m * k, what.ground_m * k, "contour_index", 0.5,
               fill="contour")
    ]  # fmt: skip
    if what.designed_m is not None:
        series.append(Series("As designed", what.run_m * k, what.designed_m * k, "ink", 0.4))
    low, high = (what.span_m[0] * k, what.span_m[1] * k) if what.span_m else (None, None)
    x_axis = Axis(f"{how.symbol} along")
    y_axis = Axis(f"Height, {how.symbol}", low, high)
    return line_chart(series, width_mm_, height_mm, x_axis, y_axis, style)


def cut_and_fill(what: SectionPicture, chart: Chart, factor: float) -> list[Entry]:
    """Return the areas between both grounds: cut ruled one way, fill the other."""
    if what.designed_m is None:
        return []
    cut, fill = between(what.run_m, what.ground_m, what.designed_m)
    entries: list[Entry] = []
    for areas, look in ((cut, CUT), (fill, FILL)):
        if areas:
            entries.append(Areas([(_placed(chart, area * factor),) for area in areas], look))
    return entries


def between(run: Floats, existing: Floats, designed: Floats) -> tuple[list[Path], list[Path]]:
    """Return the areas between two lines over the same stations: dug, and filled."""
    off = designed - existing
    cross = np.flatnonzero(off[:-1] * off[1:] < 0)
    if len(cross):
        share = off[cross] / (off[cross] - off[cross + 1])
        at = run[cross] + share * (run[cross + 1] - run[cross])
        s = np.sort(np.concatenate((run, at)))
        existing, designed = np.interp(s, run, existing), np.interp(s, run, designed)
        off, run = designed - existing, s
    found: tuple[list[Path], list[Path]] = ([], [])
    for side, which in zip((-1.0, 1.0), found, strict=True):
        inside = np.nan_to_num(side * off) > 1e-4
        edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int8), [0]])))
        for a, b in edges.reshape(-1, 2):
            low, high = max(a - 1, 0), min(b + 1, len(run))
            there = np.column_stack((run[low:high], designed[low:high]))
            back = np.column_stack((run[low:high], existing[low:high]))[::-1]
            area = np.vstack((there, back))
            if np.isfinite(area).all():
                which.append(area)
    return found


def _placed(chart: Chart, path: Path) -> Path:
    left, bottom, wide, high = chart.plot
    x0, x1, y0, y1 = chart.range
    return np.column_stack(
        (
            left + (path[:, 0] - x0) / (x1 - x0) * wide,
            bottom + (path[:, 1] - y0) / (y1 - y0) * high,
        )
    )


def profile_entries(
    line: GradeLine, chart: Chart, units: UnitSystem, letters: float, *, levels: bool = False
) -> list[Entry]:
    """Return a design profile: straights to each knee, its curves, grades and curve lengths.

    With `levels`, each knee's station and level as well.
    """
    factor = shown("m", units).factor
    at = np.array([k.station_m for k in line.knees])
    s = np.unique(np.concatenate((np.arange(at[0], at[-1], STEP_M), at)))
    tangent = _placed(chart, np.column_stack((at, [k.level_m for k in line.knees])) * factor)
    drawn = _placed(chart, np.column_stack((s, line.level_m(s))) * factor)
    entries: list[Entry] = [
        Lines([tangent], Stroke("ink_soft", 0.13, (1.2, 0.8))),
        Lines([drawn], Stroke("ink", 0.45)),
    ]
    # A point is a small upright bar with its foot and head on the tangents' corner.
    reach = letters * 0.55
    bars = [ring((x, y - reach), (x, y + reach)) for x, y in tangent]
    entries.append(Lines(bars, Stroke("ink", 0.3)))
    entries += _grade_words(line, tangent, letters)
    entries += _curve_words(line, tangent, units, letters)
    if levels:
        entries += _level_words(line, tangent, units, letters, chart)
    return entries


def _grade_words(line: GradeLine, tangent: Path, letters: float) -> list[Entry]:
    entries: list[Entry] = []
    for i, grade in enumerate(line.grades):
        (x0, y0), (x1, y1) = tangent[i], tangent[i + 1]
        words = grade_words(float(grade))
        if x1 - x0 < width_mm(words, letters) + letters:
            continue
        entries.append(
            Text((x0 + x1) / 2, (y0 + y1) / 2 + letters * 1.5, words, letters, "ink", halo="halo")
        )
    return entries


def grade_words(grade: float) -> str:
    """Return a grade with its sign: + climbs."""
    sign = "+" if grade > 0.0005 else ""
    return sign + show(grade, "%", decimals=1)


def _curve_words(line: GradeLine, tangent: Path, units: UnitSystem, letters: float) -> list[Entry]:
    """Return each curve's length and K, below a summit and above a hollow."""
    entries: list[Entry] = []
    grades = line.grades
    busy = -np.inf
    for i, knee in enumerate(line.knees[1:-1], start=1):
        change = float(grades[i] - grades[i - 1])
        if knee.curve_m <= 0 or abs(change) < 1e-4:
            continue
        words = f"L {show(knee.curve_m, 'm', units, 0)}, K {knee.curve_m / abs(change) / 100:.1f}"
        x, y = tangent[i]
        half = width_mm(words, letters * 0.9) / 2
        if x - half < busy:
            continue
        busy = x + half + letters
        off = letters * (-2.0 if change < 0 else 2.6)
        entries.append(Text(x, y + off, words, letters * 0.9, "ink_soft", halo="halo"))
    return entries


def _level_words(
    line: GradeLine, tangent: Path, units: UnitSystem, letters: float, chart: Chart
) -> list[Entry]:
    entries: list[Entry] = []
    top = chart.plot[1] + chart.plot[3]
    for knee, (x, y) in zip(line.knees, tangent, strict=True):
        words = f"{show(knee.station_m, 'm', units, 1)} · {show(knee.level_m, 'm', units)}"
        entries.append(Lines([ring((x, y), (x, top))], Stroke("rule", 0.13)))
        entries.append(
            Text(x + letters * 0.7, top - letters, words, letters * 0.9, "ink_soft", turn_deg=90.0)
        )
    return entries
