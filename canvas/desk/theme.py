"""Light and dark: our inks, and the style sheet made from them."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

from canvas.base import resources

THEMES = ("light", "dark")


@dataclass(frozen=True, slots=True)
class Inks:
    """The colours of the desk around the map. Text pairs meet WCAG 2.2 AA."""

    #: Behind everything.
    room: str
    #: Strips, drawers and dialogs.
    panel: str
    #: Cards, fields and lists that stand on a panel.
    raised: str
    ink: str
    #: Second-rank text.
    quiet: str
    line: str
    #: Edges of fields and buttons: 3:1 against what they stand on.
    edge: str
    accent: str
    on_accent: str
    accent_soft: str
    #: Failing checks and hazards; used for nothing else.
    warn: str
    on_warn: str
    warn_soft: str
    focus: str


INKS = {
    "light": Inks(
        room="#e9e5da",
        panel="#f6f3ec",
        raised="#fffefb",
        ink="#20261f",
        quiet="#565d52",
        line="#d9d3c5",
        edge="#8b8877",
        accent="#2c664c",
        on_accent="#ffffff",
        accent_soft="#dce9e0",
        warn="#b4005f",
        on_warn="#ffffff",
        warn_soft="#fadfeb",
        focus="#1b5faa",
    ),
    "dark": Inks(
        room="#141714",
        panel="#1d221e",
        raised="#272d28",
        ink="#eceee7",
        quiet="#b0b8ac",
        line="#39413a",
        edge="#77827a",
        accent="#86cba5",
        on_accent="#0d2016",
        accent_soft="#2c4136",
        warn="#ff7dbb",
        on_warn="#2e0419",
        warn_soft="#4a1c34",
        focus="#8fbdf5",
    ),
}

SHEET = """
* { outline: none; }
QWidget { color: @ink@; }
QMainWindow, QDialog, QWidget#room { background: @room@; }
QDialog { background: @panel@; }
QWidget#strip, QWidget#drawer, QStackedWidget#pages { background: @panel@; }
QWidget#drawer { border: 0; }
QFrame#card, QFrame#toast, QFrame#guide, QFrame#ask {
  background: @raised@; border: 1px solid @line@; border-radius: 10px; }
QFrame#plate { background: @raised@; border: 1px solid @line@; border-radius: 8px; }
QFrame#notice { background: @accent_soft@; border-bottom: 1px solid @line@; }
QFrame#trouble { background: @raised@; border: 1px solid @edge@;
  border-left: 5px solid @accent@; border-radius: 6px; }
QFrame#readout { background: @raised@; border: 1px solid @line@; border-radius: 8px; }
QLabel#reading { font-weight: 600; }
QFrame#rule { background: @line@; max-height: 1px; min-height: 1px; border: 0; }
QLabel { background: transparent; }
QLabel#title { font-size: 15pt; font-weight: bold; }
QLabel#heading { font-size: 11pt; font-weight: bold; }
QLabel#quiet, QLabel#unit { color: @quiet@; }
QLabel#small { color: @quiet@; font-size: 8pt; }
QLabel#warn { color: @warn@; font-weight: bold; }
QLabel#badge { background: @accent_soft@; border-radius: 7px; padding: 1px 7px; }
QPushButton, QToolButton#button, QToolButton#choice {
  background: @raised@; border: 1px solid @edge@; border-radius: 6px; padding: 5px 12px;
  min-height: 18px; }
QToolButton#choice { min-height: 72px; }
QPushButton:hover, QToolButton#button:hover, QToolButton#choice:hover {
  background: @accent_soft@; }
QPushButton:pressed, QPushButton:checked { background: @accent_soft@; border-color: @accent@; }
QPushButton:disabled { color: @edge@; border-color: @line@; }
QPushButton#main { background: @accent@; color: @on_accent@; border-color: @accent@;
  font-weight: bold; }
QPushButton#main:hover { border-color: @ink@; }
QPushButton#main:disabled { background: @line@; color: @quiet@; border-color: @line@; }
QPushButton#link { background: transparent; border: 1px solid transparent; color: @accent@;
  padding: 3px 6px; text-align: left; }
QPushButton#link:hover { text-decoration: underline; }
QPushButton:focus, QToolButton:focus, QPushButton#link:focus { border: 2px solid @focus@; }
QToolButton { background: transparent; border: 1px solid transparent; border-radius: 6px;
  padding: 4px; }
QToolButton:hover { background: @accent_soft@; }
QToolButton:checked { background: @accent_soft@; border-color: @accent@; }
QToolButton#stageaction { padding: 6px 8px; text-align: left; border: 2px solid transparent; }
QToolButton#stageaction:focus { border: 2px solid @focus@; }
QToolButton#stageaction:disabled { color: @edge@; }
QToolButton::menu-indicator { image: none; }
QPushButton#askbox { color: @quiet@; text-align: left; border-radius: 14px; padding: 4px 14px; }
QTabWidget::pane { border: 0; border-top: 1px solid @line@; }
QTabBar::tab { background: transparent; color: @quiet@; padding: 6px 14px; border: 0;
  border-bottom: 2px solid transparent; }
QTabBar::tab:selected { color: @ink@; border-bottom: 2px solid @accent@; }
QTabBar::tab:focus { color: @focus@; }
QLineEdit, QPlainTextEdit, QTextEdit, QSpinBox, QDoubleSpinBox, QComboBox, QDateEdit {
  background: @raised@; border: 1px solid @edge@; border-radius: 5px; padding: 3px 6px;
  selection-background-color: @accent@; selection-color: @on_accent@; min-height: 18px; }
QLineEdit:focus, QPlainTextEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus, QComboBox:focus,
QDateEdit:focus { border: 2px solid @focus@; padding: 2px 5px; }
QLineEdit:read-only { background: @panel@; }
QLineEdit[wrong="true"], QPlainTextEdit[wrong="true"] { border: 2px solid @warn@; }
QComboBox::drop-down { border: 0; width: 20px; }
QComboBox::down-arrow { image: url("@arrow@"); width: 10px; height: 10px; }
QComboBox QAbstractItemView { background: @raised@; border: 1px solid @edge@;
  selection-background-color: @accent@; selection-color: @on_accent@; }
QCheckBox, QRadioButton { spacing: 7px; background: transparent; border: 2px solid transparent;
  border-radius: 4px; padding: 1px; }
QCheckBox:focus, QRadioButton:focus { border: 2px solid @focus@; }
QCheckBox::indicator, QListView::indicator, QRadioButton::indicator { width: 14px; height: 14px;
  border: 1px solid @edge@; border-radius: 3px; background: @raised@; }
QRadioButton::indicator { border-radius: 7px; }
QCheckBox::indicator:checked, QListView::indicator:checked { background: @accent@;
  border-color: @accent@; image: url("@tick@"); }
QRadioButton::indicator:checked { background: @accent@; border: 4px solid @raised@; }
QCheckBox::indicator:indeterminate { background: @edge@; }
QCheckBox::indicator:disabled, QListView::indicator:disabled { background: @panel@;
  border-color: @line@; }
QTableView, QListView, QTreeView { background: @raised@; alternate-background-color: @panel@;
  border: 1px solid @line@; border-radius: 6px; gridline-color: @line@;
  selection-background-color: @accent_soft@; selection-color: @ink@; }
QTableView:focus, QListView:focus, QTreeView:focus { border: 2px solid @focus@; }
QTableView::item, QListView::item, QTreeView::item { padding: 2px 5px; }
QHeaderView::section { background: @panel@; color: @quiet@; border: 0;
  border-bottom: 1px solid @line@; padding: 4px 6px; }
QTableCornerButton::section { background: @panel@; border: 0; }
QMenuBar { background: @panel@; }
QMenuBar::item { padding: 4px 9px; background: transparent; border-radius: 4px; }
QMenuBar::item:selected { background: @accent_soft@; }
QMenu { background: @raised@; border: 1px solid @edge@; padding: 4px; }
QMenu::item { padding: 5px 26px 5px 10px; border-radius: 4px; }
QMenu::item:selected { background: @accent_soft@; }
QMenu::item:disabled { color: @edge@; }
QMenu::separator { height: 1px; background: @line@; margin: 4px 8px; }
QMenu::icon { padding-left: 6px; }
QScrollArea, QScrollArea > QWidget > QWidget#inside { background: transparent; border: 0; }
QScrollBar:vertical { background: transparent; width: 11px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 11px; margin: 0; }
QScrollBar::handle { background: @edge@; border-radius: 4px; margin: 2px; min-height: 28px;
  min-width: 28px; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QSlider::groove:horizontal { height: 4px; background: @line@; border-radius: 2px; }
QSlider::sub-page:horizontal { background: @accent@; border-radius: 2px; }
QSlider::handle:horizontal { background: @accent@; border: 2px solid @raised@; width: 14px;
  height: 14px; margin: -7px 0; border-radius: 9px; }
QSlider:focus { border: 2px solid @focus@; border-radius: 6px; }
QProgressBar { background: @line@; border: 0; border-radius: 3px; max-height: 6px; }
QProgressBar::chunk { background: @accent@; border-radius: 3px; }
QSplitter::handle { background: @line@; }
QToolTip { background: @raised@; color: @ink@; border: 1px solid @edge@; padding: 4px 6px; }
QGroupBox { border: 1px solid @line@; border-radius: 8px; margin-top: 10px; padding: 8px; }
QGroupBox::title { subcontrol-origin: margin; left: 10px; padding: 0 4px; font-weight: bold; }
"""


def inks(theme: str) -> Inks:
    """Return the inks of a theme."""
    return INKS[theme]


def apply(app: QApplication, theme: str, *, family: str = "", points: float = 10.0) -> None:
    """Dress the whole application in a theme."""
    style = QStyleFactory.create("Fusion")
    if style is not None:
        app.setStyle(style)
    font = QFont(family) if family else QFont(app.font())
    font.setPointSizeF(points)
    app.setFont(font)
    app.setPalette(palette(theme))
    app.setStyleSheet(sheet(theme))


def sheet(theme: str) -> str:
    """Return the style sheet with a theme's inks written in."""
    text = SHEET
    for name, colour in asdict(inks(theme)).items():
        text = text.replace(f"@{name}@", colour)
    arrow = resources.path(f"icons/arrow-{theme}.svg").as_posix()
    tick = resources.path(f"icons/tick-{theme}.svg").as_posix()
    return text.replace("@arrow@", arrow).replace("@tick@", tick)


def palette(theme: str) -> QPalette:
    """Return the colours for what the style sheet leaves to the style."""
    ink = inks(theme)
    made = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, ink.panel),
        (role.WindowText, ink.ink),
        (role.Base, ink.raised),
        (role.AlternateBase, ink.panel),
        (role.Text, ink.ink),
        (role.Button, ink.raised),
        (role.ButtonText, ink.ink),
        (role.ToolTipBase, ink.raised),
        (role.ToolTipText, ink.ink),
        (role.PlaceholderText, ink.quiet),
        (role.Highlight, ink.accent),
        (role.HighlightedText, ink.on_accent),
        (role.Link, ink.accent),
        (role.Mid, ink.edge),
        (role.Midlight, ink.line),
    ):
        made.setColor(which, QColor(colour))
    off = QPalette.ColorGroup.Disabled
    for which in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(off, which, QColor(ink.edge))
    return made
