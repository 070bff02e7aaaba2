"""Trees and tree rows: crowns at true size for the year, with a ring for maturity."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from canvas.drawing.entries import Anchor, Cap, Fill, Path, Stroke
from canvas.drawing.herd import items_of, rows_of
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import GONE_DASH, NEIGHBOUR_DASH, PUBLIC_DASH, REMOVE_DASH
from canvas.drawing.symbols.habit import crown_design, crown_role
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.typeface import width_mm
from canvas.site.records import Owner, Status
from canvas.study.codes import codes

_CENTRE = Anchor.CENTRE
#: Under the stem's mark, else over it.
_NEAR = ((0.0, -1.6, _CENTRE), (0.0, 1.6, _CENTRE))
CODE_MM = 1.5
#: Below this on paper a crown is drawn plain: lobes would clog.
PLAIN_BELOW_MM = 2.2
#: More codes than this on one map say nothing more.
MOST_CODES = 1500


def _widths(shapes: list[shapely.geometry.base.BaseGeometry]) -> np.ndarray:
    bounds = shapely.bounds(np.array(shapes, dtype=object))
    return np.nan_to_num(bounds[:, 2] - bounds[:, 0])


def _key(item: Any, height_m: float | None, crown_m: float) -> tuple[str, str, str, str]:
    return (
        crown_design(item.species, height_m, crown_m),
        crown_role(height_m, crown_m),
        item.status,
        item.owner,
    )


class _Row(NamedTuple):
    """What can be said of a tree whatever the scale."""

    x: float
    y: float
    crown_m: float
    mature_m: float
    key: tuple[str, str, str, str]


def _rows(items: Sequence[Drawn]) -> list[_Row]:
    stems = shapely.get_coordinates([d.part("stem", "shape") for d in items]).tolist()
    crowns = _widths([d.part("crown") for d in items]).tolist()
    mature = _widths([d.part("crown_mature", "crown") for d in items]).tolist()
    made: list[_Row] = []
    for drawn, (x, y), crown_m, mature_m in zip(items, stems, crowns, mature, strict=True):
        item: Any = drawn.item
        height = item.mature_height_m or item.height_m
        made.append(_Row(x, y, crown_m, mature_m, _key(item, height, mature_m or crown_m)))
    return made


@symbol("tree", 46, "")
def draw_trees(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw trees: crown now, ring at maturity, and at the stem a mark that says its status."""
    if not items:
        return
    rows = rows_of(items, _rows)
    records = items_of(items)
    numbers = np.array([row[:4] for row in rows])
    stems, crowns, mature = numbers[:, :2], numbers[:, 2], numbers[:, 3]
    heaps: dict[tuple[str, str, str, str], list[int]] = defaultdict(list)
    for i, row in enumerate(rows):
        heaps[row.key].append(i)
    for key, members in heaps.items():
        pick = np.array(members)
        _stamp(pen, key, stems[pick], crowns[pick], mature[pick],
               tuple(records[i].id for i in members))  # fmt: skip
    _name(pen, records, numbers)


def _name(pen: Pen, records: Sequence[Any], numbers: NDArray[np.float64]) -> None:
    """Write names; where there is none, the species' code if it fits in the crown."""
    known = codes(item.species for item in records)
    widths = {code: width_mm(code, CODE_MM) for code in known.values()}
    room = 0.95 * pen.mm(1.0) * np.maximum(numbers[:, 2], numbers[:, 3] * 0.6)
    written = 0
    for i, item in enumerate(records):
        own, code = item.name, known.get(item.species, "")
        if own:
            x, y = numbers[i, :2].tolist()
            pen.write(x, y, own, 1.7, "leaf", weight=3.5, ident=item.id, tries=_NEAR)
        elif code and written <= MOST_CODES and widths[code] < room[i]:
            written += 1
            x, y = numbers[i, :2].tolist()
            pen.write(x, y, code, CODE_MM, "leaf", weight=0.6, ident=item.id, tries=_NEAR)


def _stamp(
    pen: Pen, key: tuple[str, str, str, str], xy: Path, crown: np.ndarray, mature: np.ndarray,
    ids: tuple[str, ...],
) -> None:  # fmt: skip
    design, role, status, owner = key
    crown = np.maximum(crown, pen.m(0.9))
    dash: tuple[float, ...] = ()
    if status == Status.REMOVE:
        dash = REMOVE_DASH
    elif status == Status.GONE:
        dash = GONE_DASH
    elif owner == Owner.NEIGHBOUR:
        dash = NEIGHBOUR_DASH
    elif owner == Owner.PUBLIC:
        dash = PUBLIC_DASH
    leaving = status in (Status.REMOVE, Status.GONE)
    weight = 0.3 if status in (Status.PROPOSED, Status.BUILT) else 0.16
    stroke = Stroke("leaf", weight, dash, cap=Cap.FLAT if dash else Cap.ROUND)
    fill = None if leaving else Fill(role, alpha=0.62 if status == Status.PROPOSED else 0.85)
    small = pen.mm(1.0) * crown < PLAIN_BELOW_MM
    for drawn_as, where in (("crown_plain", small), (design, ~small)):
        if where.any():
            shape = "crown_plain" if dash else drawn_as
            chosen = tuple(i for i, keep in zip(ids, where, strict=True) if keep)
            pen.stamps(shape, xy[where], crown[where], stroke, fill, on_ground=True, ids=chosen,
                       level=1)  # fmt: skip
    later = (mature > crown * 1.06) & ~np.full(len(mature), leaving)
    if later.any():
        ring = Stroke("mature", 0.13, (1.4, 0.9), cap=Cap.FLAT)
        pen.stamps("crown_ring", xy[later], mature[later], ring, on_ground=True, level=0)
    mark, size = {
        Status.EXISTING: ("dot", 0.7),
        Status.PROPOSED: ("plus", 1.2),
        Status.BUILT: ("ring", 0.9),
        Status.REMOVE: ("cross", 2.2),
        Status.GONE: ("cross", 1.2),
    }[Status(status)]
    tall = size <= 0.6 * pen.mm(1.0) * crown
    if tall.any() or leaving:
        where = np.full(len(xy), True) if leaving else tall
        pen.stamps(mark, xy[where], size, Stroke("leaf", 0.25), Fill("paper"), level=2)


@symbol("tree_row", 45, "")
def draw_rows(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw each tree of a row like a tree, on a fine line that shows they belong together."""
    known = codes(getattr(d.item, "species", "") for d in items)
    for drawn in items:
        item: Any = drawn.item
        xy = shapely.get_coordinates(drawn.part("plants"))
        pen.lines(drawn.part("centre_line"), Stroke("leaf", 0.13, (0.3, 0.9)), item.id, level=0)
        crown = _first_width(drawn, "crown", item.mature_crown_m)
        mature = max(item.mature_crown_m, crown)
        key = _key(item, item.mature_height_m, item.mature_crown_m)
        _stamp(
            pen, key, xy, np.full(len(xy), crown), np.full(len(xy), mature), (item.id,) * len(xy)
        )
        code = known.get(item.species, "")
        words = item.name or code
        if words and len(xy):
            end = xy[0]
            pen.write(float(end[0]), float(end[1]), f"{words} × {len(xy)}", 1.6, "leaf",
                      weight=2.5, ident=item.id,
                      tries=((0.0, pen.mm(crown) / 2 + 1.4, _CENTRE),
                             (0.0, -pen.mm(crown) / 2 - 1.4, _CENTRE)))  # fmt: skip


def _first_width(drawn: Drawn, part: str, otherwise_m: float) -> float:
    """Return the diameter of a row's crowns, all alike, from its first."""
    shape = drawn.parts.get(part)
    if shape is None or shape.is_empty:
        return otherwise_m
    return float(_widths([shapely.get_parts(shape)[0]])[0])
