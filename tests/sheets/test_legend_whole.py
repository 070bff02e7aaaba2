"""The legend stands whole on one sheet, on every paper, however much is on the plan."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from canvas.drawing.entries import Anchor, Areas, Image, Lines, Stamps, Text
from canvas.drawing.legend import LegendItem, legend
from canvas.drawing.look import Look
from canvas.drawing.typeface import width_mm
from canvas.sheets import panel
from canvas.sheets.beside import fill_beside
from canvas.sheets.flow import Block, Flow, Rect, Row, Type
from canvas.sheets.legends import CLOSE, ROOMY, legend_block
from canvas.sheets.papers import PAPERS
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet
from canvas.sheets.prepared import prepare

LOOK = Look(year=8)
#: More lines than the kinds still to come will bring.
TO_COME = 30


def bold(page):
    return [e.words for e in page.furniture if isinstance(e, Text) and e.bold]


def whole_on_one(pages, items):
    """The number of the page that holds the legend, once and with every line in it."""
    titled = [k for k, page in enumerate(pages) for w in bold(page) if w.startswith("Legend")]
    assert len(titled) == 1, titled
    page = pages[titled[0]]
    assert "Legend" in bold(page)
    words = " ".join(e.words for e in page.furniture if isinstance(e, Text))
    for item in items:
        for word in item.label.split(" "):
            assert word in words, (item.label, word)
    return titled[0]


def samples(page):
    """Boxes of what is drawn beside the map, letters apart."""
    for e in page.furniture:
        if isinstance(e, Lines):
            yield from ((p.min(axis=0), p.max(axis=0)) for p in e.paths)
        elif isinstance(e, Areas):
            yield from ((p[0].min(axis=0), p[0].max(axis=0)) for p in e.polygons)
        elif isinstance(e, Stamps):
            yield from ((xy, xy) for xy in e.xy)
        elif isinstance(e, Image):
            yield e.bounds[:2], e.bounds[2:]


@pytest.mark.parametrize("landscape", [True, False])
@pytest.mark.parametrize("name", list(PAPERS))
def test_the_legend_is_whole_on_every_paper_with_every_kind(judged, name, landscape):
    options = SheetOptions(paper=name, landscape=landscape, look=LOOK)
    pages = plan_sheet(judged, options)
    sheet = prepare(judged, options, None)
    at = whole_on_one(pages, legend(judged, sheet.look, sheet.bounds, sheet.findings))
    told = " ".join(bold(pages[0])) if len(pages) > 1 else ""
    # Whoever holds the first sheet is told where to look.
    assert ("legend" in told) == (at > 0)
    for low, high in samples(pages[at]):
        assert low[0] >= 4 and low[1] >= 4  # noqa: PT018
        assert high[0] <= pages[at].width_mm - 4 and high[1] <= pages[at].height_mm - 4  # noqa: PT018


@pytest.mark.parametrize("landscape", [True, False])
@pytest.mark.parametrize("name", ["A4", "ANSI A", "Arch A", "A3", "A1"])
def test_it_stays_whole_when_many_more_kinds_are_on_the_plan(judged, monkeypatch, name, landscape):
    def longer(*args):
        found = legend(judged, *args[1:])
        more = [
            replace(found[k], label=f"Further thing {k}, of its own sort", group="Earthworks")
            for k in range(TO_COME)
        ]
        return (*found[:10], *more, *found[10:])

    monkeypatch.setattr(panel, "legend", longer)
    pages = plan_sheet(judged, SheetOptions(paper=name, landscape=landscape, look=LOOK))
    assert whole_on_one(pages, [LegendItem(f"Further thing {TO_COME - 1},", ())]) in (0, 1)


def test_the_shading_is_explained_in_the_legend_and_named(judged):
    look = replace(LOOK, shading="slope_classes")
    for name in ("A4", "A3", "A1"):
        pages = plan_sheet(judged, SheetOptions(paper=name, look=look))
        at = whole_on_one(pages, [])
        assert any(w.startswith("Slope classes") for w in bold(pages[at]))


def test_on_large_paper_families_stand_under_their_names(judged):
    page = plan_sheet(judged, SheetOptions(paper="A2", look=LOOK))[0]
    for family in ("Land", "Water", "Structures", "Plants", "Line and fill", "Findings"):
        assert family in bold(page)


@pytest.mark.parametrize("style", [*ROOMY, *CLOSE])
@pytest.mark.parametrize("width", [58.0, 78.0, 135.0])
def test_lines_of_a_legend_never_run_into_each_other(judged, style, width):
    letters = Type(body=1.65, small=1.35, head=2.3)
    items = legend(judged, LOOK, None, judged.findings())
    (row,) = legend_block("Legend", items, style).make(width, letters)
    texts = [e for e in row.draw(0.0, 0.0) if isinstance(e, Text) and e.anchor is Anchor.LEFT]
    boxes = sorted(
        (t.x, t.y - t.size_mm / 2, t.x + width_mm(t.words, t.size_mm, t.bold), t.y + t.size_mm / 2)
        for t in texts
    )
    for a, b in itertools.pairwise(boxes):
        apart = a[2] <= b[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (a, b)
    assert max(b[2] for b in boxes) <= width + 1e-6
    assert min(b[1] for b in boxes) >= -row.height - 1e-6


def test_other_blocks_fill_what_the_legend_leaves(judged):
    options = SheetOptions(paper="A4", landscape=True, look=LOOK)
    sheet = prepare(judged, options, None)
    flow, with_legend = fill_beside(sheet, panel.Panel(sheet))
    assert not with_legend
    assert any(isinstance(e, Text) and e.words.startswith("Open findings") for e in flow.entries)


def test_zones_and_covers_are_told_apart_without_colour(judged):
    items = {item.label: item for item in legend(judged, LOOK, None, ())}
    for number in "012345":
        (label,) = (key for key in items if key.startswith(f"Zone {number}"))
        assert number in [e.words for e in items[label].entries if isinstance(e, Text)]
    marks = set()
    for cover in ("Grass", "Scrub", "Woodland", "Reeds and wet ground", "Bare or rock"):
        (stamps,) = (e for e in items[cover].entries if isinstance(e, Stamps))
        assert len(stamps.xy) == 3
        marks.add(stamps.symbol)
    assert len(marks) == 5


@pytest.mark.parametrize("name", ["A4", "A3", "A2", "A1"])
def test_no_heading_stands_without_a_row_under_it(judged, name):
    for page in plan_sheet(judged, SheetOptions(paper=name, landscape=False, look=LOOK)):
        texts = [e for e in page.furniture if isinstance(e, Text) and not e.turn_deg]
        for head in (t for t in texts if t.words.endswith("(continued)")):
            under = [
                t for t in texts
                if abs(t.x - head.x) < 1 and head.y - 12 < t.y < head.y - 1 and t is not head
            ]  # fmt: skip
            assert under, (name, head.words)


def test_a_row_taller_than_any_column_is_left_out_and_the_rest_goes_on():
    letters = Type(body=1.65, small=1.35, head=2.3)
    block = Block("Tall", lambda width, letters: [Row(500.0, lambda x, top: [])])
    flow = Flow(letters, [(block, 0)])
    flow.fill([Rect(0, 0, 60, 100)])
    assert not flow.entries
    assert not flow.done
