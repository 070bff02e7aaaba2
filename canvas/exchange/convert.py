"""Turns a foreign attribute into the value of a typed field, or says why it can't."""

from __future__ import annotations

import datetime
import re

from canvas.base.errors import BadData
from canvas.base.quantity import read_number
from canvas.exchange import headings
from canvas.exchange.incoming import Value
from canvas.site.fields import FieldSpec, FieldType

YES = headings.words("yes y true t 1 ja j oui o si s sim x wahr vrai verdadero vero tak")
NO = headings.words("no n false f 0 nein non nao falsch faux falso nie nej")
WITH_UNIT = re.compile(r"([-+−]?[\d.,'\s\u00a0\u202f]*\d)\s*([^\d\s].*)?")


class Unusable(Exception):
    """Why a value can't serve its field."""


def value_of(spec: FieldSpec, raw: Value, factor: float) -> object:
    """Return a field's value from a foreign one; `factor` is the column's unit in the field's.

    Raises
    ------
    Unusable
        With the field, the value and the trouble named.
    """
    text = "" if raw is None else str(raw).strip()
    if not text:
        return spec.default
    value: object = text
    if spec.type in (FieldType.NUMBER, FieldType.INTEGER):
        value = _number(spec, raw, text, factor)
    elif spec.type is FieldType.FLAG:
        value = _flag(spec, text)
    elif spec.type is FieldType.CHOICE:
        value = _choice(spec, text)
    elif spec.type is FieldType.DATE:
        value = _date(spec, text)
    if trouble := spec.problem(value):
        raise Unusable(trouble)
    return value


def _number(spec: FieldSpec, raw: Value, text: str, factor: float) -> float | int:
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        number = float(raw)
    else:
        match = WITH_UNIT.fullmatch(text) if len(text) < 60 else None
        if match is None:
            raise Unusable(f"{spec.label}: “{text[:40]}” is not a number")
        unit = (match[2] or "").strip().casefold()
        if unit:
            own = headings.factor(unit, spec.unit) if unit in headings.IN_HEADINGS else None
            if own is None:
                raise Unusable(f"{spec.label}: “{text[:40]}” has a unit that doesn't fit")
            factor = own
        try:
            number = read_number(match[1])
        except BadData as bad:
            raise Unusable(f"{spec.label}: {bad.what}") from bad
    number *= factor
    # Products such as 3 x 0.3048 carry dust in the last digits.
    number = float(f"{number:.12g}")
    if spec.type is FieldType.INTEGER and number == int(number):
        return int(number)
    return number


def _flag(spec: FieldSpec, text: str) -> bool:
    word = headings.bare(text)
    if word in YES or text in ("1.0", "1,0"):
        return True
    if word in NO or text in ("0.0", "0,0"):
        return False
    raise Unusable(f"{spec.label}: “{text[:40]}” is neither yes nor no")


def _choice(spec: FieldSpec, text: str) -> str:
    wanted = headings.bare(text)
    for choice in spec.choices:
        if wanted in (headings.bare(choice.value), headings.bare(choice.label)):
            return choice.value
    allowed = ", ".join(choice.label for choice in spec.choices)
    raise Unusable(f"{spec.label}: “{text[:40]}” is not one of {allowed}")


def _date(spec: FieldSpec, text: str) -> str:
    for form in (r"(\d{4})[-/.]?(\d{2})[-/.]?(\d{2})(?:[T ].*)?", r"(\d{1,2})\.(\d{1,2})\.(\d{4})"):
        match = re.fullmatch(form, text)
        if match is None:
            continue
        parts = [int(part) for part in match.groups()]
        year, month, day = parts if parts[0] > 31 else reversed(parts)
        try:
            return datetime.date(year, month, day).isoformat()
        except ValueError:
            break
    raise Unusable(f"{spec.label}: “{text[:40]}” is not a date like 2026-03-31")
