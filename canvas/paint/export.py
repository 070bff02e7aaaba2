"""Pages to files: PDF as vectors at true scale, PNG at any resolution."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path as FilePath

from PySide6.QtCore import QMarginsF, QRectF, QSizeF
from PySide6.QtGui import (
    QColor,
    QGuiApplication,
    QImage,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
)

from canvas.base.errors import BadData, StoreTrouble
from canvas.drawing.entries import Layer, Page
from canvas.drawing.palette import PALETTES
from canvas.paint import fonts
from canvas.paint.painter import paint_layers
from canvas.paint.shapes import Palette
from canvas.paint.view import View

#: Device units per millimetre in a PDF: a hundredth of a millimetre, since Qt's pages are whole.
PDF_UNITS_MM = 100
PDF_DPI = 2540
PNG_DPI = 200.0
#: Largest PNG made, in pixels: an A0 sheet at 300 dpi.
MOST_PIXELS = 160_000_000

_application: QGuiApplication | None = None


def _needs_qt() -> None:
    """Have an application, without which Qt knows no fonts; a headless one where there is none."""
    global _application  # noqa: PLW0603
    if QGuiApplication.instance() is None:
        if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
            os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        # There can be only one: where widgets are about, it must be the kind they need.
        widgets = sys.modules.get("PySide6.QtWidgets")
        kind = widgets.QApplication if widgets is not None else QGuiApplication
        _application = kind(["hillwright"])
    fonts.load()


def paint_page(
    painter: QPainter, page: Page, mm_px: float, palette: Palette, *, vector: bool = False
) -> None:
    """Paint a page with its map frames, `mm_px` device units to the millimetre."""
    if vector and palette["paper"] != "#ffffff":
        sheet = QRectF(0, 0, page.width_mm * mm_px, page.height_mm * mm_px)
        painter.fillRect(sheet, QColor(palette["paper"]))
    for frame in page.frames:
        view = View.frame(frame, page, mm_px, vector)
        painter.save()
        painter.setClipRect(QRectF(*view.rect_px(view.clip)))
        paint_layers(painter, frame.layers, view, palette)
        painter.restore()
    furniture = Layer("furniture", "Furniture", page.furniture)
    paint_layers(painter, (furniture,), View.page(page, mm_px, vector), palette)


def write_pdf(pages: Sequence[Page], path: FilePath, *, palette: str = "paper") -> None:
    """Write pages as a PDF at true scale, vectors and searchable text, fonts embedded.

    Raises `StoreTrouble` when the file can't be written.
    """
    if not pages:
        raise BadData("there is nothing to print", remedy="Choose at least one page.")
    _needs_qt()
    fresh = path.with_name(f".{path.name}.part")
    try:
        # Asked for plainly first: Qt would only mutter to the console.
        fresh.write_bytes(b"")
        writer = QPdfWriter(str(fresh))
        writer.setResolution(PDF_DPI)
        writer.setTitle(pages[0].title)
        writer.setCreator("Hillwright")
        _set_page(writer, pages[0])
        painter = QPainter()
        if not painter.begin(writer):
            raise _unwritten(path)
        try:
            for i, page in enumerate(pages):
                if i:
                    _set_page(writer, page)
                    writer.newPage()
                paint_page(painter, page, PDF_UNITS_MM, PALETTES[palette], vector=True)
        finally:
            painter.end()
        del writer
        if not fresh.exists() or fresh.stat().st_size == 0:
            raise _unwritten(path)
        os.replace(fresh, path)
    except OSError as error:
        raise _unwritten(path) from error
    finally:
        fresh.unlink(missing_ok=True)


def _set_page(writer: QPdfWriter, page: Page) -> None:
    size = QPageSize(
        QSizeF(page.width_mm, page.height_mm),
        QPageSize.Unit.Millimeter,
        page.title,
        QPageSize.SizeMatchPolicy.ExactMatch,
    )
    layout = QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0))
    writer.setPageLayout(layout)


def _unwritten(path: FilePath) -> StoreTrouble:
    return StoreTrouble(
        "the sheet could not be written",
        where=path.name,
        remedy="Check that the folder can be written, the disk has room and no other program "
        "has the file open.",
    )


def page_image(page: Page, dpi: float = PNG_DPI, *, palette: str = "paper") -> QImage:
    """Return a page as a picture; `BadData` when it would be too large to hold."""
    _needs_qt()
    mm_px = dpi / 25.4
    width, height = round(page.width_mm * mm_px), round(page.height_mm * mm_px)
    if width * height > MOST_PIXELS:
        raise BadData(
            f"{width} × {height} pixels are too many", remedy="Choose fewer dots per inch."
        )
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(round(dpi / 0.0254))
    image.setDotsPerMeterY(round(dpi / 0.0254))
    image.fill(QColor(PALETTES[palette]["paper"]))
    painter = QPainter(image)
    try:
        paint_page(painter, page, mm_px, PALETTES[palette])
    finally:
        painter.end()
    return image


def write_png(page: Page, path: FilePath, dpi: float = PNG_DPI, *, palette: str = "paper") -> None:
    """Write a page as a PNG that knows its dots per inch."""
    image = page_image(page, dpi, palette=palette)
    image.setText("Title", page.title)
    if not image.save(str(path), "PNG"):  # type: ignore[call-overload]
        raise _unwritten(path)


def write_sheet(
    pages: Sequence[Page], path: FilePath, *, dpi: float = PNG_DPI, palette: str = "paper"
) -> tuple[FilePath, ...]:
    """Write pages by the file's ending, .pdf or .png, and return the files written.

    A PNG holds one page: further ones go beside it, numbered.
    """
    ending = path.suffix.lower()
    if ending == ".pdf":
        write_pdf(pages, path, palette=palette)
        return (path,)
    if ending != ".png":
        raise BadData(
            f"“{path.suffix}” is no kind of sheet", where=path.name, remedy="Name it .pdf or .png."
        )
    names = [path if i == 0 else path.with_stem(f"{path.stem}-{i + 1}") for i in range(len(pages))]
    for page, name in zip(pages, names, strict=True):
        write_png(page, name, dpi, palette=palette)
    return tuple(names)
