"""Between records and rows: column values, geometry blobs, and one text form of a row.

The text form (JSON of the columns, in declared order) serves the journal and the memory of what
was written last, so both outlive changes of the tables.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any, cast

import attrs
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.records import Element, Kind, Record, kind_of

#: Column of the geometry in every feature table of ours.
GEOM = "geom"
#: Names no field may take, since the tables use them.
TAKEN = frozenset({"fid", "id", GEOM, "rowid"})

SQL_TYPES = {
    FieldType.TEXT: "TEXT",
    FieldType.LONG_TEXT: "TEXT",
    FieldType.CHOICE: "TEXT",
    FieldType.ROWS: "TEXT",
    FieldType.NUMBER: "DOUBLE",
    FieldType.INTEGER: "INTEGER",
    FieldType.FLAG: "BOOLEAN",
    FieldType.DATE: "DATE",
}

_HEADER = struct.Struct("<2sBBi4d")
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)


def quoted(name: str) -> str:
    """Return an SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


# --- geometry ---------------------------------------------------------------------------------


def geometry_blob(geometry: BaseGeometry, srs_id: int) -> bytes:
    """Return a GeoPackage geometry: header with x/y envelope, then little-endian WKB.

    Source: geopackage13, clause 2.1.3.
    """
    min_x, min_y, max_x, max_y = geometry.bounds
    head = _HEADER.pack(b"GP", 0, 0b0000_0011, srs_id, min_x, max_x, min_y, max_y)
    return head + bytes(shapely.to_wkb(geometry, byte_order=1))


def wkb_of(blob: object) -> bytes | None:
    """Return the WKB inside a GeoPackage geometry; None when it is none."""
    if not isinstance(blob, bytes) or len(blob) < 13 or blob[:2] != b"GP":
        return None
    envelope = (blob[3] >> 1) & 7
    return None if envelope > 4 else blob[8 + _ENVELOPE_BYTES[envelope] :]


def geometry_of(blob: object) -> BaseGeometry | None:
    """Return the geometry inside a GeoPackage geometry; None when there is none."""
    wkb = wkb_of(blob)
    if wkb is None:
        return None
    made = shapely.from_wkb(wkb, on_invalid="ignore")
    return made if isinstance(made, BaseGeometry) else None


def envelope_of(blob: bytes) -> tuple[float, float, float, float] | None:
    """Return min x, max x, min y, max y of a GeoPackage geometry; None when it is empty."""
    if ((blob[3] >> 1) & 7) and not blob[3] & 0x10:
        order = "<" if blob[3] & 1 else ">"
        min_x, max_x, min_y, max_y = struct.unpack_from(order + "4d", blob, 8)
        return min_x, max_x, min_y, max_y
    made = geometry_of(blob)
    if made is None or made.is_empty:
        return None
    min_x, min_y, max_x, max_y = made.bounds
    return min_x, max_x, min_y, max_y


def is_empty_blob(blob: object) -> int | None:
    """Return 1 for an empty geometry, 0 for one with points, None for NULL."""
    return int(envelope_of(blob) is None) if isinstance(blob, bytes) and len(blob) > 7 else None


# --- values -----------------------------------------------------------------------------------


def to_column(spec: FieldSpec, value: Any) -> Any:
    """Return what the column holds for a field's value."""
    if value is None:
        return None
    if spec.type is FieldType.NUMBER:
        return float(value)
    if spec.type in (FieldType.INTEGER, FieldType.FLAG):
        return int(value)
    if spec.type is FieldType.DATE:
        return value or None
    return value


def _number(default: Any) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if value is None:
            return default
        return float(value) if isinstance(value, int) else value

    return read


def _integer(default: Any) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if value is None:
            return default
        return int(value) if isinstance(value, float) and value.is_integer() else value

    return read


def _flag(default: Any) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if value is None:
            return default
        return bool(value) if value in (0, 1) else value

    return read


def _text(default: Any) -> Callable[[Any], Any]:
    absent = default if default is not None else ""
    return lambda value: absent if value is None else value


def _reader(spec: FieldSpec) -> Callable[[Any], Any]:
    """Return how a column's value becomes the field's: NULL is the default, "" for a date."""
    if spec.type is FieldType.NUMBER:
        return _number(spec.default)
    if spec.type is FieldType.INTEGER:
        return _integer(spec.default)
    if spec.type is FieldType.FLAG:
        return _flag(spec.default)
    return _text("" if spec.type is FieldType.DATE else spec.default)


def _plain(value: object) -> object:
    """Return something JSON can hold for a value another program left in a column."""
    return {"hex": value.hex()} if isinstance(value, bytes) else repr(value)


_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=_plain).encode


def as_text(names: Sequence[str], values: Sequence[Any]) -> str:
    """Return the text form of a row: columns by name."""
    return _encode(dict(zip(names, values, strict=True)))


class Codec:
    """How one kind's records become rows and come back."""

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        self.names = tuple(spec.name for spec in kind.specs)
        self.is_element = issubclass(kind.cls, Element)
        clash = TAKEN & set(self.names)
        held = set(self.names) | {"id", "geometry"}
        if clash or {a.name for a in attrs.fields(cast(Any, kind.cls))} - held:
            raise InputError(f"{kind.key}: every field needs a declaration, and a name not taken")
        self._readers = tuple(zip(self.names, map(_reader, kind.specs), strict=True))

    def columns(self, item: Record) -> list[Any]:
        """Return the column values of a record, in declared order."""
        return [to_column(spec, getattr(item, spec.name)) for spec in self.kind.specs]

    def values(self, columns: Mapping[str, Any]) -> dict[str, Any]:
        """Return field values from columns; a column that isn't there counts as NULL."""
        return {name: read(columns.get(name)) for name, read in self._readers}

    def text(self, columns: Sequence[Any]) -> str:
        """Return the text form of column values in declared order."""
        return as_text(self.names, columns)

    def trusted(
        self, ident: str, columns: Mapping[str, Any], geometry: BaseGeometry | None
    ) -> Record:
        """Return a record from values we wrote ourselves, so they are not checked again."""
        made = self.kind.cls.__new__(self.kind.cls)
        put = object.__setattr__
        put(made, "id", ident)
        for name, read in self._readers:
            put(made, name, read(columns.get(name)))
        if self.is_element:
            put(made, "geometry", geometry)
        return made


@cache
def _codec(kind: Kind) -> Codec:
    return Codec(kind)


def codec(kind: Kind) -> Codec:
    """Return the codec of a kind."""
    return _codec(kind)


def codec_of(item: Record) -> Codec:
    """Return the codec of a record's kind."""
    return _codec(kind_of(item))
