"""Pictures of the storm on its page: the chain of stores, and flow over time."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent

from canvas.desk.bench import Bench
from canvas.desk.charts import LETTERS_MM, MM_PER_INCH, ChartFigure, Figure
from canvas.drawing.chain_diagram import Diagram, chain_diagram
from canvas.drawing.chart import Chart
from canvas.drawing.entries import Layer, Page
from canvas.drawing.flow_chart import flow_chart
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.paint.view import View
from canvas.study.storm.chain import Chain


class ChainFigure(Figure):
    """The chain as a diagram. A click, or the arrow keys, choose a store."""

    def __init__(self, bench: Bench, chosen: Callable[[str], None]) -> None:
        super().__init__(bench)
        self.setAccessibleName("The chain of stores")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumHeight(120)
        self._chosen = chosen
        self._chain: Chain | None = None
        self._ident = ""
        self.diagram: Diagram | None = None

    @property
    def mm_px(self) -> float:
        """Pixels to a millimetre on this screen."""
        return self.logicalDpiX() / MM_PER_INCH

    def show_chain(self, chain: Chain | None, ident: str) -> None:
        """Show a chain, one of its stores chosen."""
        self._chain, self._ident = chain, ident
        self._fit()
        if chain is not None:
            self.setAccessibleDescription("; ".join(
                f"{chain.network.nodes[i].label}, {chain.fill_said(i)}" for i in chain.order
            ))  # fmt: skip
        self.update()

    def _fit(self) -> None:
        """Ask for the height the diagram needs at this width."""
        self.diagram = None
        if self._chain is None or self._chain.run is None or self.width() < 40:
            return
        units = self._bench.units
        width, height = self.width() / self.mm_px, 40.0
        made = chain_diagram(self._chain, width, height, LETTERS_MM, units, self._ident)
        self.diagram = made
        wanted = round(made.height_mm * self.mm_px) + 2
        if wanted != self.minimumHeight():
            self.setFixedHeight(wanted)

    def sizeHint(self) -> QSize:
        """Ask for a broad picture."""
        return QSize(520, max(self.minimumHeight(), 160))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay the diagram out for the new width."""
        super().resizeEvent(event)
        self._fit()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the diagram."""
        made = self.diagram
        if made is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        layer = Layer("chain", self.accessibleName(), made.entries)
        view = View.page(Page(made.width_mm, made.height_mm), self.mm_px, vector=False)
        paint_layers(painter, (layer,), view, PALETTES[self._bench.theme])
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the store under the pointer."""
        made = self.diagram
        if made is not None:
            spot = event.position() / self.mm_px
            ident = made.at(spot.x(), made.height_mm - spot.y())
            if ident:
                self._chosen(ident)
        super().mousePressEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Step from store to store in the order water meets them."""
        steps = {Qt.Key.Key_Down: 1, Qt.Key.Key_Right: 1, Qt.Key.Key_Up: -1, Qt.Key.Key_Left: -1}
        step = steps.get(Qt.Key(event.key()))
        if step is None or self.diagram is None:
            super().keyPressEvent(event)
            return
        idents = list(self.diagram.boxes)
        at = idents.index(self._ident) if self._ident in idents else -step
        self._chosen(idents[max(0, min(at + step, len(idents) - 1))])


class FlowFigure(ChartFigure):
    """What comes to a store and what it spills, over time."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench, "Flow over time")
        self.setMinimumHeight(150)
        self._chain: Chain | None = None
        self._ident = ""

    def sizeHint(self) -> QSize:
        """Ask for a low picture."""
        return QSize(360, 170)

    def show_flow(self, chain: Chain | None, ident: str) -> None:
        """Show a store's hydrographs."""
        self._chain, self._ident = chain, ident
        self.update()

    def made(self, width_mm: float, height_mm: float) -> Chart | None:
        """Return the hydrographs as a chart."""
        if self._chain is None or not self._ident:
            return None
        return flow_chart(
            self._chain, self._ident, width_mm, height_mm, self._bench.units, LETTERS_MM
        )
