"""What stands beside the map: scale, legend, findings, cautions, notes, schedules, sources."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canvas.base.quantity import show
from canvas.base.sources import source
from canvas.drawing.build import LABELS_LAYER
from canvas.drawing.entries import Entry, Text
from canvas.drawing.finding_marks import numbered
from canvas.drawing.furniture import left_text, north_arrow, north_words, ratio_text, scale_bar
from canvas.drawing.legend import legend, shading_items
from canvas.drawing.symbols.registry import symbols
from canvas.drawing.symbols.writing import note_mark
from canvas.drawing.typeface import fit
from canvas.sheets.blocks import Paragraph, figure, paragraphs, table
from canvas.sheets.cautions import cautions
from canvas.sheets.flow import Block
from canvas.sheets.legends import Style, legend_block
from canvas.sheets.prepared import Prepared
from canvas.sheets.titleblock import phase_words
from canvas.site.records import kind, kind_of
from canvas.study.book import Column, Line
from canvas.study.counts import phase_table
from canvas.study.schedules import schedules

#: Up to this many open findings stand before the legend.
FEW_FINDINGS = 8
CAUTIONS = "Cautions"
LEGEND = "Legend"
READ_FIRST = "Read first"


class Panel:
    """The blocks of a sheet, worked out once and put in order as often as it takes."""

    def __init__(self, sheet: Prepared) -> None:
        study, look = sheet.study, sheet.look
        items = legend(study, look, sheet.bounds, sheet.findings if look.findings else ())
        self._shades, swatches = shading_items(study, look)
        self._items = (*items, *swatches)
        self._top = [_scale_block(sheet), *_warned(sheet)]
        self._found = _finding_blocks(sheet)
        # The map's numbers want their table beside it, but a long one must not push the legend off.
        self._few = sum(1 for each in sheet.findings if each.failing) <= FEW_FINDINGS
        self._rest = [
            *_note_blocks(sheet),
            paragraphs(CAUTIONS, caution_items(sheet)),
            paragraphs("Notes", _notes(sheet)),
            *_schedule_blocks(sheet),
            *_source_block(sheet),
        ]

    def legend(self, style: Style, across: int = 0) -> Block:
        """Return the legend, whole, in a style."""
        return legend_block(LEGEND, self._items, style, self._shades, across)

    def blocks(self, legend: Block | None = None, legend_first: bool = False) -> list[Block]:
        """Return all that stands beside the map, in reading order, with the legend if given.

        It stands before the findings when there are many of these, or when asked for.
        """
        key = [legend] if legend is not None else []
        findings_first = self._few and not legend_first
        both = (*self._found, *key) if findings_first else (*key, *self._found)
        return [*self._top, *both, *self._rest]


def _schedule_blocks(sheet: Prepared) -> list[Block]:
    if not sheet.options.schedules:
        return []
    phases = phase_table(sheet.study, sheet.look.hidden_phases)
    tables = [phases] if phases is not None else []
    tables += schedules(sheet.study, sheet.units, sheet.shown)
    return [table(each.title, each.columns, each.lines) for each in tables]


def notices(sheet: Prepared) -> list[str]:
    """Return what this sheet does not show though a reader might think so, a sentence each."""
    found = [*sheet.troubles, *sheet.study.unchecked()]
    if sheet.beyond:
        found.append(f"The site continues beyond this sheet, to the {_and(sheet.beyond)}.")
    phases = list(enumerate(sheet.study.plan.phases(), 1))
    off = [
        phase_words(number, phase)
        for number, phase in phases
        if phase.id in sheet.look.hidden_phases or phase.id in sheet.study.later
    ]
    if off:
        found.append(f"Not drawn here, still to be built: {_and(off)}.")
    if "" in sheet.look.hidden_phases:
        found.append("Not drawn here: whatever is in no phase.")
    there = {kind_of(item).key for item in sheet.study.plan.elements()}
    kinds = [kind(key).plural for key in symbols() if key in sheet.look.hidden_kinds & there]
    if kinds:
        found.append(f"Not drawn here, though on the plan: {_and(kinds).lower()}.")
    return found


def _and(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else words[0]


def _warned(sheet: Prepared) -> list[Block]:
    """Return the notices as the first thing read beside the map."""
    found = notices(sheet)
    return [paragraphs(READ_FIRST, [Paragraph(words) for words in found])] if found else []


def caution_items(sheet: Prepared) -> tuple[Paragraph, ...]:
    """Return the cautions for what is on the sheet, the general one first."""
    return cautions(sheet.shown, _steepest(sheet))


def _scale_block(sheet: Prepared) -> Block:
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


def _steepest(sheet: Prepared) -> float | None:
    """Return the slope most of the site is below (nine tenths of its ground in view)."""
    if sheet.study.land.grid is None:
        return None
    shown = sheet.study.map("slope").grid.window(sheet.bounds).z
    known = shown[np.isfinite(shown)]
    return float(np.quantile(known, 0.9)) if known.size else None


def _finding_blocks(sheet: Prepared) -> list[Block]:
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
    made = []
    if standing:
        of = sum(1 for each in sheet.study.findings() if not each.waived)
        rest = f" of the site’s {of}" if of > len(standing) else ""
        made.append(table(f"Open findings: {len(standing)}{rest}", columns, standing))
    else:
        made.append(
            paragraphs("Open findings: none", [Paragraph("No rule in force is broken here.")])
        )
    if waived:
        made.append(table("Findings waived, with reasons", columns, waived))
    return made


def _note_blocks(sheet: Prepared) -> list[Block]:
    """Return the words of notes that stand on the map by their numbers alone."""
    written = {
        (ident, text.words)
        for layer in sheet.frame.layers if layer.key == LABELS_LAYER
        for text in layer.entries if isinstance(text, Text)
        for ident in text.ids
    }  # fmt: skip
    lines = []
    for number, note in enumerate(sheet.shown.get("note", ()), 1):
        if (note.id, note_mark(number)) in written:
            words = " ".join((getattr(note, "words", "") or note.name).split())
            lines.append(Line((note_mark(number), words)))
    columns = (Column("No.", 0.16), Column("Note", 1, wraps=True))
    return [table("Notes on the map", columns, lines)] if lines else []


def _notes(sheet: Prepared) -> list[Paragraph]:
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
    if ground is not None and study.land.grid is not None:
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


def _source_block(sheet: Prepared) -> list[Block]:
    keys = sorted({f.source for f in sheet.findings if f.source})
    if not keys:
        return []
    return [paragraphs("Sources of the rules", [Paragraph(source(key).text) for key in keys])]
