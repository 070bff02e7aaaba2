"""Findings drawn where they are: the one warning hue, and a mark for each severity."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding, Severity
from canvas.drawing.entries import Cap, Entry, Fill, Hatch, Layer, Stroke
from canvas.drawing.labels import around, place
from canvas.drawing.look import Look
from canvas.drawing.pen import Pen
from canvas.study.study import Study

MARKS = {
    Severity.ERROR: "mark_error",
    Severity.WARNING: "mark_warning",
    Severity.ADVICE: "mark_advice",
}
MARK_MM = 3.6
#: Marks nearer than this on paper stand as one, with their numbers listed.
MERGE_MM = 3.0


def numbered(findings: Iterable[Finding]) -> list[tuple[str, Finding]]:
    """Return findings with the number map and table call them by: F1 … standing, W1 … waived."""
    standing = [each for each in findings if not each.waived]
    waived = [each for each in findings if each.waived]
    return [(f"F{i}", each) for i, each in enumerate(standing, 1)] + [
        (f"W{i}", each) for i, each in enumerate(waived, 1)
    ]


def finding_layer(study: Study, findings: Sequence[Finding], look: Look) -> Layer:
    """Return the findings' places and marks; waived ones hollow and thin."""
    pen = Pen(look)
    spots: list[tuple[float, float, list[str], Finding]] = []
    for number, finding in numbered(findings):
        _where(pen, finding)
        x, y = _spot(finding.where)
        for old in spots:
            if np.hypot(old[0] - x, old[1] - y) < pen.m(MERGE_MM):
                old[2].append(number)
                break
        else:
            spots.append((x, y, [number], finding))
    for x, y, numbers, finding in spots:
        waived = bool(finding.waived)
        ink = Stroke("warning", 0.2 if waived else 0.35)
        pen.stamps(MARKS[finding.severity], np.array([[x, y]]), MARK_MM, ink, Fill("paper"),
                   level=5)  # fmt: skip
        if look.labels:
            words = ", ".join(numbers[:3]) + ("…" if len(numbers) > 3 else "")
            pen.write(x, y, words, 1.8, "warning", bold=not waived, must=True,
                      tries=around(MARK_MM / 2 + 0.5), weight=8.0)  # fmt: skip
    entries: tuple[Entry, ...] = (*pen.entries(), *place(pen.labels, look.scale))
    return Layer("findings", "Findings", entries)


def _spot(where: BaseGeometry) -> tuple[float, float]:
    if where.is_empty:
        return 0.0, 0.0
    if where.geom_type in ("LineString", "LinearRing"):
        point = where.interpolate(0.5, normalized=True)
    else:
        point = where.representative_point()
    return float(point.x), float(point.y)


def _where(pen: Pen, finding: Finding) -> None:
    alpha = 0.35 if finding.waived else 1.0
    dash = (0.8, 0.8) if finding.waived else ()
    for part in shapely.get_parts(finding.where):
        if part.geom_type == "Polygon":
            hatch = Fill("warning", Hatch.LINES, 0.8 * alpha, -60.0, 1.3, 0.2)
            pen.areas(part, hatch, Stroke("warning", 0.3, dash, alpha), level=1)
        elif part.geom_type != "Point":
            pen.lines(part, Stroke("warning", 1.8, alpha=0.3 * alpha, cap=Cap.FLAT), level=0)
            pen.lines(part, Stroke("warning", 0.4, dash, alpha), level=2)
            ends = shapely.get_coordinates(part)[[0, -1]]
            pen.stamps("dot", ends, 0.9, Stroke("warning", 0.2), level=3)
