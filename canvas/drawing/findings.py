"""Findings drawn where they are: the one warning hue, and a mark for each severity."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding, Severity
from canvas.drawing.entries import Cap, Entry, Fill, Hatch, Layer, Stroke
from canvas.drawing.labels import Board, around, place
from canvas.drawing.look import Look
from canvas.drawing.pen import Pen

MARKS = {
    Severity.ERROR: "mark_error",
    Severity.WARNING: "mark_warning",
    Severity.ADVICE: "mark_advice",
}
MARK_MM = 3.6
#: Marks nearer than this on paper stand as one, with their numbers listed.
MERGE_MM = 3.0
#: Other places for a mark: shares of a line, and directions about a spot.
ALONG = (0.35, 0.65, 0.2, 0.8, 0.05, 0.95)
ROUND = tuple((math.cos(k * math.pi / 4), math.sin(k * math.pi / 4)) for k in range(8))


def numbered(findings: Iterable[Finding]) -> list[tuple[str, Finding]]:
    """Return findings with the number map and table call them by: F1 … standing, W1 … waived."""
    standing = [each for each in findings if not each.waived]
    waived = [each for each in findings if each.waived]
    return [(f"F{i}", each) for i, each in enumerate(standing, 1)] + [
        (f"W{i}", each) for i, each in enumerate(waived, 1)
    ]


def finding_layer(findings: Sequence[Finding], look: Look) -> Layer:
    """Return the findings' places and marks as one layer; waived ones hollow and thin."""
    places, marks = finding_layers(findings, look)
    return replace(places, entries=(*places.entries, *marks.entries))


def finding_layers(
    findings: Sequence[Finding], look: Look, board: Board | None = None
) -> tuple[Layer, Layer]:
    """Return the findings' places, to lie under the names, and their marks, to lie over all.

    On paper areas are outlined, so that what lies in them can be read. `board` is left with the
    room the marks took.
    """
    under = Pen(look)
    for finding in findings if look.finding_places else ():
        _where(under, finding, on_paper=look.palette in ("paper", "mono"))
    return (
        Layer("findings", "Findings", under.entries()),
        Layer("finding_marks", "Findings’ marks", _marks(findings, look, board)),
    )


def _marks(findings: Sequence[Finding], look: Look, board: Board | None) -> tuple[Entry, ...]:
    pen = Pen(look)
    spots: list[tuple[float, float, list[str], Finding]] = []
    for number, finding in numbered(findings):
        x, y = _spot(finding.where)
        for old in spots:
            if np.hypot(old[0] - x, old[1] - y) < pen.m(MERGE_MM):
                old[2].append(number)
                break
        else:
            spots.append((x, y, [number], finding))
    for spot_x, spot_y, numbers, finding in spots:
        x, y = spot_x, spot_y
        waived = bool(finding.waived)
        ink = Stroke("warning", 0.2 if waived else 0.35)
        if board is not None:
            x, y = _aside(pen, finding.where, (spot_x, spot_y), board)
            if finding.where.distance(shapely.Point(x, y)) > pen.m(0.1):
                leader = np.array([(spot_x, spot_y), (x, y)])
                pen.lines([leader], Stroke("warning", 0.2), level=4)
            board.take(_mark_box(pen, x, y))
        pen.stamps(MARKS[finding.severity], np.array([[x, y]]), MARK_MM, ink, Fill("paper"),
                   level=5)  # fmt: skip
        if look.labels:
            words = ", ".join(numbers[:3]) + ("…" if len(numbers) > 3 else "")
            tries = around(MARK_MM / 2 + 0.5) + around(MARK_MM + 0.5)
            pen.write(x, y, words, 1.8, "warning", bold=not waived, must=True, tries=tries,
                      weight=8.0)  # fmt: skip
    return (*pen.entries(), *place(pen.labels, look.scale, board))


def _aside(
    pen: Pen, where: BaseGeometry, spot: tuple[float, float], board: Board
) -> tuple[float, float]:
    """Return where a mark covers no name: on the place itself if it can, else close beside it."""
    tries = [spot]
    if where.geom_type == "LineString":
        points = [where.interpolate(share, normalized=True) for share in ALONG]
        tries += [(float(p.x), float(p.y)) for p in points]
    for reach in (1.1, 1.7, 2.4):
        off = pen.m(MARK_MM * reach)
        tries += [(spot[0] + off * dx, spot[1] + off * dy) for dx, dy in ROUND]
    return next((each for each in tries if board.free(_mark_box(pen, *each))), spot)


def _mark_box(pen: Pen, x: float, y: float) -> tuple[float, float, float, float]:
    half, east, north = MARK_MM / 2, pen.mm(x), pen.mm(y)
    return east - half, north - half, east + half, north + half


def _spot(where: BaseGeometry) -> tuple[float, float]:
    if where.is_empty:
        return 0.0, 0.0
    if where.geom_type in ("LineString", "LinearRing"):
        point = where.interpolate(0.5, normalized=True)
    else:
        point = where.representative_point()
    return float(point.x), float(point.y)


def _where(pen: Pen, finding: Finding, *, on_paper: bool = False) -> None:
    alpha = 0.35 if finding.waived else 1.0
    dash = (0.8, 0.8) if finding.waived else ()
    for part in shapely.get_parts(finding.where):
        if part.geom_type == "Polygon" and on_paper:
            pen.lines(part, Stroke("warning", 1.4, alpha=0.25 * alpha, cap=Cap.FLAT), level=0)
            pen.lines(part, Stroke("warning", 0.3, dash, alpha), level=2)
        elif part.geom_type == "Polygon":
            hatch = Fill("warning", Hatch.LINES, 0.8 * alpha, -60.0, 1.3, 0.2)
            pen.areas(part, hatch, Stroke("warning", 0.3, dash, alpha), level=1)
        elif part.geom_type != "Point":
            pen.lines(part, Stroke("warning", 1.8, alpha=0.3 * alpha, cap=Cap.FLAT), level=0)
            pen.lines(part, Stroke("warning", 0.4, dash, alpha), level=2)
            ends = shapely.get_coordinates(part)[[0, -1]]
            pen.stamps("dot", ends, 0.9, Stroke("warning", 0.2), level=3)
