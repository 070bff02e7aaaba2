"""Our own line icons, inked for the theme in force."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from canvas.base import resources
from canvas.desk.theme import inks

#: Device sizes an icon is drawn at, so that it is sharp at 100 to 200 %.
SIZES = (16, 20, 24, 32, 40, 48, 64)


def has(name: str) -> bool:
    """Whether there is an icon of this name."""
    return (resources.root() / "icons" / f"{name}.svg").is_file()


def kind_icon(key: str) -> str:
    """Return the name of the icon of a kind of element."""
    name = f"kind-{key}"
    return name if has(name) else "add"


def pixmap(name: str, size: int, ink: str, ratio: float = 1.0) -> QPixmap:
    """Return an icon as a picture of `size` points in one ink."""
    pixels = round(size * ratio)
    made = QPixmap(pixels, pixels)
    made.fill(Qt.GlobalColor.transparent)
    text = resources.text(f"icons/{name}.svg").replace("currentColor", ink)
    painter = QPainter(made)
    QSvgRenderer(QByteArray(text.encode())).render(painter, QRectF(0, 0, pixels, pixels))
    painter.end()
    made.setDevicePixelRatio(ratio)
    return made


@lru_cache(maxsize=512)
def icon(name: str, theme: str, role: str = "ink") -> QIcon:
    """Return an icon in a theme's ink; greyed where the control is off."""
    ink = inks(theme)
    made = QIcon()
    for size in SIZES:
        made.addPixmap(pixmap(name, size, getattr(ink, role)), QIcon.Mode.Normal)
        made.addPixmap(pixmap(name, size, ink.edge), QIcon.Mode.Disabled)
    return made


def app_icon() -> QIcon:
    """Return the program's own sign."""
    made = QIcon()
    for size in (16, 32, 48, 64, 128, 256):
        made.addPixmap(pixmap("hillwright", size, "#000000"))
    return made
