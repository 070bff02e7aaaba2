"""Charts as drawing lists in millimetres: the same on the desk and on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.drawing.entries import Anchor, Areas, Cap, Entry, Fill, Hatch, Lines, Path, Stroke, Text
from canvas.drawing.furniture import nice_step, ring
from canvas.drawing.typeface import LEADING, width_mm

AXIS = Stroke("ink_soft", 0.25, cap=Cap.FLAT)
GRID = Stroke("rule", 0.13, cap=Cap.FLAT)


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One line of a chart: y over x, NaN where there is nothing; told apart by dash and weight."""

    label: str
    x: Path
    y: Path
    role: str = "ink"
    width_mm: float = 0.4
    dash_mm: tuple[float, ...] = ()
    #: Role the area down to the axis is filled with; "" for none.
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis: what it shows, and its ends when they are not the data's."""

    label: str
    low: float | None = None
    high: float | None = None
    #: Ticks no closer than this [mm].
    apart_mm: float = 14.0


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """A finished chart: entries from (0, 0), and where the data stand in it."""

    entries: tuple[Entry, ...]
    width_mm: float
    height_mm: float
    #: Data rectangle: left, bottom, width, height [mm].
    plot: tuple[float, float, float, float]
    #: x low and high, y low and high of the data rectangle.
    range: tuple[float, float, float, float]
    #: Millimetres of height for each of length when both are in one unit: the exaggeration.
    stretch: float = 1.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a value stands on the chart [mm]."""
        left, bottom, wide, high = self.plot
        x0, x1, y0, y1 = self.range
        return left + (x - x0) / (x1 - x0) * wide, bottom + (y - y0) / (y1 - y0) * high

    def value_at(self, x_mm: float) -> float:
        """Return the x value under a place on the chart, within its range."""
        left, _, wide, _ = self.plot
        x0, x1 = self.range[:2]
        return x0 + min(max((x_mm - left) / wide, 0.0), 1.0) * (x1 - x0)


@dataclass(frozen=True, slots=True)
class ChartStyle:
    """Letter height [mm] and what it leaves round the data."""

    letters: float = 1.7
    legend: bool = True


def _round_range(low: float, high: float, count: float) -> tuple[float, float, float]:
    """Return round ends around data and the step of their ticks, about `count` of them."""
    if not high > low:
        high = low + max(abs(low) * 0.1, 1.0)
    step = nice_step((high - low) / max(count, 1.0))
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step, step


def _figure(value: float, step: float) -> str:
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    words = f"{value:,.{places}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return words.replace("-", "\N{MINUS SIGN}")


def line_chart(
    series: Sequence[Series],
    width_mm_: float,
    height_mm: float,
    x_axis: Axis,
    y_axis: Axis,
    style: ChartStyle | None = None,
) -> Chart:
    """Return lines over a ruled ground; the x axis ends with the data, the y axis on round values.

    Series without a single number are left out; with none at all the chart is only its ground.
    """
    style = style or ChartStyle()
    xs = np.concatenate([s.x for s in series]) if series else np.array([0.0, 1.0])
    ys = np.concatenate([s.y for s in series]) if series else np.array([0.0, 1.0])
    xs, ys = xs[np.isfinite(xs)], ys[np.isfinite(ys)]
    if not xs.size or not ys.size:
        xs, ys = np.array([0.0, 1.0]), np.array([0.0, 1.0])
    room_y = height_mm - style.letters * 7
    y0, y1, y_step = _round_range(
        float(ys.min()) if y_axis.low is None else y_axis.low,
        float(ys.max()) if y_axis.high is None else y_axis.high,
        room_y / 8,
    )
    x0 = float(xs.min()) if x_axis.low is None else x_axis.low
    x1 = float(xs.max()) if x_axis.high is None else x_axis.high
    x1 = x1 if x1 > x0 else x0 + 1.0
    left = _left_room(y0, y1, y_step, style)
    plot = (left, style.letters * 4.2, width_mm_ - left - style.letters * 2, 0.0)
    top = style.letters * (3.6 if style.legend and len(series) > 1 else 2.4)
    plot = (*plot[:3], max(height_mm - plot[1] - top, 1.0))
    x_step = nice_step((x1 - x0) / max(plot[2] / x_axis.apart_mm, 1.0))
    made = Chart((), width_mm_, height_mm, plot, (x0, x1, y0, y1))
    x_ticks = [
        k * x_step for k in range(math.ceil(x0 / x_step - 1e-9), math.floor(x1 / x_step + 1e-9) + 1)
    ]
    entries = _ground(made, y_step, y_axis.label, style)
    entries += _x_ticks(made, [(x, _figure(x, x_step)) for x in x_ticks], x_axis.label, style)
    for each in series:
        entries += _series(made, each)
    if style.legend and len(series) > 1:
        entries += _key(made, series, style)
    stretch = (plot[3] / (y1 - y0)) / (plot[2] / (x1 - x0))
    return Chart(tuple(entries), width_mm_, height_mm, plot, made.range, stretch)


def bar_chart(
    names: Sequence[str],
    values: Sequence[float],
    width_mm_: float,
    height_mm: float,
    y_axis: Axis,
    *,
    role: str = "ink_soft",
    base: float = 0.0,
    strong: int | None = None,
    style: ChartStyle | None = None,
) -> Chart:
    """Return bars standing on (or hanging from) `base`; bar `strong` is filled solid, others ruled.

    `names` stand under the bars.
    """
    style = style or ChartStyle()
    known = [v for v in values if math.isfinite(v)] or [base]
    low = min([base, *known]) if y_axis.low is None else y_axis.low
    high = max([base, *known]) if y_axis.high is None else y_axis.high
    y0, y1, y_step = _round_range(low, high, (height_mm - style.letters * 7) / 8)
    left = _left_room(y0, y1, y_step, style)
    bottom = style.letters * 2.6
    plot = (
        left,
        bottom,
        width_mm_ - left - style.letters,
        max(height_mm - bottom - style.letters * 2.4, 1.0),
    )
    count = max(len(names), 1)
    made = Chart((), width_mm_, height_mm, plot, (0.0, float(count), y0, y1))
    entries = _ground(made, y_step, y_axis.label, style)
    entries += _x_ticks(made, [(i + 0.5, name) for i, name in enumerate(names)], "", style, False)
    for i, value in enumerate(values):
        if not math.isfinite(value):
            continue
        (xa, ya), (xb, yb) = made.at(i + 0.18, base), made.at(i + 0.82, value)
        bar = ring((xa, ya), (xb, ya), (xb, yb), (xa, yb))
        solid = i == strong
        fill = Fill(role) if solid else Fill(role, Hatch.LINES, 0.9, 45.0, 0.9, 0.16)
        entries.append(Areas([(bar,)], fill, Stroke(role, 0.25)))
    start, end = made.at(0, base), made.at(count, base)
    entries.append(Lines([ring(start, end)], AXIS))
    return Chart(tuple(entries), width_mm_, height_mm, plot, made.range)


def _left_room(y0: float, y1: float, step: float, style: ChartStyle) -> float:
    widest = max(width_mm(_figure(v, step), style.letters) for v in (y0, y1))
    return widest + style.letters * 1.4


def _ground(chart: Chart, step: float, label: str, style: ChartStyle) -> list[Entry]:
    left, bottom, wide, high = chart.plot
    y0, y1 = chart.range[2:]
    rules, texts = [], []
    for k in range(round(y0 / step), round(y1 / step) + 1):
        _, y = chart.at(chart.range[0], k * step)
        rules.append(ring((left, y), (left + wide, y)))
        words = _figure(k * step, step)
        texts.append(
            Text(left - style.letters * 0.6, y, words, style.letters, "ink_soft", Anchor.RIGHT)
        )
    head = Text(
        0.2, bottom + high + style.letters * 1.7, label, style.letters, "ink_soft", Anchor.LEFT
    )
    return [Lines(rules, GRID), *texts, head]


def _x_ticks(
    chart: Chart,
    marks: Sequence[tuple[float, str]],
    label: str,
    style: ChartStyle,
    ticks: bool = True,
) -> list[Entry]:
    left, bottom, wide, _ = chart.plot
    entries: list[Entry] = []
    strokes = [] if not ticks else [ring((left, bottom), (left + wide, bottom))]
    for value, words in marks:
        x, _ = chart.at(value, 0.0)
        if ticks:
            strokes.append(ring((x, bottom), (x, bottom - 0.9)))
        entries.append(
            Text(x, bottom - 1.2 - style.letters * 0.6, words, style.letters, "ink_soft")
        )
    if strokes:
        entries.append(Lines(strokes, AXIS))
    if label:
        y = bottom - 1.2 - style.letters * (0.6 + LEADING)
        entries.append(Text(left + wide, y, label, style.letters, "ink_soft", Anchor.RIGHT))
    return entries


def _series(chart: Chart, each: Series) -> list[Entry]:
    left, bottom, wide, high = chart.plot
    x0, x1, y0, y1 = chart.range
    xy = np.column_stack(
        [left + (each.x - x0) / (x1 - x0) * wide, bottom + (each.y - y0) / (y1 - y0) * high]
    )
    known = np.isfinite(xy).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(np.int8), [0]])))
    runs = [xy[a:b] for a, b in edges.reshape(-1, 2) if b - a > 1]
    entries: list[Entry] = []
    if each.fill and runs:
        foot = [np.vstack([r, [r[-1, 0], bottom], [r[0, 0], bottom]]) for r in runs]
        entries.append(Areas([(f,) for f in foot], Fill(each.fill, alpha=0.8)))
    if runs:
        entries.append(Lines(runs, Stroke(each.role, each.width_mm, each.dash_mm)))
    return entries


def _key(chart: Chart, series: Sequence[Series], style: ChartStyle) -> list[Entry]:
    x = chart.plot[0] + chart.plot[2]
    y = chart.plot[1] + chart.plot[3] + style.letters * 1.5
    entries: list[Entry] = []
    for each in reversed(series):
        x -= width_mm(each.label, style.letters)
        entries.append(Text(x, y, each.label, style.letters, "ink", Anchor.LEFT))
        x -= 7.0
        sample = Stroke(each.role, each.width_mm, each.dash_mm)
        entries.append(Lines([ring((x, y), (x + 5.5, y))], sample))
        x -= style.letters * 1.2
    return entries
