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

from canvas.base.errors import BadData
from canvas.base.quantity import read_number, shown
from canvas.desk.drawer import Page
from canvas.desk.parts import column, empty, heading, label, quiet, row
from canvas.desk.shadings import SHADINGS
from canvas.desk.tiles import Tiles, holding, spread
from canvas.site.edits import put
from canvas.site.facts import Picture
from canvas.site.records import changed, element_kinds, kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Contour intervals offered, in the shown unit; any other can be typed.
INTERVALS = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
#: Words in place of an interval: None lets the scale choose, 0 draws none.
WORDS: dict[str, float | None] = {"By the scale": None, "None": 0.0}
LEAST_INTERVAL_M = 0.01
#: A family is never faded out of sight: to hide it there are the boxes [%].
LEAST_OPACITY = 10
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
        self._ground = self._ground_box()
        self._growth = self._growth_box()
        self._pictures, self._phases = QWidget(), QWidget()
        for holder in (self._pictures, self._phases):
            column(gap=4, parent=holder)
        #: Families of kinds shown now, each with its opacity and its kinds.
        self.families: dict[str, QSlider] = {}
        self._first: tuple[QWidget, ...] = (
            holding(heading("Ground"), self._ground),
            holding(heading("Growth"), self._growth),
            holding(heading("Phases shown"), self._phases),
            holding(heading("Pictures"), self._pictures),
        )
        self._tiles = Tiles(270, 22)
        spread(self, (self._tiles, 1))
        box = self.layout()
        if box is not None:
            box.setContentsMargins(0, 0, 0, 0)

    def _ground_box(self) -> QWidget:
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
        self.ground = QComboBox()
        self.ground.setAccessibleName("Ground shown")
        for key, words in (("existing", "As surveyed"), ("designed", "As designed")):
            self.ground.addItem(words, key)
        self.ground.activated.connect(
            lambda _i: self._bench.set_look(ground=self.ground.currentData())
        )
        self.interval = QComboBox()
        self.interval.setEditable(True)
        self.interval.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.interval.setAccessibleName("Contour interval: choose, or type any")
        self.interval.setToolTip("Choose, or type any interval")
        self.interval.activated.connect(lambda _i: self._take_interval())
        line = self.interval.lineEdit()
        if line is not None:
            line.editingFinished.connect(self._take_interval)
        return _pairs(
            ("Ground", self.ground), ("Shade by", self.shading), ("Strength", self.strength),
            ("Month", self.month), ("Contours", self.interval),
        )  # fmt: skip

    def _take_interval(self) -> None:
        """Draw contours at what was chosen or typed; any interval of a centimetre or more."""
        words = self.interval.currentText().strip()
        how = shown("m", self._bench.units)
        if words in WORDS:
            self._bench.set_look(contour_interval_m=WORDS[words])
            self._show_intervals(typed=False)
            return
        plain = words.removesuffix(how.symbol).strip()
        try:
            metres = read_number(plain) / how.factor
            if metres < LEAST_INTERVAL_M and metres != 0:
                raise BadData(f"contours every {words} are too close to be drawn")
        except BadData as trouble:
            self._bench.tell("warning", trouble.text())
            self._show_intervals(typed=False)
            return
        self._bench.set_look(contour_interval_m=metres)
        self._show_intervals(typed=False)

    def _growth_box(self) -> QWidget:
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
        self.ground.setCurrentIndex(self.ground.findData(look.ground))
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
        families = self._show_kinds()
        self._tiles.show_parts([(part, False) for part in (*self._first, *families)])

    def _show_intervals(self, *, typed: bool = True) -> None:
        """Show the interval in force; while one is typed it is let be."""
        line = self.interval.lineEdit()
        if typed and line is not None and line.hasFocus() and line.isModified():
            return
        units, wanted = self._bench.units, self._bench.look.contour_interval_m
        how = shown("m", units)
        named = {value: words for words, value in WORDS.items()}
        self.interval.clear()
        self.interval.addItems([*WORDS, *(f"{value:g} {how.symbol}" for value in INTERVALS)])
        if wanted is None or wanted == 0:
            self.interval.setCurrentText(named[wanted])
        else:
            self.interval.setCurrentText(f"{wanted * how.factor:.6g} {how.symbol}")

    def _show_phases(self) -> None:
        plan, box = self._bench.plan, self._phases.layout()
        assert plan is not None
        assert box is not None
        empty(box)
        hidden = self._bench.look.hidden_phases
        for ident, words in [("", "Without a phase"), *((p.id, p.name) for p in plan.phases())]:
            check = QCheckBox(words or "Phase without a name")
            check.setChecked(ident not in hidden)
            check.clicked.connect(lambda on, i=ident: self._hide("hidden_phases", i, not on))
            box.addWidget(check)

    def _show_kinds(self) -> list[QWidget]:
        """Return a part for each family: its opacity, and its kinds to show or hide."""
        plan = self._bench.plan
        assert plan is not None
        hidden = self._bench.look.hidden_kinds
        counts: dict[str, int] = {}
        for item in plan.elements():
            counts[kind_of(item).key] = counts.get(kind_of(item).key, 0) + 1
        self.families.clear()
        families: dict[str, list[QWidget | None]] = {}
        for key, kind in element_kinds().items():
            if key in counts:
                check = QCheckBox(f"{kind.plural} · {counts[key]}")
                check.setChecked(key not in hidden)
                check.clicked.connect(lambda on, k=key: self._hide("hidden_kinds", k, not on))
                families.setdefault(kind.group, [self._family(kind.group)]).append(check)
        if not counts:
            return [quiet("Nothing is drawn yet.")]
        return [holding(*parts) for parts in families.values()]

    def _family(self, family: str) -> QWidget:
        fade = _slider(f"Opacity of {family.lower()}", LEAST_OPACITY, 100)
        fade.setFixedWidth(96)
        fade.setValue(round(self._bench.look.opacity_of(family) * 100))
        fade.valueChanged.connect(lambda v: self._fade(family, v / 100))
        self.families[family] = fade
        head = QWidget()
        row(heading(family), fade, parent=head)
        return head

    def _fade(self, family: str, opacity: float) -> None:
        faded = dict(self._bench.look.faded) | {family: opacity}
        kept = tuple(sorted((k, v) for k, v in faded.items() if v < 1))
        self._bench.set_look(faded=kept)

    def _hide(self, which: str, key: str, off: bool) -> None:
        now: frozenset[str] = getattr(self._bench.look, which)
        self._bench.set_look(**{which: now | {key} if off else now - {key}})

    def _show_pictures(self, pictures: list[Picture]) -> None:
        into = self._pictures.layout()
        assert isinstance(into, QVBoxLayout)
        empty(into)
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
            into.addLayout(line)
            for control in (box, fade):
                control.setEnabled(session is not None and not session.readonly)
        if not pictures:
            into.addWidget(quiet("No picture yet: bring in an aerial."))

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


def _pairs(*pairs: tuple[str, QWidget]) -> QWidget:
    made = QWidget()
    grid = QGridLayout(made)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(6)
    grid.setColumnStretch(1, 1)
    for at, (words, control) in enumerate(pairs):
        name = label(words, "quiet", wrap=False)
        name.setBuddy(control)
        grid.addWidget(name, at, 0)
        grid.addWidget(control, at, 1)
    return made
