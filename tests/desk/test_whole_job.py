"""The whole job by mouse and keyboard, from nothing to paper, closed, opened again, undone."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

pytestmark = [pytest.mark.qt_log_ignore("propagateSizeHints"), pytest.mark.slow]

WEST, SOUTH = 560_000.0, 5_850_000.0


def words(widget) -> str:
    shown = (w.text() for w in widget.findChildren(QLabel) if w.isVisible())
    return "\n".join(shown).replace("\xa0", " ")


def at(desk, x: float, y: float) -> QPoint:
    return desk.map.screen_of(WEST + x, SOUTH + y).toPoint()


def draw(desk, hand, keys: str, *spots: tuple[float, float]) -> str:
    """Take a kind in hand, click its points, end it, lay the tool aside; return its identity."""
    hand.keys(desk.map, keys)
    assert desk.bench.tool is not None
    for x, y in spots:
        spot = at(desk, x, y)
        assert desk.map.rect().contains(spot)
        # Ctrl held down keeps the pointer from snapping: the points land where they are put.
        QTest.mouseMove(desk.map, spot)
        QTest.mouseClick(
            desk.map, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, spot
        )
    if len(spots) > 1:
        QTest.keyClick(desk.map, Qt.Key.Key_Return)
    hand.settle()
    QTest.keyClick(desk.map, Qt.Key.Key_Escape)
    made = desk.bench.selected()
    assert len(made) == 1, keys
    if desk.bench.tool is not None:
        QTest.keyClick(desk.map, Qt.Key.Key_Escape)
    return made[0].id


def photograph(folder: Path) -> Path:
    """Return a green picture of the whole square, 1 m pixels, with its world file."""
    image = QImage(300, 300, QImage.Format.Format_RGB32)
    image.fill(QColor(96, 120, 70))
    path = folder / "photo.png"
    assert image.save(str(path))
    path.with_suffix(".pgw").write_text(f"1\n0\n0\n-1\n{WEST - 49.5}\n{SOUTH + 249.5}\n")
    return path


def begin(desk, hand, qtbot, folder: Path) -> None:
    hand.click(desk.welcome.choices["site.new"])
    dialog = hand.dialog()
    QTest.keyClicks(hand.named("Name of the site", dialog), "North hill")
    hand.type(hand.named("Folder of the site", dialog), str(folder))
    hand.type(hand.named("Coordinate system", dialog), "7854")
    QTest.keyClicks(hand.named("Heights datum", dialog), "AHD")
    hand.click(hand.named("Begin", dialog))
    qtbot.waitUntil(lambda: desk.bench.session is not None, timeout=5000)
    hand.settle()


def bring_ground(desk, hand, qtbot, hill: Path) -> None:
    hand.click(guide_button(desk, "ground"))
    dialog = hand.dialog()
    line = hand.named("Heights to bring in", dialog)
    QTest.keyClicks(line, str(hill))
    QTest.keyClick(line, Qt.Key.Key_Return)
    unit = hand.named("Heights are in", dialog)
    unit.setFocus()
    QTest.keyClick(unit, Qt.Key.Key_Down)
    main = hand.named("Read it", dialog)
    qtbot.waitUntil(main.isEnabled, timeout=20_000)
    hand.click(main)
    qtbot.waitUntil(lambda: main.text() == "Stand the plan on it", timeout=30_000)
    hand.type(hand.named("Vertical accuracy", dialog), "0.1")
    hand.click(main)
    qtbot.waitUntil(lambda: bool(desk.bench.plan.of_kind("ground")), timeout=20_000)
    hand.settle()


def bring_aerial(desk, hand, qtbot, photo: Path) -> None:
    hand.click(guide_button(desk, "aerial"))
    dialog = hand.dialog()
    line = hand.named("Picture to bring in", dialog)
    QTest.keyClicks(line, str(photo))
    QTest.keyClick(line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "300" in words(dialog), timeout=20_000)
    hand.type(hand.named("Coordinate system", dialog), "7854")
    main = hand.named("Bring it in", dialog)
    qtbot.waitUntil(main.isEnabled, timeout=20_000)
    hand.click(main)
    qtbot.waitUntil(lambda: bool(desk.bench.plan.of_kind("picture")), timeout=30_000)
    hand.settle()


def guide_button(desk, step: str):
    return desk.guide._buttons[step][0]


def type_boundary(desk, hand) -> None:
    hand.click(guide_button(desk, "boundary"))
    dialog = hand.dialog()
    legs = hand.named("Legs: bearing and distance, one a line", dialog)
    legs.setFocus()
    for line in ("90 200", "180 200", "270 200", "0 200"):
        QTest.keyClicks(legs, line)
        QTest.keyClick(legs, Qt.Key.Key_Return)
    hand.type(hand.named("East of corner 1", dialog), f"{WEST}")
    hand.type(hand.named("North of corner 1", dialog), f"{SOUTH + 200}")
    hand.click(hand.named("Make it the boundary", dialog))
    hand.settle()


def test_from_nothing_to_paper_and_back(desk, hand, qtbot, tmp_path, hill, monkeypatch):
    folder = tmp_path / "north-hill"
    begin(desk, hand, qtbot, folder)
    assert desk.guide.isVisible()
    bring_ground(desk, hand, qtbot, hill)
    bring_aerial(desk, hand, qtbot, photograph(tmp_path))
    type_boundary(desk, hand)
    assert not desk.guide.isVisible()
    assert desk.bench.selected()[0].geometry.area == pytest.approx(40_000.0)
    hand.keys(desk.map, "Ctrl+0")
    hand.settle()

    zone = draw(desk, hand, "Ctrl+D, Z", (60, 60), (140, 60), (140, 140), (60, 140))
    house = draw(desk, hand, "Ctrl+D, B", (90, 90), (105, 90), (105, 100), (90, 100))
    track = draw(desk, hand, "Ctrl+D, T", (20, 40), (60, 42), (88, 80))
    tree = draw(desk, hand, "Ctrl+D, 1", (150, 150))
    belt = draw(desk, hand, "Ctrl+D, X", (80, 80), (115, 80), (115, 110), (80, 110))
    plan = desk.bench.plan
    pixel = desk.map.camera.pixel_m
    # What was drawn is where it was put, to the pixel.
    assert plan.element(zone).geometry.area == pytest.approx(6400, abs=4 * 80 * pixel)
    assert plan.element(house).geometry.area == pytest.approx(150, abs=50 * pixel)
    assert plan.element(track).geometry.length == pytest.approx(87.26, abs=6 * pixel)
    assert plan.element(tree).geometry.x == pytest.approx(WEST + 150, abs=2 * pixel)
    assert plan.element(belt).geometry.length > 90

    # Read an area from the card.
    desk.bench.select([house])
    hand.settle()
    assert "Area on the grid" in " ".join(
        w.accessibleName() for w in desk.card.findChildren(QLabel)
    )

    # A septic tank beside a well is found; taken out and put elsewhere, the finding clears.
    well = draw(desk, hand, "Ctrl+D, L", (40, 150))
    tank = draw(desk, hand, "Ctrl+D, Q", (46, 150))
    assert any({well, tank} <= set(f.elements) for f in desk.bench.study.findings())
    desk.bench.select([tank])
    hand.keys(desk.map, "Del")
    hand.settle()
    assert not any(well in f.elements and tank in f.elements for f in desk.bench.study.findings())
    draw(desk, hand, "Ctrl+D, Q", (170, 30))
    assert not any("septic" in f.rule and well in f.elements for f in desk.bench.study.findings())

    out = tmp_path / "north-hill.pdf"
    monkeypatch.setattr(
        "canvas.desk.pages.sheet.QFileDialog.getSaveFileName", lambda *a: (str(out), "")
    )
    hand.keys(desk.map, "Ctrl+P")
    page = desk.leaf.page
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=30_000)
    hand.click(page.pdf)
    qtbot.waitUntil(out.exists, timeout=30_000)
    hand.settle()
    assert out.stat().st_size > 10_000

    before = desk.bench.plan
    steps = [s.label for s in desk.bench.session.undo_steps()]
    hand.keys(desk.map, "Ctrl+W")
    assert desk.welcome.isVisible()
    hand.click(hand.named(f"{folder.name}    {folder.parent}"))
    hand.settle()
    assert desk.bench.plan == before
    assert [s.label for s in desk.bench.session.undo_steps()] == steps
    desk.map.setFocus()
    hand.keys(desk.map, "Ctrl+Z")
    assert len(desk.bench.plan.of_kind("septic_tank")) == 0
    hand.keys(desk.map, "Ctrl+Z")
    assert [t.id for t in desk.bench.plan.of_kind("septic_tank")] == [tank]
