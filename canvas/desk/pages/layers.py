"""What the map shows: shading, contours, pictures, kinds, phases and the year of growth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from canvas.base.quantity import shown
from canvas.desk.drawer import Page
from canvas.desk.parts import column, empty, heading, label, quiet, rule, scrolling
from canvas.desk.shadings import SHADINGS
from canvas.site.edits import put
from canvas.site.facts import Picture
from canvas.site.records import changed, kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Contour intervals offered, in the shown unit; None lets the scale choose, 0 draws none.
INTERVALS: tuple[float | None, ...] = (None, 0.0, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
MOST_YEARS = 40


def _slider(name: str, low: int, high: int) -> QSlider:
    made = QSlider(Qt.Orientation.Horizontal)
    made.setRange(low, high)
    made.setAccessibleName(name)
    made.setToolTip(name)
    made.setPageStep(max((high - low) // 10, 1))
    return made


class LayersPage(Page):
    """Every choice of what the map shows, in one place."""

    key = "layers"
    title = "What the map shows"
    icon = "layers"
    about = "Shading, contours, pictures, kinds, phases and the year of growth"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._bench = desk.bench
        self._lists: object = None
        inside = QWidget()
        self._ground = self._ground_box()
        self._growth = self._growth_box()
        self._pictures = QVBoxLayout()
        self._phases = QVBoxLayout()
        self._kinds = QVBoxLayout()
        for box in (self._pictures, self._phases, self._kinds):
            box.setSpacing(4)
        column(
            heading("Ground"), self._ground, rule(),
            heading("Growth and phases"), self._growth, self._phases, rule(),
            heading("Pictures"), self._pictures, rule(),
            heading("Elements"), self._kinds, None,
            margin=12, gap=8, parent=inside,
        )  # fmt: skip
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(scrolling(inside))

    def _ground_box(self) -> QGridLayout:
        self.shading = QComboBox()
        self.shading.setAccessibleName("Shade the map by")
        for key, words, _, _ in SHADINGS:
            self.shading.addItem(words.replace("&", ""), key)
        self.shading.activated.connect(
            lambda _i: self._bench.set_look(shading=self.shading.currentData())
        )
        self.strength = _slider("Strength of the shading", 5, 100)
        self.strength.valueChanged.connect(lambda v: self._bench.set_look(shading_opacity=v / 100))
        self.month = QComboBox()
        self.month.setAccessibleName("Month the sun is shown for")
        from canvas.study.maps import MONTHS

        self.month.addItem("The whole year", 0)
        for number, name in enumerate(MONTHS, start=1):
            self.month.addItem(name, number)
        self.month.activated.connect(
            lambda _i: self._bench.set_look(month=self.month.currentData())
        )
        self.interval = QComboBox()
        self.interval.setAccessibleName("Contour interval")
        self.interval.activated.connect(
            lambda _i: self._bench.set_look(contour_interval_m=self.interval.currentData())
        )
        return _pairs(
            ("Shade by", self.shading), ("Strength", self.strength), ("Month", self.month),
            ("Contours", self.interval),
        )  # fmt: skip

    def _growth_box(self) -> QGridLayout:
        self.year = _slider("Years after planting", 0, MOST_YEARS)
        self.year.valueChanged.connect(self._grow)
        self._year_words = QLabel()
        self._year_words.setMinimumWidth(64)
        holder = QWidget()
        line = QHBoxLayout(holder)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.year, 1)
        line.addWidget(self._year_words)
        self.at = QComboBox()
        self.at.setAccessibleName("Phase the plan is looked at")
        self.at.activated.connect(lambda _i: self._bench.set_at(self.at.currentData()))
        return _pairs(("Years grown", holder), ("Built up to", self.at))

    def _grow(self, years: int) -> None:
        self._year_words.setText(f"{years} years")
        self._bench.set_look(year=years)

    # -- showing ------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the choices in force."""
        plan, look = self._bench.plan, self._bench.look
        if plan is None:
            return
        self.shading.setCurrentIndex(self.shading.findData(look.shading))
        self.month.setCurrentIndex(look.month)
        self.month.setEnabled(look.shading == "energy")
        _quietly(self.strength, round(look.shading_opacity * 100))
        self.strength.setEnabled(bool(look.shading))
        _quietly(self.year, look.year)
        self._year_words.setText(f"{look.year} years")
        self._show_intervals()
        phases = plan.phases()
        pictures = plan.of(Picture)
        kinds = tuple(sorted({kind_of(i).key for i in plan.elements()}))
        lists = (tuple(phases), tuple(pictures), kinds, self._bench.units, look.hidden_kinds,
                 look.hidden_phases, self._bench.theme)  # fmt: skip
        if lists == self._lists:
            return
        self._lists = lists
        self.at.clear()
        self.at.addItem("Everything built", "")
        for phase in phases:
            self.at.addItem(phase.name or "Phase without a name", phase.id)
        self.at.setCurrentIndex(max(self.at.findData(self._bench.at), 0))
        self._show_phases()
        self._show_pictures(pictures)
        self._show_kinds()

    def _show_intervals(self) -> None:
        units, wanted = self._bench.units, self._bench.look.contour_interval_m
        how = shown("m", units)
        self.interval.clear()
        for value in INTERVALS:
            words = "By the scale" if value is None else "None" if value == 0 else ""
            metres = value / how.factor if value else value
            self.interval.addItem(words or f"{value:g} {how.symbol}", metres)
            if metres == wanted:
                self.interval.setCurrentIndex(self.interval.count() - 1)

    def _show_phases(self) -> None:
        plan = self._bench.plan
        assert plan is not None
        empty(self._phases)
        hidden = self._bench.look.hidden_phases
        for ident, words in [("", "Without a phase"), *((p.id, p.name) for p in plan.phases())]:
            box = QCheckBox(words or "Phase without a name")
            box.setChecked(ident not in hidden)
            box.clicked.connect(lambda on, i=ident: self._hide("hidden_phases", i, not on))
            self._phases.addWidget(box)

    def _show_kinds(self) -> None:
        plan = self._bench.plan
        assert plan is not None
        empty(self._kinds)
        hidden = self._bench.look.hidden_kinds
        counts: dict[str, int] = {}
        for item in plan.elements():
            counts[kind_of(item).key] = counts.get(kind_of(item).key, 0) + 1
        from canvas.site.records import element_kinds

        for key, kind in element_kinds().items():
            if key in counts:
                box = QCheckBox(f"{kind.plural} · {counts[key]}")
                box.setChecked(key not in hidden)
                box.clicked.connect(lambda on, k=key: self._hide("hidden_kinds", k, not on))
                self._kinds.addWidget(box)
        if not counts:
            self._kinds.addWidget(quiet("Nothing is drawn yet."))

    def _hide(self, which: str, key: str, off: bool) -> None:
        now: frozenset[str] = getattr(self._bench.look, which)
        self._bench.set_look(**{which: now | {key} if off else now - {key}})

    def _show_pictures(self, pictures: list[Picture]) -> None:
        empty(self._pictures)
        session = self._bench.session
        for picture in pictures:
            box = QCheckBox(picture.name)
            box.setChecked(picture.shown)
            box.clicked.connect(lambda on, p=picture: self._change(p, shown=on))
            fade = _slider(f"Opacity of {picture.name}", 5, 100)
            fade.setValue(round(picture.opacity * 100))
            fade.setFixedWidth(120)
            fade.sliderReleased.connect(
                lambda p=picture, s=fade: self._change(p, opacity=s.value() / 100)
            )
            fade.valueChanged.connect(
                lambda v, p=picture, s=fade: (
                    None if s.isSliderDown() else self._change(p, opacity=v / 100)
                )
            )
            line = QHBoxLayout()
            line.addWidget(box, 1)
            line.addWidget(fade)
            self._pictures.addLayout(line)
            for control in (box, fade):
                control.setEnabled(session is not None and not session.readonly)
        if not pictures:
            self._pictures.addWidget(quiet("No picture yet: bring in an aerial."))

    def _change(self, picture: Picture, **values: object) -> None:
        plan = self._bench.plan
        now = plan.get(picture.id) if plan is not None else None
        if now is not None:
            name = "Show" if "shown" in values else "Opacity of"
            after = changed(now, **values)
            self._bench.apply(put(f"{name} {picture.name}", [(now, after)], f"fade:{picture.id}"))


def _quietly(slider: QSlider, value: int) -> None:
    """Move a slider without its telling of it."""
    slider.blockSignals(True)
    slider.setValue(value)
    slider.blockSignals(False)


def _pairs(*pairs: tuple[str, QWidget]) -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(6)
    grid.setColumnStretch(1, 1)
    for at, (words, control) in enumerate(pairs):
        name = label(words, "quiet", wrap=False)
        name.setBuddy(control)
        grid.addWidget(name, at, 0)
        grid.addWidget(control, at, 1)
    return grid
