"""Keeps the tools' world in step with the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError
from PySide6.QtCore import QLocale, QObject, Signal
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.grid import Bounds
from canvas.desk.bench import Bench
from canvas.exchange.geotiff import picture_frame
from canvas.site.facts import Picture, Site
from canvas.site.plan import Plan
from canvas.site.records import Element, kind_of
from canvas.tools.index import bounds_of
from canvas.tools.world import ToolWorld

NO_SITE = Plan([Site()])
#: Half the width shown of a site that holds nothing [m].
EMPTY_M = 100.0


class WorldKeeper(QObject):
    """Holds the one `ToolWorld` every tool of a map works in."""

    changed = Signal()

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._bench = bench
        comma = QLocale().decimalPoint() == ","
        self.world = ToolWorld(NO_SITE, choose=self._choose, decimal_comma=comma)
        self.world.shown = self._shown
        self.selected: Sequence[Element] = ()
        #: Elements changed since the still picture was painted, as they are now.
        self.fresh: Sequence[Element] = ()
        self._fresh: dict[str, int] = {}
        bench.site_changed.connect(self._opened)
        bench.plan_changed.connect(self._edited)
        bench.study_changed.connect(self._studied)
        bench.selection_changed.connect(self._selected)
        bench.look_changed.connect(self.world.refresh)
        self._opened()

    def showed(self, revision: int, contours: tuple[BaseGeometry, ...]) -> None:
        """Take note of what the still picture shows now."""
        self.world.contours = contours
        if self._fresh:
            self._fresh = {k: made for k, made in self._fresh.items() if made > revision}
            self._gather()

    def _opened(self) -> None:
        self.world.plan = self._bench.plan or NO_SITE
        self.world.study, self.world.heights = None, None
        self.world.contours = ()
        self._fresh.clear()
        self._gather()
        self._studied()
        self._selected()

    def _edited(self, touched: object) -> None:
        plan, session = self._bench.plan, self._bench.session
        if plan is None or session is None:
            return
        self.world.plan = plan
        ids: frozenset[str] = touched.ids  # type: ignore[attr-defined]
        self._fresh |= dict.fromkeys(ids, session.revision)
        self._gather()
        self._selected()

    def _studied(self) -> None:
        study = self._bench.study
        self.world.study = study
        grid = study.land.grid if study is not None else None
        self.world.heights = grid.sample if grid is not None else None
        self.world.refresh()

    def _selected(self) -> None:
        self.world.selection = self._bench.selection
        self.selected = self.world.selected()
        self.changed.emit()

    def _gather(self) -> None:
        found = (self.world.plan.get(ident) for ident in self._fresh)
        self.fresh = [item for item in found if isinstance(item, Element)]

    def _choose(self, ids: frozenset[str], how: str) -> None:
        self._bench.select(ids, how)

    def _shown(self, item: Element) -> bool:
        look, study = self._bench.look, self._bench.study
        if kind_of(item).key in look.hidden_kinds or item.phase in look.hidden_phases:
            return False
        return item.status != "proposed" or study is None or study.stands(item)


def site_bounds(bench: Bench) -> Bounds | None:
    """Return what "the whole site" is: boundaries, else what is ours, all drawn, ground."""
    plan, session = bench.plan, bench.session
    if plan is None or session is None:
        return None
    outlines = [
        item.geometry for item in plan.of_kind("site_boundary") if isinstance(item, Element)
    ]
    ours = [item.geometry for item in plan.elements() if item.owner == "ours"]
    found = bounds_of(outlines or ours or [item.geometry for item in plan.elements()])
    if found is not None:
        return found
    boxes: list[BaseGeometry] = []
    for picture in plan.of(Picture):
        try:
            boxes.append(shapely.box(*picture_frame(session.path_of(picture.file))[0]))
        except UserError:
            # A missing picture is reported where sites are opened; the view does without.
            continue
    if bench.study is not None and bench.study.land.grid is not None:
        boxes.append(shapely.box(*bench.study.land.grid.bounds))
    return bounds_of(boxes)


def empty_bounds(bench: Bench) -> Bounds | None:
    """Return where to look while a site holds nothing: the middle of where its CRS is meant for."""
    plan = bench.plan
    if plan is None:
        return None
    try:
        crs = CRS.from_user_input(plan.site.crs)
        use = crs.area_of_use
        if use is None:
            return None
        carry = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
        x, y = carry.transform((use.west + use.east) / 2, (use.south + use.north) / 2)
    except ProjError:
        return None
    if not (math.isfinite(x) and math.isfinite(y)):
        return None
    return x - EMPTY_M, y - EMPTY_M, x + EMPTY_M, y + EMPTY_M
