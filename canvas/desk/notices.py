"""What the desk has to say: passing words, standing notices, and trouble told calmly."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QDialog, QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from canvas.base.errors import UserError
from canvas.desk.bench import Bench
from canvas.desk.icons import pixmap
from canvas.desk.parts import button, heading, icon_button, label, quiet, row
from canvas.desk.theme import inks

SHOWN_MS = 6000
SIGNS = {"note": "ok", "warning": "findings", "error": "error"}


class Toast(QFrame):
    """A line over the foot of the map that goes away by itself."""

    def __init__(self, bench: Bench, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self.setObjectName("toast")
        self._sign = QLabel()
        self.words = QLabel()
        self.words.setAccessibleName("Message")
        box = QHBoxLayout(self)
        box.setContentsMargins(12, 7, 14, 7)
        box.addWidget(self._sign)
        box.addWidget(self.words)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.hide)
        bench.told.connect(self.tell)
        self.hide()

    def tell(self, severity: str, message: str) -> None:
        """Show a line."""
        ink = inks(self._bench.theme)
        role = ink.accent if severity == "note" else ink.ink
        self._sign.setPixmap(pixmap(SIGNS.get(severity, "ok"), 16, role, self.devicePixelRatioF()))
        self.words.setText(message)
        self.adjustSize()
        self.place()
        self.show()
        self.raise_()
        self._timer.start(SHOWN_MS)

    def place(self) -> None:
        """Stand at the middle of the map's foot."""
        parent = self.parentWidget()
        if parent is not None:
            self.adjustSize()
            self.move((parent.width() - self.width()) // 2, parent.height() - self.height() - 16)


class NoticeBar(QFrame):
    """What holds as long as this site is open: read-only, changed outside, set aside."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self.setObjectName("notice")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.words = label("")
        self.words.setAccessibleName("Notice")
        self._close = icon_button("close", "Hide this notice", self.hide, bench.theme)
        row(self.words, self._close, margin=5, parent=self)
        box = self.layout()
        if box is not None:
            box.setContentsMargins(14, 4, 8, 4)
        bench.site_changed.connect(self.refresh)
        self.hide()

    def refresh(self) -> None:
        """Show what the session has to say; nothing while there is nothing."""
        session = self._bench.session
        lines: list[str] = []
        if session is not None:
            if session.readonly:
                lines.append(f"Read-only: {session.readonly_reason}")
            lines += session.notices
        self.words.setText("\n".join(" ".join(line.split()) for line in lines))
        self._close.setVisible(session is not None and not session.readonly)
        self.setVisible(bool(lines))


class TroublePanel(QFrame):
    """A `UserError` in full: what happened, where, what was kept, and the way out."""

    def __init__(self, trouble: UserError) -> None:
        super().__init__()
        self.setObjectName("trouble")
        box = QVBoxLayout(self)
        box.setContentsMargins(14, 12, 14, 12)
        box.setSpacing(5)
        box.addWidget(heading(_sentence(trouble.what)))
        for name, words in (
            ("Where", trouble.where),
            ("Kept", trouble.kept),
            ("What to do", trouble.remedy),
        ):
            if words:
                text = label(f"<b>{name}:</b> {_escaped(words)}")
                text.setTextFormat(Qt.TextFormat.RichText)
                box.addWidget(text)
        self.setAccessibleName("Trouble: " + trouble.text())


def _sentence(words: str) -> str:
    text = words[:1].upper() + words[1:]
    return text if text.endswith((".", "!", "?")) else text + "."


def _escaped(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;")


class TroubleDialog(QDialog):
    """Trouble in a window of its own, when no dialog stands where it can be shown."""

    def __init__(self, trouble: UserError, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle("That did not work")
        self.setMinimumWidth(440)
        box = QVBoxLayout(self)
        box.setContentsMargins(16, 16, 16, 14)
        box.setSpacing(12)
        box.addWidget(TroublePanel(trouble))
        done = button("All right", self.accept, look="main")
        done.setDefault(True)
        box.addLayout(row(None, done))


class FaultDialog(QDialog):
    """A fault of the program: nothing acknowledged was lost, and where it is written down."""

    def __init__(self, what: str, log: str, parent: QWidget | None, quit_: Callable[[], object]):
        super().__init__(parent)
        self.setWindowTitle("A fault of the program")
        self.setMinimumWidth(480)
        box = QVBoxLayout(self)
        box.setContentsMargins(16, 16, 16, 14)
        box.setSpacing(8)
        box.addWidget(heading("Something in the program went wrong."))
        box.addWidget(label("Nothing acknowledged was lost: every edit shown is on the disk."))
        box.addWidget(quiet(what))
        where = label(f"Written down in {log}")
        where.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        box.addWidget(where)
        on = button("Carry on", self.accept, look="main")
        out = button("Close the program", self.reject)
        self.rejected.connect(quit_)
        box.addLayout(row(None, out, on))
