"""Regular grids of heights written as one "x y z" a line, in any order, separator and decimal."""

from __future__ import annotations

import math
import re
import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.progress import Progress
from canvas.exchange.readers.raw import decoded

Floats = NDArray[np.float64]
#: Points in a file, and cells their extent may make.
MOST_POINTS = 12_000_000
MOST_CELLS = 25_000_000
#: Share of its cells a grid must at least have heights in.
LEAST_SHARE = 0.02
BLOCK_BYTES = 4 << 20
#: How far a point may stand off its place, in cells.
OFF = 0.02
REMEDY = "Only points on a regular grid along the axes can be read: one x, y and height a line."


def to_geotiff(path: Path, out: Path, report: Progress) -> None:
    """Rewrite an XYZ grid as a GeoTIFF without CRS, cells laid around the points, NaN in gaps."""
    import rasterio

    points = _points(path, report)
    west, step_x, cols, col = _axis(points[:, 0], "x")
    south, step_y, rows, row = _axis(points[:, 1], "y")
    if cols * rows > MOST_CELLS:
        raise BadData(
            f"the points span a grid of {cols} × {rows} cells, more than can be taken in",
            remedy="Cut the file down to the site and its surroundings.",
        )
    _check_filled(points, row * cols + col, rows * cols)
    z = np.full((rows, cols), np.nan, np.float32)
    z[rows - 1 - row, col] = points[:, 2]
    place = rasterio.Affine(step_x, 0, west - step_x / 2, 0, -step_y, south + (rows - 0.5) * step_y)
    with rasterio.open(
        out, "w", driver="GTiff", width=cols, height=rows, count=1, dtype="float32",
        nodata=math.nan, transform=place, tiled=True,
    ) as dataset:  # fmt: skip
        dataset.write(z, 1)


def _check_filled(points: Floats, cell: NDArray[np.intp], cells: int) -> None:
    """Refuse points that crowd a few cells, or stand in next to none: that is no grid."""
    taken = len(np.unique(cell))
    if taken < len(points) and taken < len(np.unique(points[:, 0] + 1j * points[:, 1])):
        raise BadData("the points do not stand on a regular grid", remedy=REMEDY)
    if taken < LEAST_SHARE * cells:
        raise BadData(f"{taken} points are too few for the {cells} cells they span", remedy=REMEDY)


def _axis(values: Floats, name: str) -> tuple[float, float, int, NDArray[np.intp]]:
    """Return (start, step, count, index of every value) of evenly spaced values."""
    levels = np.unique(values)
    start, span = float(levels[0]), float(levels[-1] - levels[0])
    # Rounded decimals part equal positions by a hair: steps below a thousandth are none.
    steps = np.diff(levels)
    steps = steps[steps > 1e-3 * steps.max()] if len(steps) else steps
    if not len(steps):
        raise BadData(f"all points have the same {name}", remedy=REMEDY)
    step = float(np.median(steps)) if len(steps) < 3 else float(np.percentile(steps, 25))
    count = round(span / step)
    step = span / count
    place = (values - start) / step
    index = np.rint(place).astype(np.intp)
    if np.abs(place - index).max() > OFF or count + 1 > 10 * len(levels):
        raise BadData(f"the points do not stand on a regular grid in {name}", remedy=REMEDY)
    return start, step, count + 1, index


def _points(path: Path, report: Progress) -> Floats:
    """Return (n, 3) x, y, height."""
    total = path.stat().st_size
    blocks: list[Floats] = []
    held = 0
    with path.open("rb") as file:
        first = file.readline(10_000)
        table, skip = _style(first, file.readline(10_000))
        file.seek(len(first) if skip else 0)
        line = 2 if skip else 1
        rest = b""
        while block := file.read(BLOCK_BYTES):
            head, cut, rest = (rest + block).rpartition(b"\n")
            if not cut and len(rest) > BLOCK_BYTES:
                raise BadData("a line of the table has no end", remedy=REMEDY)
            held += _take(head, line, table, blocks)
            line += head.count(b"\n") + 1
            report(0.4 * file.tell() / total, "Reading points")
            if held > MOST_POINTS:
                raise BadData(
                    f"the file holds more than {MOST_POINTS:_} points".replace("_", " "),
                    remedy="Cut it down to the site and its surroundings.",
                )
        held += _take(rest, line, table, blocks)
    if held < 4:
        raise BadData("there are fewer than four points in the file", remedy=REMEDY)
    return np.concatenate(blocks)


def _style(first: bytes, second: bytes) -> tuple[dict[int, str | None], bool]:
    """Return (characters to replace, whether the first line is a heading)."""
    line = decoded(second or first, [])
    headed = not re.fullmatch(r"[-+0-9.,;|eE\s]+", decoded(first, []))
    decimal_comma = bool(re.search(r"\d,\d", line)) and (
        ";" in line or "|" in line or len(line.split()) >= 3
    )
    table: dict[int, str | None] = {ord(";"): " ", ord("|"): " ", ord("\t"): " ", 0xFEFF: None}
    table[ord(",")] = "." if decimal_comma else " "
    return table, headed


def _take(data: bytes, line: int, table: dict[int, str | None], blocks: list[Floats]) -> int:
    text = data.decode("latin-1").removeprefix("ï»¿").translate(table).strip()
    if not text:
        return 0
    width = len(text.split("\n", 1)[0].split())
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)
            numbers: Any = np.fromstring(text, sep=" ")
        grid = numbers.reshape(-1, width)
        if width < 3:
            raise ValueError("fewer than three numbers a line")
    except (ValueError, DeprecationWarning) as error:
        place, said = _fault(text, line, width)
        raise BadData(said, where=place, remedy=REMEDY) from error
    block = grid[:, :3].astype(np.float64)
    if not np.isfinite(block[:, :2]).all():
        raise BadData("a position is not a number", where=f"near line {line}", remedy=REMEDY)
    blocks.append(block)
    return len(block)


def _fault(text: str, line: int, width: int) -> tuple[str, str]:
    """Return (place, complaint) of the first line that isn't like the others."""
    for number, row in enumerate(text.split("\n"), line):
        cells = row.split()
        if len(cells) != max(width, 3):
            return f"line {number}", f"{len(cells)} numbers where {max(width, 3)} are expected"
        for cell in cells:
            try:
                float(cell)
            except ValueError:
                return f"line {number}", f"“{cell[:40]}” is not a number"
    return f"near line {line}", "the numbers can't be read"
