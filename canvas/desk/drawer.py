"""The drawer: the open page, beside or below the map, as large as the person pulls it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from canvas.desk.bench import Bench
from canvas.desk.icons import pixmap
from canvas.desk.parts import icon_button, label, rule
from canvas.desk.theme import inks


class Page(QWidget):
    """One page of pictures and tables. Subclasses say what they are and how they refresh."""

    key = ""
    title = ""
    icon = ""
    about = ""
    #: "side" stands beside the map, "foot" below it.
    place = "side"

    def refresh(self) -> None:
        """Show the bench as it is now; called only while the page is open."""

    def closed(self) -> None:
        """Take back what the page did to the map."""


class Drawer(QWidget):
    """Holds one open page; pages are made when first opened."""

    closed = Signal()

    def __init__(self, bench: Bench, makers: Mapping[str, Callable[[], Page]]) -> None:
        super().__init__()
        self._bench = bench
        self._makers = makers
        self._pages: dict[str, Page] = {}
        self.setObjectName("drawer")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._sign = QLabel()
        self._title = label("", "heading", wrap=False)
        self._close = icon_button("close", "Close the page", self.shut, bench.theme)
        head = QHBoxLayout()
        head.setContentsMargins(12, 6, 6, 4)
        head.setSpacing(8)
        head.addWidget(self._sign)
        head.addWidget(self._title, 1)
        head.addWidget(self._close)
        self._stack = QStackedWidget()
        self._stack.setObjectName("pages")
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(0)
        box.addLayout(head)
        box.addWidget(rule())
        box.addWidget(self._stack, 1)
        for signal in (bench.study_changed, bench.theme_changed, bench.selection_changed,
                       bench.look_changed, bench.site_changed):  # fmt: skip
            signal.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self.refresh())
        self.hide()

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
        self._stack.setCurrentWidget(page)
        self._title.setText(page.title)
        self._title.setToolTip(page.about)
        self.setAccessibleName(page.title)
        self.show()
        self.refresh()
        return page

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
        for page in self._pages.values():
            self._stack.removeWidget(page)
            page.deleteLater()
        self._pages.clear()

    def refresh(self) -> None:
        """Let the open page show the bench as it is."""
        page = self.page
        if page is None:
            return
        ink = inks(self._bench.theme)
        self._sign.setPixmap(pixmap(page.icon, 18, ink.quiet, self.devicePixelRatioF()))
        page.refresh()
