"""What every dialog has: a head, a body, trouble told in place, work with progress and cancel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QObject, QSize, Signal
from PySide6.QtGui import QCloseEvent, QGuiApplication, QShowEvent
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from canvas.base.errors import UserError
from canvas.desk.jobs import Failed, Job, Then, Work
from canvas.desk.notices import TroublePanel
from canvas.desk.parts import button, empty, label, quiet, row, small

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


#: The screen's room a dialog leaves to its window's frame and title [pixels].
FRAME = QSize(16, 44)
#: The least of its body a dialog shows [pixels].
LEAST_BODY = 84


class Body(QScrollArea):
    """A dialog's fields at their full height; where the screen is too low for them, they scroll."""

    grown = Signal()

    def __init__(self) -> None:
        super().__init__()
        inside = QWidget()
        inside.setObjectName("inside")
        self.fields = QVBoxLayout(inside)
        self.fields.setContentsMargins(0, 0, 0, 0)
        self.fields.setSpacing(8)
        self.setWidget(inside)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)

    def tall(self, wide: int) -> int:
        """Return how high the fields stand at a width."""
        least = max(wide, self.fields.minimumSize().width())
        return max(self.fields.totalHeightForWidth(least), self.fields.minimumSize().height())

    def sizeHint(self) -> QSize:
        """Ask for room for all fields."""
        wanted = self.fields.sizeHint()
        if self.fields.hasHeightForWidth():
            wanted.setHeight(self.tall(self.width() if self.isVisible() else wanted.width()))
        return wanted

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Tell when the fields ask for other room."""
        took = super().eventFilter(watched, event)
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self.updateGeometry()
            self.grown.emit()
        return took


class DeskDialog(QDialog):
    """A dialog with one main deed. Trouble is shown where it happened; nothing is lost by it.

    Head, trouble and foot are always in sight; the body between them scrolls on a low screen.
    """

    def __init__(self, desk: DeskWindow, title: str, about: str, deed: str, *, width: int = 560):
        super().__init__(desk)
        self.desk = desk
        self._job: Job | None = None
        self.setWindowTitle(title)
        self._wide = width
        self._tall = 0
        self.setMinimumWidth(min(width, self._room().width()))
        whole = self.whole = QVBoxLayout(self)
        whole.setContentsMargins(18, 16, 18, 14)
        whole.setSpacing(10)
        whole.addWidget(label(title, "title"))
        self._about = quiet(about)
        self._about.setVisible(bool(about))
        whole.addWidget(self._about)
        self.area = Body()
        self.area.grown.connect(self.grow)
        self.body = self.area.fields
        whole.addWidget(self.area, 1)
        self._trouble = QVBoxLayout()
        whole.addLayout(self._trouble)
        self._bar = QProgressBar()
        self._bar.setRange(0, 1000)
        self._bar.setTextVisible(False)
        self._bar.setAccessibleName("Progress")
        self._note = small()
        for part in (self._bar, self._note):
            part.hide()
            whole.addWidget(part)
        self.main = button(deed, self.do, look="main")
        self.main.setDefault(True)
        self.leave = button("Cancel", self._leave)
        self.foot = row(None, self.leave, self.main, gap=8)
        whole.addLayout(self.foot)

    def do(self) -> None:
        """Do the deed; subclasses say what it is."""

    def _room(self) -> QSize:
        """Return what the screen can hold of a dialog."""
        screen = self.screen() or QGuiApplication.primaryScreen()
        return screen.availableGeometry().size() - FRAME

    def showEvent(self, event: QShowEvent) -> None:
        """Open as large as the body asks, within the screen."""
        if not event.spontaneous():
            self.grow()
        super().showEvent(event)

    def grow(self) -> None:
        """Grow till the whole body is seen, within the screen; never shrink under the hand."""
        room, sides = self._room(), self.whole.contentsMargins()
        wide = min(max(self._wide, self.whole.sizeHint().width()), room.width())
        inner = wide - sides.left() - sides.right()
        body = self.area.tall(inner)
        least = min(body, LEAST_BODY)
        self.area.setMinimumHeight(least)
        ends = sides.top() + sides.bottom()
        # On a low screen trouble is worth more than what the dialog says of itself.
        self._about.setVisible(bool(self._about.text()))
        if ends + self._rest_tall(inner) + least > room.height():
            self._about.hide()
        tall = ends + body + self._rest_tall(inner)
        before, self._tall = self._tall, tall
        if not self.isVisible():
            self.resize(wide, min(tall, room.height()))
        elif tall > before:
            tall = min(max(tall, self.height()), room.height())
            self.resize(max(wide, self.width()), max(tall, self.height()))

    def _rest_tall(self, wide: int) -> int:
        """Return how high everything but the body stands at a width, with the gaps."""
        tall = 0
        for at in range(self.whole.count()):
            item = self.whole.itemAt(at)
            if item is None or item.isEmpty() or item.widget() is self.area:
                continue
            own = (
                item.heightForWidth(wide) if item.hasHeightForWidth() else item.sizeHint().height()
            )
            tall += own + self.whole.spacing()
        return tall

    def show_trouble(self, trouble: Exception | None) -> None:
        """Show trouble above the buttons, or take it away; faults of the program go further."""
        empty(self._trouble)
        if isinstance(trouble, UserError):
            panel = TroublePanel(trouble)
            self._trouble.addWidget(panel)
            panel.show()
            self.grow()
            panel.setFocus()
        elif trouble is not None:
            self.desk.tell_trouble(trouble)

    def run(self, label: str, work: Work, then: Then, failed: Failed | None = None) -> None:
        """Work in the background; the main button waits, Cancel stops it."""
        self.show_trouble(None)
        if self._job is not None:
            self._job.cancel()

        def done(value: Any) -> None:
            self._rest(job)
            then(value)

        def wrong(trouble: Exception) -> None:
            self._rest(job)
            (failed or self.show_trouble)(trouble)

        job = self.desk.bench.jobs.run(label, work, done, wrong)
        self._job = job
        job.progressed.connect(self._progress)
        job.ended.connect(lambda: self._rest(job))
        self._note.setText(label)
        self._bar.setValue(0)
        self._busy(on=True)

    def _rest(self, job: Job) -> None:
        if self._job is job:
            self._job = None
            self._busy(on=False)

    def _busy(self, *, on: bool) -> None:
        self._bar.setVisible(on)
        self._note.setVisible(on)
        if on:
            self.grow()
        self.main.setEnabled(not on and self.ready())

    def _progress(self) -> None:
        if self._job is not None:
            self._bar.setValue(round(self._job.fraction * 1000))
            self._note.setText(self._job.note or self._job.label)

    @property
    def busy(self) -> bool:
        """Whether work is under way."""
        return self._job is not None

    def ready(self) -> bool:
        """Whether the main button may be pressed."""
        return True

    def refresh_ready(self) -> None:
        """Switch the main button on or off."""
        self.main.setEnabled(not self.busy and self.ready())

    def _leave(self) -> None:
        if self._job is not None:
            self._job.cancel()
            self._rest(self._job)
        else:
            self.reject()

    def done(self, result: int) -> None:
        """Close; work still under way is stopped."""
        if self._job is not None:
            self._job.cancel()
            self._job = None
        super().done(result)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close by the window's own button as by Cancel."""
        self.done(0)
        super().closeEvent(event)


class FileField(QWidget):
    """A path to type, or to choose from the disk."""

    chosen = Signal(object)

    def __init__(self, name: str, kinds: str = "", *, folder: bool = False) -> None:
        super().__init__()
        self._kinds = kinds
        self._name = name
        self._folder = folder
        self._told = ""
        self.line = QLineEdit()
        self.line.setAccessibleName(name)
        self.line.setPlaceholderText("Folder" if folder else "File")
        self.line.editingFinished.connect(self._tell)
        browse = button("Choose…", self._browse)
        browse.setAccessibleName(f"Choose: {name}")
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.line, 1)
        line.addWidget(browse)

    @property
    def path(self) -> Path | None:
        """The path typed or chosen; None while there is none."""
        words = self.line.text().strip().strip('"')
        return Path(words).expanduser() if words else None

    def set_path(self, path: Path) -> None:
        """Put a path in."""
        self.line.setText(str(path))
        self._tell()

    def _browse(self) -> None:
        start = str(self.path or "")
        if self._folder:
            words = QFileDialog.getExistingDirectory(self, self._name, start)
        else:
            words, _ = QFileDialog.getOpenFileName(self, self._name, start, self._kinds)
        if words:
            self.set_path(Path(words))

    def _tell(self) -> None:
        if self.line.text() != self._told:
            self._told = self.line.text()
            self.chosen.emit(self.path)
