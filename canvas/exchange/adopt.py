"""Turns what was read from a foreign file into elements of one kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.exchange import convert, names, shapes
from canvas.exchange.incoming import Feature, Incoming, Skipped, Value
from canvas.site.fields import FieldSpec
from canvas.site.records import Element, Kind, element_kinds, kind

#: Notes are listed one by one up to here.
MOST_NOTES = 50


@dataclass(frozen=True, slots=True)
class Adopted:
    """Elements, what was left out and why, and what was changed on the way."""

    elements: tuple[Element, ...]
    skipped: tuple[Skipped, ...]
    notes: tuple[str, ...] = ()


def guess_mapping(incoming: Incoming, kind_key: str) -> dict[str, str]:
    """Return field -> column for the fields of a kind that the file seems to hold."""
    return names.guess(_columns(incoming), kind_key)


def to_elements(
    incoming: Incoming, kind_key: str, mapping: Mapping[str, str] | None = None
) -> Adopted:
    """Return the file's shapes as elements of a kind.

    Geometries of several parts become one element each; lines are closed where the kind is an
    area, areas give their edges where it is a line, and a file of nothing but points is joined,
    in its order, for either. A value that can't serve its field is left out and listed; the
    element stays. Nothing is mended or changed without a note.

    Parameters
    ----------
    mapping : mapping of field -> column, optional
        Without it, `guess_mapping`'s.

    Raises
    ------
    BadData
        The kind has no place on the map, or the mapping names a field or column there isn't.
    """
    wanted = kind(kind_key)
    if not wanted.geometry:
        raise BadData(f"a {wanted.label.lower()} has no place on the map")
    mapping = guess_mapping(incoming, kind_key) if mapping is None else mapping
    plan = _plan(incoming, wanted, mapping)
    skipped: list[Skipped] = []
    notes: Counter[str] = Counter()
    features = _of_kind(incoming, kind_key, notes)
    if wanted.geometry != "Point" and features:
        features = _joined(features, wanted, notes)
    elements = [
        element for feature in features for element in _made(feature, wanted, plan, skipped, notes)
    ]
    told = [f"{words} ({count} times)" if count > 1 else words for words, count in notes.items()]
    if len(told) > MOST_NOTES:
        told = [*told[:MOST_NOTES], f"and {len(told) - MOST_NOTES} more like these"]
    return Adopted(tuple(elements), tuple(skipped), tuple(told))


Plan = list[tuple[FieldSpec, str, float]]


def _columns(incoming: Incoming) -> list[str]:
    if incoming.fields:
        return list(incoming.fields)
    return list(dict.fromkeys(key for feature in incoming.features for key in feature.values))


def _plan(incoming: Incoming, wanted: Kind, mapping: Mapping[str, str]) -> Plan:
    """Return (field, column, factor) for every field to fill."""
    known = {spec.name: spec for spec in wanted.specs}
    columns = set(_columns(incoming))
    plan: Plan = []
    for name, column in mapping.items():
        if name not in known:
            raise BadData(
                f"a {wanted.label.lower()} has no field “{name}”",
                remedy=f"Its fields are {', '.join(known)}.",
            )
        if column not in columns:
            raise BadData(f"the file has no column “{column}”")
        factor = names.unit_factor(column, known[name])
        if factor is None:
            raise BadData(
                f"the column “{column}” is in a unit that doesn't fit {known[name].label.lower()}",
                remedy="Choose another column, or none.",
            )
        plan.append((known[name], column, factor))
    return plan


def _of_kind(incoming: Incoming, kind_key: str, notes: Counter[str]) -> list[Feature]:
    """Return the features of a kind from a file this program wrote with several kinds in it."""
    column = "type" if incoming.format == "GPX" else "kind"
    features = list(incoming.features)
    own = [feature for feature in features if feature.values.get(column) == kind_key]
    known = element_kinds()
    others = sum(feature.values.get(column) in known for feature in features) - len(own)
    if not own or not others:
        return features
    notes[f"{others} elements of other kinds in the file were left"] += 1
    return own


def _joined(features: list[Feature], wanted: Kind, notes: Counter[str]) -> list[Feature]:
    """Join points into one line or area, when the file holds nothing else."""
    points = [shapely.get_coordinates(feature.geometry) for feature in features]
    least = 2 if wanted.geometry == "LineString" else 3
    alike = all(f.geometry.geom_type == "Point" for f in features)
    if not alike or len(features) < least:
        return features
    coordinates = [tuple(pair) for block in points for pair in block]
    shape: BaseGeometry = (
        shapely.LineString(coordinates) if least == 2 else shapely.Polygon(coordinates)
    )
    first = features[0].values
    shared = {
        key: value
        for key, value in first.items()
        if all(feature.values.get(key) == value for feature in features)
    }
    notes[f"{len(features)} points were joined in the file’s order"] += 1
    return [Feature(shape, shared, f"{features[0].place} to {features[-1].place}")]


def _made(
    feature: Feature, wanted: Kind, plan: Plan, skipped: list[Skipped], notes: Counter[str]
) -> list[Element]:
    fitted = shapes.fit(feature.geometry, wanted.geometry)
    skipped.extend(Skipped(feature.place, why) for why in fitted.lost)
    notes.update(f"{feature.place}: {words}" for words in fitted.notes)
    values = _values(feature.values, plan, feature.place, skipped, notes)
    made: list[Element] = []
    for shape in fitted.shapes:
        try:
            make: Any = wanted.cls
            made.append(make(geometry=shape, **values))
        except BadData as bad:
            skipped.append(Skipped(feature.place, bad.what))
    return made


def _values(
    foreign: Mapping[str, Value],
    plan: Plan,
    place: str,
    skipped: list[Skipped],
    notes: Counter[str],
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for spec, column, factor in plan:
        raw = foreign.get(column)
        if raw is None or raw == "":
            continue
        try:
            values[spec.name] = convert.value_of(spec, raw, factor)
        except convert.Unusable as why:
            percent = _as_percent(spec, raw) if names.unit_factor("", spec) == factor else None
            if percent is None:
                skipped.append(Skipped(place, f"value left out: {why}"))
                continue
            values[spec.name] = percent
            notes[f"“{column}” was read as percent"] += 1
    return values


def _as_percent(spec: FieldSpec, raw: Value) -> object | None:
    """Return a share written as a plain number of percent, such as 35."""
    if spec.unit != "%":
        return None
    try:
        return convert.value_of(spec, raw, 0.01)
    except convert.Unusable:
        return None
