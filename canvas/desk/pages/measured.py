"""What was measured last: the same length or area on the grid, the Earth and the ground."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from canvas.desk.drawer import Page
from canvas.desk.parts import button, fill_table, quiet, table

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


class MeasuredPage(Page):
    """The figures of the last measurement, to read and to copy."""

    key = "measured"
    title = "Measured"
    icon = "measure"
    about = "The last measurement, and what each figure rests on"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self.table = table(("What", "Figure", "On what"), name="Measured figures")
        self._copy_it = button("Copy figures", self._copy)
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 8, 12, 10)
        box.addWidget(
            quiet(
                "On the grid: as drawn on the map. On the ellipsoid: on the Earth’s level surface. "
                "Along the ground: up hill and down dale."
            )
        )
        box.addWidget(self.table, 1)

    def tools(self) -> Sequence[QWidget]:
        """Offer the figures to be taken along."""
        return (self._copy_it,)

    def refresh(self) -> None:
        """Show the figures."""
        units = self._desk.bench.units
        rows = [
            (fact.label, fact.shown(units), "; ".join(w for w in (fact.basis, fact.remark) if w))
            for fact in self._desk.measured
        ]
        fill_table(self.table, rows, right=frozenset({1}))

    def _copy(self) -> None:
        units = self._desk.bench.units
        lines = [f"{f.label}\t{f.shown(units)}\t{f.basis}" for f in self._desk.measured]
        QApplication.clipboard().setText("\n".join(lines))
        self._desk.bench.tell("note", "Copied the figures")
