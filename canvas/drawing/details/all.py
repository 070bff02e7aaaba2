"""Every module that draws details."""

from types import ModuleType

ALL: tuple[ModuleType, ...] = ()
