"""Phases, limits, waivers, layers, opacity, contours: from an empty site by mouse and keyboard."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QCheckBox, QTabWidget

from canvas.desk.cardfacts import FindingPlate

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key
WEST, SOUTH = 560_000.0, 5_850_000.0


def box(hand, words: str) -> QCheckBox:
    """Return the visible check box whose text begins with some words."""

    def found() -> list[QCheckBox]:
        every = hand.window.findChildren(QCheckBox)
        return [b for b in every if b.isVisible() and b.text().startswith(words)]

    hand.qtbot.waitUntil(lambda: bool(found()), timeout=5000)
    return found()[0]


def tick(hand, words: str) -> None:
    hand.click(box(hand, words), QPoint(9, 9))
    hand.settle()


def test_phases_are_made_filled_and_looked_at(land, hand):
    house = hand.draw("building", (60, 60), (80, 60), (80, 70))
    tree = hand.draw("tree", (120, 120))
    hand.act("page.phases")
    for name in ("Access", "House"):
        hand.click(hand.named("Add a phase"))
        hand.settle()
        field = hand.named("Name")
        hand.type(field, name)
        QTest.keyClick(field, KEY.Key_Return)
    assert [p.name for p in land.bench.plan.phases()] == ["Access", "House"]
    hand.act("view.fit")
    hand.pick((70, 64))
    assert land.bench.selection == {house}
    hand.click(hand.named("Put the selection in it"))
    hand.settle()
    assert land.bench.plan.element(house).phase == land.bench.plan.phases()[1].id
    # Built up to the first phase only, the house does not stand yet; the tree has no phase.
    hand.act("page.layers")
    hand.choose(hand.named("Phase the plan is looked at"), "Access")
    hand.settle()
    study = land.bench.study
    assert not study.stands(study.plan.element(house))
    assert study.stands(study.plan.element(tree))
    hand.choose(hand.named("Phase the plan is looked at"), "Everything built")
    hand.settle()
    assert land.bench.study.stands(land.bench.plan.element(house))


def test_a_site_s_own_limit_moves_the_finding(land, hand):
    well = hand.draw("well", (60, 120))
    tank = hand.draw("septic_tank", (70, 120))
    bench = land.bench

    def failing():
        return [f for f in bench.study.findings() if f.failing and {well, tank} <= set(f.elements)]

    before = failing()
    assert before
    rule = before[0].rule
    hand.act("page.rules")
    tabs = next(t for t in land.findChildren(QTabWidget) if t.isVisible())
    hand.click(tabs.tabBar(), tabs.tabBar().tabRect(1).center())
    table = hand.named("Rules in force")
    from canvas.rules.library import rules_of

    rows = [r.key for r in rules_of(bench.plan.site.sets(), {}, {})]
    hand.row(table, rows.index(rule))
    hand.type(hand.named("The site’s own limit"), "5")
    hand.click(hand.named("Set the site’s limit"))
    assert not bench.plan.of_kind("threshold")
    hand.type(hand.named("Reason for the site’s own limit"), "Agreed with the health officer")
    hand.click(hand.named("Set the site’s limit"))
    hand.settle()
    assert rule not in {f.rule for f in failing()}
    hand.act("edit.undo")
    hand.settle()
    assert rule in {f.rule for f in failing()}


def test_a_finding_is_waived_with_a_reason_and_lifted(land, hand):
    well = hand.draw("well", (60, 120))
    hand.draw("septic_tank", (64, 120))
    hand.pick((60, 120))
    plate = next(p for p in land.card.findChildren(FindingPlate) if p.isVisible())
    key = plate.finding.key
    hand.click(hand.named("Waive…", plate))
    dialog = hand.dialog()
    reason = hand.named("Reason", dialog)
    hand.reach(reason)
    QTest.keyClicks(reason, "The tank is sealed and tested")
    hand.click(hand.named("Waive it", dialog))
    hand.settle()
    waived = [f for f in land.bench.study.findings() if f.waived]
    assert [f.key for f in waived] == [key]
    assert well in waived[0].elements
    hand.act("page.rules")
    tabs = next(t for t in land.findChildren(QTabWidget) if t.isVisible())
    hand.click(tabs.tabBar(), tabs.tabBar().tabRect(2).center())
    hand.row(hand.named("Waived findings"), 0)
    hand.click(hand.named("Lift the waiver"))
    hand.settle()
    assert not [f for f in land.bench.study.findings() if f.waived]


def test_a_kind_is_hidden_and_cannot_be_chosen(land, hand):
    tree = hand.draw("tree", (60, 60))
    hand.act("page.layers")
    tick(hand, "Trees")
    assert land.bench.look.hidden_kinds == {"tree"}
    hand.act("view.fit")
    hand.pick((60, 60))
    assert tree not in land.bench.selection
    hand.act("select.all")
    assert tree not in land.bench.selection
    tick(hand, "Trees")
    hand.act("select.none")
    hand.pick((60, 60))
    assert land.bench.selection == {tree}


def test_a_picture_is_faded_and_hidden(land, hand, tmp_path):
    photo = tmp_path / "photo.png"
    image = QImage(200, 200, QImage.Format.Format_RGB32)
    image.fill(QColor(96, 120, 70))
    assert image.save(str(photo))
    # ESRI world file: x size, turns, y size, centre of the upper left pixel.
    photo.with_suffix(".pgw").write_text(f"1\n0\n0\n-1\n{WEST + 0.5}\n{SOUTH + 199.5}\n")
    hand.bring_picture(photo)
    hand.act("page.layers")
    picture = land.bench.plan.of_kind("picture")[0]
    fade = hand.named(f"Opacity of {picture.name}")
    hand.reach(fade)
    QTest.keyClick(fade, KEY.Key_PageDown)
    faded = land.bench.plan.of_kind("picture")[0]
    assert faded.opacity < picture.opacity
    tick(hand, picture.name)
    assert not land.bench.plan.of_kind("picture")[0].shown
    hand.act("edit.undo")
    assert land.bench.plan.of_kind("picture")[0].shown


def test_contours_at_a_chosen_interval(land, hand, hill, qtbot):
    hand.bring_ground(hill)
    hand.act("page.layers")
    interval = hand.named("Contour interval", begins=True)
    hand.type(interval.lineEdit(), "7.5")
    QTest.keyClick(interval.lineEdit(), KEY.Key_Return)
    assert land.bench.look.contour_interval_m == 7.5

    def steps() -> list[float]:
        ground = land.bench.study.land.grid
        spots = [line.centroid for line in land.map.world.contours]
        return [float(ground.sample([p.x], [p.y])[0]) / 7.5 for p in spots]

    # The plane's contours are straight: each lies at a whole multiple of the interval.
    qtbot.waitUntil(
        lambda: bool(steps()) and all(abs(s - round(s)) < 0.01 for s in steps()), timeout=20_000
    )
    hand.act("view.contours")
    assert land.bench.look.contour_interval_m == 0
    qtbot.waitUntil(lambda: not land.map.world.contours, timeout=20_000)


def test_the_shading_is_faded(land, hand, hill):
    hand.bring_ground(hill)
    hand.act("shade.height")
    hand.act("page.layers")
    slider = hand.named("Strength of the shading")
    before = land.bench.look.shading_opacity
    hand.reach(slider)
    QTest.keyClick(slider, KEY.Key_PageDown)
    assert land.bench.look.shading_opacity == pytest.approx(before - 0.09, abs=0.02)
