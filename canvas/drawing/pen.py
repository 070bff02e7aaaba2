"""The pen: gathers what the symbols draw, like with like, into few entries in drawing order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.drawing.entries import (
    Anchor,
    Areas,
    Entry,
    Fill,
    Lines,
    Path,
    Stamps,
    Stroke,
    Text,
)
from canvas.drawing.labels import Block, Label
from canvas.drawing.look import Look
from canvas.site.records import Element

#: Letters of a mark that stands for words without room.
MARK_LETTERS_MM = 1.6


@dataclass(frozen=True, slots=True)
class Drawn:
    """One element with its shared geometries and figures, ready to be drawn."""

    item: Element
    parts: Mapping[str, BaseGeometry]
    #: Asked only by symbols that write a figure: ten thousand trees write none.
    ask: Callable[[], tuple[Fact, ...]] = tuple

    def fact(self, key: str) -> Fact | None:
        """Return the figure called `key`."""
        return next((fact for fact in self.ask() if fact.key == key), None)

    def part(self, *names: str) -> BaseGeometry:
        """Return the first of these parts there is, else the shape as drawn."""
        for name in names:
            found = self.parts.get(name)
            if found is not None and not found.is_empty:
                return found
        return self.item.geometry


@dataclass(slots=True)
class _Bucket:
    """Entries of one look being gathered."""

    shapes: list[object] = field(default_factory=list)
    sizes: list[NDArray[np.float64]] = field(default_factory=list)
    turns: list[NDArray[np.float64]] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)


class Pen:
    """Draws for one `Look`. `level` orders what lies over what within the layer."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.labels: list[Label] = []
        self.blocks: list[Block] = []
        self._buckets: dict[tuple[object, ...], _Bucket] = {}

    def m(self, paper_mm: float) -> float:
        """Return metres on the ground for millimetres on paper."""
        return self.look.metres(paper_mm)

    def mm(self, ground_m: float) -> float:
        """Return millimetres on paper for metres on the ground."""
        return self.look.paper(ground_m)

    def _bucket(self, *key: object) -> _Bucket:
        return self._buckets.setdefault(key, _Bucket())

    def lines(
        self, shape: BaseGeometry | Iterable[Path], stroke: Stroke, ident: str = "", level: int = 0
    ) -> None:
        """Draw the lines of a geometry, or given paths."""
        paths = list(paths_of(shape)) if isinstance(shape, BaseGeometry) else list(shape)
        if paths:
            bucket = self._bucket(level, "lines", stroke)
            bucket.shapes.extend(paths)
            bucket.ids.append(ident)

    def areas(
        self,
        shape: BaseGeometry,
        fill: Fill | None,
        stroke: Stroke | None = None,
        ident: str = "",
        level: int = 0,
    ) -> None:
        """Draw the polygons of a geometry."""
        polygons = list(polygons_of(shape))
        if polygons and (fill or stroke):
            bucket = self._bucket(level, "areas", fill, stroke)
            bucket.shapes.extend(polygons)
            bucket.ids.append(ident)

    def stamps(
        self,
        symbol: str,
        xy: Path,
        size: float | NDArray[np.float64],
        stroke: Stroke | None,
        fill: Fill | None = None,
        *,
        turn_deg: float | NDArray[np.float64] | None = None,
        on_ground: bool = False,
        ids: Sequence[str] = (),
        level: int = 0,
    ) -> None:
        """Stamp a design at points, shape (n, 2)."""
        count = len(xy)
        if not count:
            return
        turned = turn_deg is not None
        bucket = self._bucket(level, "stamps", symbol, stroke, fill, on_ground, turned)
        bucket.shapes.append(np.asarray(xy, float).reshape(-1, 2))
        bucket.sizes.append(np.broadcast_to(np.asarray(size, float), (count,)))
        if turn_deg is not None:
            bucket.turns.append(np.broadcast_to(np.asarray(turn_deg, float), (count,)))
        bucket.ids.extend(ids)

    def write(
        self,
        x: float,
        y: float,
        words: str,
        size_mm: float,
        role: str = "ink",
        *,
        weight: float = 1.0,
        tries: tuple[tuple[float, float, Anchor], ...] = (),
        ident: str = "",
        must: bool = False,
        bold: bool = False,
        italic: bool = False,
        turn_deg: float = 0.0,
        anchor: Anchor = Anchor.CENTRE,
        halo: str = "halo",
        instead: str = "",
    ) -> None:
        """Ask for a label; line breaks in `words` make several lines.

        `instead` is written small and bold where the words find no room.
        """
        lines = tuple(line for line in words.splitlines() if line.strip())
        if not lines:
            return
        text = Text(
            x, y, lines[0], size_mm, role, anchor, turn_deg, bold, italic, halo,
            ids=(ident,) if ident else (), weight=weight,
        )  # fmt: skip
        mark = replace(text, words=instead, size_mm=MARK_LETTERS_MM, bold=True) if instead else None
        self.labels.append(Label(text, lines, tries, must, mark))

    def keep_off(self, shape: BaseGeometry, weight: float, margin_mm: float = 0.0) -> None:
        """Keep labels lighter than `weight` off the box around a shape."""
        west, south, east, north = shape.bounds
        room = self.m(margin_mm)
        self.blocks.append(Block((west - room, south - room, east + room, north + room), weight))

    def entries(self) -> tuple[Entry, ...]:
        """Return what was drawn, lower levels first."""
        order = sorted(self._buckets.items(), key=lambda pair: pair[0][0])  # type: ignore[arg-type,return-value]
        return tuple(_entry(key, bucket) for key, bucket in order)


def _entry(key: tuple[object, ...], bucket: _Bucket) -> Entry:
    ids = tuple(ident for ident in bucket.ids if ident)
    if key[1] == "lines":
        return Lines(bucket.shapes, key[2], ids)  # type: ignore[arg-type]
    if key[1] == "areas":
        return Areas(bucket.shapes, key[2], key[3], ids)  # type: ignore[arg-type]
    return Stamps(
        symbol=key[2],  # type: ignore[arg-type]
        xy=np.concatenate(bucket.shapes),  # type: ignore[arg-type]
        size=np.concatenate(bucket.sizes),
        turn_deg=np.concatenate(bucket.turns) if key[6] else None,
        on_ground=key[5],  # type: ignore[arg-type]
        fill=key[4],  # type: ignore[arg-type]
        stroke=key[3],  # type: ignore[arg-type]
        ids=ids,
    )


def paths_of(shape: BaseGeometry) -> Iterable[Path]:
    """Yield the lines of a geometry; polygons give their rings, points nothing."""
    for part in shapely.get_parts(shape):
        if part.is_empty:
            continue
        if part.geom_type == "Polygon":
            yield from (shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors))
        elif part.geom_type in ("LineString", "LinearRing"):
            yield shapely.get_coordinates(part)
        elif part.geom_type != "Point":
            yield from paths_of(part)


def polygons_of(shape: BaseGeometry) -> Iterable[tuple[Path, ...]]:
    """Yield the polygons of a geometry, each as rings with the outer one first."""
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and not part.is_empty:
            yield tuple(shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors))
        elif part.geom_type in ("GeometryCollection", "MultiPolygon"):
            yield from polygons_of(part)


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Points along a line and which way it runs there."""

    xy: Path
    #: Bearing of the line, clockwise from grid north.
    bearing_deg: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.xy)

    @property
    def reading_deg(self) -> NDArray[np.float64]:
        """Turn of writing along the line, never upside down; clockwise from level."""
        return (self.bearing_deg + 180.0) % 180.0 - 90.0


def along(line: Path, step_m: float, start_m: float | None = None) -> Places:
    """Return places every `step_m` along a path, centred on it unless `start_m` is given."""
    steps = np.diff(line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    keep = np.append(lengths > 0, True)
    run = np.concatenate([[0.0], np.cumsum(lengths)])[keep]
    points = line[keep]
    total = float(run[-1]) if len(run) else 0.0
    if len(points) < 2 or step_m <= 0:
        return Places(np.empty((0, 2)), np.empty(0))
    if start_m is None:
        start_m = (total - int(total / step_m) * step_m) / 2 or step_m / 2
    at = np.arange(start_m, total, step_m)
    if not len(at):
        at = np.array([total / 2])
    return places_at(points, run, at)


def places_at(points: Path, run: NDArray[np.float64], at: NDArray[np.float64]) -> Places:
    """Return places at distances `at` along a path whose running lengths are `run`."""
    k = np.clip(np.searchsorted(run, at, side="right") - 1, 0, len(points) - 2)
    share = ((at - run[k]) / (run[k + 1] - run[k]))[:, None]
    step = points[k + 1] - points[k]
    bearing = np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360.0
    return Places(points[k] + share * step, bearing)


def middle(line: Path) -> tuple[float, float, float]:
    """Return the middle of a path and the turn of writing along it."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    total = float(steps.sum())
    place = along(line, max(total, 1e-9), total / 2)
    return float(place.xy[0, 0]), float(place.xy[0, 1]), float(place.reading_deg[0])
