"""Every module that draws details."""

from types import ModuleType

from canvas.drawing.details import gauges, pads, pits, ponds, swales

ALL: tuple[ModuleType, ...] = (gauges, pads, pits, ponds, swales)
