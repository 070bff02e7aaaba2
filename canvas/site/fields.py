"""Typed fields: a record's columns, form, messages and documentation come from one declaration."""

from __future__ import annotations

import dataclasses
import datetime
import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import attrs

from canvas.site import tabular
from canvas.site.tabular import Column

SPEC = "field_spec"
REQUIRED: Any = attrs.NOTHING


class FieldType(StrEnum):
    """What a field holds."""

    TEXT = "text"
    LONG_TEXT = "long text"
    NUMBER = "number"
    INTEGER = "integer"
    FLAG = "flag"
    CHOICE = "choice"
    DATE = "date"
    ROWS = "rows"


@dataclass(frozen=True, slots=True)
class Choice:
    """One value a choice field may take, and its name for people."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """What is known of one field besides its value."""

    name: str
    label: str
    type: FieldType
    help: str = ""
    #: Key of `base.quantity.UNITS`; "" where the field has no unit.
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[Choice, ...] = ()
    default: Any = None
    columns: tuple[Column, ...] = ()

    def problem(self, value: object) -> str:
        """Return what is wrong with a value, naming field, value and limit; "" if nothing is."""
        if self.type in (FieldType.NUMBER, FieldType.INTEGER):
            return self._number_problem(value)
        if self.type is FieldType.FLAG:
            return "" if isinstance(value, bool) else f"{self.label}: {value!r} is not yes or no"
        if self.type is FieldType.DATE and value not in ("", None):
            return self._date_problem(value)
        return self._words_problem(value)

    def _words_problem(self, value: object) -> str:
        if not isinstance(value, str):
            return f"{self.label}: {value!r} is not text"
        if self.type is FieldType.ROWS:
            problem = tabular.problem(value, self.columns)
            return f"{self.label}: {problem}" if problem else ""
        if self.type is FieldType.CHOICE and value not in {c.value for c in self.choices}:
            allowed = ", ".join(c.value for c in self.choices)
            return f"{self.label}: “{value}” is not one of {allowed}"
        return ""

    def _number_problem(self, value: object) -> str:
        if value is None:
            return "" if self.default is None else f"{self.label}: a number is needed"
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return f"{self.label}: {value!r} is not a number"
        if not math.isfinite(value):
            return f"{self.label}: {value} is not a number"
        if self.type is FieldType.INTEGER and value != int(value):
            return f"{self.label}: {value} is not a whole number"
        if not self.low <= value <= self.high:
            return f"{self.label}: {value:g} lies outside {self.low:g} to {self.high:g} {self.unit}"
        return ""

    def _date_problem(self, value: object) -> str:
        try:
            datetime.date.fromisoformat(str(value))
        except ValueError:
            return f"{self.label}: “{value}” is not a date like 2026-03-31"
        return ""

    def label_of(self, value: str) -> str:
        """Return a choice's name for people."""
        return next((c.label for c in self.choices if c.value == value), value)


def _field(spec: FieldSpec, default: Any) -> Any:
    return attrs.field(default=default, metadata={SPEC: spec})


def text(label: str, *, default: str = "", help: str = "", long: bool = False) -> Any:
    """Declare a text field; `long` for several lines."""
    kind = FieldType.LONG_TEXT if long else FieldType.TEXT
    return _field(FieldSpec("", label, kind, help, default=default), default)


def number(
    label: str,
    unit: str,
    *,
    default: float | None = None,
    low: float = -math.inf,
    high: float = math.inf,
    help: str = "",
) -> Any:
    """Declare an SI number; a default of None means it may stay unknown."""
    spec = FieldSpec("", label, FieldType.NUMBER, help, unit, low, high, default=default)
    return _field(spec, default)


def integer(
    label: str,
    *,
    unit: str = "count",
    default: int | None = None,
    low: float = -math.inf,
    high: float = math.inf,
    help: str = "",
) -> Any:
    """Declare a whole number; a default of None means it may stay unknown."""
    spec = FieldSpec("", label, FieldType.INTEGER, help, unit, low, high, default=default)
    return _field(spec, default)


def flag(label: str, *, default: bool = False, help: str = "") -> Any:
    """Declare a yes/no field."""
    return _field(FieldSpec("", label, FieldType.FLAG, help, default=default), default)


def date(label: str, *, default: str = "", help: str = "") -> Any:
    """Declare a calendar date, kept as ISO 8601 text; "" when unknown."""
    return _field(FieldSpec("", label, FieldType.DATE, help, default=default), default)


def choice(label: str, options: Iterable[tuple[str, str]], *, default: str, help: str = "") -> Any:
    """Declare a field that takes one of (value, label) `options`."""
    choices = tuple(Choice(*pair) for pair in options)
    spec = FieldSpec("", label, FieldType.CHOICE, help, choices=choices, default=default)
    return _field(spec, default)


def rows(label: str, columns: Iterable[Column], *, default: str = "", help: str = "") -> Any:
    """Declare a small table kept as text; read it with `tabular.parse`."""
    spec = FieldSpec("", label, FieldType.ROWS, help, default=default, columns=tuple(columns))
    return _field(spec, default)


def specs_of(cls: type) -> tuple[FieldSpec, ...]:
    """Return the declared fields of a record class, inherited ones first.

    A subclass may give an inherited field another default by plain assignment.
    """
    declared: dict[str, FieldSpec] = {}
    for layer in reversed(cls.__mro__):
        for attribute in layer.__dict__.get("__attrs_attrs__", ()):
            spec = attribute.metadata.get(SPEC)
            if spec is not None:
                declared[attribute.name] = spec
    defaults = {a.name: a.default for a in attrs.fields(cls)}
    return tuple(
        dataclasses.replace(spec, name=name, default=defaults[name])
        for name, spec in declared.items()
    )
