"""The sheet page: what will be printed, at which scale, before it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QRectF, QSize, Qt, QTimer
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QFormLayout,
    QLineEdit,
    QPlainTextEdit,
    QSizePolicy,
    QWidget,
)

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import UnitSystem, read_number, shown
from canvas.desk.bench import Bench
from canvas.desk.drawer import Page
from canvas.desk.parts import button, form_rows, icon_button, quiet, row, scrolling
from canvas.desk.theme import inks
from canvas.desk.tiles import holding, spread

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.drawing.entries import Page as Sheet
    from canvas.sheets.prepared import SheetOptions

#: Pixels to the millimetre of the preview: enough to read the title block when enlarged.
PREVIEW_PX_MM = 4.0
MOST_PX = 3600
#: Waiting this long after a change before the preview is made again [ms].
PAUSE_MS = 350
#: Width of the choices beside the preview [pixels].
FORM_WIDTH = 400


class Preview(QWidget):
    """One page as it will be printed; a click enlarges it about the pointer."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self._image: QImage | None = None
        self._small: QImage | None = None
        self._at: tuple[float, float] | None = None
        self.setAccessibleName("Preview of the sheet; Space enlarges it")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(120)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setToolTip("Click to enlarge, or to see the whole sheet")

    def sizeHint(self) -> QSize:
        """Ask for the shape of a sheet."""
        return QSize(380, 300)

    def show_image(self, image: QImage | None) -> None:
        """Show a page."""
        self._image, self._small = image, None
        self.update()

    def _box(self) -> QRectF:
        assert self._image is not None
        size = self._image.size()
        fit = min((self.width() - 8) / size.width(), (self.height() - 8) / size.height())
        scale = fit if self._at is None else 1.0 / self.devicePixelRatioF()
        width, height = size.width() * scale, size.height() * scale
        if self._at is None:
            return QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)
        x, y = self._at
        return QRectF(self.width() / 2 - x * width, self.height() / 2 - y * height, width, height)

    def mousePressEvent(self, event: Any) -> None:
        """Enlarge about the pointer, or show the whole again."""
        if self._image is None:
            return
        if self._at is None:
            box, spot = self._box(), event.position()
            self._at = (
                min(max((spot.x() - box.left()) / box.width(), 0), 1),
                min(max((spot.y() - box.top()) / box.height(), 0), 1),
            )
        else:
            self._at = None
        self.update()

    def keyPressEvent(self, event: Any) -> None:
        """Enlarge with Space; look around with the arrows."""
        moves = {
            Qt.Key.Key_Left: (-0.05, 0), Qt.Key.Key_Right: (0.05, 0),
            Qt.Key.Key_Up: (0, -0.05), Qt.Key.Key_Down: (0, 0.05),
        }  # fmt: skip
        if event.key() == Qt.Key.Key_Space:
            self._at = (0.5, 0.5) if self._at is None else None
        elif event.key() in moves and self._at is not None:
            dx, dy = moves[event.key()]
            self._at = min(max(self._at[0] + dx, 0), 1), min(max(self._at[1] + dy, 0), 1)
        else:
            super().keyPressEvent(event)
            return
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the page on the table."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(inks(self._bench.theme).room))
        if self._image is not None:
            box, ratio = self._box(), self.devicePixelRatioF()
            if self._at is None:
                # Shrunk once and well: drawing the large picture small would lose its hairlines.
                size = QSize(round(box.width() * ratio), round(box.height() * ratio))
                if self._small is None or self._small.size() != size:
                    self._small = self._image.scaled(
                        size,
                        Qt.AspectRatioMode.IgnoreAspectRatio,
                        Qt.TransformationMode.SmoothTransformation,
                    )
                painter.drawImage(box, self._small)
            else:
                painter.drawImage(box, self._image)
        painter.end()


class SheetPage(Page):
    """Paper, scale, title, notes; the preview; PDF and PNG."""

    key = "sheet"
    title = "Sheet"
    icon = "sheet"
    about = "A true-scale sheet to print"
    rise = 0.49

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Laying out the sheet")
        self._pages: tuple[Sheet, ...] = ()
        self._images: list[QImage] = []
        self._number = 0
        self._asked: object = None
        self._controls()
        self.preview = Preview(desk.bench)
        self.words = quiet()
        self._wait = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._wait.timeout.connect(self._ask)
        theme = desk.bench.theme
        self._before = icon_button("left", "Page before", lambda: self._turn(-1), theme)
        self._after = icon_button("right", "Next page", lambda: self._turn(1), theme)
        self.pdf = button("Save as PDF…", self._save_pdf, look="main")
        self.png = button("Save as PNG…", self._save_png)
        left = QWidget()
        choices = self._form()
        choices.setContentsMargins(0, 0, 6, 0)
        left.setLayout(choices)
        form = scrolling(left)
        form.setFixedWidth(FORM_WIDTH)
        spread(self, (form, 0), (holding(self.preview, self.words), 1))

    def tools(self) -> Sequence[QWidget]:
        """Offer the pages and the ways out."""
        return self.pdf, self.png, self._before, self._after

    def _controls(self) -> None:
        from canvas.sheets.papers import PAPERS
        from canvas.sheets.sorts import SORTS

        self.paper = QComboBox()
        self.paper.setAccessibleName("Paper")
        for name in PAPERS:
            self.paper.addItem(name)
        us = self._desk.bench.units is UnitSystem.US
        self.paper.setCurrentText("ANSI B" if us else "A3")
        self.way = QComboBox()
        self.way.setAccessibleName("Orientation")
        self.way.addItem("Landscape", True)
        self.way.addItem("Upright", False)
        self.scale = QComboBox()
        self.scale.setEditable(True)
        self.scale.setAccessibleName("Scale: choose, or type the n of 1:n")
        self.contours = QComboBox()
        self.contours.setEditable(True)
        self.contours.setAccessibleName("Contours: choose, or type their interval")
        self.phase = QComboBox()
        self.phase.setAccessibleName("Phase the sheet shows the plan built up to")
        self._phases: tuple[tuple[str, str], ...] | None = None
        self.sort = QComboBox()
        self.sort.setAccessibleName("Sheet")
        for each in SORTS.values():
            self.sort.addItem(each.label, each.key)
            self.sort.setItemData(self.sort.count() - 1, each.help, Qt.ItemDataRole.ToolTipRole)
        self.sort.activated.connect(lambda _i: self._sort_chosen())
        self.title_line = QLineEdit("Plan")
        self.title_line.setAccessibleName("Title of the sheet")
        self.notes = QPlainTextEdit()
        self.notes.setAccessibleName("Notes on the sheet, a paragraph each")
        self.notes.setPlaceholderText("Your own notes, a paragraph each")
        self.notes.setTabChangesFocus(True)
        self.notes.setFixedHeight(48)
        self.mono = QCheckBox("Black and white")
        self.tables = QCheckBox("Schedules")
        self.tables.setChecked(True)
        self._fill_scales()
        self._fill_contours()
        for combo in (self.paper, self.way, self.phase):
            combo.currentIndexChanged.connect(lambda _i: self._changed())
        self.scale.currentTextChanged.connect(lambda _t: self._changed())
        self.contours.currentTextChanged.connect(lambda _t: self._changed())
        self.title_line.textChanged.connect(lambda _t: self._changed())
        self.notes.textChanged.connect(self._changed)
        for check in (self.mono, self.tables):
            check.toggled.connect(lambda _on: self._changed())

    def _fill_scales(self) -> None:
        from canvas.sheets.papers import scales

        units = self._desk.bench.units
        self.scale.addItem("Best fit", None)
        for n in scales(units):
            if 50 <= n <= 20000:
                words = f"1\" = {n / 12:.0f}'" if units is UnitSystem.US else f"1:{n:.0f}"
                self.scale.addItem(words, n)

    def _fill_contours(self) -> None:
        how = shown("m", self._desk.bench.units)
        values = (1, 2, 5, 10, 20, 50) if how.symbol == "ft" else (0.25, 0.5, 1, 2, 5, 10)
        self.contours.addItem("As on the map", None)
        self.contours.addItem("None", 0.0)
        for value in values:
            self.contours.addItem(f"{value:g} {how.symbol}", value / how.factor)

    def _fill_phases(self) -> None:
        """Offer the phases there are; the one the map shows comes chosen."""
        bench = self._desk.bench
        plan = bench.plan
        if plan is None:
            return
        phases = tuple((p.id, p.name or f"Phase {n}") for n, p in enumerate(plan.phases(), 1))
        if phases == self._phases:
            return
        chosen = bench.at if self._phases is None else self.phase.currentData()
        self._phases = phases
        self.phase.blockSignals(True)
        self.phase.clear()
        self.phase.addItem("The whole plan", "")
        for ident, name in phases:
            self.phase.addItem(f"Built up to: {name}", ident)
        self.phase.setCurrentIndex(max(self.phase.findData(chosen), 0))
        self.phase.setEnabled(bool(phases))
        self.phase.blockSignals(False)

    def _form(self) -> QFormLayout:
        form = form_rows()
        form.setVerticalSpacing(5)
        form.addRow("Sheet", self.sort)
        form.addRow("Title", self.title_line)
        form.addRow("Paper", row(self.paper, self.way))
        form.addRow("Scale", self.scale)
        form.addRow("Contours", self.contours)
        form.addRow("Shows", self.phase)
        form.addRow("Notes", self.notes)
        form.addRow("", row(self.mono, self.tables, None))
        return form

    def _sort_chosen(self) -> None:
        """Take the sort's name for the title, unless another was typed."""
        names = [self.sort.itemText(at) for at in range(self.sort.count())]
        if self.title_line.text().strip() in names:
            self.title_line.setText(self.sort.currentText())
        drawn = self.sort.currentData() != "details"
        for control in (self.scale, self.contours, self.tables):
            control.setEnabled(drawn)
        self._changed()

    # -- making it ----------------------------------------------------------------------------

    def _scale(self) -> float | None:
        at = self.scale.findText(self.scale.currentText())
        if at >= 0:
            value = self.scale.itemData(at)
            return float(value) if value is not None else None
        return read_number(self.scale.currentText().rpartition(":")[2])

    def _interval(self) -> float | None:
        words = self.contours.currentText().strip()
        at = self.contours.findText(words)
        if at >= 0:
            value = self.contours.itemData(at)
            return float(value) if value is not None else None
        how = shown("m", self._desk.bench.units)
        return read_number(words.removesuffix(how.symbol)) / how.factor

    def _options(self) -> SheetOptions:
        from canvas.sheets.prepared import SheetOptions

        mono = self.mono.isChecked()
        notes = tuple(n.strip() for n in self.notes.toPlainText().splitlines() if n.strip())
        return SheetOptions(
            paper=self.paper.currentText(),
            landscape=bool(self.way.currentData()),
            scale=self._scale(),
            contours_m=self._interval(),
            title=self.title_line.text().strip() or "Plan",
            notes=notes,
            schedules=self.tables.isChecked(),
            look=replace(self._desk.bench.look, units=self._desk.bench.units),
            palette="mono" if mono else "paper",
        )

    def refresh(self) -> None:
        """Lay the sheet out again when the plan or what the map shows has changed."""
        bench = self._desk.bench
        self._fill_phases()
        token = (bench.study, bench.look, bench.units)
        if token != self._asked:
            self._asked = token
            self._changed()

    def _changed(self) -> None:
        self._wait.start()

    def closed(self) -> None:
        """Stop waiting."""
        self._wait.stop()
        self._lane.drop()
        self._asked = None

    def _ask(self) -> None:
        bench = self._desk.bench
        study, session = bench.study, bench.session
        if study is None or session is None:
            return
        try:
            options = self._options()
        except BadData as trouble:
            self.words.setText(trouble.what)
            return
        folder = session.folder
        phase, sort = str(self.phase.currentData() or ""), str(self.sort.currentData())
        self.words.setText("Being laid out…")

        def work(_progress: Any) -> Any:
            from canvas.sheets.sorts import make_sheet

            asked = study if study.at == phase else study.at_phase(phase)
            pages = make_sheet(sort, asked, options, folder)
            return pages, [_pictured(page, options.palette) for page in pages]

        self._lane.ask(work, lambda got: self._show(*got), self._failed)

    def _failed(self, trouble: Exception) -> None:
        if isinstance(trouble, UserError):
            # The sheet before is not the one asked for: it must not be saved as such.
            self._pages, self._images = (), []
            self.preview.show_image(None)
            self.words.setText(trouble.text())
        else:
            self._desk.tell_trouble(trouble)

    def _show(self, pages: tuple[Sheet, ...], images: list[QImage]) -> None:
        self._pages, self._images = pages, images
        self._number = min(self._number, len(pages) - 1)
        self._show_page()

    def _turn(self, step: int) -> None:
        self._number = min(max(self._number + step, 0), len(self._pages) - 1)
        self._show_page()

    def _show_page(self) -> None:
        self.preview.show_image(self._images[self._number] if self._pages else None)
        many = len(self._pages)
        first = self._pages[0]
        scale = f"1:{first.frames[0].scale:g}" if first.frames else "scales as noted"
        notes = first.notes if self._number == 0 else ()
        self.words.setText(" · ".join((f"Sheet {self._number + 1} of {many}", scale, *notes)))
        self._before.setEnabled(self._number > 0)
        self._after.setEnabled(self._number < many - 1)

    # -- saving it ----------------------------------------------------------------------------

    def _where(self, suffix: str, words: str) -> Path | None:
        session = self._desk.bench.session
        if session is None or not self._pages:
            return None
        start = session.folder.parent / f"{session.folder.name}{suffix}"
        chosen, _ = QFileDialog.getSaveFileName(self, "Save the sheet", str(start), words)
        return Path(chosen) if chosen else None

    def _save_pdf(self) -> None:
        path = self._where(".pdf", "PDF (*.pdf)")
        if path is not None:
            self._write(path, pdf=True)

    def _save_png(self) -> None:
        path = self._where(".png", "PNG (*.png)")
        if path is not None:
            self._write(path, pdf=False)

    def _write(self, path: Path, *, pdf: bool) -> None:
        pages, number = self._pages, self._number
        palette = "mono" if self.mono.isChecked() else "paper"

        def work(_progress: Any) -> Path:
            from canvas.paint.export import write_pdf, write_png

            if pdf:
                write_pdf(pages, path, palette=palette)
            else:
                write_png(pages[number], path, palette=palette)
            return path

        def then(made: Path) -> None:
            self._desk.bench.tell("note", f"Saved {made.name}")

        self._desk.bench.jobs.run(f"Writing {path.name}", work, then)


def _pictured(page: Sheet, palette: str) -> QImage:
    """Return a page as a picture for the preview; called in the worker."""
    from canvas.drawing.palette import PALETTES
    from canvas.paint.export import paint_page

    mm_px = min(PREVIEW_PX_MM, MOST_PX / max(page.width_mm, page.height_mm))
    image = QImage(
        round(page.width_mm * mm_px), round(page.height_mm * mm_px), QImage.Format.Format_RGB32
    )
    image.fill(QColor(PALETTES[palette]["paper"]))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    paint_page(painter, page, mm_px, PALETTES[palette])
    painter.end()
    return image
