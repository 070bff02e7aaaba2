"""The readout: a note at the map's margin of where the pointer is and what the ground is there."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QWidget

from canvas.base.quantity import UnitSystem, show
from canvas.desk.bench import Bench
from canvas.desk.parts import row
from canvas.desk.wording import degrees, steepness

#: The pointer is read out at most this often [ms].
PAUSE_MS = 30
AIR = 12


class Readout(QFrame):
    """Two slim lines in the lower left corner of the map."""

    def __init__(self, bench: Bench, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self.setObjectName("readout")
        self.setAccessibleName("Readout")
        self._at: tuple[float, float] | None = None
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(PAUSE_MS)
        self._wait.timeout.connect(self._read)
        self.level = self._cell("Height of the existing ground")
        self.slope = self._cell("Slope")
        self.aspect = self._cell("Aspect")
        self.grid = self._cell("Grid position")
        self.geographic = self._cell("Latitude and longitude")
        self.scale = self._cell("Map scale on this screen")
        self.age = self._cell("How old the answers are")
        for cell in (self.grid, self.geographic, self.age):
            cell.setObjectName("small")
        for cell in (self.level, self.slope, self.aspect, self.scale):
            cell.setObjectName("reading")
        box = QGridLayout(self)
        box.setContentsMargins(11, 5, 11, 6)
        box.setVerticalSpacing(1)
        box.addLayout(row(self.level, self.slope, self.aspect, None, self.scale, gap=14), 0, 0)
        box.addLayout(row(self.grid, self.geographic, None, self.age, gap=14), 1, 0)
        bench.pointer_moved.connect(self._moved)
        for signal in (bench.study_changed, bench.site_changed, bench.theme_changed):
            signal.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self._show_age())
        self.refresh()

    @staticmethod
    def _cell(name: str) -> QLabel:
        cell = QLabel()
        cell.setAccessibleName(name)
        cell.setToolTip(name)
        return cell

    def show_scale(self, ratio: float) -> None:
        """Show the map's scale, 1 : ratio."""
        self.scale.setText(f"1 : {_round(ratio):,}".replace(",", "\N{NARROW NO-BREAK SPACE}"))
        self.place()

    def refresh(self) -> None:
        """Show the latest spot afresh."""
        if self._bench.session is None:
            self._at = None
        self._show_age()
        self._read()

    def _show_age(self) -> None:
        self.age.setText("a step behind…" if self._bench.stale else "")
        self.place()

    def _moved(self, x_m: float, y_m: float) -> None:
        self._at = (x_m, y_m)
        if not self._wait.isActive():
            self._wait.start()

    def _read(self) -> None:
        study = self._bench.study
        if study is None or self._at is None:
            for cell in (self.geographic, self.slope, self.aspect):
                cell.setText("")
            self.level.setText("Point at the land")
            self.grid.setText("to read its height, slope and place")
            self.place()
            return
        spot, units = study.readout(*self._at), self._bench.units
        self.grid.setText(f"E {spot.east_m:,.1f}  N {spot.north_m:,.1f}".replace(",", "\u202f"))
        self.geographic.setText(degrees(spot.lat_deg, spot.lon_deg))
        self.level.setText(_height(spot.height_m, spot.plus_minus_m, units))
        self.level.setToolTip(f"Height of the existing ground, {spot.datum or 'datum not named'}")
        if spot.slope_ratio is None:
            self.slope.setText("")
            self.aspect.setText("")
        else:
            from canvas.study.readout import compass

            facing = spot.aspect_deg
            self.slope.setText(steepness(spot.slope_ratio))
            self.aspect.setText("level" if facing is None else f"faces {compass(facing)}")
        self.place()

    def place(self) -> None:
        """Stand in the lower left corner of the map."""
        parent = self.parentWidget()
        if parent is None:
            return
        box = self.layout()
        if box is not None:
            box.activate()
        wide = max(self.sizeHint().width(), 338 if self._at is not None else 0)
        # Grows with long figures and stays so, or it would twitch under the moving pointer.
        if self._at is not None:
            wide = max(wide, self.width() if self.width() < 480 else 0)
        self.resize(min(wide, parent.width() - 2 * AIR), self.sizeHint().height())
        self.move(AIR, parent.height() - self.height() - AIR)
        self.raise_()


def _height(height_m: float | None, pm_m: float | None, units: UnitSystem) -> str:
    if height_m is None:
        return "no ground"
    text = show(height_m, "m", units, 1)
    return f"{text} ± {show(pm_m, 'm', units, 1)}" if pm_m else text


def _round(ratio: float) -> int:
    """Return a scale number to three figures: no screen is truer than that."""
    if ratio < 1000:
        return round(ratio)
    step = 10 ** (len(str(int(ratio))) - 3)
    return int(round(ratio / step) * step)
