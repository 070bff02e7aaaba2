"""The pages of the drawer, opened and used by mouse and keyboard."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QTabWidget

from canvas.desk.cardfacts import FindingPlate
from canvas.desk.pages.all import PAGES

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


def cells(table) -> list[list[str]]:
    return [
        [table.item(r, c).text().replace("\xa0", " ") for c in range(table.columnCount())]
        for r in range(table.rowCount())
    ]


def words(widget) -> str:
    return "\n".join(w.text() for w in widget.findChildren(QLabel) if w.isVisible())


@pytest.mark.parametrize("key", [k for k in PAGES if k != "measured"])
def test_every_page_opens_from_the_keyboard_and_closes(opened, hand, key):
    name = "out.print" if key == "sheet" else f"page.{key}"
    if key == "section":
        hand.pick((20, 60))
    hand.keys(opened.map, opened.actions_.records[name].shortcut)
    hand.settle()
    drawer = opened.leaf if PAGES[key].place == "main" else opened.second
    assert drawer.key == key
    assert drawer.isVisible()
    hand.click(hand.named("Close the page", drawer))
    assert not drawer.isVisible()


def test_findings_page_lists_every_finding_and_shows_its_place(opened, hand):
    page = hand.page("findings")
    hand.settle()
    plates = [p for p in page.findChildren(FindingPlate) if p.isVisibleTo(page)]
    standing = [f for f in opened.bench.study.findings() if not f.waived]
    assert {p.finding.key for p in plates} == {f.key for f in standing}
    plate = next(p for p in plates if "septic" in p.finding.elements)
    hand.click(hand.named("Show it", plate))
    assert set(plate.finding.elements) <= opened.bench.selection | {"boundary"}
    west, south, east, north = opened.map.view_bounds()
    spot = plate.finding.where.centroid
    assert west < spot.x < east
    assert south < spot.y < north


def test_f8_steps_through_the_findings(opened, hand):
    seen = set()
    for _ in opened.bench.study.findings():
        hand.keys(opened.map, "F8")
        seen.add(opened.shown_finding)
    assert seen == {f.key for f in opened.bench.study.findings()}


def test_slope_table_of_a_plane_is_one_class(opened, hand, qtbot):
    # Every cell of the plane rises one in five: 20 %, class E 18–25 %; 200 m x 200 m = 4 ha.
    page = hand.page("slopes")
    hand.settle()
    rows = cells(page.table)
    assert rows[-1] == ["E  steep", "18–25 %", "4.000 ha", "100.0 %"]
    assert all(row[3] == "0.0 %" for row in rows[:-1])


def test_sun_page_says_the_slope_and_the_days(opened, hand):
    page = hand.page("sun")
    hand.settle()
    told = words(page).replace("\xa0", " ")
    assert "20 % · 11.3°, facing S" in told
    assert [row[0] for row in cells(page.table)] == [
        "20 March", "21 June", "23 September", "21 December",
    ]  # fmt: skip


def test_choosing_a_month_shades_the_map_for_it(opened, hand):
    page = hand.page("sun")
    hand.settle()
    hand.reach(page.month)
    QTest.keyClick(page.month, Qt.Key.Key_Down)
    assert (opened.bench.look.shading, opened.bench.look.month) == ("energy", 1)
    hand.settle()
    assert opened.key.month.isVisible()


def test_section_along_the_drive_climbs_one_in_five(opened, hand, qtbot):
    hand.pick((20, 60))
    hand.keys(opened.map, "Ctrl+M, S")
    page = opened.second.page
    told = words(page).replace("\xa0", " ")
    assert told.startswith("Drive: 100.0 m on the grid, steepest stretch 20 %; heights ± 0.10 m.")
    qtbot.waitUntil(lambda: page.chart.chart is not None, timeout=3000)
    QTest.mouseMove(page.chart, page.chart.rect().center() - QPoint(5, 0))
    QTest.mouseMove(page.chart, page.chart.rect().center())
    qtbot.waitUntil(opened.spot.isVisible, timeout=3000)
    hand.click(hand.named("Close the page", opened.second))
    assert not opened.spot.isVisible()


def test_layers_page_hides_a_kind_and_fades_the_shading(opened, hand):
    page = hand.page("layers")
    box = next(b for b in page.findChildren(QCheckBox) if b.text().startswith("Buildings"))
    hand.click(box, QPoint(9, 9))
    assert opened.bench.look.hidden_kinds == {"building"}
    hand.keys(opened.map, "Ctrl+B, H")
    assert opened.bench.look.shading == "height"
    slider = hand.named("Strength of the shading", page)
    hand.reach(slider)
    before = opened.bench.look.shading_opacity
    QTest.keyClick(slider, Qt.Key.Key_Left)
    assert opened.bench.look.shading_opacity < before


def test_phases_are_made_named_ordered_and_undone(opened, hand):
    page = hand.page("phases")
    for name in ("Access", "House"):
        hand.click(hand.named("Add a phase", opened.leaf))
        hand.settle()
        field = hand.named("Name", page)
        hand.type(field, name)
        QTest.keyClick(field, Qt.Key.Key_Return)
    assert [p.name for p in opened.bench.plan.phases()] == ["Access", "House"]
    hand.click(hand.named("Earlier", opened.leaf))
    assert [p.name for p in opened.bench.plan.phases()] == ["House", "Access"]
    hand.act("view.fit")
    hand.pick((96, 94))
    hand.click(hand.named("Put the selection in it", page))
    assert opened.bench.plan.element("house").phase == opened.bench.plan.phases()[0].id
    hand.click(hand.named("Remove", opened.leaf))
    assert [p.name for p in opened.bench.plan.phases()] == ["Access"]
    assert opened.bench.plan.element("house").phase == ""
    hand.keys(opened.map, "Ctrl+Z")
    assert opened.bench.plan.element("house").phase == opened.bench.plan.phases()[0].id


def test_rule_sets_are_chosen_and_findings_follow(opened, hand):
    page = hand.page("rules")
    before = len(opened.bench.study.findings())
    hand.click(page.sets["good_practice"], QPoint(9, 9))
    hand.settle()
    assert opened.bench.plan.site.sets() == ()
    assert len(opened.bench.study.findings()) < before
    hand.keys(opened.map, "Ctrl+Z")
    hand.settle()
    assert len(opened.bench.study.findings()) == before


def test_the_site_may_ask_for_its_own_limit_with_a_reason(opened, hand):
    page = hand.page("rules")
    bar = page.table
    tab = page.findChild(QTabWidget).tabBar()
    hand.click(tab, tab.tabRect(1).center())
    at = next(n for n, r in enumerate(page._rules) if r.limit is not None and r.limit.plain)
    hand.click(bar.viewport(), bar.visualItemRect(bar.item(at, 0)).center())
    rule = page._rules[at]
    hand.type(page.value, "1.5")
    hand.click(hand.named("Set the site’s limit", page))
    assert "site’s own" not in "".join(row[1] for row in cells(bar))
    hand.type(page.reason, "Agreed with the council")
    hand.click(hand.named("Set the site’s limit", page))
    hand.settle()
    assert "(site’s own)" in cells(bar)[at][1]
    assert rule.key in {t.rule for t in opened.bench.plan.of_kind("threshold")}


def test_schedule_counts_kinds_and_lists_one(opened, hand):
    page = hand.page("schedule")
    hand.settle()
    assert ["Buildings", "1", "0", "1", "0"] in cells(page.table)
    assert isinstance(page.which, QComboBox)
    hand.reach(page.which)
    for _ in range(page.which.findData("building")):
        QTest.keyClick(page.which, Qt.Key.Key_Down)
    hand.settle()
    rows = cells(page.table)
    assert rows[0][0] == "House"
    assert "96 m²" in rows[0]
    hand.click(page.table.viewport(), page.table.visualItemRect(page.table.item(0, 0)).center())
    assert opened.bench.selection == {"house"}


def test_history_lists_steps_and_goes_back(opened, hand):
    page = hand.page("history")
    assert page.list.item(0).text().startswith("Bring in the ground")
    last = page.list.count() - 1
    hand.click(page.list.viewport(), page.list.visualItemRect(page.list.item(last)).center())
    hand.click(hand.named("Go back to this step", opened.leaf))
    assert list(opened.bench.plan.elements()) == []
    hand.click(hand.named("Redo", opened.leaf))
    assert len(list(opened.bench.plan.elements())) == 5


def test_site_fields_are_changed_and_units_follow(opened, hand, qtbot):
    page = hand.page("site")
    field = hand.named("Drawn by", page)
    hand.type(field, "Ada")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert opened.bench.plan.site.designer == "Ada"
    units = hand.named("Display units", page)
    hand.reach(units)
    QTest.keyClick(units, Qt.Key.Key_Down)
    hand.settle()
    # 4 ha are 9.884 acres (1 acre = 4046.8564224 m², NIST SP 811, appendix B).
    qtbot.waitUntil(lambda: "9.884 ac" in words(page).replace("\xa0", " "), timeout=5000)


def test_sheet_is_laid_out_and_saved_as_pdf(opened, hand, qtbot, tmp_path):
    out = tmp_path / "plan.pdf"
    page = hand.page("sheet")
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=20_000)
    assert "1:" in page.words.text()
    hand.file_box(lambda: hand.click(page.pdf), out)
    qtbot.waitUntil(out.exists, timeout=20_000)
    hand.settle()
    assert out.read_bytes().startswith(b"%PDF-")


def test_a_scale_that_cannot_be_is_refused_in_words(opened, hand, qtbot):
    page = hand.page("sheet")
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=20_000)
    hand.type(page.scale.lineEdit(), "fifty")
    qtbot.waitUntil(lambda: "is not a number" in page.words.text(), timeout=5000)


def test_what_the_map_shows_keeps_its_rows_when_opened_again_in_another_theme(opened, hand):
    page = hand.page("layers")
    hand.settle()
    before = page._phases.height()
    hand.click(hand.named("Close the page", opened.leaf))
    hand.act("view.theme")
    hand.page("layers")
    hand.settle()
    assert page._phases.height() == before
    assert before >= page._phases.sizeHint().height()
