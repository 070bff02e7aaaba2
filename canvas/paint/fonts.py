"""The program's own typeface as Qt fonts; no system font is ever asked for."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtGui import QFont, QFontDatabase, QPainterPath

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.drawing.typeface import FACES, FAMILY, face

#: Features that make searching a PDF fail: "fi" must stay two letters.
NO_LIGATURES = ("liga", "clig", "dlig", "calt")


@lru_cache(maxsize=1)
def load() -> str:
    """Make the faces known to Qt, once, and return the family's name.

    Needs a QGuiApplication. Raises `InputError` when a face can't be loaded.
    """
    for name in FACES.values():
        if QFontDatabase.addApplicationFont(str(resources.path(name))) < 0:
            raise InputError(f"the font {name} could not be loaded")
    return FAMILY


@lru_cache(maxsize=512)
def font(cap_px: float, dpi: float, bold: bool = False, italic: bool = False) -> QFont:
    """Return the font whose capitals are `cap_px` device pixels high on a device of `dpi`."""
    made = QFont(load())
    # Points, since pixel sizes are whole numbers in Qt and sheets are not.
    made.setPointSizeF(max(cap_px * face(bold, italic).em_per_cap * 72.0 / dpi, 0.1))
    made.setBold(bold)
    made.setItalic(italic)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setStyleStrategy(QFont.StyleStrategy.NoFontMerging)
    for tag in NO_LIGATURES:
        made.setFeature(QFont.Tag(tag), 0)
    return made


#: Size outlines are made at: whole, since an outline takes its size in pixels.
OUTLINE_PX = 1000


@lru_cache(maxsize=4000)
def outline(words: str, bold: bool = False, italic: bool = False) -> QPainterPath:
    """Return the outline of a line of writing from (0, 0), one em `OUTLINE_PX` large."""
    made = QFont(font(10.0, 72.0, bold, italic))
    made.setPixelSize(OUTLINE_PX)
    path = QPainterPath()
    path.addText(0.0, 0.0, made, words)
    return path
