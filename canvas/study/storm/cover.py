"""What lies on the ground, cell by cell, and the curve numbers that follow from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.excavation import Dugout
from canvas.ground.flood import Ints
from canvas.ground.profile import coverage
from canvas.site.elements.cover import GroundCover
from canvas.site.storms import CONDITIONS, COVERS, GROUPS
from canvas.study.pits import nearest_pit
from canvas.study.storm.design import record_of
from canvas.water.runoff import Condition, Moisture, Patch, SoilGroup, adjusted, covers

if TYPE_CHECKING:
    from canvas.study.scene import Scene
    from canvas.study.study import Study

KEYS = tuple(key for key, _ in COVERS)
_GROUPS = tuple(key for key, _ in GROUPS)
_CONDITIONS = tuple(key for key, _ in CONDITIONS)
_WATER = KEYS.index("water")

#: What existing vegetation means for runoff; reeds stand for the wet ground they grow on.
OF_VEGETATION = {
    "grass": "pasture", "scrub": "brush", "woodland": "woods", "forest": "woods",
    "reeds": "meadow", "crop": "row_crop", "bare": "bare",
}  # fmt: skip
OF_SURFACE = {"earth": "dirt_road", "gravel": "gravel_road", "sealed": "paved", "grass": "pasture"}
#: Kinds that say what lies on the ground, the later over the earlier.
COVER_KINDS = (
    "vegetation", "ground_cover", "track", "public_road", "building", "water_body",
)  # fmt: skip
#: A ground cover's group when test pits are to tell it.
FROM_PIT = "pit"


@dataclass(frozen=True, slots=True)
class Ground:
    """One cover on one soil group in one condition."""

    cover: str
    group: str
    condition: str

    @classmethod
    def of(cls, code: int) -> Ground:
        """Return what a cell's code means."""
        rest, condition = divmod(code, len(_CONDITIONS))
        cover, group = divmod(rest, len(_GROUPS))
        return cls(KEYS[cover], _GROUPS[group], _CONDITIONS[condition])

    @property
    def label(self) -> str:
        """What it is, for people."""
        told = covers()[self.cover]
        where = f", {self.condition}" if told.conditions else ""
        return f"{told.label}{where}, soil group {self.group}"

    def number(self, moisture: Moisture) -> float:
        """Return the curve number; where a group lacks one, the next wetter group's stands in."""
        table, first = covers()[self.cover], _GROUPS.index(self.group)
        for group in _GROUPS[first:]:
            try:
                cn = table.number(SoilGroup(group), Condition(self.condition))
            except InputError:
                continue
            # Where the table gives less than 30, 30 is to be used; 100 is open water.
            return min(adjusted(max(cn, 30.0), moisture), 100.0)
        raise InputError(f"no curve number for {self.cover}")


@dataclass(frozen=True, eq=False)
class CoverMap:
    """The code of each cell of the ground, see `Ground.of`."""

    grid: Grid
    code: NDArray[np.int16]

    def patches(
        self, cells: Ints | NDArray[np.int64], moisture: Moisture
    ) -> tuple[tuple[Ground, Patch], ...]:
        """Return what lies on some cells, each cover with its area and curve number."""
        counts = np.bincount(self.code.ravel()[cells])
        area = self.grid.cell_m**2
        found = []
        for code in np.flatnonzero(counts):
            what = Ground.of(int(code))
            patch = Patch(float(counts[code]) * area, what.number(moisture), what.label)
            found.append((what, patch))
        return tuple(found)

    def by_mark(self, met: Ints, moisture: Moisture, most: int) -> list[tuple[Patch, ...]]:
        """Return the patches of the cells of each mark from 0 to `most`."""
        codes = len(KEYS) * len(_GROUPS) * len(_CONDITIONS)
        both = met.ravel().astype(np.int64) * codes + self.code.ravel()
        known = np.isfinite(self.grid.z).ravel()
        counts = np.bincount(both[known], minlength=(most + 1) * codes)
        counts = counts.reshape(-1, codes)
        area = self.grid.cell_m**2
        return [
            tuple(
                Patch(float(row[code]) * area, what.number(moisture), what.label)
                for code in np.flatnonzero(row)
                for what in (Ground.of(int(code)),)
            )
            for row in counts
        ]

    @cached_property
    def share(self) -> dict[str, float]:
        """Return the share of the known ground under each cover, by label."""
        known = np.isfinite(self.grid.z).ravel()
        counts = np.bincount(self.code.ravel()[known])
        total = max(int(counts.sum()), 1)
        return {
            Ground.of(int(code)).label: float(counts[code]) / total
            for code in np.flatnonzero(counts)
        }


def cover_map(study: Study) -> CoverMap | None:
    """Return what lies on the ground, designed water included; None without a ground."""
    drawn = study.remember("drawn cover", lambda: _drawn(study))
    if drawn is None:
        return None
    if study.passing:
        # While something is dragged the water lies where it lay: shaping all works takes long.
        known: CoverMap | None = study.last("cover")
        return known if known is not None else drawn
    waters = [work.thing for work in study.works()]

    def laid() -> CoverMap:
        edges = [edge for thing in waters if (edge := _water(thing)) is not None]
        if not edges:
            return drawn
        code = drawn.code.copy()
        for edge in edges:
            _paint(drawn.grid, code, edge, cover=_WATER)
        return CoverMap(drawn.grid, code)

    return study.same("cover", (drawn, *waters), laid)


def _water(thing: object) -> BaseGeometry | None:
    """Return the full water of a pond; swales are dry when the rain starts."""
    if isinstance(thing, Dugout):
        return thing.water.edge()
    pond = getattr(thing, "pond", None)
    return pond.water.edge() if pond is not None else None


def _drawn(study: Study) -> CoverMap | None:
    study.note_land()
    grid = study.land.grid
    if grid is None:
        return None
    storm = record_of(study)
    whole = (KEYS.index(storm.cover) * len(_GROUPS) + _GROUPS.index(storm.group)) * len(
        _CONDITIONS
    ) + _CONDITIONS.index(storm.condition)
    code = np.full(grid.shape, whole, np.int16)
    for kind in COVER_KINDS:
        for item in study.of_kind(kind):
            shape, fields = _covers(item, study)
            if shape is not None:
                _paint(grid, code, shape, **fields)
    return CoverMap(grid, code)


def group_of(item: GroundCover, scene: Scene) -> str:
    """Return a ground cover's soil group: its own, the nearest pit's, or "" where none is near."""
    if item.group != FROM_PIT:
        return item.group
    near = nearest_pit(item.geometry, scene)
    return str(near.pit.group[0]) if near is not None and near.pit.group is not None else ""


def _covers(item: object, scene: Scene) -> tuple[BaseGeometry | None, dict[str, int]]:
    """Return the ground an element covers, and what it makes of it."""
    key, shape = item.kind_key, item.geometry  # type: ignore[attr-defined]
    field = getattr
    if key == "ground_cover":
        group = group_of(item, scene)  # type: ignore[arg-type]
        return shape, {
            "cover": KEYS.index(field(item, "cover")),
            # With no pit near, what holds for the whole site.
            **({"group": _GROUPS.index(group)} if group else {}),
            "condition": _CONDITIONS.index(field(item, "condition")),
        }
    if key == "vegetation":
        return shape, {"cover": KEYS.index(OF_VEGETATION[field(item, "cover")])}
    if key in ("track", "public_road"):
        cover = OF_SURFACE[field(item, "surface")]
        wide = shape.buffer(field(item, "width_m") / 2, cap_style="flat")
        return wide, {"cover": KEYS.index(cover)}
    if key == "building":
        return shape, {"cover": KEYS.index("paved")}
    return shape, {"cover": _WATER}


def _paint(
    grid: Grid,
    code: NDArray[np.int16],
    shape: BaseGeometry,
    *,
    cover: int | None = None,
    group: int | None = None,
    condition: int | None = None,
) -> None:
    """Put a cover on the cells more than half under a shape; what is None stays as it was."""
    for part in _polygons(shape):
        window, share = coverage(grid, part)
        row = round((grid.north_m - window.north_m) / grid.cell_m)
        col = round((window.west_m - grid.west_m) / grid.cell_m)
        here = code[row : row + window.shape[0], col : col + window.shape[1]]
        rest, was_condition = np.divmod(here, len(_CONDITIONS))
        was_cover, was_group = np.divmod(rest, len(_GROUPS))
        new = (
            (was_cover if cover is None else cover) * len(_GROUPS)
            + (was_group if group is None else group)
        ) * len(_CONDITIONS) + (was_condition if condition is None else condition)
        here[:] = np.where(share > 0.5, new, here)


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, Polygon) and not part.is_empty]
