"""Painting: the same drawing on screens and paper, from any thread, fast enough to pan."""

from __future__ import annotations

import threading

import drawn_site
import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QFont, QFontInfo, QFontMetricsF, QImage, QPainter, QPainterPath

from canvas.drawing.build import Look, all_layers
from canvas.drawing.designs import DESIGNS
from canvas.drawing.entries import (
    Anchor,
    Areas,
    Fill,
    Hatch,
    Image,
    Layer,
    Lines,
    Page,
    Raster,
    Stamps,
    Stroke,
    Text,
)
from canvas.drawing.palette import PALETTES
from canvas.drawing.typeface import FACES, width_mm
from canvas.exchange.geotiff import picture_window
from canvas.paint import fonts, stamps
from canvas.paint.export import page_image
from canvas.paint.painter import paint_layers
from canvas.paint.shapes import path_of
from canvas.paint.view import View

PAPER = PALETTES["paper"]


@pytest.fixture(autouse=True)
def _application(qapp):
    return qapp


def image_of(entries, size=200, per_m=4.0, palette=PAPER, vector=False):
    """Return entries painted about (0, 0) as an array of red, green, blue."""
    image = QImage(size, size, QImage.Format.Format_RGB32)
    image.fill(QColor(palette["paper"]))
    view = View.screen((0.0, 0.0), per_m, (size, size), 8.0)
    if vector:
        view = View(view.west, view.north, per_m, 8.0, view.clip, vector=True)
    paint_on(image, [Layer("t", "t", tuple(entries))], view, palette)
    return pixels(image)


def paint_on(image, layers, view, palette):
    painter = QPainter(image)
    try:
        paint_layers(painter, layers, view, palette)
    finally:
        painter.end()


def pixels(image):
    made = image.convertToFormat(QImage.Format.Format_RGB32)
    flat = np.frombuffer(made.constBits(), np.uint8).reshape(made.height(), made.width(), 4)
    return flat[..., 2::-1].astype(int)


def inked(picture):
    return (picture != 255).any(axis=2)


def test_paths_made_at_once_equal_paths_made_point_by_point():
    pieces = [np.array([[0, 0], [10, 5], [3, 8]], float), np.array([[1, 1], [4, 4]], float)]
    slow = QPainterPath()
    for piece in pieces:
        slow.moveTo(QPointF(*piece[0]))
        for point in piece[1:]:
            slow.lineTo(QPointF(*point))
    assert path_of(pieces) == slow
    assert path_of([]).isEmpty()


def test_ground_lands_where_the_view_says():
    square = np.array([[-10, -10], [10, -10], [10, 10], [-10, 10]], float)
    rows, cols = np.nonzero(inked(image_of([Areas([(square,)], Fill("ink"))])))
    assert (cols.min(), cols.max(), rows.min(), rows.max()) == (60, 139, 60, 139)


def test_holes_stay_open():
    outer = np.array([[-20, -20], [20, -20], [20, 20], [-20, 20]], float)
    picture = inked(image_of([Areas([(outer, outer / 2)], Fill("ink"))]))
    assert not picture[100, 100]
    assert picture[100, 30]


@pytest.mark.parametrize("hatch", [Hatch.LINES, Hatch.CROSS, Hatch.DOTS])
@pytest.mark.parametrize("vector", [False, True])
def test_hatches_stay_inside_and_leave_paper(hatch, vector):
    shape = np.array([[-18, -12], [20, -15], [6, 18]], float)
    fill = Fill("ink", hatch, gap_mm=1.5, line_mm=0.25)
    picture = inked(image_of([Areas([(shape,)], fill)], vector=vector))
    solid = inked(image_of([Areas([(shape,)], Fill("ink"), Stroke("ink", 0.3))]))
    assert picture.any()
    assert not (picture & ~solid).any()
    share = picture.sum() / inked(image_of([Areas([(shape,)], Fill("ink"))])).sum()
    # By hand the thinnest here, dots, cover pi/4 · 0.25² / (1.5² · 0.866) = 2.5 %.
    assert 0.02 < share < 0.8


def test_hatches_of_neighbours_join():
    left = np.array([[-20, -20], [0, -20], [0, 20], [-20, 20]], float)
    right = left + np.array([20.0, 0.0])
    both = np.array([[-20, -20], [20, -20], [20, 20], [-20, 20]], float)
    fill = Fill("ink", Hatch.LINES, gap_mm=2.0, line_mm=0.2)
    apart = image_of([Areas([(left,), (right,)], fill)])
    whole = image_of([Areas([(both,)], fill)])
    # The seam itself is clipped twice; everywhere else the lines are the same.
    keep = np.ones(200, bool)
    keep[98:103] = False
    assert np.abs(apart - whole)[:, keep].max() <= 8


@pytest.mark.parametrize("name", [n for n in DESIGNS if n.startswith("crown")])
def test_sprites_show_the_same_drawing_as_vectors(name, monkeypatch):
    xy = np.array([[x, y] for x in range(-20, 21, 10) for y in range(-20, 21, 10)], float)
    # Whole pixels, so that the difference of rounding is left out.
    many = Stamps(name, xy, np.full(len(xy), 8.0), fill=Fill("tree_mid"), stroke=Stroke("leaf"))
    vectors = image_of([many])
    monkeypatch.setattr(stamps, "FEWEST", 1)
    sprites = image_of([many])
    assert np.abs(sprites - vectors).mean() < 1.5
    assert inked(sprites).sum() == pytest.approx(inked(vectors).sum(), rel=0.06)


def test_stamps_on_paper_keep_their_size_at_every_scale():
    sizes = []
    for per_m in (1.0, 4.0, 16.0):
        dot = Stamps("dot", np.zeros((1, 2)), np.array([5.0]), on_ground=False,
                     stroke=Stroke("ink", 0.1))  # fmt: skip
        sizes.append(int(inked(image_of([dot], per_m=per_m))[100].sum()))
    assert sizes == [40, 40, 40]


def test_stamps_turn_clockwise_from_north():
    arrow = Stamps("tick", np.zeros((1, 2)), np.array([20.0]), np.array([90.0]), False,
                   stroke=Stroke("ink", 0.3))  # fmt: skip
    rows, cols = np.nonzero(inked(image_of([arrow])))
    assert cols.max() > 170
    assert abs(rows.mean() - 100) < 2


@pytest.mark.parametrize(("bold", "italic"), list(FACES))
def test_text_is_as_wide_as_measured_and_in_our_own_font(bold, italic):
    words = "Scale 1:500 office 5 820 000"
    screen = QImage(1, 1, QImage.Format.Format_RGB32)
    used = fonts.font(40.0, screen.logicalDpiY(), bold, italic)
    assert QFontInfo(used).family() == "Lato"
    advance = QFontMetricsF(used, screen).horizontalAdvance(words)
    measured = width_mm(words, 40.0, bold, italic)
    # Kerning, which the measure leaves out, tightens a little.
    assert 0.96 * measured <= advance <= 1.005 * measured


def test_capitals_are_as_high_as_asked():
    rows, _ = np.nonzero(image_of([Text(0, 0, "HEH", 10.0, "ink")]).sum(axis=2) < 380)
    assert rows.max() - rows.min() + 1 == pytest.approx(80, abs=2)
    assert (rows.max() + rows.min()) / 2 == pytest.approx(100, abs=2)


def test_halo_hugs_its_text():
    dark = [Areas([(np.array([[-50, -50], [50, -50], [50, 50], [-50, 50]], float),)], Fill("ink"))]
    picture = image_of([*dark, Text(0, 0, "Oak", 6.0, "ink", halo="halo")])
    light = picture.sum(axis=2) > 600
    rows, cols = np.nonzero(light)
    assert abs(cols.mean() - 100) < 4
    assert abs(rows.mean() - 100) < 6
    assert cols.max() - cols.min() < width_mm("Oak", 6.0) * 8 + 40


def test_images_lie_on_their_bounds_row_0_north():
    rgba = np.zeros((2, 1, 4), np.uint8)
    rgba[0] = (255, 0, 0, 255)
    rgba[1] = (0, 0, 255, 255)
    picture = image_of([Image(rgba, (-10, -10, 10, 10))])
    assert tuple(picture[65, 100]) == (255, 0, 0)
    assert tuple(picture[135, 100]) == (0, 0, 255)
    assert tuple(picture[50, 100]) == (255, 255, 255)


def test_pictures_are_read_from_the_file_where_they_lie(tmp_path):
    import rasterio

    path = tmp_path / "aerial.tif"
    data = np.zeros((3, 20, 20), np.uint8)
    data[0, :10], data[2, 10:] = 250, 250
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=20,
        height=20,
        count=3,
        dtype="uint8",
        crs="EPSG:7854",
        transform=rasterio.Affine(1, 0, -10, 0, -1, 10),
    ) as out:
        out.write(data)  # fmt: skip
    everywhere = (-np.inf, -np.inf, np.inf, np.inf)
    picture = image_of([Raster(str(path), everywhere)])
    assert picture[70, 100, 0] > 240
    assert picture[130, 100, 2] > 240
    assert tuple(picture[20, 100]) == (255, 255, 255)
    half = image_of([Raster(str(path), everywhere, opacity=0.5)])
    assert half[70, 100, 1] == pytest.approx(127, abs=3)
    assert picture_window(path, (-10, -10, 10, 10), 4, 4).shape == (4, 4, 4)


def test_a_picture_that_is_gone_is_left_out():
    everywhere = (-np.inf, -np.inf, np.inf, np.inf)
    assert not inked(image_of([Raster("no such file.tif", everywhere)])).any()


def test_dashes_far_outside_the_window_cost_nothing(stopwatch):
    far = np.array([[-2e6, -1.0], [2e6, 1.0]])
    took = stopwatch(lambda: image_of([Lines([far], Stroke("ink", 0.5, (1.0, 1.0)))], per_m=40.0))
    assert took < 2.0


def test_any_thread_can_paint_on_an_image():
    layers = all_layers(drawn_site.study(80), Look(scale=1000, year=8, palette="paper"))
    middle = (drawn_site.EAST + 150, drawn_site.NORTH + 130)
    found, failed = [], []

    def work():
        try:
            image = QImage(500, 400, QImage.Format.Format_RGB32)
            image.fill(QColor("#ffffff"))
            paint_on(image, layers, View.screen(middle, 1.2, (500, 400)), PAPER)
            found.append(pixels(image))
        except Exception as error:  # noqa: BLE001 - carried to the test's own thread
            failed.append(error)

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    work()
    assert not failed
    assert all(np.array_equal(found[0], each) for each in found[1:])


def test_themes_differ_in_ink_only():
    middle = (drawn_site.EAST + 150, drawn_site.NORTH + 130)
    layers = all_layers(drawn_site.study(10), Look(scale=1000, year=8))
    seen = []
    for name in ("light", "dark"):
        palette = PALETTES[name]
        image = QImage(300, 300, QImage.Format.Format_RGB32)
        image.fill(QColor(palette["paper"]))
        paint_on(image, layers, View.screen(middle, 1.0, (300, 300)), palette)
        seen.append((pixels(image) != np.array(QColor(palette["paper"]).getRgb()[:3])).any(axis=2))
    assert (seen[0] == seen[1]).mean() > 0.9


def test_fonts_have_no_ligatures():
    used = fonts.font(40.0, 72.0)
    assert isinstance(used, QFont)
    assert all(used.featureValue(QFont.Tag(tag)) == 0 for tag in fonts.NO_LIGATURES)


@pytest.mark.parametrize("dpi", [96.0, 200.0, 300.0])
@pytest.mark.parametrize("halo", ["", "halo"])
def test_capitals_on_a_sheet_are_as_high_as_asked_at_any_fineness(dpi, halo):
    """Cut-out names take their size from the picture they are cut from, not from the sheet's."""
    text = Text(25.0, 25.0, "HEH", 6.0, "ink", halo=halo)
    image = page_image(Page(50.0, 50.0, (), (text,)), dpi)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)
    dark = rows[..., :3].astype(int).sum(axis=2) < 380
    found, across = np.nonzero(dark)
    wanted = 6.0 / 25.4 * dpi
    assert found.max() - found.min() + 1 == pytest.approx(wanted, abs=2)
    assert across.max() - across.min() + 1 == pytest.approx(
        width_mm("HEH", 6.0) / 25.4 * dpi, rel=0.12
    )


def test_halo_hugs_its_letters_on_a_200_dpi_sheet():
    black = Areas([(np.array([[0, 0], [50, 0], [50, 50], [0, 50]], float),)], Fill("ink"))
    text = Text(25.0, 25.0, "HEH", 6.0, "warning", halo="halo")
    image = page_image(Page(50.0, 50.0, (), (black, text)), 200.0)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4).astype(int)
    letters = (rows[..., 2] > 150) & (rows[..., 1] < 90)
    light = rows[..., :3].min(axis=2) > 200
    spread = [np.nonzero(each)[0] for each in (letters, light)]
    # 0.42 of the capitals' height in all: half of it on either side (see HALO).
    beyond = (np.ptp(spread[1]) - np.ptp(spread[0])) / 2
    assert beyond == pytest.approx(0.21 * 6.0 / 25.4 * 200, abs=3)


@pytest.mark.parametrize("mm_px", [2.6, 3.78, 5.1, 7.9])
def test_a_line_of_writing_on_pixels_ends_where_it_was_measured_to_end(mm_px):
    words = "Ask the local locating service and the owners before any digging"
    text = Text(5.0, 10.0, words, 1.5, anchor=Anchor.LEFT)
    page = Page(120.0, 20.0, (), (text,))
    image = page_image(page, mm_px * 25.4)
    ink = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)[..., 0] < 160
    columns = np.flatnonzero(ink.any(axis=0)) / mm_px
    # Never past it; the last letter's own margin and what small letters lose may be missing.
    end = 5.0 + width_mm(words, 1.5)
    assert end - 1.2 <= columns[-1] <= end + 1.0 / mm_px
