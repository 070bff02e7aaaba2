"""Which function draws a kind, and in what order kinds lie over one another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

from canvas.base.errors import InputError
from canvas.drawing.pen import Drawn, Pen
from canvas.site.records import element_kinds

Draw = Callable[[Sequence[Drawn], Pen], None]
D = TypeVar("D", bound=Draw)


@dataclass(frozen=True, slots=True)
class Symbol:
    """How a kind is drawn."""

    kind: str
    draw: Draw
    #: Larger lies over smaller.
    height: int
    #: The choice field whose values the legend tells apart; "" when there is none.
    variant: str = ""


_SYMBOLS: dict[str, Symbol] = {}


def symbol(kind: str, height: int, variant: str = "") -> Callable[[D], D]:
    """Register the drawing function of a kind."""

    def keep(function: D) -> D:
        _SYMBOLS[kind] = Symbol(kind, function, height, variant)
        return function

    return keep


@cache
def _load() -> None:
    from canvas.drawing.symbols import (  # noqa: F401
        access,
        cover,
        crossings,
        gauges,
        heights,
        land,
        pads,
        ponds,
        services,
        structures,
        swales,
        trees,
        vegetation,
        water,
        writing,
    )


def symbols() -> dict[str, Symbol]:
    """Return every symbol by kind, the lowest first."""
    _load()
    return dict(sorted(_SYMBOLS.items(), key=lambda pair: pair[1].height))


def symbol_of(kind: str) -> Symbol:
    """Return the symbol of a kind."""
    _load()
    try:
        return _SYMBOLS[kind]
    except KeyError:
        raise InputError(f"kind {kind!r} has no symbol in canvas/drawing/symbols") from None


def missing() -> list[str]:
    """Return the kinds without a symbol; a test wants it empty."""
    _load()
    return [key for key in element_kinds() if key not in _SYMBOLS]
