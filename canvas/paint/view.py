"""How coordinates land on a device: map metres on a screen, or paper millimetres on a page."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Bounds
from canvas.drawing.entries import Frame, Page, Path

#: Pixels of a paper millimetre on a screen at 100 % (96 pixels to the inch).
SCREEN_MM_PX = 96.0 / 25.4


@dataclass(frozen=True, slots=True)
class View:
    """A north-up window: device x = (x - west) · scale, device y = (north - y) · scale."""

    #: Coordinates at the device's origin.
    west: float
    north: float
    #: Device pixels per unit (metre of map, millimetre of page).
    per_unit: float
    #: Device pixels per millimetre on paper: what line widths and letters are in.
    mm_px: float
    #: What is painted, in coordinates; entries outside are skipped.
    clip: Bounds
    #: Whether symbols stay vectors (PDF) or may be painted from cached sprites.
    vector: bool = False
    #: Device pixels the origin is moved by: where a frame stands on its page.
    left_px: float = 0.0
    top_px: float = 0.0

    @classmethod
    def screen(
        cls,
        centre: tuple[float, float],
        px_per_m: float,
        size_px: tuple[float, float],
        mm_px: float = SCREEN_MM_PX,
    ) -> View:
        """Return the view of a widget or image `size_px` wide and high about `centre` [m]."""
        half_x, half_y = size_px[0] / 2 / px_per_m, size_px[1] / 2 / px_per_m
        west, north = centre[0] - half_x, centre[1] + half_y
        clip = (west, centre[1] - half_y, centre[0] + half_x, north)
        return cls(west, north, px_per_m, mm_px, clip)

    @classmethod
    def page(cls, page: Page, mm_px: float, vector: bool) -> View:
        """Return the view of a whole page in millimetres, y up."""
        clip = (0.0, 0.0, page.width_mm, page.height_mm)
        return cls(0.0, page.height_mm, mm_px, mm_px, clip, vector)

    @classmethod
    def frame(cls, frame: Frame, page: Page, mm_px: float, vector: bool) -> View:
        """Return the view of a map frame on its page."""
        half_x = frame.width_mm / 2 * frame.scale / 1000
        half_y = frame.height_mm / 2 * frame.scale / 1000
        west, north = frame.centre_x - half_x, frame.centre_y + half_y
        return cls(
            west,
            north,
            mm_px * 1000 / frame.scale,
            mm_px,
            (west, frame.centre_y - half_y, frame.centre_x + half_x, north),
            vector,
            frame.left_mm * mm_px,
            (page.height_mm - frame.bottom_mm - frame.height_mm) * mm_px,
        )

    @property
    def scale(self) -> float:
        """The number after "1:" for coordinates in metres."""
        return self.mm_px * 1000.0 / self.per_unit

    def px(self, xy: Path) -> NDArray[np.float64]:
        """Return device positions of points, shape (n, 2); on paper in whole hundredths of a mm.

        Whole numbers make a PDF half as large, and a hundredth of a millimetre can't be seen.
        """
        made = np.empty((len(xy), 2))
        made[:, 0] = (xy[:, 0] - self.west) * self.per_unit + self.left_px
        made[:, 1] = (self.north - xy[:, 1]) * self.per_unit + self.top_px
        return np.round(made) if self.vector else made

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Return the device position of one point."""
        return (
            (x - self.west) * self.per_unit + self.left_px,
            (self.north - y) * self.per_unit + self.top_px,
        )

    def rect_px(self, bounds: Bounds) -> tuple[float, float, float, float]:
        """Return left, top, width, height on the device of an area."""
        west, south, east, north = bounds
        left, top = self.point(west, north)
        return left, top, (east - west) * self.per_unit, (north - south) * self.per_unit

    def sees(self, path: Path, margin: float = 0.0) -> bool:
        """Whether the box around a path touches what is painted; `margin` in coordinates."""
        if not len(path):
            return False
        low, high = path.min(axis=0), path.max(axis=0)
        west, south, east, north = self.clip
        return bool(
            low[0] <= east + margin
            and high[0] >= west - margin
            and low[1] <= north + margin
            and high[1] >= south - margin
        )

    def units(self, paper_mm: float) -> float:
        """Return the coordinate length that is `paper_mm` on paper."""
        return paper_mm * self.mm_px / self.per_unit
