"""The dialogs, each used once by mouse and keyboard to its end."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit
from shapely.geometry import box, mapping

from canvas.exchange.geotiff import open_grid
from canvas.site.session import Session

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

WEST, SOUTH = 560_000.0, 5_850_000.0


def words(widget) -> str:
    return "\n".join(w.text() for w in widget.findChildren(QLabel) if w.isVisible())


def ready(qtbot, widget) -> None:
    qtbot.waitUntil(widget.isEnabled, timeout=20_000)


def write_picture(path: Path, *, world: bool) -> Path:
    """Write a PNG of 200 x 100 pixels with a bright corner, with a world file of 1 m if asked."""
    image = QImage(200, 100, QImage.Format.Format_RGB32)
    image.fill(QColor(90, 90, 90))
    painter = QPainter(image)
    painter.fillRect(0, 0, 20, 20, QColor(250, 250, 250))
    painter.end()
    assert image.save(str(path))
    if world:
        # ESRI world file: x size, turns, y size, centre of the upper left pixel.
        lines = f"1\n0\n0\n-1\n{WEST + 0.5}\n{SOUTH + 99.5}\n"
        path.with_suffix(".pgw").write_text(lines)
    return path


def test_a_site_is_begun_from_longitude_and_latitude(desk, hand, qtbot, tmp_path):
    hand.click(desk.welcome.choices["site.new"])
    dialog = hand.dialog()
    begin = hand.named("Begin", dialog)
    assert not begin.isEnabled()
    QTest.keyClicks(hand.named("Name of the site", dialog), "Far hill")
    hand.type(hand.named("Folder of the site", dialog), str(tmp_path / "far"))
    hand.type(hand.named("Longitude", dialog), "141,5")
    hand.type(hand.named("Latitude", dialog), "-37.5")
    hand.click(hand.named("Offer the UTM zone", dialog))
    # EPSG:32754 is WGS 84 / UTM zone 54S, which holds 138° to 144° E (EPSG registry).
    assert hand.named("Coordinate system", dialog).text() == "EPSG:32754"
    assert "UTM zone 54S" in words(dialog)
    QTest.keyClicks(hand.named("Heights datum", dialog), "AHD")
    hand.click(begin)
    qtbot.waitUntil(lambda: desk.bench.session is not None, timeout=5000)
    site = desk.bench.plan.site
    assert (site.name, site.crs, site.heights_datum) == ("Far hill", "EPSG:32754", "AHD")
    assert Session.is_site(tmp_path / "far")
    qtbot.waitUntil(desk.guide.isVisible, timeout=5000)


def test_a_grid_in_degrees_is_refused_in_words(desk, hand):
    hand.keys(desk, "Ctrl+N")
    dialog = hand.dialog()
    QTest.keyClicks(hand.named("Name of the site", dialog), "Flat earth")
    hand.type(hand.named("Coordinate system", dialog), "4326")
    assert not hand.named("Begin", dialog).isEnabled()
    assert "measures in degrees, not metres" in words(dialog)
    hand.click(hand.named("Cancel", dialog))


def test_a_folder_that_holds_a_site_is_left_alone(desk, hand, qtbot, site):
    hand.keys(desk, "Ctrl+N")
    dialog = hand.dialog()
    QTest.keyClicks(hand.named("Name of the site", dialog), "Twice")
    hand.type(hand.named("Folder of the site", dialog), str(site))
    hand.type(hand.named("Coordinate system", dialog), "EPSG:7854")
    hand.click(hand.named("Begin", dialog))
    qtbot.waitUntil(lambda: "It was left as it is." in words(dialog), timeout=3000)
    assert desk.bench.session is None
    hand.click(hand.named("Cancel", dialog))


def test_boundary_from_the_title_closes_and_is_compared_with_the_deed(opened, hand):
    # A rectangle of 100 m x 50 m: 5000 m² and no misclosure, by plane geometry.
    hand.keys(opened.map, "Ctrl+I, B")
    dialog = hand.dialog()
    legs = hand.named("Legs: bearing and distance, one a line", dialog)
    hand.reach(legs)
    QTest.keyClicks(legs, "90 100")
    QTest.keyClick(legs, Qt.Key.Key_Return)
    assert not hand.named("Make it the boundary", dialog).isEnabled()
    for line in ("S0°W 50", "270 100", "0 50"):
        QTest.keyClicks(legs, line)
        QTest.keyClick(legs, Qt.Key.Key_Return)
    hand.type(hand.named("Area in the deed", dialog), "0,51 ha")
    told = words(dialog).replace("\xa0", " ").replace("\u202f", " ")
    assert "It closes exactly" in told
    assert "Against the deed: -100 m² (-2.0 %)" in told
    hand.click(hand.named("Make it the boundary", dialog))
    made = opened.bench.selected()[0]
    assert made.geometry.area == pytest.approx(5000.0)
    assert made.deed_area_m2 == pytest.approx(5100.0)


def test_features_are_previewed_mapped_and_brought_in(opened, hand, qtbot, tmp_path):
    path = tmp_path / "beds.geojson"
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::7854"}}
    beds = [
        {"type": "Feature", "properties": {"label": name, "use": "herbs"},
         "geometry": mapping(box(WEST + x, SOUTH + 20, WEST + x + 4, SOUTH + 30))}
        for name, x in (("One", 30), ("Two", 40))
    ]  # fmt: skip
    bow = [
        [WEST, SOUTH],
        [WEST + 9, SOUTH + 9],
        [WEST + 9, SOUTH],
        [WEST, SOUTH + 9],
        [WEST, SOUTH],
    ]
    beds.append({"type": "Feature", "properties": {"label": "Bow"},
                 "geometry": {"type": "Polygon", "coordinates": [bow]}})  # fmt: skip
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": beds}))
    before = len(list(opened.bench.plan.elements()))
    hand.keys(opened.map, "Ctrl+I, F")
    dialog = hand.dialog()
    line = hand.named("File to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "Would become" in words(dialog), timeout=20_000)
    kinds = hand.named("What they are", dialog)
    hand.reach(kinds)
    for _ in range(kinds.findData("garden_bed") - kinds.currentIndex()):
        QTest.keyClick(kinds, Qt.Key.Key_Down)
    name = hand.named("Column for Name", dialog)
    hand.reach(name)
    while name.currentText() != "label":
        QTest.keyClick(name, Qt.Key.Key_Down)
    main = hand.named("Bring them in", dialog)
    ready(qtbot, main)
    assert hand.named("Left out, and what was changed", dialog).count() >= 1
    hand.click(main)
    hand.settle()
    names = {e.name for e in opened.bench.plan.of_kind("garden_bed")}
    assert {"One", "Two"} <= names
    hand.keys(opened.map, "Ctrl+Z")
    assert len(list(opened.bench.plan.elements())) == before


def test_a_file_of_rubbish_is_told_calmly(opened, hand, qtbot, tmp_path):
    path = tmp_path / "rubbish.kml"
    path.write_text("this is no map")
    hand.keys(opened.map, "Ctrl+I, F")
    dialog = hand.dialog()
    line = hand.named("File to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "What to do" in words(dialog), timeout=20_000)
    assert not hand.named("Bring them in", dialog).isEnabled()
    hand.click(hand.named("Cancel", dialog))


def test_an_aerial_with_a_world_file_is_laid_under_the_plan(opened, hand, qtbot, tmp_path):
    path = write_picture(tmp_path / "photo.png", world=True)
    hand.keys(opened.map, "Ctrl+I, A")
    dialog = hand.dialog()
    line = hand.named("Picture to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "200 × 100 cells" in words(dialog), timeout=20_000)
    qtbot.waitUntil(lambda: "Where it lies is not known yet" in words(dialog), timeout=20_000)
    hand.type(hand.named("Coordinate system", dialog), "EPSG:7854")
    # 200 m by 100 m of it lie on the land's 200 m by 200 m, by construction.
    told = "It covers 50 % of the land inside the boundary"
    qtbot.waitUntil(lambda: told in words(dialog).replace("\xa0", " "), timeout=20_000)
    small = hand.named("The file made small, under the site’s boundary", dialog)
    # Its bright corner, 20 m square, is at its north-west, half way up the land.
    assert small.grab().toImage().pixelColor(small.spot_of(WEST + 10, SOUTH + 90)).lightness() > 200
    assert small.grab().toImage().pixelColor(small.spot_of(WEST + 50, SOUTH + 50)).lightness() < 120
    main = hand.named("Bring it in", dialog)
    ready(qtbot, main)
    hand.click(main)
    qtbot.waitUntil(lambda: bool(opened.bench.plan.of_kind("picture")), timeout=30_000)
    picture = opened.bench.plan.of_kind("picture")[0]
    assert picture.pixel_m == pytest.approx(1.0)
    assert (opened.bench.session.folder / picture.file).is_file()


def test_the_ground_asks_its_unit_and_says_how_far_it_reaches(opened, hand, qtbot, hill):
    desk = opened
    hand.keys(desk.map, "Ctrl+I, G")
    dialog = hand.dialog()
    line = hand.named("Heights to bring in", dialog)
    QTest.keyClicks(line, str(hill))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "300 × 300" in words(dialog).replace("\u202f", " "), timeout=20_000)
    main = hand.named("Read it", dialog)
    assert not main.isEnabled()
    qtbot.waitUntil(lambda: "The whole boundary lies on it" in words(dialog), timeout=20_000)
    small = hand.named("The file made small, under the site’s boundary", dialog)
    # A plane has one shade all over.
    image = small.grab().toImage()
    shades = {
        image.pixelColor(small.spot_of(WEST + x, SOUTH + y)).lightness()
        for x, y in ((50, 50), (150, 50), (100, 150))
    }
    assert len(shades) == 1
    unit = hand.named("Heights are in", dialog)
    hand.reach(unit)
    QTest.keyClick(unit, Qt.Key.Key_Down)
    QTest.keyClick(unit, Qt.Key.Key_Down)
    ready(qtbot, main)
    hand.click(main)
    qtbot.waitUntil(lambda: "Beyond the boundary" in words(dialog), timeout=30_000)
    # 50 m of heights lie around the 200 m square, by construction.
    assert "W 50 m, S 50 m, E 50 m, N 50 m" in words(dialog).replace("\xa0", " ")
    hand.type(hand.named("Vertical accuracy", dialog), "0,2")
    hand.click(main)
    qtbot.waitUntil(lambda: len(desk.bench.plan.of_kind("ground")) == 2, timeout=30_000)
    used = [g for g in desk.bench.plan.of_kind("ground") if g.in_use]
    assert [g.accuracy_m for g in used] == [0.2]
    # International feet: heights of 100 to 160 become 30.48 to 48.77 m (1 ft = 0.3048 m exactly).
    grid = open_grid(desk.bench.session.path_of(used[0].file))
    assert float(np.nanmin(grid.z)) == pytest.approx(100.1 * 0.3048, abs=0.01)


def test_an_aerial_of_another_place_is_seen_to_lie_elsewhere(opened, hand, qtbot, tmp_path):
    path = write_picture(tmp_path / "photo.png", world=True)
    # Moved 30 km east of the land's west edge: 29.8 km from its east edge.
    world = f"1\n0\n0\n-1\n{WEST + 30_000.5}\n{SOUTH + 99.5}\n"
    path.with_suffix(".pgw").write_text(world)
    hand.keys(opened.map, "Ctrl+I, A")
    dialog = hand.dialog()
    line = hand.named("Picture to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "200 × 100 cells" in words(dialog), timeout=20_000)
    hand.type(hand.named("Coordinate system", dialog), "EPSG:7854")
    told = "It lies 29 800 m from the boundary: check its grid"
    plain = str.maketrans({"\xa0": " ", "\u202f": " "})
    qtbot.waitUntil(lambda: told in words(dialog).translate(plain), timeout=20_000)
    hand.click(hand.named("Cancel", dialog))


def test_a_plain_picture_is_tied_by_clicks_and_typed_positions(opened, hand, qtbot, tmp_path):
    path = write_picture(tmp_path / "scan.png", world=False)
    hand.keys(opened.map, "Ctrl+I, T")
    dialog = hand.dialog()
    line = hand.named("Picture to tie", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    pane = dialog.picture
    qtbot.waitUntil(lambda: pane.loaded, timeout=20_000)
    main = hand.named("Lay it under the plan", dialog)
    for column, row in ((0, 0), (200, 0), (200, 100), (0, 100)):
        assert not main.isEnabled() or dialog.table.rowCount() >= 2
        hand.settle()
        hand.click(pane, pane.screen_of(column, row).toPoint())
        hand.type(hand.named("East of the point", dialog), f"{WEST + column / 2}")
        hand.type(hand.named("North of the point", dialog), f"{SOUTH + 50 - row / 2}")
        hand.click(hand.named("Set its position", dialog))
    # Pixels of half a metre, by construction; pointing is good to a pixel or so.
    assert dialog.fit.pixel_m == pytest.approx(0.5, rel=0.03)
    assert "Fit error" in words(dialog)
    hand.click(main)
    qtbot.waitUntil(lambda: bool(opened.bench.plan.of_kind("picture")), timeout=30_000)
    picture = opened.bench.plan.of_kind("picture")[0]
    assert picture.fit_error_m < 1.0


def test_a_point_put_wrongly_is_flagged(opened, hand, qtbot, tmp_path):
    path = write_picture(tmp_path / "scan.png", world=False)
    hand.keys(opened.map, "Ctrl+I, T")
    dialog = hand.dialog()
    QTest.keyClicks(dialog.file.line, str(path))
    QTest.keyClick(dialog.file.line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.picture.loaded, timeout=20_000)
    spots = ((5, 5), (195, 5), (195, 95), (5, 95), (100, 50))
    for number, (column, row) in enumerate(spots):
        hand.settle()
        hand.click(dialog.picture, dialog.picture.screen_of(column, row).toPoint())
        astray = 30.0 if number == 4 else 0.0
        hand.type(dialog.east, f"{WEST + column + astray}")
        hand.type(dialog.north, f"{SOUTH + 100 - row}")
        hand.click(dialog.typed)
    assert dialog.table.item(4, 5).text() == "likely wrong"
    hand.click(
        dialog.table.viewport(), dialog.table.visualItemRect(dialog.table.item(4, 0)).center()
    )
    hand.click(dialog.drop)
    assert dialog.table.rowCount() == 4
    assert dialog.fit.rms_m < 2
    hand.click(hand.named("Cancel", dialog))


def test_elements_are_exported_and_read_back(opened, hand, qtbot, tmp_path):
    out = tmp_path / "out.geojson"
    hand.keys(opened.map, "Ctrl+E")
    dialog = hand.dialog()
    hand.type(hand.named("File to write", dialog), str(out))
    hand.click(hand.named("Write it", dialog))
    qtbot.waitUntil(out.exists, timeout=20_000)
    hand.settle()
    assert len(json.loads(out.read_text())["features"]) == 5


def test_a_computed_map_is_exported_as_geotiff(opened, hand, qtbot, tmp_path):
    out = tmp_path / "slope.tif"
    hand.keys(opened.map, "Ctrl+B, S")
    hand.keys(opened.map, "Ctrl+Shift+E")
    dialog = hand.dialog()
    hand.type(hand.named("File to write", dialog), str(out))
    hand.click(hand.named("Write it", dialog))
    qtbot.waitUntil(lambda: out.exists() and not opened.bench.jobs.busy, timeout=20_000)
    # Rise over run of the plane, by construction.
    assert float(np.nanmedian(open_grid(out).z)) == pytest.approx(0.2, abs=1e-6)


def test_the_keyboard_list_is_narrowed_by_typing(desk, hand):
    hand.keys(desk, "F1")
    dialog = hand.dialog()
    QTest.keyClicks(dialog.focusWidget(), "firebreak")
    assert dialog.table.rowCount() == 1
    assert dialog.table.item(0, 1).text() == "Ctrl+D, X"
    hand.click(hand.named("Done", dialog))


def test_cautions_and_sources_are_told(desk, hand):
    hand.keys(desk, "Shift+F1")
    dialog = hand.dialog()
    assert "Ask before you dig" in words(dialog)
    assert "Horn" in dialog.sources.toPlainText()
    hand.click(hand.named("Done", dialog))


def test_a_file_let_fall_on_the_map_opens_its_dialog(opened, hand, qtbot, tmp_path):
    from PySide6.QtCore import QMimeData, QUrl
    from PySide6.QtGui import QDragEnterEvent, QDropEvent
    from PySide6.QtWidgets import QApplication

    path = write_picture(tmp_path / "photo.png", world=True)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    buttons, keys = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    copy = Qt.DropAction.CopyAction
    QApplication.sendEvent(opened.map, QDragEnterEvent(QPoint(500, 300), copy, data, buttons, keys))
    QApplication.sendEvent(opened.map, QDropEvent(QPointF(500, 300), copy, data, buttons, keys))
    dialog = hand.dialog()
    assert dialog.windowTitle() == "Bring in an aerial"
    qtbot.waitUntil(lambda: "200 × 100 cells" in words(dialog), timeout=20_000)
    hand.click(hand.named("Cancel", dialog))


def test_a_table_with_headings_of_its_own_is_read_by_the_columns_named(
    opened, hand, qtbot, tmp_path
):
    path = tmp_path / "pegs.csv"
    path.write_text(f"Peg;Rechts;Hoch\nA;{WEST + 5:.0f},5;{SOUTH + 7:.0f},25\n")
    hand.keys(opened.map, "Ctrl+I, F")
    dialog = hand.dialog()
    line = hand.named("File to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)
    hand.settle()
    crs = hand.named("Coordinate system", dialog)
    hand.type(crs, "7854")
    QTest.keyClick(crs, Qt.Key.Key_Return)
    east = hand.named("Column of east or longitude", dialog)
    hand.type(east, "Rechts")
    north = hand.named("Column of north or latitude", dialog)
    hand.type(north, "Hoch")
    QTest.keyClick(north, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "Would become 1" in words(dialog), timeout=20_000)
    main = hand.named("Bring them in", dialog)
    ready(qtbot, main)
    hand.click(main)
    made = opened.bench.selected()[0]
    assert (made.geometry.x, made.geometry.y) == (WEST + 5.5, SOUTH + 7.25)


@pytest.mark.parametrize("keys", ["Shift+F1", "Ctrl+I, G", "Ctrl+I, A", "Ctrl+N"])
def test_on_a_low_screen_the_fields_scroll_and_head_and_foot_stay(opened, hand, keys):
    """WCAG 2.2, 1.4.4: at 200 % nothing is lost; 356 is half of 800 pixels less the frame."""
    hand.keys(opened, keys)
    dialog = hand.dialog()
    dialog.resize(dialog.width(), 356)
    QTest.qWait(50)
    foot = dialog.main.mapTo(dialog, dialog.main.rect().bottomRight())
    assert dialog.main.visibleRegion().boundingRect() == dialog.main.rect()
    assert dialog.rect().contains(foot)
    fields = [*dialog.area.findChildren(QLabel), *dialog.area.findChildren(QLineEdit)]
    shown = [w for w in fields if w.isVisible()]
    assert shown
    for field in shown:
        needed = field.heightForWidth(field.width()) if field.hasHeightForWidth() else 0
        assert field.height() >= max(needed, field.minimumSizeHint().height() if not needed else 0)
    hand.click(dialog.main if not dialog.leave.isVisible() else dialog.leave)
