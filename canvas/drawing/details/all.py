"""Every module that draws details."""

from types import ModuleType

from canvas.drawing.details import gauges, pits, ponds, swales

ALL: tuple[ModuleType, ...] = (gauges, pits, ponds, swales)
