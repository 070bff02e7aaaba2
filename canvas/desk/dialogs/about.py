"""What the program is, what to mind, and what its figures rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPlainTextEdit

import canvas
from canvas.desk.dialogs.base import DeskDialog
from canvas.desk.parts import heading, label, quiet

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

CAUTIONS = (
    "Figures are no better than the ground they were read from: its accuracy stands beside them. "
    "Levels are indicative unless the survey is good to 0.05 m: level on site.",
    "Ask before you dig: have buried services located by their owners. Keep clear of overhead "
    "lines; the line’s owner says how far.",
    "Dams, banks, deep excavation, wells, septic systems, burning and electrical work can kill. "
    "They need local approval and licensed people; this program replaces neither.",
    "Rule sets are a help to ask the right questions. They are not legal advice; the authority’s "
    "current text and word are final. Entries marked “unconfirmed” were not read in their source.",
    "In bushfire country no distance makes a place safe. Follow the fire authority.",
)


class AboutDialog(DeskDialog):
    """Version, cautions, sources."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Hillwright",
            f"Version {canvas.__version__}. MIT licence. Lato by Łukasz Dziedzic, SIL Open Font "
            "Licence.",
            "Done",
            width=640,
        )
        self.leave.hide()
        self.body.addWidget(heading("What to mind"))
        for words in CAUTIONS:
            self.body.addWidget(label(f"•  {words}"))
        self.body.addWidget(heading("Sources"))
        self.body.addWidget(quiet("Every figure taken from elsewhere names one of these."))
        self.sources = QPlainTextEdit()
        self.sources.setAccessibleName("Sources")
        self.sources.setReadOnly(True)
        self.sources.setMinimumHeight(150)
        self.sources.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        from canvas.base.sources import all_sources

        lines = sorted(source.text for source in all_sources().values())
        self.sources.setPlainText("\n\n".join(lines))
        self.body.addWidget(self.sources, 1)

    def do(self) -> None:
        """Close."""
        self.accept()
