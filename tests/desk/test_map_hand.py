"""The map by mouse and keyboard: drawing, typing, snapping, choosing, moving, reshaping."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from canvas.desk.bench import Bench
from canvas.desk.mapview import MapView
from canvas.site.facts import Site
from canvas.site.session import Session
from canvas.tools.move import MoveTool
from canvas.tools.placings import placing

WEST, SOUTH = 560_000.0, 5_850_000.0
LEFT = Qt.MouseButton.LeftButton
KEY = Qt.Key


class Mapped:
    """A map on a bench, and hands that click and type on it."""

    def __init__(self, qtbot, bench: Bench) -> None:
        self.qtbot = qtbot
        self.bench = bench
        self.told: list[str] = []
        bench.told.connect(lambda _severity, words: self.told.append(words))
        self.view = MapView(bench)
        qtbot.addWidget(self.view)
        self.view.resize(1000, 800)
        self.view.show()
        qtbot.waitExposed(self.view)
        self.view.setFocus()

    def open(self, session: Session) -> None:
        self.bench.open_session(session)
        self.settle()

    def settle(self) -> None:
        view, bench = self.view, self.bench
        self.qtbot.waitUntil(
            lambda: not bench.stale and not bench.jobs.busy and view.sharp and view.painting.idle,
            timeout=30_000,
        )

    def px(self, x: float, y: float) -> QPoint:
        return self.view.screen_of(WEST + x, SOUTH + y).toPoint()

    def click(self, x: float, y: float, held=Qt.KeyboardModifier.NoModifier) -> None:
        QTest.mouseMove(self.view, self.px(x, y))
        QTest.mouseClick(self.view, LEFT, held, self.px(x, y))

    def drag(self, start, end) -> None:
        QTest.mouseMove(self.view, self.px(*start))
        QTest.mousePress(self.view, LEFT, pos=self.px(*start))
        for share in (0.3, 0.7, 1.0):
            x = start[0] + share * (end[0] - start[0])
            y = start[1] + share * (end[1] - start[1])
            QTest.mouseMove(self.view, self.px(x, y))
        QTest.mouseRelease(self.view, LEFT, pos=self.px(*end))

    def key(self, *keys: Qt.Key, held=Qt.KeyboardModifier.NoModifier) -> None:
        for key in keys:
            QTest.keyClick(QApplication.focusWidget() or self.view, key, held)

    def type(self, words: str) -> None:
        """Type as a person does: the first key goes to the map, the rest where the focus went."""
        for letter in words:
            QTest.keyClicks(QApplication.focusWidget() or self.view, letter)
        self.key(KEY.Key_Return)

    def take(self, kind_key: str, way: str = "") -> None:
        self.bench.set_tool(placing(self.view.world, kind_key, way))

    def local(self, kind_key: str, number: int = -1) -> list[list[float]]:
        item = self.bench.plan.of_kind(kind_key)[number]
        return (shapely.get_coordinates(item.geometry) - (WEST, SOUTH)).round(3).tolist()

    def count(self, kind_key: str) -> int:
        return len(self.bench.plan.of_kind(kind_key))


@pytest.fixture
def mapped(qtbot) -> Iterator[Mapped]:
    bench = Bench()
    made = Mapped(qtbot, bench)
    yield made
    made.view.close_canvas()
    bench.close()


@pytest.fixture
def hill_map(mapped: Mapped, site: Path) -> Mapped:
    mapped.open(Session.open(site))
    return mapped


def test_draw_a_zone_from_nothing_by_mouse(mapped, tmp_path):
    mapped.open(Session.start(tmp_path / "new", Site(name="New", crs="EPSG:7854")))
    view = mapped.view
    mapped.take("zone")
    for spot in (QPoint(300, 500), QPoint(600, 500), QPoint(600, 250)):
        QTest.mouseMove(view, spot)
        QTest.mouseClick(view, LEFT, pos=spot)
    mapped.key(KEY.Key_Return)
    zone = mapped.bench.plan.of_kind("zone")[0]
    expected = 300 * 250 / 2 * view.camera.pixel_m**2
    assert zone.geometry.area == pytest.approx(expected, rel=0.03)
    assert mapped.bench.selection == {zone.id}
    # What is drawn in full view stays where it was drawn.
    assert view.screen_of(*zone.geometry.exterior.coords[0]).toPoint() == QPoint(300, 500)


def test_typed_lengths_while_drawing(hill_map):
    hill_map.take("fence")
    hill_map.click(40, 150)
    QTest.mouseMove(hill_map.view, hill_map.px(60, 150))
    hill_map.type("12.5 at 90")
    hill_map.type("20at0")
    hill_map.type("3 E, 4 S")
    assert not hill_map.view.entry.isVisible()
    hill_map.key(KEY.Key_Return)
    assert hill_map.count("fence") == 1
    start = hill_map.local("fence")[0]
    steps = [[x - start[0], y - start[1]] for x, y in hill_map.local("fence")]
    assert steps == [pytest.approx(p) for p in ([0, 0], [12.5, 0], [12.5, 20], [15.5, 16])]


def test_wrong_typing_is_said_and_can_be_mended(hill_map):
    hill_map.take("fence")
    hill_map.click(40, 150)
    QTest.mouseMove(hill_map.view, hill_map.px(60, 150))
    hill_map.type("12 stone")
    entry = hill_map.view.entry
    assert entry.isVisible()
    assert entry.line.property("wrong") is True
    QTest.keyClicks(entry.line, "12 at 0")
    hill_map.key(KEY.Key_Return)
    assert not entry.isVisible()
    assert len(hill_map.bench.tool.points) == 2
    hill_map.type("4")
    hill_map.key(KEY.Key_Escape)
    assert not hill_map.bench.tool.points


def test_escape_leaves_step_by_step(hill_map):
    hill_map.take("track")
    hill_map.click(40, 150)
    hill_map.key(KEY.Key_4)
    assert hill_map.view.entry.isVisible()
    hill_map.key(KEY.Key_Escape)
    assert not hill_map.view.entry.isVisible()
    assert hill_map.bench.tool.busy
    hill_map.key(KEY.Key_Escape)
    assert not hill_map.bench.tool.busy
    hill_map.key(KEY.Key_Escape)
    assert hill_map.bench.tool is None


def test_a_snap_is_shown_and_taken(hill_map):
    hill_map.take("fence")
    near = hill_map.px(90, 90) + QPoint(4, 3)
    QTest.mouseMove(hill_map.view, near)
    assert hill_map.view.ghost().snap.words == "corner of House"
    QTest.mouseClick(hill_map.view, LEFT, pos=near)
    hill_map.click(60, 60)
    hill_map.key(KEY.Key_Return)
    assert hill_map.local("fence")[0] == [90, 90]


def test_alt_lets_the_pointer_go_free(hill_map):
    hill_map.take("tree")
    near = hill_map.px(90, 90) + QPoint(4, 3)
    QTest.mouseClick(hill_map.view, LEFT, Qt.KeyboardModifier.AltModifier, near)
    assert hill_map.local("tree") != [[90, 90]]


def test_contours_can_be_caught(hill_map):
    assert hill_map.view.world.contours
    hill_map.view.world.snaps = frozenset({"contour"})
    hill_map.take("tree")
    # The plane rises one in five from 100 m at its south edge, 50 m south of the boundary.
    line = hill_map.view.world.contours[0]
    y = line.centroid.y - SOUTH
    hill_map.click(150, y + 2 * hill_map.view.camera.pixel_m)
    assert hill_map.local("tree")[0][1] == pytest.approx(y, abs=0.01)


def test_choose_by_click_box_and_modifiers(hill_map):
    hill_map.click(96, 94)
    assert hill_map.bench.selection == {"house"}
    hill_map.click(120, 120, Qt.KeyboardModifier.ShiftModifier)
    assert hill_map.bench.selection == {"house", "well"}
    hill_map.click(96, 94, Qt.KeyboardModifier.ControlModifier)
    assert hill_map.bench.selection == {"well"}
    hill_map.drag((130, 130), (110, 110))
    assert hill_map.bench.selection == {"well", "septic"}
    hill_map.key(KEY.Key_Escape)
    assert hill_map.bench.selection == frozenset()


def test_a_drag_moves_and_undo_takes_it_back(hill_map):
    before = hill_map.local("well")
    hill_map.click(120, 120)
    hill_map.drag((120, 120), (150, 140))
    assert hill_map.local("well")[0] == pytest.approx([150, 140], abs=0.5)
    assert hill_map.bench.session.undo_steps()[0].label == "Move Well"
    hill_map.bench.undo()
    assert hill_map.local("well") == before


def test_consequences_follow_the_pointer(hill_map, qtbot):
    """The well stands 6 m from the septic tank: carried far away, the finding goes."""
    view, bench = hill_map.view, hill_map.bench
    assert any("well" in f.elements and f.failing for f in bench.study.findings())
    hill_map.click(120, 120)
    QTest.mousePress(view, LEFT, pos=hill_map.px(120, 120))
    QTest.mouseMove(view, hill_map.px(122, 121))
    QTest.mouseMove(view, hill_map.px(123, 121))
    qtbot.waitUntil(lambda: bool(view.previews.latest.findings), timeout=5000)
    QTest.mouseMove(view, hill_map.px(40, 40))
    qtbot.waitUntil(
        lambda: (
            bool(view.previews.latest.elements)
            and not any(
                {"well", "septic"} <= set(f.elements) for f in view.previews.latest.findings
            )
        ),
        timeout=5000,
    )
    assert bench.session.undo_steps()[0].label != "Move Well"
    QTest.mouseRelease(view, LEFT, pos=hill_map.px(40, 40))
    hill_map.settle()
    assert not any({"well", "septic"} <= set(f.elements) for f in bench.study.findings())
    assert view.previews.latest.layers == ()


def test_a_corner_is_dragged(hill_map):
    hill_map.view.world.snaps = frozenset()
    hill_map.click(96, 94)
    hill_map.drag((102, 98), (110, 104))
    assert hill_map.count("building") == 1
    assert any(
        corner == pytest.approx([110, 104], abs=0.5) for corner in hill_map.local("building")
    )


def test_delete_key_deletes_what_is_chosen(hill_map):
    hill_map.click(126, 120)
    hill_map.key(KEY.Key_Delete)
    assert hill_map.count("septic_tank") == 0


def test_nudges_are_one_step_until_something_else(hill_map):
    hill_map.click(120, 120)
    steps = len(hill_map.bench.session.undo_steps())
    hill_map.key(KEY.Key_Right, KEY.Key_Right, KEY.Key_Up)
    assert len(hill_map.bench.session.undo_steps()) == steps + 1
    x, y = hill_map.local("well")[0]
    assert x - 120 == pytest.approx(2 * (y - 120))
    hill_map.click(126, 120)
    hill_map.click(x, y)
    hill_map.key(KEY.Key_Left)
    assert len(hill_map.bench.session.undo_steps()) == steps + 2


def test_typing_moves_what_is_chosen(hill_map):
    hill_map.click(120, 120)
    hill_map.type("5; 2.5")
    assert hill_map.local("well") == [[125, 122.5]]


def test_draw_by_keyboard_alone(hill_map):
    view = hill_map.view
    view.world.snaps = frozenset()
    hill_map.take("track")
    hill_map.key(KEY.Key_Right)
    assert view.cross is not None
    start = view.cross
    hill_map.key(KEY.Key_Space)
    hill_map.key(*[KEY.Key_Right] * 6, *[KEY.Key_Up] * 3)
    hill_map.key(KEY.Key_Up, held=Qt.KeyboardModifier.ShiftModifier)
    hill_map.key(KEY.Key_Space)
    hill_map.key(KEY.Key_Return)
    assert hill_map.count("track") == 2
    drawn = hill_map.local("track")
    assert drawn[0] == pytest.approx([start[0] - WEST, start[1] - SOUTH], abs=1.0)
    step = view.camera.pixel_m
    assert drawn[1][0] - drawn[0][0] == pytest.approx(60 * step, abs=11 * step)
    hill_map.key(KEY.Key_Escape, KEY.Key_Escape)
    assert view.cross is None


def test_choose_and_move_by_keyboard_alone(hill_map):
    hill_map.key(KEY.Key_PageDown)
    first = hill_map.bench.selection
    hill_map.key(KEY.Key_PageDown)
    assert len(first) == 1
    assert hill_map.bench.selection != first
    hill_map.key(KEY.Key_PageUp)
    assert hill_map.bench.selection == first
    hill_map.bench.select(["well"])
    hill_map.bench.set_tool(MoveTool(hill_map.view.world))
    hill_map.view.set_cross((WEST + 120, SOUTH + 120))
    hill_map.key(KEY.Key_Space)
    hill_map.key(*[KEY.Key_Right] * 4)
    hill_map.key(KEY.Key_Space)
    expected = 120 + 40 * hill_map.view.camera.pixel_m
    assert hill_map.local("well")[0][0] == pytest.approx(expected, abs=1.0)


def test_a_building_by_side_and_depth_typed(hill_map):
    hill_map.take("building")
    hill_map.click(40, 150)
    QTest.mouseMove(hill_map.view, hill_map.px(60, 150))
    hill_map.type("14 at 90")
    QTest.mouseMove(hill_map.view, hill_map.px(50, 170))
    hill_map.type("8")
    assert hill_map.bench.plan.of_kind("building")[-1].geometry.area == pytest.approx(112.0)
    assert hill_map.count("building") == 2


def test_trouble_is_told_and_the_stroke_kept(hill_map):
    hill_map.take("zone")
    for x, y in ((30, 140), (60, 170), (60, 140), (30, 170)):
        hill_map.click(x, y)
    hill_map.key(KEY.Key_Return)
    assert hill_map.told
    assert len(hill_map.bench.tool.points) == 4
    hill_map.key(KEY.Key_Backspace)
    hill_map.key(KEY.Key_Return)
    assert hill_map.count("zone") == 1


def test_prompts_say_what_to_do(hill_map, qtbot):
    prompts: list[str] = []
    hill_map.view.prompt_changed.connect(prompts.append)
    hill_map.take("track")
    hill_map.click(40, 150)
    assert "first point" in prompts[0]
    assert "length" in prompts[-1]


def test_double_click_opens_and_right_click_asks(hill_map):
    opened: list[str] = []
    asked: list[str] = []
    hill_map.view.opened.connect(opened.append)
    hill_map.view.menu_wanted.connect(lambda _spot, ident: asked.append(ident))
    QTest.mouseDClick(hill_map.view, LEFT, pos=hill_map.px(96, 94))
    assert opened == ["house"]
    from PySide6.QtGui import QContextMenuEvent

    spot = hill_map.px(96, 94)
    QApplication.sendEvent(
        hill_map.view, QContextMenuEvent(QContextMenuEvent.Reason.Mouse, spot, spot)
    )
    assert asked == ["house"]
