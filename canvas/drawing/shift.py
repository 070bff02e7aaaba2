"""Entries moved as they are: small drawings put in their place on a sheet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from canvas.base.errors import InputError
from canvas.drawing.entries import Areas, Entry, Image, Lines, Path, Stamps, Text


def shifted(entries: Iterable[Entry], dx: float, dy: float) -> list[Entry]:
    """Return entries moved by an offset, in the drawing's own units.

    Raises `InputError` for a picture kept in a file: it knows its own place.
    """
    by = np.array([dx, dy], float)

    def path(points: Path) -> Path:
        return np.asarray(points + by, np.float64)

    moved: list[Entry] = []
    for entry in entries:
        match entry:
            case Lines():
                moved.append(replace(entry, paths=[path(each) for each in entry.paths]))
            case Areas():
                rings = [[path(ring) for ring in area] for area in entry.polygons]
                moved.append(replace(entry, polygons=rings))
            case Stamps():
                moved.append(replace(entry, xy=path(entry.xy)))
            case Text():
                moved.append(replace(entry, x=entry.x + dx, y=entry.y + dy))
            case Image():
                west, south, east, north = entry.bounds
                bounds = (west + dx, south + dy, east + dx, north + dy)
                moved.append(replace(entry, bounds=bounds))
            case _:
                raise InputError(f"{type(entry).__name__} cannot be moved")
    return moved
