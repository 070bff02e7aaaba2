"""Gauges: where a storm run over the land is watched."""

from __future__ import annotations

from canvas.site.elements.water import GROUP
from canvas.site.records import LineElement, PointElement, element


@element("gauge", label="Gauge", plural="Gauges", geometry="Point", group=GROUP)
class Gauge(PointElement):
    """A staff: depth, level and speed of water at one spot, through a storm."""


@element("gauge_line", label="Gauge line", plural="Gauge lines", geometry="LineString", group=GROUP)
class GaugeLine(LineElement):
    """A line across the flow: what passes it, from left to right of the way it is drawn."""
