"""Every module that shapes a kind of earthwork."""

from types import ModuleType

ALL: tuple[ModuleType, ...] = ()
