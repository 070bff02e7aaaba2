"""Every module that shapes a kind of earthwork."""

from types import ModuleType

from canvas.study.earth import crossings, pads, ponds, swales, ways

ALL: tuple[ModuleType, ...] = (pads, ways, crossings, ponds, swales)
