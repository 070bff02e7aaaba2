"""What goes into a run of rain on the land: ground, cover, storm, standing water, gauges."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.ground.excavation import Dugout
from canvas.ground.flow import flow
from canvas.ground.patch import Mask
from canvas.site.elements.swales import Swale
from canvas.site.records import changed
from canvas.site.storms import PONDS
from canvas.study.along_hill import soaking_mm_h
from canvas.study.rains.cells import WetGround, wet_ground
from canvas.study.storm.cover import CoverMap, Ground
from canvas.study.storm.design import DesignRain, record_of
from canvas.study.storm.travel import CHANNEL_M2, GULLY_N, SHEET_OF
from canvas.water.bed import Bed
from canvas.water.concentration import sheet_roughness
from canvas.water.gauges import LineGauge, PointGauge
from canvas.water.rainland import LandKind
from canvas.water.storms import Storm

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Ground kept round the site and what drains to it [m].
MARGIN_M = 20.0
#: Roughness under standing water; common practice, no source.
POND_N = 0.03
#: Shares of a pond's volume by the words of the design storm.
_SHARE = {key: share for (key, _), share in zip(PONDS, (1.0, 0.5, 0.0), strict=True)}


@dataclass(frozen=True, slots=True)
class RainChoice:
    """How a run is wanted; what is None or "" is as the design storm says."""

    #: Cell [m]; None: the ground's own.
    cell_m: float | None = None
    years: float | None = None
    depth_mm: float | None = None
    hours: float | None = None
    pattern: str = ""
    #: How full ponds are at the start: a key of `site.storms.PONDS`.
    ponds: str = ""
    #: Time the run goes on after the rain [h].
    after_h: float = 2.0
    #: The whole ground, not only what drains to the site.
    whole: bool = False
    #: Moments that are kept, the start and the end included.
    moments: int = 97


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """Everything a run reads."""

    choice: RainChoice
    bed: Bed
    wet: WetGround
    kinds: tuple[LandKind, ...]
    rain: DesignRain
    depth_m: Floats
    points: tuple[PointGauge, ...]
    lines: tuple[LineGauge, ...]
    #: Fingerprints of what the water depends on, by name.
    parts: dict[str, str]
    #: What to know before trusting it.
    remarks: tuple[str, ...]

    @property
    def storm(self) -> Storm:
        """The rain."""
        return self.rain.needed()

    @property
    def length_s(self) -> float:
        """How long the run is."""
        return self.storm.length_s + 3600.0 * self.choice.after_h

    @property
    def token(self) -> str:
        """Name of the run: the same inputs give the same."""
        return _hash([*self.parts.values(), self.choice.moments])


def setup(study: Study, choice: RainChoice) -> Setup:
    """Return what a run reads; `BadData` says what is missing."""
    ground, cover = study.designed(), study.cover()
    if ground is None or cover is None:
        raise BadData("there is no ground yet", remedy="Bring in a terrain model first.")
    rain = rain_of(study, choice)
    gauges = (*study.of_kind("gauge"), *study.of_kind("gauge_line"))
    bodies = tuple(study.of_kind("water_body"))
    bounds = tuple(study.of_kind("site_boundary"))
    inputs = (ground, cover, rain, *study.works(), *gauges, *bodies, *bounds)
    return study.same(("rain setup", choice), inputs, lambda: _made(study, choice, rain, cover))


def rain_of(study: Study, choice: RainChoice) -> DesignRain:
    """Return the design storm with what the choice sets otherwise; `BadData` without any."""
    set_ = {"years": choice.years, "depth_mm": choice.depth_mm, "hours": choice.hours,
            "pattern": choice.pattern or None}  # fmt: skip
    given: dict[str, Any] = {key: value for key, value in set_.items() if value is not None}
    if not given:
        found = study.design_storm()
    else:
        if "years" in given and "depth_mm" not in given:
            given["depth_mm"] = None
        record = changed(record_of(study), **given)

        def other() -> DesignRain:
            return study.preview(study.plan.with_(record)).design_storm()

        found = study.same(("rain of", choice), (study.design_storm(),), other)
    found.needed()
    return found


def _made(study: Study, choice: RainChoice, rain: DesignRain, cover: CoverMap) -> Setup:
    ground = study.designed()
    assert ground is not None
    wet = wet_ground(ground, choice.cell_m or ground.cell_m)
    remarks: list[str] = [*rain.remarks]
    inside = None if choice.whole else _contributing(study, wet.levels, remarks)
    if inside is not None:
        rows, cols = (slice(int(i.min()), int(i.max()) + 1) for i in np.nonzero(inside))
        wet = wet.window(rows, cols)
        z = np.where(inside[rows, cols], wet.levels.z, np.nan)
        wet = replace(wet, levels=wet.levels.like(z))
    kinds, kind, manning = _land(study, rain, cover, wet.levels)
    depth = _standing(study, choice.ponds or rain.record.ponds, wet)
    bed = Bed(wet.levels, manning, wet.faces, wet.share_east, wet.share_south, kind=kind)
    points, lines = _gauges(study, wet.levels, remarks)
    parts = {
        "ground": _hash([wet.levels.z, wet.levels.west_m, wet.levels.north_m, wet.levels.cell_m,
                         wet.faces.east_m, wet.faces.south_m, wet.share_east, wet.share_south]),
        "cover": _hash([kind, manning, *(v for k in kinds for v in asdict(k).values())]),
        "storm": _hash([rain.needed().time_s, rain.needed().fallen_mm, choice.after_h]),
        "standing water": _hash([depth]),
        "gauges": _hash([v for g in points for v in (g.key, g.x_m, g.y_m)]
                        + [v for line in lines for v in (line.key, line.xy_m)]),
    }  # fmt: skip
    return Setup(choice, bed, wet, kinds, rain, depth, points, lines, parts, tuple(remarks))


def _hash(values: Iterable[object]) -> str:
    made = hashlib.sha256()
    for value in values:
        if isinstance(value, np.ndarray):
            made.update(str(value.shape).encode() + np.ascontiguousarray(value).tobytes())
        else:
            made.update(repr(value).encode())
        made.update(b";")
    return made.hexdigest()[:16]


def _contributing(study: Study, levels: Grid, remarks: list[str]) -> Mask | None:
    """Return the cells that drain to the site, the site's own, and a margin; None for all."""
    outlines = [item.geometry for item in study.of_kind("site_boundary")]
    if not outlines:
        return None
    site = shapely.union_all(outlines)
    found = study.catchment(site, designed=True)
    if found.at_least:
        remarks.append("water may come from beyond the ground data: everything is at least")
    mask, base = found.mask(), found.flow.ground
    drained = mask[np.ix_(*_like(base, levels))]
    drained |= _inside(levels, site)
    from scipy.ndimage import binary_dilation

    wide = max(round(MARGIN_M / levels.cell_m), 1)
    return np.asarray(binary_dilation(drained, iterations=wide) & np.isfinite(levels.z))


def _like(base: Grid, cells: Grid) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the base rows and columns under the middles of other cells."""
    row = np.clip(((base.north_m - cells.y_m()) / base.cell_m).astype(int), 0, base.shape[0] - 1)
    col = np.clip(((cells.x_m() - base.west_m) / base.cell_m).astype(int), 0, base.shape[1] - 1)
    return row, col


def _inside(cells: Grid, shape: BaseGeometry) -> Mask:
    """Return which cells' middles lie in a shape."""
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    shapely.prepare(shape)
    return np.asarray(shapely.contains_xy(shape, x, y))


def _land(
    study: Study, rain: DesignRain, cover: CoverMap, cells: Grid
) -> tuple[tuple[LandKind, ...], NDArray[np.int16], Floats]:
    """Return what becomes of rain, by kind and cell, and the roughness."""
    code = cover.code[np.ix_(*_like(cover.grid, cells))]
    known, which = np.unique(code, return_inverse=True)
    kind: NDArray[np.int16] = np.asarray(which.reshape(code.shape), np.int16)
    whats = [Ground.of(int(each)) for each in known]
    kinds = [LandKind(what.label, what.number(rain.moisture)) for what in whats]
    rough = sheet_roughness()
    n = np.array([POND_N if w.cover == "water" else rough[SHEET_OF.get(w.cover, "natural range")]
                  for w in whats])  # fmt: skip
    manning = n[kind]
    found = study.flow(designed=True)
    if found is not None:
        drained = (found.count * found.ground.cell_m**2)[np.ix_(*_like(found.ground, cells))]
        manning = np.where((drained >= CHANNEL_M2) & (manning > GULLY_N), GULLY_N, manning)
    for work in study.works():
        item = study.plan.get(work.ident)
        for patch in work.patches:
            # Channels and spillways run deeper than a sheet among the grass.
            if patch.lines:
                core = patch.levels.like(np.where(patch.core, 1.0, np.nan))
                here = _under(core, cells)
                manning[here] = np.minimum(manning[here], GULLY_N)
        if not isinstance(item, Swale):
            continue
        rate, _, _ = soaking_mm_h(item, study)
        for patch in work.patches:
            if patch.full is not None:
                kinds.append(LandKind(f"Swale {item.name}".strip(), 100.0, rate))
                kind[_under(patch.full, cells)] = len(kinds) - 1
    return tuple(kinds), kind, np.asarray(manning, np.float64)


def _under(full: Grid, cells: Grid) -> Mask:
    """Return which cells' middles lie where a finer grid has a value."""
    x, y = cells.x_m(), cells.y_m()
    row = np.floor((full.north_m - y) / full.cell_m).astype(int)
    col = np.floor((x - full.west_m) / full.cell_m).astype(int)
    there = np.zeros(cells.shape, np.bool_)
    rows = np.flatnonzero((row >= 0) & (row < full.shape[0]))
    cols = np.flatnonzero((col >= 0) & (col < full.shape[1]))
    there[np.ix_(rows, cols)] = np.isfinite(full.z[np.ix_(row[rows], col[cols])])
    return there


def _standing(study: Study, ponds: str, wet: WetGround) -> Floats:
    """Return the depth of water that stands in ponds at the start [m]."""
    share, cells = _SHARE[ponds], wet.levels
    depth = np.zeros(cells.shape)
    if share <= 0.0:
        return depth
    for work in study.works():
        water = work.thing.water if isinstance(work.thing, Dugout) else None
        pond = getattr(work.thing, "pond", None)
        water = pond.water if pond is not None else water
        if water is None or not water.wet.any():
            continue
        level = water.level_m
        if share < 1.0:
            stored = water.storage()
            level = stored.level_for(share * float(stored.volume_m3[-1]))
        here = _inside(cells, water.edge().buffer(cells.cell_m / 2))
        depth = np.maximum(depth, np.where(here, level - cells.z, 0.0))
    bodies = [item.geometry for item in study.of_kind("water_body")]
    if bodies:
        # Water there already stands in the survey's hollows, to where they spill.
        hollows = flow(cells, wet.faces).depth_m().z
        here = _inside(cells, shapely.union_all(bodies).buffer(cells.cell_m))
        depth = np.maximum(depth, np.where(here, share * np.nan_to_num(hollows), 0.0))
    return np.where(np.isfinite(cells.z), np.maximum(np.nan_to_num(depth), 0.0), 0.0)


def _gauges(
    study: Study, cells: Grid, remarks: list[str]
) -> tuple[tuple[PointGauge, ...], tuple[LineGauge, ...]]:
    points, lines = [], []
    for item in study.of_kind("gauge"):
        x, y = shapely.get_coordinates(item.geometry)[0]
        cell = cells.cell_at(float(x), float(y))
        if cell is None or not np.isfinite(cells.z[cell]):
            remarks.append(f"gauge {item.name or 'without a name'} stands outside the run")
            continue
        points.append(PointGauge(item.id, float(x), float(y), item.name))
    for item in study.of_kind("gauge_line"):
        lines.append(LineGauge(item.id, shapely.get_coordinates(item.geometry), item.name))
    return tuple(points), tuple(lines)
