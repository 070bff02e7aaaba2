"""Bringing in and taking out: previews, control points, exports read back by other libraries."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import rasterio
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest
from shapely.geometry import box, mapping

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
WEST, SOUTH = 560_000.0, 5_850_000.0


def write_features(path: Path, *shapes: tuple[str, object]) -> Path:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::7854"}}
    features = [
        {"type": "Feature", "properties": {"label": name}, "geometry": mapping(shape)}
        for name, shape in shapes
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}))
    return path


def read_in(desk, hand, path: Path, kind: str) -> None:
    """Choose a file and its kind in the features dialog, then bring it in."""
    dialog = hand.dialog()
    line = hand.named("File to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: "Would become" in hand.words(dialog), timeout=20_000)
    hand.choose(hand.named("What they are", dialog), kind)
    main = hand.named("Bring them in", dialog)
    hand.qtbot.waitUntil(main.isEnabled, timeout=20_000)
    hand.click(main)
    hand.settle()


def test_a_boundary_from_a_file_begins_a_site(desk, hand, tmp_path):
    hand.begin(tmp_path / "filed")
    path = write_features(
        tmp_path / "edge.geojson", ("Home", box(WEST, SOUTH, WEST + 150, SOUTH + 120))
    )
    hand.act("in.features")
    read_in(desk, hand, path, "Site boundar")
    boundary = desk.bench.plan.of_kind("site_boundary")[0]
    assert boundary.geometry.area == pytest.approx(18_000.0)
    west, south, east, north = desk.map.view_bounds()
    assert west < WEST < WEST + 150 < east
    assert south < SOUTH < SOUTH + 120 < north


def test_features_from_a_chosen_file_are_previewed_first(land, hand, tmp_path):
    path = write_features(
        tmp_path / "beds.geojson",
        ("One", box(WEST + 30, SOUTH + 20, WEST + 34, SOUTH + 30)),
        ("Two", box(WEST + 40, SOUTH + 20, WEST + 44, SOUTH + 30)),
    )
    hand.act("in.features")
    dialog = hand.dialog()
    browse = hand.named("Choose: File to bring in", dialog)
    hand.file_box(lambda: hand.click(browse), path)
    hand.qtbot.waitUntil(lambda: "Would become 2" in hand.words(dialog), timeout=20_000)
    assert hand.named("Shapes of the file, over the site’s boundary", dialog).isVisible()
    assert not land.bench.plan.of_kind("garden_bed")
    hand.choose(hand.named("What they are", dialog), "Garden beds")
    hand.choose(hand.named("Column for Name", dialog), "label")
    hand.click(hand.named("Bring them in", dialog))
    hand.settle()
    beds = land.bench.plan.of_kind("garden_bed")
    assert {b.name for b in beds} == {"One", "Two"}
    assert land.bench.selection == {b.id for b in beds}
    hand.act("edit.undo")
    assert not land.bench.plan.of_kind("garden_bed")


def test_a_scan_is_tied_by_points_clicked_in_both_panes(land, hand, qtbot, tmp_path):
    """Corners of two zones are on the scan too: a picture of 2 pixels a metre, north up."""
    hand.draw("zone", (20, 20), (180, 20), (180, 180), (20, 180))
    zone = land.bench.plan.of_kind("zone")[0]
    scan = QImage(400, 400, QImage.Format.Format_RGB32)
    scan.fill(QColor(200, 200, 190))
    painter = QPainter(scan)
    painter.drawRect(40, 40, 320, 320)
    painter.end()
    path = tmp_path / "scan.png"
    assert scan.save(str(path))
    hand.act("select.none")
    hand.act("in.tie")
    dialog = hand.dialog()
    line = hand.named("Picture to tie", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    picture = hand.named("Picture, to click points in", dialog)
    ground = hand.named("Map, to click the same points in", dialog)
    qtbot.waitUntil(lambda: picture.loaded, timeout=20_000)
    hand.settle()
    corners = ((20, 20), (180, 20), (180, 180), (20, 180))
    for x, y in corners:
        hand.click(picture, picture.screen_of(2 * x, 400 - 2 * y).toPoint())
        hand.click(ground, ground.screen_of(WEST + x, SOUTH + y).toPoint())
    table = hand.named("Control points", dialog)
    assert table.rowCount() == 4
    assert all(table.item(r, 5).text() == "" for r in range(4))
    assert "Fit error" in hand.words(dialog)
    hand.click(hand.named("Lay it under the plan", dialog))
    qtbot.waitUntil(lambda: bool(land.bench.plan.of_kind("picture")), timeout=30_000)
    record = land.bench.plan.of_kind("picture")[0]
    # Pointing in panes of a few hundred pixels is good to a metre or so.
    assert record.fit_error_m < 2.0
    with rasterio.open(land.bench.session.path_of(record.file)) as made:
        assert made.crs.to_epsg() == 7854
        assert (made.bounds.left, made.bounds.bottom) == pytest.approx((WEST, SOUTH), abs=4)
        assert made.bounds.right - made.bounds.left == pytest.approx(200, abs=6)
    assert zone.id in land.bench.plan


@pytest.mark.parametrize("suffix", [".gpkg", ".geojson", ".kml"])
def test_elements_are_exported_and_read_by_gdal(land, hand, qtbot, tmp_path, suffix):
    hand.draw("tree", (60, 60))
    hand.draw("tree", (90, 60))
    hand.draw("well", (120, 120))
    hand.pick((60, 60), (90, 60))
    out = tmp_path / f"out{suffix}"
    hand.act("out.export")
    dialog = hand.dialog()
    format_ = hand.named("Format", dialog)
    hand.reach(format_)
    for _ in range(format_.count()):
        if suffix in format_.currentText():
            break
        QTest.keyClick(format_, Qt.Key.Key_Down)
    hand.type(hand.named("File to write", dialog), str(out))
    hand.click(hand.named("Write it", dialog))
    qtbot.waitUntil(out.exists, timeout=20_000)
    hand.settle()
    count = sum(
        pyogrio.read_info(out, layer=name)["features"] for name, _ in pyogrio.list_layers(out)
    )
    assert count == 2


def test_a_map_is_exported_to_a_file_chosen(land, hand, qtbot, tmp_path, hill):
    hand.bring_ground(hill)
    out = tmp_path / "slope.tif"
    hand.act("shade.slope")
    hand.act("out.map")
    dialog = hand.dialog()
    browse = hand.named("Choose: File to write", dialog)
    hand.file_box(lambda: hand.click(browse), out)
    hand.click(hand.named("Write it", dialog))
    qtbot.waitUntil(lambda: out.exists() and not land.bench.jobs.busy, timeout=20_000)
    with rasterio.open(out) as made:
        # Rise over run of the plane, by construction.
        assert float(np.nanmedian(made.read(1))) == pytest.approx(0.2, abs=1e-6)


def test_lines_of_the_ground_are_exported_beside_the_maps(land, hand, qtbot, tmp_path, hill):
    hand.bring_ground(hill)
    out = tmp_path / "drainage.geojson"
    hand.act("out.map")
    dialog = hand.dialog()
    hand.choose(dialog.map, "Drainage lines: where water gathers and runs")
    hand.type(hand.named("File to write", dialog), str(out))
    hand.click(hand.named("Write it", dialog))
    qtbot.waitUntil(lambda: out.exists() and not land.bench.jobs.busy, timeout=20_000)
    assert pyogrio.read_info(out)["crs"] == "EPSG:4326"
