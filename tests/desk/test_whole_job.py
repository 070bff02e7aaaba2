"""The whole job by mouse and keyboard, from nothing to paper, closed, opened again, undone."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pikepdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QPushButton
from shapely.geometry import box, mapping

pytestmark = [
    pytest.mark.qt_log_ignore("propagateSizeHints|does not support"),
    pytest.mark.slow,
]
WEST, SOUTH = 560_000.0, 5_850_000.0
KEY = Qt.Key


def photograph(folder: Path) -> Path:
    """Return a green picture of the whole square, 1 m pixels, with its world file."""
    image = QImage(300, 300, QImage.Format.Format_RGB32)
    image.fill(QColor(96, 120, 70))
    path = folder / "photo.png"
    assert image.save(str(path))
    path.with_suffix(".pgw").write_text(f"1\n0\n0\n-1\n{WEST - 49.5}\n{SOUTH + 249.5}\n")
    return path


def boundary_file(folder: Path) -> Path:
    """Return a file with the land's outline, 200 m square."""
    path = folder / "edge.geojson"
    shape = mapping(box(WEST, SOUTH, WEST + 200, SOUTH + 200))
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::7854"}}
    feature = {"type": "Feature", "properties": {"name": "Home"}, "geometry": shape}
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]}))
    return path


def press_guide(desk, hand, words: str, which: int = 0) -> None:
    """Press a button of the first steps, found by its words as a person does."""
    shown = [b for b in desk.guide.findChildren(QPushButton) if b.isVisible() and b.text() == words]
    hand.click(shown[which])


def bring_boundary(desk, hand, path: Path) -> None:
    press_guide(desk, hand, "From a file…")
    dialog = hand.dialog()
    line = hand.named("File to bring in", dialog)
    QTest.keyClicks(line, str(path))
    QTest.keyClick(line, KEY.Key_Return)
    hand.qtbot.waitUntil(lambda: "Would become 1" in hand.words(dialog), timeout=20_000)
    hand.choose(hand.named("What they are", dialog), "Site boundar")
    main = hand.named("Bring them in", dialog)
    hand.qtbot.waitUntil(main.isEnabled, timeout=20_000)
    hand.click(main)
    hand.settle()


def figure(desk, words: str) -> float:
    """Read a figure in metres or square metres off the card, by its name."""
    names = [w.accessibleName() for w in desk.card.findChildren(QLabel) if w.isVisible()]
    plain = [name.replace("\xa0", " ").replace("\u202f", "") for name in names]
    found = next(name for name in plain if name.startswith(words))
    number = re.search(r": (-?[\d.]+)", found)
    assert number is not None, found
    return float(number[1])


def begin(desk, hand, folder: Path) -> None:
    hand.click(desk.welcome.choices["site.new"])
    dialog = hand.dialog()
    QTest.keyClicks(hand.named("Name of the site", dialog), "North hill")
    hand.type(hand.named("Folder of the site", dialog), str(folder))
    hand.type(hand.named("Coordinate system", dialog), "7854")
    QTest.keyClicks(hand.named("Heights datum", dialog), "AHD")
    hand.click(hand.named("Begin", dialog))
    hand.opened(folder)


def print_sheet(desk, hand, out: Path) -> None:
    hand.act("out.print")
    told = lambda: hand.words().find("Sheet 1 of") >= 0  # noqa: E731
    hand.qtbot.waitUntil(told, timeout=30_000)
    save = next(b for b in desk.findChildren(QPushButton) if b.text() == "Save as PDF…")
    hand.file_box(lambda: hand.click(save), out)
    hand.qtbot.waitUntil(out.exists, timeout=30_000)
    hand.settle()


def test_from_nothing_to_paper_and_back(desk, hand, qtbot, tmp_path, hill):
    folder = tmp_path / "north-hill"
    begin(desk, hand, folder)
    assert desk.guide.isVisible()
    bring_boundary(desk, hand, boundary_file(tmp_path))
    hand.bring_ground(hill)
    hand.bring_picture(photograph(tmp_path))
    assert not desk.guide.isVisible()
    assert desk.bench.plan.of_kind("site_boundary")[0].geometry.area == pytest.approx(40_000.0)
    hand.act("view.fit")
    hand.settle()

    zone = hand.draw("zone", (60, 60), (140, 60), (140, 140), (60, 140))
    house = hand.draw("building", (90, 90), (105, 90), (105, 100))
    track = hand.draw("track", (20, 40), (60, 42), (88, 80))
    trees = [hand.draw("tree", spot) for spot in ((150, 150), (158, 150), (166, 150))]
    hand.pick((97, 95))
    hand.act("draw.firebreak.around")
    hand.say("10")
    hand.settle()
    hand.key(KEY.Key_Escape, KEY.Key_Escape)
    plan = desk.bench.plan
    pixel = desk.map.camera.pixel_m
    # What was drawn is where it was put, to the pixel.
    assert plan.element(zone).geometry.area == pytest.approx(6400, abs=4 * 80 * pixel)
    assert plan.element(house).geometry.area == pytest.approx(150, abs=50 * pixel)
    assert plan.element(track).geometry.length == pytest.approx(87.26, abs=6 * pixel)
    assert hand.local(trees[0]) == [pytest.approx([150, 150], abs=2 * pixel)]
    belt = plan.of_kind("firebreak")[0].geometry
    width = plan.of_kind("firebreak")[0].width_m
    assert belt.distance(plan.element(house).geometry) == pytest.approx(10 + width / 2, abs=0.01)

    # An area and a length are read off the card, as they are on the plan.
    hand.pick((97, 95))
    assert figure(desk, "Area on the grid") == pytest.approx(
        plan.element(house).geometry.area, abs=0.51
    )
    hand.pick((40, 41))
    assert desk.bench.selection == {track}
    assert figure(desk, "Length on the grid") == pytest.approx(
        plan.element(track).geometry.length, abs=0.06
    )

    # A septic tank beside a well is found; taken out and put elsewhere, the finding clears.
    well = hand.draw("well", (40, 150))
    tank = hand.draw("septic_tank", (46, 150))
    assert any({well, tank} <= set(f.elements) for f in desk.bench.study.findings())
    hand.pick((46, 150))
    hand.act("edit.delete")
    hand.settle()
    assert not any({well, tank} <= set(f.elements) for f in desk.bench.study.findings())
    hand.draw("septic_tank", (170, 30))
    assert not any("septic" in f.rule and well in f.elements for f in desk.bench.study.findings())

    out = tmp_path / "north-hill.pdf"
    print_sheet(desk, hand, out)
    with pikepdf.open(out) as pdf:
        # ISO 216: A3 is 420 mm wide; a point is 1/72 inch.
        wide = float(pdf.pages[0].mediabox[2]) - float(pdf.pages[0].mediabox[0])
        assert wide == pytest.approx(420 / 25.4 * 72, abs=0.5)

    close_and_reopen(desk, hand, folder, tank)


def close_and_reopen(desk, hand, folder, tank):
    before = desk.bench.plan
    steps = [s.label for s in desk.bench.session.undo_steps()]
    hand.act("site.close")
    assert desk.welcome.isVisible()
    hand.click(hand.named(f"{folder.name}    {folder.parent}"))
    hand.opened(folder)
    assert desk.bench.plan == before
    assert [s.label for s in desk.bench.session.undo_steps()] == steps
    hand.act("edit.undo")
    assert len(desk.bench.plan.of_kind("septic_tank")) == 0
    hand.act("edit.undo")
    assert [t.id for t in desk.bench.plan.of_kind("septic_tank")] == [tank]
