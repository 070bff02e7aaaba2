"""Stage, area and storage of anything that holds water."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.water.sections import Section


@dataclass(frozen=True, slots=True, eq=False)
class StageStorage:
    """Area [m²] and volume [m³] of water by level [m]; straight lines between the rows.

    Levels and volumes rise; the first volume is 0. Above the last row, the last area goes on
    straight up.
    """

    level_m: Floats
    area_m2: Floats
    volume_m3: Floats

    def __post_init__(self) -> None:
        """Refuse a table that does not rise."""
        z, a, v = self.level_m, self.area_m2, self.volume_m3
        if not (z.ndim == 1 and len(z) >= 2 and z.shape == a.shape == v.shape):
            raise InputError("a storage table needs two rows of level, area and volume")
        if not ((np.diff(z) > 0).all() and (np.diff(v) >= 0).all() and (a >= 0).all()):
            raise InputError("levels must rise and volumes must not fall")
        if v[0] != 0.0 or not v[-1] > 0.0:
            raise InputError("a storage table starts empty and holds something")

    @classmethod
    def of_areas(cls, level_m: ArrayLike, area_m2: ArrayLike, how: str = "end") -> StageStorage:
        """Return the table of areas by level: volumes by average "end" areas, or "conic" slices."""
        z, a = np.asarray(level_m, float), np.asarray(area_m2, float)
        rise = np.diff(z)
        if how == "end":
            slices = 0.5 * (a[1:] + a[:-1]) * rise
        elif how == "conic":
            slices = conic_m3(a[:-1], a[1:], rise)
        else:
            raise InputError(f"slices are 'end' or 'conic', got {how!r}")
        return cls(z, a, np.concatenate(([0.0], np.cumsum(slices))))

    @classmethod
    def of_section(
        cls, section: Section, length_m: float, bottom_m: float, depth_m: float, rows: int = 33
    ) -> StageStorage:
        """Return the table of a level channel of one section."""
        depth = depth_m * np.linspace(0.0, 1.0, rows)
        area = np.array([section.top_m(float(d)) for d in depth]) * length_m
        volume = np.array([section.area_m2(float(d)) for d in depth]) * length_m
        return cls(bottom_m + depth, area, volume)

    @classmethod
    def of_ground(
        cls, z_m: ArrayLike, cell_m2: float, top_m: float, rows: int = 65
    ) -> StageStorage:
        """Return the table of the cells of a hollow up to `top_m`: exact at each of its rows.

        `z_m`: levels of the hollow's cells, in any order.
        """
        z = np.sort(np.asarray(z_m, float).ravel())
        z = z[z < top_m]
        if not len(z):
            raise InputError("no cell lies below the top of the water")
        level = np.linspace(z[0], top_m, rows)
        sums = np.concatenate(([0.0], np.cumsum(z)))
        under = np.searchsorted(z, level, side="left")
        volume = (under * level - sums[under]) * cell_m2
        area = np.asarray(under * cell_m2, np.float64)
        return cls(level, area, np.maximum.accumulate(np.maximum(volume, 0.0)))

    @classmethod
    def tank(cls, area_m2: float, height_m: float, bottom_m: float = 0.0) -> StageStorage:
        """Return the table of upright walls."""
        level = np.array([bottom_m, bottom_m + height_m])
        area = np.array([area_m2, area_m2])
        return cls(level, area, np.array([0.0, area_m2 * height_m]))

    def volume(self, level_m: ArrayLike) -> Floats:
        """Return the volume [m³] at levels [m]."""
        z = np.asarray(level_m, float)
        inside = np.interp(z, self.level_m, self.volume_m3)
        return np.asarray(inside + np.maximum(z - self.level_m[-1], 0.0) * self.area_m2[-1])

    def area(self, level_m: ArrayLike) -> Floats:
        """Return the water's area [m²] at levels [m]; 0 below the bottom."""
        z = np.asarray(level_m, float)
        found = np.interp(z, self.level_m, self.area_m2)
        return np.asarray(np.where(z < self.level_m[0], 0.0, found))

    def level(self, volume_m3: ArrayLike) -> Floats:
        """Return the level [m] at volumes [m³]."""
        v = np.asarray(volume_m3, float)
        keep = np.concatenate(([True], np.diff(self.volume_m3) > 0.0))
        inside = np.interp(v, self.volume_m3[keep], self.level_m[keep])
        spare = np.maximum(v - self.volume_m3[-1], 0.0)
        over = spare / self.area_m2[-1] if self.area_m2[-1] > 0.0 else 0.0 * spare
        return np.asarray(inside + over)

    def mean_depth_m(self) -> float:
        """Return the mean depth at the top."""
        return float(self.volume_m3[-1] / self.area_m2[-1])


@cites("hec22")
def conic_m3(lower_m2: ArrayLike, upper_m2: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Return the volume of a slice by its end areas, as a cut cone."""
    a, b = np.asarray(lower_m2, float), np.asarray(upper_m2, float)
    return np.asarray(np.asarray(rise_m, float) / 3.0 * (a + np.sqrt(a * b) + b))


@cites("hec22")
def prismoid_m3(first_m2: float, middle_m2: float, last_m2: float, length_m: float) -> float:
    """Return the volume of a prismoid by its end and middle areas."""
    return length_m / 6.0 * (first_m2 + 4.0 * middle_m2 + last_m2)


def simpson_m3(area_m2: ArrayLike, step_m: float) -> float:
    """Return the volume under areas at equal steps, an even number of steps, by Simpson."""
    a = np.asarray(area_m2, float)
    if len(a) % 2 == 0:
        raise InputError("Simpson's rule needs an even number of steps")
    return float(step_m / 3.0 * (a[0] + 4.0 * a[1:-1:2].sum() + 2.0 * a[2:-1:2].sum() + a[-1]))


Discharge = Callable[[float], float]
