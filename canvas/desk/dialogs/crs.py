"""Choosing a coordinate system: from a place, from a file, or by its number."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import read_number
from canvas.desk.parts import button, row, small


def named(words: str) -> str:
    """Return a typed CRS as "EPSG:n" where it is just a number."""
    tidy = words.strip()
    return f"EPSG:{tidy}" if tidy.isdigit() else tidy


class CrsField(QWidget):
    """A CRS to type, with its name beside it, and an offer made from longitude and latitude."""

    changed = Signal()

    def __init__(self, *, offer: bool = True) -> None:
        super().__init__()
        self.line = QLineEdit()
        self.line.setAccessibleName("Coordinate system")
        self.line.setPlaceholderText("EPSG:7854, or just 7854")
        self.line.textChanged.connect(self._look)
        self.lon, self.lat = QLineEdit(), QLineEdit()
        for box, name in ((self.lon, "Longitude"), (self.lat, "Latitude")):
            box.setAccessibleName(name)
            box.setPlaceholderText(f"{name}, degrees")
        self._words = small()
        self._words.hide()
        self.trouble = ""
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(4)
        whole.addWidget(self.line)
        if offer:
            give = button("Offer the UTM zone", self._offer)
            whole.addLayout(row(self.lon, self.lat, give))
        whole.addWidget(self._words)

    @property
    def value(self) -> str:
        """The CRS typed, "" while it is none a site can lie in."""
        return named(self.line.text()) if self.line.text().strip() and not self.trouble else ""

    def set_value(self, crs: str) -> None:
        """Put a CRS in."""
        self.line.setText(crs)

    def _offer(self) -> None:
        from canvas.ground.crs import utm_epsg

        try:
            lon, lat = read_number(self.lon.text()), read_number(self.lat.text())
            if not (-180 <= lon <= 180 and -80 <= lat <= 84):
                raise BadData("Longitude lies in −180 to 180, latitude in −80 to 84 for UTM")
            self.line.setText(f"EPSG:{utm_epsg(lon, lat)}")
        except BadData as trouble:
            self._say(trouble.what)

    def _say(self, words: str) -> None:
        self._words.setText(words)
        self._words.setVisible(bool(words))

    def _look(self, words: str) -> None:
        self.trouble = ""
        found: Any = None
        if words.strip():
            from canvas.ground.crs import site_crs

            try:
                found = site_crs(named(words))
            except UserError as trouble:
                self.trouble = trouble.what
        self._say(self.trouble or (found.name if found is not None else ""))
        self.changed.emit()
