"""Reads lines, areas and writing out of a PDF's own operators, in millimetres of paper.

A small reader of PDF 32000-1 content streams: the current transformation is followed through q, Q
and cm; paths through m, l, c, h, re and the painting operators.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pikepdf

MM = 25.4 / 72.0


@dataclass
class Drawn:
    """One subpath as painted: points in mm, y up; curves give their end points and handles."""

    points: np.ndarray
    closed: bool
    painted: str
    width_mm: float
    dash: tuple[float, ...]


@dataclass
class State:
    """What q saves and Q brings back."""

    ctm: np.ndarray = field(default_factory=lambda: np.eye(3))
    width: float = 1.0
    dash: tuple[float, ...] = ()

    def copy(self) -> State:
        return State(self.ctm.copy(), self.width, self.dash)


class Page:
    """One page: its size and everything drawn on it."""

    def __init__(self, page: pikepdf.Page) -> None:
        box = [float(v) for v in page.MediaBox]
        self.width_mm, self.height_mm = (box[2] - box[0]) * MM, (box[3] - box[1]) * MM
        self.paths: list[Drawn] = []
        self.images = 0
        self._read(page)

    def _read(self, page: pikepdf.Page) -> None:
        state, stack = State(), []
        pieces: list[tuple[list[np.ndarray], bool]] = []

        def at(x: float, y: float) -> np.ndarray:
            return (np.array([x, y, 1.0]) @ state.ctm)[:2] * MM

        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("m", "l", "c", "re", "w", "cm"):
                v = [float(o) for o in operands]
            match name:
                case "q":
                    stack.append(state.copy())
                case "Q":
                    state = stack.pop()
                case "cm":
                    turn = np.array([[v[0], v[1], 0], [v[2], v[3], 0], [v[4], v[5], 1]])
                    state.ctm = turn @ state.ctm
                case "w":
                    state.width = v[0]
                case "d":
                    state.dash = tuple(float(o) for o in operands[0])
                case "m":
                    pieces.append(([at(*v)], False))
                case "l":
                    pieces[-1][0].append(at(*v))
                case "c":
                    pieces[-1][0].extend(at(v[i], v[i + 1]) for i in (0, 2, 4))
                case "h":
                    pieces[-1] = (pieces[-1][0], True)
                case "re":
                    x, y, w, h = v
                    corners = [at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h)]
                    pieces.append((corners, True))
                case "S" | "s" | "f" | "f*" | "B" | "B*" | "b" | "b*":
                    grow = float(np.sqrt(abs(np.linalg.det(state.ctm[:2, :2])))) * MM
                    for points, closed in pieces:
                        self.paths.append(
                            Drawn(np.array(points), closed, name, state.width * grow,
                                  tuple(d * grow for d in state.dash))
                        )  # fmt: skip
                    pieces = []
                case "n":
                    pieces = []
                case "Do":
                    self.images += 1

    def shaped_like(self, points: np.ndarray, within_mm: float) -> list[Drawn]:
        """Return paths with the same corners in the same order, wherever they stand."""
        wanted = points - points[0]
        return [
            path
            for path in self.paths
            if len(path.points) == len(points)
            and np.abs(path.points - path.points[0] - wanted).max() <= within_mm
        ]

    def rings(self, diameter_mm: float, within_mm: float) -> list[np.ndarray]:
        """Return the middles of circles of this diameter (four curves: thirteen points)."""
        found = []
        for path in self.paths:
            if len(path.points) != 13 or path.painted in ("f", "f*"):
                continue
            ends = path.points[::3]
            spread = ends.max(axis=0) - ends.min(axis=0)
            if np.abs(spread - diameter_mm).max() <= within_mm:
                found.append((ends.max(axis=0) + ends.min(axis=0)) / 2)
        return found


def read(path: Path) -> list[Page]:
    """Return the pages of a PDF."""
    with pikepdf.open(path) as pdf:
        return [Page(page) for page in pdf.pages]


def fonts(path: Path) -> dict[str, bool]:
    """Return every font's name and whether its file is embedded."""
    found = {}
    with pikepdf.open(path) as pdf:
        for page in pdf.pages:
            for font in page.get("/Resources", {}).get("/Font", {}).values():
                for below in font.get("/DescendantFonts", [font]):
                    held = below.get("/FontDescriptor", {})
                    embedded = any(k in held for k in ("/FontFile", "/FontFile2", "/FontFile3"))
                    found[str(below.BaseFont)] = embedded
    return found


def pictures(path: Path) -> int:
    """Return how many raster images a PDF holds."""
    with pikepdf.open(path) as pdf:
        return sum(
            1
            for item in pdf.objects
            if isinstance(item, pikepdf.Stream) and item.get("/Subtype") == "/Image"
        )
