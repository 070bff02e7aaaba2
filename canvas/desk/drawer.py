"""The sheet of paper that rises from below: the open page, and a section beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QSplitter,
    QSplitterHandle,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from canvas.desk.bench import Bench
from canvas.desk.icons import pixmap
from canvas.desk.parts import icon_button, label, rule
from canvas.desk.theme import inks

#: How far the sheet rises at first: a share of the height, but so many pixels at least.
RISE_SHARE = 0.36
LEAST_RISE = 276
GRIP = 9
#: What the map keeps of the height, whatever a page asks for.
LEAST_ROOM = 404


class Page(QWidget):
    """One page of pictures and tables. Subclasses say what they are and how they refresh."""

    key = ""
    title = ""
    icon = ""
    about = ""
    #: "main" takes the sheet's first leaf, "beside" the second.
    place = "main"
    #: Share of the height it wants to be read at; 0 for what the sheet has.
    rise = 0.0

    def refresh(self) -> None:
        """Show the bench as it is now; called only while the page is open."""

    def closed(self) -> None:
        """Take back what the page did to the map."""

    def tools(self) -> Sequence[QWidget]:
        """Return the controls that stand in the page's head, after its title."""
        return ()


class Drawer(QWidget):
    """A leaf of the sheet: holds one open page; pages are made when first opened."""

    closed = Signal()
    opened = Signal()

    def __init__(self, bench: Bench, makers: Mapping[str, Callable[[], Page]]) -> None:
        super().__init__()
        self._bench = bench
        self._makers = makers
        self._pages: dict[str, Page] = {}
        self._tools: dict[str, QWidget] = {}
        self.setObjectName("drawer")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._sign = QLabel()
        self._title = label("", "heading", wrap=False)
        self._close = icon_button("close", "Close the page", self.shut, bench.theme)
        self._head = QHBoxLayout()
        self._head.setContentsMargins(12, 1, 6, 3)
        self._head.setSpacing(8)
        self._head.addWidget(self._sign)
        self._head.addWidget(self._title)
        self._head.addSpacing(10)
        self._head.addStretch(1)
        self._head.addWidget(self._close)
        self._stack = QStackedWidget()
        self._stack.setObjectName("pages")
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(0)
        box.addLayout(self._head)
        box.addWidget(rule())
        box.addWidget(self._stack, 1)
        for signal in (bench.study_changed, bench.theme_changed, bench.selection_changed,
                       bench.look_changed, bench.site_changed):  # fmt: skip
            signal.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self.refresh())
        self.hide()

    def minimumSizeHint(self) -> QSize:
        """Let the map have the room: pages make do with a low sheet."""
        return QSize(360, 150)

    @property
    def key(self) -> str:
        """The open page's key; "" while shut."""
        page = self.page
        return page.key if page is not None else ""

    @property
    def page(self) -> Page | None:
        """The open page."""
        if self.isHidden():
            return None
        current = self._stack.currentWidget()
        return current if isinstance(current, Page) else None

    def open(self, key: str) -> Page:
        """Open a page."""
        before = self.page
        if before is not None and before.key != key:
            before.closed()
        page = self._pages.get(key)
        if page is None:
            page = self._pages[key] = self._makers[key]()
            self._stack.addWidget(page)
            self._tools[key] = self._toolbar(page)
        self._stack.setCurrentWidget(page)
        for each, tools in self._tools.items():
            tools.setVisible(each == key)
        self._title.setText(page.title)
        self._title.setToolTip(page.about)
        self.setAccessibleName(page.title)
        self.show()
        self.opened.emit()
        self.refresh()
        return page

    def _toolbar(self, page: Page) -> QWidget:
        made = QWidget()
        line = QHBoxLayout(made)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        for tool in page.tools():
            line.addWidget(tool)
        line.addStretch(1)
        self._head.insertWidget(3, made, 1)
        return made

    def shut(self) -> None:
        """Close the page."""
        page = self.page
        self.hide()
        if page is not None:
            page.closed()
        self.closed.emit()

    def forget(self) -> None:
        """Close, and let every page be made anew: another site is on the bench."""
        self.shut()
        for page in (*self._pages.values(), *self._tools.values()):
            page.hide()
            page.deleteLater()
        for page in self._pages.values():
            self._stack.removeWidget(page)
        for tools in self._tools.values():
            self._head.removeWidget(tools)
        self._pages.clear()
        self._tools.clear()

    def refresh(self) -> None:
        """Let the open page show the bench as it is."""
        page = self.page
        if page is None:
            return
        ink = inks(self._bench.theme)
        self._sign.setPixmap(pixmap(page.icon, 18, ink.quiet, self.devicePixelRatioF()))
        page.refresh()


class Sheet(QSplitter):
    """Both leaves side by side; gone while neither holds a page."""

    #: The share of the height the open pages want; 0 when none asks for more than there is.
    wants = Signal(float)

    def __init__(self, *leaves: Drawer) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self.setObjectName("sheet")
        self.setChildrenCollapsible(False)
        self.setHandleWidth(1)
        self._leaves = leaves
        for leaf in leaves:
            self.addWidget(leaf)
            leaf.opened.connect(self._follow)
            leaf.closed.connect(self._follow)
        self.setSizes([1000] * len(leaves))
        self.hide()

    def _follow(self) -> None:
        self.setVisible(any(not leaf.isHidden() for leaf in self._leaves))
        self.wants.emit(max((leaf.page.rise for leaf in self._leaves if leaf.page), default=0.0))


class Rise(QSplitter):
    """The map, and the sheet that is pulled up over its foot."""

    def __init__(self, bench: Bench, above: QWidget, below: Sheet) -> None:
        super().__init__(Qt.Orientation.Vertical)
        self._bench = bench
        self.setObjectName("rise")
        self.setChildrenCollapsible(False)
        self.setHandleWidth(GRIP)
        self.addWidget(above)
        self.addWidget(below)
        self.setStretchFactor(0, 1)
        self.setStretchFactor(1, 0)
        self._risen = False
        #: How high the sheet stood before a page asked for more.
        self._before = 0
        below.installEventFilter(self)
        below.wants.connect(self._raise)

    def _raise(self, share: float) -> None:
        """Lift the sheet for a page that is read standing higher, and lower it after that."""
        now = self.sizes()[1]
        if share and not self._before:
            wanted = min(round(self.height() * share), self.height() - GRIP - LEAST_ROOM)
            if wanted > now:
                self._before = now
                self.setSizes([self.height() - wanted - GRIP, wanted])
        elif not share and self._before:
            self.setSizes([self.height() - self._before - GRIP, self._before])
            self._before = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Rise to a good height the first time; after that, to where it was pulled."""
        if event.type() == QEvent.Type.Show and not self._risen and self.height() > LEAST_RISE:
            self._risen = True
            rise = max(round(self.height() * RISE_SHARE), LEAST_RISE)
            self.setSizes([self.height() - rise - GRIP, rise])
        return super().eventFilter(watched, event)

    def createHandle(self) -> QSplitterHandle:
        """Make the edge the sheet is pulled by."""
        return Grip(self, self._bench)


class Grip(QSplitterHandle):
    """The upper edge of the sheet, with a mark to take hold of."""

    def __init__(self, rise: QSplitter, bench: Bench) -> None:
        super().__init__(Qt.Orientation.Vertical, rise)
        self._bench = bench
        self.setToolTip("Pull the sheet up or down")
        self.setAccessibleName("Edge of the sheet")

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the edge of the paper and the hold."""
        ink = inks(self._bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(ink.panel))
        painter.setPen(QPen(QColor(ink.line), 1))
        painter.drawLine(QPointF(0, 0.5), QPointF(self.width(), 0.5))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.accent if self.underMouse() else ink.edge))
        painter.drawRoundedRect(QRectF(self.width() / 2 - 22, 3, 44, 4), 2, 2)
        painter.end()
