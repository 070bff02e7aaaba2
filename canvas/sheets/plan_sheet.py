"""The plan sheet: map at true scale, and all that must stand beside it to be trusted."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding
from canvas.base.grid import Bounds
from canvas.base.quantity import UnitSystem, show
from canvas.base.sources import source
from canvas.drawing.build import all_layers, shown_elements
from canvas.drawing.entries import Entry, Frame, Page, Stroke
from canvas.drawing.findings import numbered
from canvas.drawing.furniture import (
    FRAME,
    box,
    left_text,
    north_arrow,
    north_words,
    ratio_text,
    rule,
    scale_bar,
    ticks,
)
from canvas.drawing.legend import legend, shading_items
from canvas.drawing.look import Look
from canvas.drawing.typeface import fit, wrap
from canvas.sheets.blocks import Column, Line, Paragraph, figure, legend_block, paragraphs, table
from canvas.sheets.cautions import cautions
from canvas.sheets.flow import Block, Flow, Rect
from canvas.sheets.layout import Layout, further_layout, layout, type_of
from canvas.sheets.papers import best_scale, check_scale, paper
from canvas.sheets.schedules import schedules
from canvas.sheets.titleblock import title_block, title_height, titles
from canvas.site.elements.land import SiteBoundary
from canvas.site.records import Element
from canvas.study.study import Study

#: Free paper around the site when it is fitted [mm].
AROUND_MM = 5.0
#: Half-width of the map around a single point [m].
LEAST_M = 10.0
TITLE_ROWS = 6
#: Background pictures are printed this strong, so that lines and letters stand out.
PHOTO = 0.5
#: Up to this many open findings stand before the legend.
FEW_FINDINGS = 8
CAUTIONS = "Cautions"
#: Lines kept at the foot of the panel for what stands on the next sheet.
FOOT_LINES = 4


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """What is to be printed, and how."""

    paper: str = "A3"
    landscape: bool = True
    #: The n of 1:n; None for the largest round scale the site fits at.
    scale: float | None = None
    title: str = "Plan"
    #: ISO date; "" for today.
    date: str = ""
    #: East, north of the map's middle [m]; None for the site's.
    centre: tuple[float, float] | None = None
    #: Words of the designer's own, a paragraph each.
    notes: tuple[str, ...] = ()
    schedules: bool = True
    #: What the map shows; its scale, palette and units are the sheet's.
    look: Look = field(default_factory=lambda: Look(picture_opacity=PHOTO))
    #: Name of the inks: "paper" or "mono".
    palette: str = "paper"


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """Everything worked out before a page is drawn."""

    study: Study
    options: SheetOptions
    look: Look
    layout: Layout
    bounds: Bounds
    frame: Frame
    shown: Mapping[str, Sequence[Element]]
    findings: tuple[Finding, ...]
    date: str

    @property
    def units(self) -> UnitSystem:
        return self.look.units


def plan_sheet(
    study: Study, options: SheetOptions | None = None, *, folder: Path | None = None
) -> tuple[Page, ...]:
    """Return the sheet's pages: the map's, and further ones where its tables found no room.

    `folder` is the site's, for its background pictures; without it they stay off.

    Raises
    ------
    BadData
        The paper or the scale is not one a sheet can be drawn on.
    """
    sheet = _prepare(study, options or SheetOptions(), folder)
    flow = Flow(sheet.layout.type, [(block, 0) for block in _blocks(sheet)])
    flow.fill(_first_columns(sheet.layout))
    first, flow.entries = flow.entries, []
    rest: list[list[Entry]] = []
    beyond = further_layout(sheet.layout.width, sheet.layout.height, sheet.layout.title.height)
    left = _left_over(flow, sheet)
    while not flow.done:
        before = list(flow.waiting)
        flow.fill(beyond.columns)
        if flow.waiting == before:
            # A row taller than a whole column can only be dropped from the page.
            flow.waiting.pop(0)
            continue
        rest.append(flow.entries)
        flow.entries = []
    total = 1 + len(rest)
    pages = [_map_page(sheet, first, left if rest else "", total)]
    pages += [_further_page(sheet, beyond, drawn, i + 2, total) for i, drawn in enumerate(rest)]
    return tuple(pages)


def _prepare(study: Study, options: SheetOptions, folder: Path | None) -> _Sheet:
    width, height = paper(options.paper).sides(options.landscape)
    letters = type_of(width, height)
    place = layout(width, height, title_height(letters, TITLE_ROWS))
    units = study.plan.site.unit_system()
    extent = site_extent(study)
    scale = (
        check_scale(options.scale)
        if options.scale is not None
        else best_scale(
            extent[2] - extent[0],
            extent[3] - extent[1],
            place.map.width - 2 * AROUND_MM,
            place.map.height - 2 * AROUND_MM,
            units,
        )
    )
    centre = options.centre or ((extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2)
    half_x, half_y = place.map.width * scale / 2000, place.map.height * scale / 2000
    bounds = (centre[0] - half_x, centre[1] - half_y, centre[0] + half_x, centre[1] + half_y)
    look = replace(options.look, scale=scale, palette=options.palette, units=units)
    layers = all_layers(study, look, folder=folder, bounds=bounds)
    frame = Frame(
        place.map.x, place.map.y, place.map.width, place.map.height, *centre, scale, layers
    )
    window = shapely.box(*bounds)
    findings = tuple(f for f in study.findings() if f.where.intersects(window))
    shown = shown_elements(study, look, bounds)
    date = options.date or datetime.date.today().isoformat()
    return _Sheet(study, options, look, place, bounds, frame, shown, findings, date)


def site_extent(study: Study) -> Bounds:
    """Return what a fitted map must hold: boundaries, else all that is drawn, else the ground."""
    shapes: list[BaseGeometry] = [item.geometry for item in study.plan.of(SiteBoundary)]
    if not shapes:
        shapes = [item.geometry for item in study.plan.elements()]
    if not shapes:
        grid = study.land.grid
        return grid.bounds if grid is not None else (-LEAST_M, -LEAST_M, LEAST_M, LEAST_M)
    found = shapely.total_bounds(np.array(shapes, dtype=object))
    west, south, east, north = (float(v) for v in found)
    if max(east - west, north - south) < LEAST_M:
        return west - LEAST_M, south - LEAST_M, east + LEAST_M, north + LEAST_M
    return west, south, east, north


def _first_columns(place: Layout) -> tuple[Rect, ...]:
    """Return the first sheet's columns, the last with room kept for "continued on"."""
    room = place.type.line * (FOOT_LINES + 0.4)
    last = place.columns[-1]
    return (
        *place.columns[:-1],
        Rect(last.x, last.y + room, last.width, last.height - room),
    )


def _left_over(flow: Flow, sheet: _Sheet) -> str:
    """Say what stands on the next sheet, the cautions by name."""
    if flow.done:
        return ""
    names = [block.title.split(":")[0] for block, _ in flow.waiting]
    if CAUTIONS in names:
        names.remove(CAUTIONS)
        heads = ", ".join(item.heading.lower() for item in _caution_items(sheet)[1:])
        return f"Read the cautions on sheet 2 first: {heads}. Also there: {', '.join(names)}."
    return f"On sheet 2: {', '.join(names)}."


# -- blocks ------------------------------------------------------------------------------


def _blocks(sheet: _Sheet) -> list[Block]:
    look, study = sheet.look, sheet.study
    items = legend(study, look, sheet.bounds, sheet.findings if look.findings else ())
    title, swatches = shading_items(study, look)
    key = [legend_block("Legend", items)]
    key += [legend_block(title, swatches)] if swatches else []
    found = _finding_blocks(sheet)
    # The map's numbers want their table beside it, but a long one must not push the legend off.
    few = sum(1 for each in sheet.findings if each.failing) <= FEW_FINDINGS
    blocks = [_scale_block(sheet), *((*found, *key) if few else (*key, *found))]
    blocks.append(paragraphs(CAUTIONS, _caution_items(sheet)))
    blocks.append(paragraphs("Notes", _notes(sheet)))
    if sheet.options.schedules:
        blocks += schedules(study, sheet.shown, sheet.units)
    blocks += _source_block(sheet)
    return blocks


def _caution_items(sheet: _Sheet) -> tuple[Paragraph, ...]:
    return cautions(sheet.shown, _steepest(sheet))


def _scale_block(sheet: _Sheet) -> Block:
    convergence = sheet.study.convergence_deg if sheet.study.land.earth is not None else None
    letters = sheet.layout.type
    size = letters.head * 4.6

    def draw(x: float, y: float, width: float) -> list[Entry]:
        drawn: list[Entry] = []
        words = ratio_text(sheet.frame.scale, sheet.units)
        arrow_x = x + width - size * 0.32 - 1
        room = width - size * 0.75 - 4
        head = letters.head
        top = y + size * 1.45
        drawn += north_arrow(arrow_x, y + size * 0.12, size, convergence, letters.head)
        drawn.append(
            left_text(x, top - head * 0.8, fit(words, head * 1.25, room, True), head * 1.25,
                      bold=True)
        )  # fmt: skip
        bar = scale_bar(x + 0.4, top - head * 4.4, sheet.frame.scale, room - letters.small * 3,
                        sheet.units, letters.small)  # fmt: skip
        drawn += bar.entries
        for k, line in enumerate(north_words(convergence)):
            at = top - head * 4.4 - letters.small * (1.6 + 1.6 * k)
            drawn.append(
                left_text(x, at, fit(line, letters.small, room), letters.small, "ink_soft")
            )
        return drawn

    return figure("Scale and north", size * 1.5, draw)


def _steepest(sheet: _Sheet) -> float | None:
    """Return the slope most of the site is below (nine tenths of its ground in view)."""
    if sheet.study.land.grid is None:
        return None
    shown = sheet.study.map("slope").grid.window(sheet.bounds).z
    known = shown[np.isfinite(shown)]
    return float(np.quantile(known, 0.9)) if known.size else None


def _finding_blocks(sheet: _Sheet) -> list[Block]:
    if not sheet.look.findings:
        return []
    columns = (Column("No.", 0.16), Column("Finding", 1, wraps=True))
    standing, waived = [], []
    # Numbers are the map's: counted over all findings, shown or not.
    for number, finding in numbered(sheet.study.findings()):
        if finding not in sheet.findings:
            continue
        figures = finding.numbers(sheet.units)
        words = finding.message.rstrip(".") + (f" ({figures})." if figures else ".")
        if finding.unconfirmed:
            words += " Unconfirmed."
        if finding.waived:
            waived.append(Line((number, f"{words} Waived: {finding.waived}")))
        else:
            standing.append(Line((number, words), role="ink"))
    blocks = []
    if standing:
        blocks.append(table(f"Open findings: {len(standing)}", columns, standing))
    else:
        blocks.append(
            paragraphs("Open findings: none", [Paragraph("No rule in force is broken here.")])
        )
    if waived:
        blocks.append(table("Findings waived, with reasons", columns, waived))
    return blocks


def _notes(sheet: _Sheet) -> list[Paragraph]:
    study = sheet.study
    earth, ground = study.land.earth, study.land.ground
    words = [
        *sheet.options.notes,
        "Check the scale bar before measuring: a copy or a printer’s “fit to page” shrinks the "
        "sheet.",
    ]
    if earth is not None:
        off = (1 / earth.combined - 1) * 1e6
        words.append(
            "Lengths and areas are on the grid unless said otherwise. On the ground they are "
            f"{abs(off):.0f} parts in a million {'longer' if off > 0 else 'shorter'} "
            f"(combined factor {earth.combined:.6f})."
        )
    if ground is not None:
        trust = study.terrain.trust
        accuracy = show(ground.accuracy_m, "m", sheet.units) if ground.accuracy_m else "not stated"
        words.append(
            f"Heights and contours: standard error {accuracy}. " + (f"{trust.capitalize()}." if
            trust else "")
        )  # fmt: skip
    else:
        words.append("No survey of the ground: nothing here says how steep it is.")
    if sheet.shown.get("tree") or sheet.shown.get("tree_row"):
        words.append(f"Crowns are drawn as expected {study.year} years after planting.")
    return [Paragraph(each.strip()) for each in words if each.strip()]


def _source_block(sheet: _Sheet) -> list[Block]:
    keys = sorted({f.source for f in sheet.findings if f.source})
    if not keys:
        return []
    return [paragraphs("Sources of the rules", [Paragraph(source(key).text) for key in keys])]


# -- pages -------------------------------------------------------------------------------


def _title_entries(sheet: _Sheet, place: Layout, number: int, of: int) -> tuple[Entry, ...]:
    options = sheet.options
    words = titles(
        sheet.study,
        title=options.title,
        date=sheet.date,
        scale=sheet.frame.scale,
        paper=paper(options.paper).name,
        number=number,
        of=of,
        units=sheet.units,
    )
    return title_block(words, place.title, place.type)


def _map_page(sheet: _Sheet, drawn: Sequence[Entry], left_over: str, of: int) -> Page:
    place = sheet.layout
    border = place.border
    mapped = place.map
    entries: list[Entry] = [
        box(mapped.x, mapped.y, mapped.width, mapped.height, FRAME),
        *ticks(sheet.frame, place.type.small),
        box(border.x, border.y, border.width, border.height, Stroke("ink", 0.25)),
        rule(*place.divider, Stroke("ink", 0.25)),
        *drawn,
        *_title_entries(sheet, place, 1, of),
    ]
    if left_over:
        entries += _continued(place, left_over)
    title = f"{sheet.study.plan.site.name}: {sheet.options.title}"
    return Page(place.width, place.height, (sheet.frame,), tuple(entries), title)


def _continued(place: Layout, left_over: str) -> list[Entry]:
    """Say which blocks stand on the next sheet, at the foot of the last column."""
    column, letters = place.columns[-1], place.type
    lines = wrap(left_over, letters.body, column.width, bold=True, most=FOOT_LINES)
    role = "warning" if left_over.startswith("Read") else "ink"
    y = column.y + letters.line * (FOOT_LINES - 0.5)
    return [
        left_text(column.x, y - k * letters.line, words, letters.body, role, bold=True)
        for k, words in enumerate(lines)
    ]


def _further_page(
    sheet: _Sheet, place: Layout, drawn: Sequence[Entry], number: int, of: int
) -> Page:
    border = place.border
    title = f"{sheet.study.plan.site.name}: {sheet.options.title}"
    entries: tuple[Entry, ...] = (
        box(border.x, border.y, border.width, border.height, Stroke("ink", 0.25)),
        *drawn,
        *_title_entries(sheet, place, number, of),
    )
    return Page(place.width, place.height, (), entries, title)
