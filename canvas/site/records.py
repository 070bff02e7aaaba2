"""Records: frozen values with an identity. Elements: records with a place on the map.

A class becomes a kind of record through `@record(...)` or `@element(...)`; the registry then
knows its table, its names and its fields, and everything else derives from that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, dataclass_transform

import attrs
import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, InputError
from canvas.base.ident import new_id
from canvas.site import fields
from canvas.site.fields import FieldSpec, choice, date, flag, integer, number, rows, text

C = TypeVar("C", bound=type)


class Status(StrEnum):
    """Where an element stands between what is there and what is wanted."""

    EXISTING = "existing"
    REMOVE = "remove"
    PROPOSED = "proposed"
    BUILT = "built"
    GONE = "gone"


class Owner(StrEnum):
    """Whose it is."""

    OURS = "ours"
    NEIGHBOUR = "neighbour"
    PUBLIC = "public"


STATUS_LABELS = (
    ("existing", "Existing, kept"),
    ("remove", "Existing, to be removed"),
    ("proposed", "Proposed"),
    ("built", "Built"),
    ("gone", "Gone"),
)
OWNER_LABELS = (("ours", "Ours"), ("neighbour", "Neighbour’s"), ("public", "Public"))


@dataclass(frozen=True, slots=True)
class Kind:
    """What the registry knows of one class of records."""

    #: Table in the site file, name on the command line.
    key: str
    cls: type[Record]
    label: str
    plural: str
    #: "Point", "LineString", "Polygon"; "" for records without a place.
    geometry: str
    #: Family the kind is listed under on the desk and the legend; "" for records without a place.
    group: str
    help: str
    specs: tuple[FieldSpec, ...]

    def spec(self, name: str) -> FieldSpec:
        """Return the field called `name`."""
        for spec in self.specs:
            if spec.name == name:
                return spec
        raise InputError(f"{self.key} has no field {name!r}")


_KINDS: dict[str, Kind] = {}


def _register(
    cls: C, key: str, label: str, plural: str, *, geometry: str = "", group: str = ""
) -> C:
    made: C = attrs.frozen(kw_only=True, slots=True)(cls)
    if key in _KINDS:
        raise InputError(f"two kinds are called {key!r}")
    doc = (cls.__doc__ or "").strip().splitlines()[0]
    _KINDS[key] = Kind(key, made, label, plural, geometry, group, doc, fields.specs_of(made))
    made.kind_key = key  # type: ignore[attr-defined]
    return made


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(attrs.field, text, number, integer, flag, choice, date, rows),
)
def record(key: str, *, label: str, plural: str) -> Callable[[C], C]:
    """Declare a kind of record without a place on the map."""
    return lambda cls: _register(cls, key, label, plural)


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(attrs.field, text, number, integer, flag, choice, date, rows),
)
def element(key: str, *, label: str, plural: str, geometry: str, group: str) -> Callable[[C], C]:
    """Declare a kind of element; `geometry` is "Point", "LineString" or "Polygon"."""
    return lambda cls: _register(cls, key, label, plural, geometry=geometry, group=group)


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(attrs.field, text, number, integer, flag, choice, date, rows),
)
def _base(cls: C) -> C:
    made: C = attrs.frozen(kw_only=True, slots=True)(cls)
    return made


@_base
class Record:
    """An immutable value with an identity."""

    id: str = attrs.field(factory=new_id)

    def __attrs_post_init__(self) -> None:
        """Refuse values outside their declaration, naming kind, field and limit."""
        found = self.problems()
        if found:
            kind = kind_of(self)
            raise BadData(
                "; ".join(found),
                where=f"{kind.label} {self.id}",
                remedy="Correct the value and try again.",
            )

    def problems(self) -> list[str]:
        """Return what is wrong with this record's values; empty when all is well."""
        checked = ((spec, getattr(self, spec.name)) for spec in kind_of(self).specs)
        return [words for spec, value in checked if (words := spec.problem(value))]


def _same(one: BaseGeometry, other: BaseGeometry) -> bool:
    return bool(one.equals_exact(other, 0.0))


def shape() -> Any:
    """Declare the geometry field: kept without heights, equal when every coordinate is."""
    return attrs.field(converter=shapely.force_2d, eq=attrs.cmp_using(eq=_same))


@_base
class Element(Record):
    """A record with a geometry in the site's projected CRS [m]."""

    geometry: BaseGeometry = shape()
    name: str = text("Name", default="", help="What the family calls it")
    status: str = choice("Status", STATUS_LABELS, default="proposed")
    owner: str = choice("Owner", OWNER_LABELS, default="ours")
    phase: str = text(
        "Phase", default="", help="Identity of the phase it is built in; empty when none"
    )
    remark: str = text("Remark", default="", long=True)

    def problems(self) -> list[str]:
        """Return what is wrong with values or geometry; empty when all is well."""
        # slots=True replaces the class, so the zero-argument super() would miss it.
        return Record.problems(self) + geometry_problems(self.geometry, kind_of(self).geometry)


@_base
class PointElement(Element):
    """An element at one place."""

    geometry: Point = shape()


@_base
class LineElement(Element):
    """An element along a line."""

    geometry: LineString = shape()


@_base
class AreaElement(Element):
    """An element that covers an area."""

    geometry: Polygon = shape()


def geometry_problems(geometry: BaseGeometry, wanted: str) -> list[str]:
    """Return why a geometry can't serve a kind that wants `wanted`; empty when it can."""
    if geometry.is_empty:
        return ["Shape: it is empty"]
    if geometry.geom_type != wanted:
        return [f"Shape: a {wanted} is needed, this is a {geometry.geom_type}"]
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        return ["Shape: a coordinate is not a number"]
    if not geometry.is_valid:
        return [f"Shape: its edge is at odds with itself ({at_odds(geometry)})"]
    if wanted == "LineString" and geometry.length == 0:
        return ["Shape: the line has no length"]
    return []


def at_odds(geometry: BaseGeometry) -> str:
    """Return why an area is not sound, and where: "crossing near 560012.5 E, 5850020.0 N"."""
    what, _, place = str(shapely.is_valid_reason(geometry)).partition("[")
    words = {"Self-intersection": "crossing", "Ring Self-intersection": "pinch"}.get(what, what)
    numbers = place.rstrip("]").split()
    if len(numbers) < 2:
        return words.lower()
    return f"{words.lower()} near {float(numbers[0]):.1f} E, {float(numbers[1]):.1f} N"


def kind_of(item: Record | type[Record]) -> Kind:
    """Return the kind of a record or of a record class."""
    return _KINDS[item.kind_key]  # type: ignore[union-attr]


def kind(key: str) -> Kind:
    """Return the kind called `key`; `BadData` names those there are."""
    load_all()
    try:
        return _KINDS[key]
    except KeyError:
        known = ", ".join(sorted(k for k, v in _KINDS.items() if v.geometry))
        raise BadData(f"there is no kind called “{key}”", remedy=f"Kinds: {known}.") from None


def kinds() -> Mapping[str, Kind]:
    """Return every kind: records first, then elements in the order they are listed."""
    return _ordered()


@cache
def _ordered() -> dict[str, Kind]:
    load_all()
    from canvas.site.elements.all import MODULES

    rank = {module.__name__: place for place, module in enumerate(MODULES)}
    return dict(sorted(_KINDS.items(), key=lambda kv: rank.get(kv[1].cls.__module__, -1)))


def element_kinds() -> dict[str, Kind]:
    """Return the kinds that have a place on the map, in declared order."""
    return {key: value for key, value in kinds().items() if value.geometry}


def load_all() -> None:
    """Make sure every kind has been declared."""
    import canvas.site.elements.all
    import canvas.site.facts
    import canvas.site.levelling
    import canvas.site.storms  # noqa: F401


def values_of(item: Record) -> dict[str, Any]:
    """Return the declared field values of a record, by column name."""
    return {spec.name: getattr(item, spec.name) for spec in kind_of(item).specs}


def changed(item: Any, **values: Any) -> Any:
    """Return a copy of a record with some values replaced, checked like a new one."""
    return attrs.evolve(item, **values)
