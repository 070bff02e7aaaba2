"""Every module that draws details."""

from types import ModuleType

from canvas.drawing.details import gauges, swales

ALL: tuple[ModuleType, ...] = (gauges, swales)
