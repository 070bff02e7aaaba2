"""Facts and findings for other programs: documented, versioned, stable.

Numbers are SI. Coordinates are longitude and latitude (WGS 84) as GeoJSON asks. Fields may be
added to a version; none is renamed or dropped without a new one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.base.finding import Finding, Severity
from canvas.site.records import Element, kind_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from canvas.study.study import Study
    from canvas.study.suggest.proposal import Proposal

VERSION = 1


def facts_json(study: Study, idents: list[str]) -> dict[str, Any]:
    """Return the site's facts, and those of the elements named."""
    return {
        "format": "hillwright facts",
        "version": VERSION,
        "site": study.plan.site.name,
        "crs": study.plan.site.crs,
        "facts": [fact_json(fact) for fact in study.site_facts()],
        "elements": [element_json(study, study.plan.element(ident)) for ident in idents],
    }


def fact_json(fact: Fact) -> dict[str, Any]:
    """Return one fact; `value` is null where it is unknown."""
    value = fact.value
    if isinstance(value, float) and not math.isfinite(value):
        value = None
    return {
        "key": fact.key,
        "label": fact.label,
        "value": value,
        "unit": _si(fact.unit),
        "basis": fact.basis,
        "plus_minus": fact.plus_minus,
        "remark": fact.remark,
        "source": fact.source,
    }


def heading(fact: Fact) -> str:
    """Return a column heading for a fact: its key with its SI unit, unless the key ends in it."""
    unit = _si(fact.unit)
    named = unit in ("", "1", "count") or fact.key.endswith(f"_{unit}")
    return fact.key if named else f"{fact.key}_{unit}"


def _si(unit: str) -> str:
    # "ha" and "%" are ways of showing: the numbers are square metres and fractions.
    return {"ha": "m2", "%": "1", "ratio": "1", "m_grid": "m"}.get(unit, unit)


def element_json(study: Study, item: Element) -> dict[str, Any]:
    """Return an element with its facts."""
    return {
        "id": item.id,
        "kind": kind_of(item).key,
        "name": item.name,
        "status": item.status,
        "owner": item.owner,
        "phase": item.phase,
        "facts": [fact_json(fact) for fact in study.facts(item.id)],
    }


def findings_json(study: Study, findings: tuple[Finding, ...]) -> dict[str, Any]:
    """Return findings with where they are, and how many stand by severity."""
    turn = Transformer.from_crs(study.crs, "OGC:CRS84", always_xy=True)
    standing = [each for each in findings if not each.waived]
    return {
        "format": "hillwright findings",
        "version": VERSION,
        "site": study.plan.site.name,
        "rule_sets": list(study.plan.site.sets()),
        "unchecked": list(study.unchecked()),
        "counts": {
            str(severity): sum(each.severity is severity for each in standing)
            for severity in Severity
        }
        | {"waived": len(findings) - len(standing)},
        "findings": [finding_json(each, turn) for each in findings],
    }


def proposals_json(study: Study, found: Sequence[Proposal]) -> dict[str, Any]:
    """Return suggestions, best first; `where` is a GeoJSON geometry."""
    turn = Transformer.from_crs(study.crs, "OGC:CRS84", always_xy=True)
    return {
        "format": "hillwright suggestions",
        "version": VERSION,
        "site": study.plan.site.name,
        "suggestions": [
            {
                "kind": kind_of(each.element).key,
                "score": each.score,
                "parts": dict(each.parts),
                "facts": [fact_json(fact) for fact in each.facts],
                "why": each.why,
                "where": _geojson(each.element.geometry, turn),
            }
            for each in found
        ],
    }


def finding_json(finding: Finding, turn: Transformer) -> dict[str, Any]:
    """Return one finding; `where` is a GeoJSON geometry."""
    return {
        "key": finding.key,
        "rule": finding.rule,
        "rule_set": finding.rule_set,
        "severity": str(finding.severity),
        "failing": finding.failing,
        "message": finding.message,
        "elements": list(finding.elements),
        "measured": finding.measured,
        "required": finding.required,
        "sense": finding.sense,
        "unit": _si(finding.unit),
        "where": _geojson(finding.where, turn),
        "source": finding.source,
        "mark": str(finding.mark),
        "unconfirmed": finding.unconfirmed,
        "caution": finding.caution,
        "waived": finding.waived,
    }


def _geojson(geometry: BaseGeometry, turn: Transformer) -> dict[str, Any] | None:
    if geometry.is_empty:
        return None

    def carry(xy: np.ndarray) -> np.ndarray:
        return np.round(np.column_stack(turn.transform(xy[:, 0], xy[:, 1])), 7)

    found: dict[str, Any] = shapely.geometry.mapping(shapely.transform(geometry, carry))
    return found
