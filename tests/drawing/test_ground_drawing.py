"""Contours, shadings, findings, legend, furniture, charts."""

from __future__ import annotations

import dataclasses
import math

import drawn_site
import numpy as np
import pytest
import shapely

import made
from canvas.base.grid import Grid
from canvas.base.quantity import UnitSystem
from canvas.drawing.build import (
    Look,
    all_layers,
    element_entries,
    finding_layer,
    terrain_layers,
)
from canvas.drawing.chart import Axis, Series, bar_chart, line_chart
from canvas.drawing.entries import Anchor, Areas, Frame, Image, Lines, Stamps, Text
from canvas.drawing.furniture import nice_step, north_words, ratio_text, scale_bar, ticks
from canvas.drawing.legend import legend, shading_items
from canvas.drawing.palette import greyed
from canvas.drawing.ramps import ramp_of, relief
from canvas.drawing.terrain import contour_interval_m
from canvas.drawing.typeface import width_mm
from canvas.study.ground_lines import LINE_KINDS, ground_lines
from canvas.study.maps import MAP_KINDS

LOOK = Look(scale=500, palette="paper", year=8, ground="existing")


def layer_of(study, look, key):
    return next(layer for layer in terrain_layers(study, look) if layer.key == key)


def test_contours_lie_on_the_ground_they_are_labelled_with(whole):
    layer = layer_of(whole, LOOK, "contours")
    texts = [e for e in layer.entries if isinstance(e, Text)]
    assert len(texts) > 3
    for text in texts:
        ground = float(whole.land.grid.sample(text.x, text.y))
        # A quarter of the interval: lines are thinned and rounded for drawing only.
        assert ground == pytest.approx(float(text.words), abs=0.25)


def test_contour_figures_read_uphill(whole):
    texts = [e for e in layer_of(whole, LOOK, "contours").entries if isinstance(e, Text)]
    for text in texts:
        up = math.radians(text.turn_deg)
        x, y = text.x + 1.5 * math.sin(up), text.y + 1.5 * math.cos(up)
        assert whole.land.grid.sample(x, y) > whole.land.grid.sample(text.x, text.y)


def test_index_contours_are_heavier_and_every_fifth(whole):
    thin, heavy = (e for e in layer_of(whole, LOOK, "contours").entries if isinstance(e, Lines))
    assert heavy.stroke.width_mm > 1.5 * thin.stroke.width_mm
    levels = set()
    for path in heavy.paths:
        levels.add(round(float(np.median(whole.land.grid.sample(path[:, 0], path[:, 1]))), 1))
    interval = contour_interval_m(LOOK)
    assert all(abs(z / (5 * interval) - round(z / (5 * interval))) < 0.1 for z in levels)


@pytest.mark.parametrize(
    ("scale", "units", "metres"),
    [(100, "metric", 0.1), (500, "metric", 0.5), (1000, "metric", 1.0), (600, "us", 2 * 0.3048)],
)
def test_interval_suits_the_scale(scale, units, metres):
    look = Look(scale=scale, units=UnitSystem(units))
    assert contour_interval_m(look) == pytest.approx(metres)


def test_no_contours_without_ground_or_wish(whole):
    bare = drawn_site.study(0, ground=False)
    assert terrain_layers(bare, LOOK) == ()
    assert terrain_layers(whole, dataclasses.replace(LOOK, contour_interval_m=0.0)) == ()


@pytest.mark.parametrize("key", list(MAP_KINDS))
def test_every_map_can_shade_the_plan_and_has_a_legend(whole, key):
    look = dataclasses.replace(LOOK, shading=key)
    picture = layer_of(whole, look, "shading").entries[0]
    assert isinstance(picture, Image)
    assert picture.rgba.dtype == np.uint8
    assert picture.rgba.shape[2] == 4
    assert picture.bounds == whole.land.grid.bounds
    title, swatches = shading_items(whole, look)
    assert title
    assert swatches or key == "hillshade"


def test_no_data_is_clear_in_every_ramp():
    values = np.array([[1.0, np.nan]])
    for key in MAP_KINDS:
        assert ramp_of(key, values).rgba(values)[0, 1, 3] == 0
    assert relief(values, 0.5)[0, 1, 3] == 0


def test_relief_darkens_and_lightens_steadily_from_level_ground():
    shade = np.array([[40.0, 120.0, 180.0, 200.0, 250.0]])
    veil = relief(shade, 180.0)[0].astype(int)
    assert veil[2, 3] == 0
    assert veil[0, 3] > veil[1, 3] > 40
    assert 0 < veil[3, 3] < veil[4, 3] < 140
    assert (veil[:2, 0] < 60).all()
    assert (veil[3:, 0] == 255).all()


def test_relief_of_real_shading_has_no_steps(whole):
    look = dataclasses.replace(LOOK, shading="hillshade")
    veil = layer_of(whole, look, "shading").entries[0].rgba.astype(int)
    # Dark counts down, light counts up: neighbours differ little on a smooth hill.
    tone = np.where(veil[..., 0] > 128, veil[..., 3], -veil[..., 3])
    assert np.abs(np.diff(tone[5:-5, 5:-5], axis=1)).max() < 40
    assert np.ptp(tone) > 60


def test_findings_are_drawn_where_they_are_in_the_warning_hue_only(judged):
    layer = finding_layer(judged.findings(), LOOK)
    for entry in layer.entries:
        if isinstance(entry, Text):
            assert entry.role == "warning"
        elif entry.stroke is not None:
            assert entry.stroke.role == "warning"
    marks = {e.symbol for e in layer.entries if isinstance(e, Stamps)} - {"dot"}
    assert marks == {"mark_error", "mark_warning", "mark_advice"}
    words = {e.words for e in layer.entries if isinstance(e, Text)}
    assert words == {"F1", "F2", "F3", "W1"}
    # An area is hatched on a screen; on paper outlined, so that what lies in it can be read.
    middle = drawn_site.at((142, 112))[0]
    screen = finding_layer(judged.findings(), dataclasses.replace(LOOK, palette="light"))
    hatched = [e for e in screen.entries if isinstance(e, Areas)]
    assert hatched[0].polygons[0][0].mean(axis=0) == pytest.approx(middle, abs=0.5)
    paper = finding_layer(judged.findings(), dataclasses.replace(LOOK, palette="paper"))
    assert not [e for e in paper.entries if isinstance(e, Areas)]
    rings = [p for e in paper.entries if isinstance(e, Lines) for p in e.paths if len(p) > 10]
    assert any(p.mean(axis=0) == pytest.approx(middle, abs=0.5) for p in rings)


def test_on_paper_findings_lie_under_the_names_and_their_marks_keep_off_them(judged):
    look = dataclasses.replace(LOOK, palette="paper", scale=1000.0, findings=True)
    layers = all_layers(judged, look)
    keys = [layer.key for layer in layers]
    assert keys.index("findings") < keys.index("labels") < keys.index("finding_marks")
    names = next(layer for layer in layers if layer.key == "labels").entries
    marks = [
        (x, y)
        for layer in layers if layer.key == "finding_marks"
        for e in layer.entries if isinstance(e, Stamps)
        for x, y in e.xy
    ]  # fmt: skip
    covered = 0
    for text in names:
        if text.turn_deg:
            continue
        for x, y in marks:
            # At 1:1000 a metre is a millimetre; a mark is 3.6 mm across.
            left, _, right, _ = _span(text)
            covered += left - 1.7 < x < right + 1.7 and abs(y - text.y) < 1.7
    assert covered == 0


def _span(text):
    width = width_mm(text.words, text.size_mm, text.bold, text.italic)
    left = text.x - {Anchor.LEFT: 0.0, Anchor.CENTRE: width / 2, Anchor.RIGHT: width}[text.anchor]
    return left, text.y, left + width, text.y


def test_pictures_and_shadings_have_no_colour_on_a_mono_sheet(whole):
    look = dataclasses.replace(LOOK, shading="slope", palette="mono")
    rgba = layer_of(whole, look, "shading").entries[0].rgba
    assert (rgba[..., 0] == rgba[..., 1]).all()
    assert (rgba[..., 1] == rgba[..., 2]).all()
    assert np.ptp(rgba[..., 0]) > 20
    coloured = layer_of(whole, dataclasses.replace(look, palette="paper"), "shading").entries[0]
    assert (coloured.rgba[..., 0] != coloured.rgba[..., 2]).any()
    # Luma of pure red, green and blue: 0.299, 0.587, 0.114 of white (ITU-R BT.601, from memory).
    pure = np.array([[[255, 0, 0, 9], [0, 255, 0, 9], [0, 0, 255, 9]]], np.uint8)
    assert greyed(pure)[0, :, 0].tolist() == [76, 150, 29]
    assert greyed(pure)[..., 3].tolist() == [[9, 9, 9]]


def test_what_is_to_go_is_faint_with_small_crosses(whole):
    gone = [i for i in whole.plan.of_kind("track") if i.status == "remove"]
    kept = [i for i in whole.plan.of_kind("track") if i.status == "proposed"]
    look = dataclasses.replace(LOOK, scale=1000.0, palette="paper")
    entries = element_entries(whole, gone[0], look)
    crosses = [e for e in entries if isinstance(e, Stamps) and e.symbol == "cross"]
    assert crosses
    assert all(e.size.max() <= 1.2 and e.stroke.alpha <= 0.6 for e in crosses)
    assert not [e for e in entries if isinstance(e, Areas)]
    edge = max(e.stroke.width_mm for e in entries if isinstance(e, Lines))
    drawn = max(
        e.stroke.width_mm for e in element_entries(whole, kept[0], look) if isinstance(e, Lines)
    )
    assert edge < drawn / 2
    assert all(e.stroke.alpha <= 0.6 for e in entries if isinstance(e, Lines))


def test_plan_itself_never_uses_the_warning_hue(whole):
    look = dataclasses.replace(LOOK, findings=False)
    for layer in all_layers(whole, look):
        for entry in layer.entries:
            parts = (getattr(entry, "stroke", None), getattr(entry, "fill", None))
            roles = {part.role for part in parts if part is not None}
            assert not any(role.startswith("warning") for role in roles)


def test_legend_holds_what_is_on_the_sheet_only(whole, judged):
    everything = {item.label for item in legend(judged, LOOK, None, judged.findings())}
    assert {"Site boundary", "Stock fence", "Conifer", "Finding: error", "Proposed"} <= everything
    near = whole.plan.element("bore").geometry.buffer(2).bounds
    few = {item.label for item in legend(whole, LOOK, near)}
    assert "Well, drinking" in few
    assert not few & {"Stock fence", "Finding: error", "Neighbour’s", "Zone 5 · left alone"}
    for item in legend(whole, LOOK):
        assert item.entries, item.label


@pytest.mark.parametrize("units", list(UnitSystem))
@pytest.mark.parametrize("scale", [100.0, 240.0, 333.0, 500.0, 1250.0, 2400.0])
def test_scale_bar_is_as_long_as_it_says(units, scale):
    bar = scale_bar(0, 0, scale, 70, units)
    assert bar.width_mm <= 70 + 1e-9
    assert bar.width_mm == pytest.approx(bar.length_m * 1000 / scale)
    last = [e for e in bar.entries if isinstance(e, Text)][-1].words
    number, unit = last.rsplit(" ", 1)
    factor = 0.3048 if unit == "ft" else 1.0
    assert float(number.replace("\u202f", "")) * factor == pytest.approx(bar.length_m)


def test_ticks_stand_on_round_coordinates():
    frame = Frame(10, 10, 200, 150, 620_123.4, 5_820_077.7, 500.0)
    entries = ticks(frame)
    crosses = entries[0].paths
    for path in crosses:
        x = frame.centre_x + (path[:, 0].mean() - 110) * 0.5
        y = frame.centre_y + (path[:, 1].mean() - 85) * 0.5
        on = min(abs(x / 50 - round(x / 50)), abs(y / 50 - round(y / 50)))
        assert on < 1e-6
    words = [e.words for e in entries if isinstance(e, Text)]
    assert "620\u202f100 E" in words
    assert "5\u202f820\u202f050 N" in words


def test_words_about_scale_and_north():
    assert ratio_text(500) == "1:500"
    assert ratio_text(240, UnitSystem.US) == "1″ = 20′ (1:240)"
    assert north_words(1.25)[1] == "True north 1.25° west of it"
    assert north_words(-0.5)[1] == "True north 0.50° east of it"
    assert nice_step(3.2) == 5.0
    assert nice_step(20.0) == 20.0


def test_line_chart_puts_values_where_its_axis_says():
    x = np.linspace(0, 230, 100)
    y = 250 + 10 * np.sin(x / 40)
    y[40:45] = np.nan
    chart = line_chart([Series("Ground", x, y)], 150, 60, Axis("m"), Axis("m"))
    paths = next(
        e for e in chart.entries if isinstance(e, Lines) and e.stroke.width_mm == 0.4
    ).paths
    assert len(paths) == 2
    assert tuple(paths[0][0]) == pytest.approx(chart.at(0.0, 250.0))
    assert chart.value_at(chart.at(115.0, 250.0)[0]) == pytest.approx(115.0)
    left, bottom, wide, high = chart.plot
    for path in paths:
        assert (path >= [left - 1e-9, bottom - 1e-9]).all()
        assert (path <= [left + wide + 1e-9, bottom + high + 1e-9]).all()


def test_charts_of_nothing_are_only_their_ground():
    empty = line_chart([], 80, 40, Axis("m"), Axis("m"))
    assert empty.entries
    nothing = bar_chart("abc", [math.nan] * 3, 80, 40, Axis("m"))
    assert not [e for e in nothing.entries if isinstance(e, Areas)]


def test_bars_stand_on_their_base():
    chart = bar_chart("ab", [1.2, 0.9], 80, 40, Axis("share"), base=1.0, strong=0)
    bars = [e.polygons[0][0] for e in chart.entries if isinstance(e, Areas)]
    _, base = chart.at(0, 1.0)
    assert bars[0][:, 1].min() == pytest.approx(base)
    assert bars[1][:, 1].max() == pytest.approx(base)


@pytest.mark.parametrize("key", list(LINE_KINDS))
def test_lines_of_the_ground_are_drawn_when_wanted(key):
    # Two slopes that meet in a valley falling 4 %: 30 % until half way down, then 5 %.
    row, col = np.mgrid[0:240, 0:240]
    fall = np.where(row < 120, 0.3 * row, 36 + 0.05 * (row - 120))
    z = 200 - fall + 0.3 * np.abs(col - 120)
    if key == "ridges":
        z = 400 - z
    study = made.study_of(grid=Grid(z, made.EAST, made.NORTH + 240, 1.0))
    assert all(layer.key != "ground_lines" for layer in terrain_layers(study, LOOK))
    look = dataclasses.replace(LOOK, ground_lines=frozenset({key}))
    entries = layer_of(study, look, "ground_lines").entries
    assert entries
    points = np.vstack([shapely.get_coordinates(e.geometry) for e in ground_lines(study, key)])
    assert np.abs(points[:, 0] - (made.EAST + 120.5)).min() < 1.5


def test_cut_and_fill_says_which_is_which(whole):
    _, swatches = shading_items(whole, dataclasses.replace(LOOK, shading="cutfill"))
    words = [each.label for each in swatches]
    assert words[0].endswith("dug and more")
    assert words[3] == "as it is"
    assert words[-1].endswith("filled and more")
