"""Rain on the land: run a storm over the designed ground, and watch where its water goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QSlider, QTabWidget, QWidget

from canvas.base.quantity import show
from canvas.desk.drawer import Page
from canvas.desk.flood import FloodVeil
from canvas.desk.hydrographs import HydrographChart
from canvas.desk.mapkey import Swatches
from canvas.desk.pages.rain_start import RainStart
from canvas.desk.parts import button, fill_table, label, row, small, table
from canvas.desk.tiles import holding, spread

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.rains.keep import SavedRun, Shelf

#: Between two moments while it plays [ms].
PLAY_MS = 140
SHADES = (("rain_depth", "Depth"), ("rain_speed", "Speed"))


class RainPage(Page):
    """Starts a run on the left, plays it in the middle, tells of it on the right."""

    key = "rain"
    title = "Rain on the land"
    icon = "rain"
    about = "A storm run over the designed ground: where its water goes, how deep and how fast"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._shelf: Shelf | None = None
        self._run: SavedRun | None = None
        self._told: object = None
        self._lane = desk.bench.jobs.lane("Whether the run still holds")
        self.veil: FloodVeil = desk.veil
        self.start = RainStart(desk)
        self.which = QComboBox()
        self.which.setAccessibleName("Which run")
        self.which.setMinimumWidth(250)
        self.which.activated.connect(lambda _i: self._choose(self.which.currentData()))
        self._delete = button("Delete the run", self._drop, tip="Free its place on the disk")
        self._state = label("", "small", wrap=False)
        spread(self, (self.start, 4), (self._picture(), 7), (self._tables(), 6))
        self._timer = QTimer(self)
        self._timer.setInterval(PLAY_MS)
        self._timer.timeout.connect(self._step)
        desk.rain.kept.connect(self._kept)
        self._show_run()

    # -- putting it together --------------------------------------------------------------------

    def _picture(self) -> QWidget:
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setAccessibleName("Time in the storm")
        self.slider.setToolTip("Time in the storm: arrow keys step, Space plays and pauses")
        self.slider.valueChanged.connect(self._show_moment)
        self.slider.installEventFilter(self)
        self.play = button("Play", self._toggle, tip="Play or pause (Space on the slider)")
        self.greatest = button(
            "Greatest", self._show_greatest, tip="Shade the map with the greatest at each place"
        )
        self.shade = QComboBox()
        self.shade.setAccessibleName("Shade the water by")
        for key, words in SHADES:
            self.shade.addItem(words, key)
        self.shade.activated.connect(lambda _i: self._shaded())
        self.time = label("", "heading", wrap=False)
        self.time.setMinimumWidth(64)
        self.swatches = Swatches(self._desk)
        self.gauge = QComboBox()
        self.gauge.setAccessibleName("Record of")
        self.gauge.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.gauge.activated.connect(lambda _i: self._show_gauge())
        self.chart = HydrographChart(self._desk.bench)
        top = row(self.play, self.time, self.slider, self.shade, self.greatest)
        colours = holding(self.swatches, None)
        chart = holding(row(label("Record of", "quiet", wrap=False), self.gauge, None), self.chart)
        foot = row(colours, chart)
        foot.setStretch(1, 1)
        return holding(top, foot)

    def _tables(self) -> QWidget:
        self.places = table(("When", "First overtopped", "In all"), name="First overtopped")
        self.places.itemSelectionChanged.connect(self._place_chosen)
        self.books = table(("Water", "Volume", "Share"), name="The water’s books")
        self.seen = table(("Gauge", "Through the storm"), name="Gauges")
        self.tabs = QTabWidget()
        self.tabs.addTab(self.places, "Overtopped")
        self.tabs.addTab(self.books, "Books")
        self.tabs.addTab(self.seen, "Gauges")
        self.caution = small()
        return holding(self.tabs, self.caution)

    def tools(self) -> Sequence[QWidget]:
        """Offer the runs there are."""
        return self.which, self._delete, self._state

    # -- following the bench --------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the runs there are, and whether the one shown still holds."""
        bench = self._desk.bench
        study = bench.study
        self.start.refresh()
        if study is None:
            return
        shelf = study.rains()
        if shelf is not self._shelf:
            self._shelf = shelf
            self._list(shelf)
        token = (shelf, self._run, bench.study_revision, bench.theme, bench.units)
        if token == self._told:
            return
        self._told = token
        self._show_run()

    def _list(self, shelf: Shelf) -> None:
        from canvas.study.rains.wording import title

        self.which.clear()
        for run in shelf.runs:
            self.which.addItem(f"{title(run)} · {run.made[:16].replace('T', ' ')}", run.token)
        if not shelf.runs:
            self.which.addItem("No storm has been run yet", "")
        self.which.setEnabled(bool(shelf.runs))
        still = self._run.token if self._run is not None else ""
        self._run = shelf.run(still) or shelf.run("")
        if self._run is not None:
            self.which.setCurrentIndex(self.which.findData(self._run.token))

    def _kept(self, token: str) -> None:
        """Turn to a run that has just ended."""
        if self._desk.leaf.page is not self or self._desk.bench.study is None:
            self._run = None
            return
        self.refresh()
        self.which.setCurrentIndex(max(self.which.findData(token), 0))
        self._choose(token)

    def _choose(self, token: str) -> None:
        if self._shelf is not None and token:
            self._run = self._shelf.run(token)
            self._told = None
            self.refresh()

    def _drop(self) -> None:
        session, run = self._desk.bench.session, self._run
        if session is None or run is None:
            return
        from canvas.study.rains import keep

        self._pause()
        self.veil.clear()
        self._run = None
        keep.delete(session.folder, run.token)
        self._desk.bench.tell("note", "The run is deleted; run the storm again to have it back")
        self._desk.bench.study_changed.emit()
        self.refresh()

    # -- one run --------------------------------------------------------------------------------

    def _show_run(self) -> None:
        run, units = self._run, self._desk.bench.units
        for part in (self.slider, self.play, self.shade, self.greatest, self.gauge, self._delete):
            part.setEnabled(run is not None)
        self.chart.setVisible(run is not None)
        self.tabs.setVisible(run is not None)
        if run is None:
            self._pause()
            self.veil.clear()
            self._state.setText("")
            self.caution.setText("Run a storm: its water is then shown here and on the map.")
            self.time.setText("")
            self.swatches.show_rows((), 1.0)
            return
        from canvas.study.rains.wording import books, gauge_words, overtopped, place_words

        self._desk.bench.set_look(rain_run=run.token)
        self.slider.blockSignals(True)
        self.slider.setRange(0, len(run.times_s) - 1)
        self.slider.blockSignals(False)
        rows = [
            (_hours(each["first_s"]), place_words(each), show(each["volume_m3"], "m3", units))
            for each in overtopped(run)
        ]
        self.places.blockSignals(True)
        fill_table(self.places, rows or [("–", "Nothing was overtopped", "")], right=frozenset({2}))
        self.places.clearSelection()
        self.places.blockSignals(False)
        fill_table(
            self.books,
            [(b.label, show(b.volume_m3, "m3", units),
              show(b.share, "%", units, 4 if b.label.startswith("Not") else 1))
             for b in books(run)],
            right=frozenset({1, 2}),
        )  # fmt: skip
        fill_table(
            self.seen,
            [(g["name"] or "Gauge", gauge_words(g, units)) for g in run.told["gauges"]]
            or [("–", "Draw gauges on the map, then run the storm again")],
            right=frozenset(),
        )
        remarks = [f"{each[:1].upper()}{each[1:]}." for each in run.told["remarks"]]
        self.caution.setText(" ".join((*remarks, run.told["caution"])))
        self._fill_gauges(run)
        self.veil.show_marks([(e["x_m"], e["y_m"], e["over"] == "bank") for e in overtopped(run)])
        self._shaded()
        self._ask_state(run)

    def _fill_gauges(self, run: SavedRun) -> None:
        before = self.gauge.currentData()
        self.gauge.clear()
        for each in run.told["gauges"]:
            self.gauge.addItem(each["name"] or "Gauge without a name", each["id"])
        self.gauge.addItem("Flow off the land", "off")
        self.gauge.setCurrentIndex(max(self.gauge.findData(before), 0))
        self._show_gauge()

    def _ask_state(self, run: SavedRun) -> None:
        study = self._desk.bench.study
        if study is None:
            return
        self._state.setText("")

        def work(_progress: Any) -> str:
            from canvas.study.rains.answers import changed_since, stale_words

            return stale_words(changed_since(study, run))

        self._lane.ask(work, self._state_known)

    def _state_known(self, words: str) -> None:
        self._state.setText(words or "as the plan is now")
        self._state.setObjectName("warn" if words else "small")
        self._state.style().unpolish(self._state)
        self._state.style().polish(self._state)

    def _show_gauge(self) -> None:
        self.chart.show_gauge(self._run, str(self.gauge.currentData()))
        self._mark_moment()

    # -- time -----------------------------------------------------------------------------------

    @property
    def moment(self) -> int:
        """Which of the kept moments is shown."""
        return self.slider.value()

    def _shaded(self) -> None:
        """Show the legend and the water by what the water is shaded with now."""
        from canvas.drawing.terrain import rain_swatches

        key = str(self.shade.currentData())
        self.swatches.show_rows(rain_swatches(key, self._desk.bench.units), 1.0)
        self._show_moment()

    def _show_moment(self, _at: int = 0) -> None:
        run = self._run
        if run is None or self._desk.leaf.page is not self:
            return
        from canvas.drawing.flood import water_picture

        try:
            rgba, bounds = water_picture(run, str(self.shade.currentData()), self.moment)
        except OSError:
            self._pause()
            self._desk.bench.tell("warning", "The run’s files are gone: run the storm again")
            return
        if self._desk.bench.look.shading in ("rain_depth", "rain_speed"):
            self._desk.bench.set_look(shading="")
        self.veil.show_water(rgba, bounds)
        self._mark_moment()

    def _mark_moment(self) -> None:
        if self._run is None:
            return
        now = self._run.times_s[min(self.moment, len(self._run.times_s) - 1)]
        self.time.setText(_hours(now))
        self.chart.show_moment(now)

    def _show_greatest(self) -> None:
        """Shade the map itself, and so the sheet, with the greatest at each place."""
        self._pause()
        self.veil.show_water(None, (0.0, 0.0, 1.0, 1.0))
        self._desk.bench.set_look(shading=str(self.shade.currentData()), shading_opacity=0.8)

    def _toggle(self) -> None:
        if self._timer.isActive():
            self._pause()
        elif self._run is not None:
            if self.moment == self.slider.maximum():
                self.slider.setValue(0)
            self._timer.start()
            self.play.setText("Pause")

    def _pause(self) -> None:
        self._timer.stop()
        self.play.setText("Play")

    def _step(self) -> None:
        if self.moment >= self.slider.maximum():
            self._pause()
        else:
            self.slider.setValue(self.moment + 1)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Let Space on the slider play and pause."""
        pressed = isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress
        if pressed and event.key() == Qt.Key.Key_Space:  # type: ignore[attr-defined]
            self._toggle()
            return True
        return super().eventFilter(watched, event)

    def _place_chosen(self) -> None:
        """Go to where the chosen work was first overtopped."""
        from canvas.study.rains.wording import overtopped

        at = self.places.currentRow()
        rows = overtopped(self._run) if self._run is not None else []
        if 0 <= at < len(rows) and self.places.selectedItems():
            place = rows[at]
            self._desk.go_to(place["x_m"], place["y_m"])
            self._desk.spot.show_at((place["x_m"], place["y_m"]))

    def closed(self) -> None:
        """Take the water off the map."""
        self._pause()
        self.veil.clear()
        self._desk.spot.show_at(None)
        self._told = None


def _hours(seconds: float) -> str:
    from canvas.study.rains.wording import clock

    return clock(seconds)
