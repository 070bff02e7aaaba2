"""What reading a foreign vector file yields, before any of it becomes part of a plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shapely.geometry.base import BaseGeometry

#: A value of a foreign attribute.
Value = str | int | float | bool | None
#: Places named of what was left out for one reason.
FIRST_PLACES = 3


@dataclass(frozen=True, slots=True)
class Columns:
    """How to read a table of text; "" or None where the reader is to find out."""

    #: Column of the longitude, or of the easting: its heading, or its number from 1.
    x: str = ""
    #: Column of the latitude, or of the northing.
    y: str = ""
    #: Column of shapes as well-known text, in place of `x` and `y`.
    wkt: str = ""
    #: "," ";" "|" or a tab.
    separator: str = ""
    #: "." or ",".
    decimal: str = ""
    #: Name of a character encoding, such as "cp1252".
    encoding: str = ""
    #: Whether the first row holds headings.
    header: bool | None = None


@dataclass(frozen=True, slots=True)
class LayerInfo:
    """One layer of a file."""

    name: str
    #: Geometry type, "" where there is none, "mixed" where there are several.
    geometry: str
    count: int
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Feature:
    """One shape with its attributes."""

    #: In the site's CRS [m], without heights.
    geometry: BaseGeometry
    values: Mapping[str, Value]
    #: Where in the file it stands: "line 12", "placemark 3".
    place: str


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something that was left out, and why."""

    place: str
    why: str


def told(skipped: Iterable[Skipped]) -> tuple[str, ...]:
    """Return one line for each reason, with how many there are and where the first stand."""
    places: dict[str, list[str]] = {}
    for each in skipped:
        places.setdefault(each.why, []).append(each.place)
    return tuple(f"{_where(found)}: {why}" for why, found in places.items())


def _where(places: list[str]) -> str:
    if len(places) == 1:
        return places[0]
    first = ", ".join(places[:FIRST_PLACES])
    return f"{len(places)} ({first}{' …' if len(places) > FIRST_PLACES else ''})"


@dataclass(frozen=True, slots=True)
class Incoming:
    """Everything found in a file, for a preview before it is taken over."""

    path: Path
    #: Name of the format for people.
    format: str
    #: CRS the file's coordinates are in, "EPSG:n" where it has a number; "" unknown.
    crs_of_file: str
    layers: tuple[LayerInfo, ...]
    features: tuple[Feature, ...]
    skipped: tuple[Skipped, ...] = ()
    notes: tuple[str, ...] = ()
    #: Attribute names, in the file's order.
    fields: tuple[str, ...] = field(default=())
