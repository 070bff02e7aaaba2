"""Flow over time: what comes to a store in the storm, and what it spills."""

from __future__ import annotations

import numpy as np

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, shown
from canvas.drawing.chart import Axis, Chart, ChartStyle, Series, line_chart
from canvas.study.storm.chain import Chain

#: Points drawn at most: more than a printer can tell apart.
MOST = 600


def flow_chart(
    chain: Chain,
    ident: str,
    width_mm: float,
    height_mm: float,
    units: UnitSystem = UnitSystem.METRIC,
    letters: float = 1.7,
) -> Chart | None:
    """Return the hydrographs of a store; None while there are none."""
    hours, came, spilt = chain.flows(ident)
    if not len(hours) or not came.any():
        return None
    how = shown("m3/s", units)
    last = int(np.flatnonzero((came > 1e-6) | (spilt > 1e-6))[-1]) + 2
    hours, came, spilt = hours[:last], came[:last], spilt[:last]
    series = [
        _series("comes to it", hours, came * how.factor, "water", 0.5),
        _series("spills", hours, spilt * how.factor, "brick", 0.4, (1.8, 0.8)),
    ]
    return line_chart(
        series, width_mm, height_mm, Axis("hours", low=0.0), Axis(how.symbol, low=0.0),
        ChartStyle(letters),
    )  # fmt: skip


def _series(
    label: str,
    hours: Floats,
    flow: Floats,
    role: str,
    width_mm: float,
    dash_mm: tuple[float, ...] = (),
) -> Series:
    """Return a line thinned to what can be seen, with its peak kept."""
    step = max(len(hours) // MOST, 1)
    keep = np.unique(np.append(np.arange(0, len(hours), step), int(np.argmax(flow))))
    return Series(label, hours[keep], flow[keep], role, width_mm, dash_mm)
