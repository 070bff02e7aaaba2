"""Every module that draws details."""

from types import ModuleType

from canvas.drawing.details import crossings, gauges, pads, pits, ponds, storm, swales, ways

ALL: tuple[ModuleType, ...] = (gauges, pads, pits, ponds, swales, ways, crossings, storm)
