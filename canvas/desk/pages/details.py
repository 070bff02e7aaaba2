"""Details of the selected work: its sections, curves and dimensions, also while it is dragged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from canvas.desk.bench import Bench
from canvas.desk.charts import MM_PER_INCH, Figure
from canvas.desk.drawer import Page
from canvas.desk.parts import heading, quiet
from canvas.desk.tiles import Tiles, holding, spread
from canvas.drawing.details.registry import Detail, caption, details, has_details
from canvas.drawing.entries import Layer
from canvas.drawing.entries import Page as Paper
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.paint.view import View

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: More works than this are not drawn at once.
MOST = 6
WHAT = (
    "Choose a platform, terrace, track, swale, drain, dam, pond, culvert, pit or gauge on the map: "
    "its sections stand here, also while you drag it."
)


class DetailFigure(Figure):
    """One detail at its own size, made smaller where the page is narrower."""

    def __init__(self, bench: Bench, detail: Detail) -> None:
        super().__init__(bench)
        self.detail = detail
        self.setAccessibleName(detail.title)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def _mm_px(self) -> float:
        return self.logicalDpiX() / MM_PER_INCH

    @property
    def _fit(self) -> float:
        """Pixels to a millimetre of the detail."""
        return min(self._mm_px, self.width() / max(self.detail.width_mm, 1.0))

    def sizeHint(self) -> QSize:
        """Ask for the detail's own size."""
        wide, high = self.detail.width_mm, self.detail.height_mm
        return QSize(round(wide * self._mm_px), round(high * self._mm_px))

    def hasHeightForWidth(self) -> bool:
        """Whether the height follows from the width."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height at which nothing is cut off."""
        fit = min(self._mm_px, width / max(self.detail.width_mm, 1.0))
        return round(self.detail.height_mm * fit) + 1

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the detail from the upper left."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        layer = Layer("detail", self.detail.title, self.detail.entries)
        paper = Paper(self.detail.width_mm, self.detail.height_mm)
        view = View.page(paper, self._fit, vector=False)
        paint_layers(painter, (layer,), view, PALETTES[self._bench.theme])
        painter.end()


class DetailsPage(Page):
    """The details of what is selected, drawn by the same hand as on paper."""

    key = "details"
    title = "Sections of the works"
    icon = "section"
    about = "Sections with dimensions, storage curves and records of what is selected"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Sections of the works")
        self._asked: object = None
        self._tiles = Tiles(330)
        spread(self, (self._tiles, 1))
        desk.map.previews.changed.connect(self._previewed)
        self._show((), WHAT)

    def tools(self) -> Sequence[QWidget]:
        """Nothing but the drawings."""
        return ()

    def refresh(self) -> None:
        """Ask again when the plan or the selection has changed."""
        bench = self._desk.bench
        study = bench.study
        self._desk.map.previews.sections = True
        if study is None:
            self._show((), WHAT)
            return
        chosen = [item for item in bench.selected() if has_details(item)]
        token = (study, tuple(item.id for item in chosen), bench.units)
        if token == self._asked:
            return
        self._asked = token
        if not chosen or len(chosen) > MOST:
            told = WHAT if not chosen else f"Choose up to {MOST} works at once."
            self._lane.drop()
            self._show((), told)
            return

        def work(_progress: Any) -> list[tuple[str, Detail]]:
            known = [item for item in chosen if study.plan.get(item.id) is not None]
            return [(caption(item, each), each) for item in known for each in details(item, study)]

        self._lane.ask(work, lambda got: self._show(tuple(got), "It cannot be built so."))

    def closed(self) -> None:
        """Stop asking for sections while something is dragged."""
        self._desk.map.previews.sections = False
        self._asked = None

    def _previewed(self) -> None:
        """Show the sections of what is in hand."""
        latest = self._desk.map.previews.latest
        if self.isVisible() and latest.details:
            item = latest.elements[0]
            self._show(tuple((caption(item, each), each) for each in latest.details), "")
            self._asked = None

    def _show(self, found: tuple[tuple[str, Detail], ...], told: str) -> None:
        if not found:
            # The tiles throw away what they showed: words are written anew.
            self._tiles.show_parts([(holding(quiet(told)), True)])
            return
        parts = []
        for words, detail in found:
            title = heading(words)
            wide = detail.width_mm > 110
            parts.append((holding(title, DetailFigure(self._desk.bench, detail)), wide))
        self._tiles.show_parts(parts)
