"""Findings drawn where they are, in the one warning hue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from canvas.base.finding import Finding
from canvas.drawing.entries import Cap, Fill, Hatch, Layer, Stroke
from canvas.drawing.finding_marks import mark_entries
from canvas.drawing.labels import Board
from canvas.drawing.look import Look
from canvas.drawing.pen import Pen


def finding_layer(findings: Sequence[Finding], look: Look, board: Board | None = None) -> Layer:
    """Return the findings' places and marks as one layer; waived ones hollow and thin."""
    places, marks = finding_layers(findings, look, board)
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
        Layer("finding_marks", "Findings’ marks", mark_entries(findings, look, board)),
    )


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
