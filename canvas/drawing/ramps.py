"""Colours of shaded maps: our own ramps, safe for the common colour-vision deficiencies.

Sequential ramps run steadily from light to dark, the diverging one is blue against orange, the
round one for aspects differs in lightness between north and south and on the blue–yellow axis
between east and west: what stays apart for everybody.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.drawing.palette import rgb

Rgba = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Ramp:
    """Colours at even steps from `low` to `high`, in the map's unit."""

    colours: tuple[str, ...]
    low: float
    high: float
    #: Whether `high` is `low` again (directions).
    round: bool = False
    #: Whether equal factors, not equal differences, are equal steps.
    by_factor: bool = False

    def table(self) -> NDArray[np.float64]:
        """Return the colours as numbers, shape (steps, 3)."""
        return np.array([rgb(colour) for colour in self.colours], float)

    def rgba(self, values: NDArray[np.float64]) -> Rgba:
        """Return colours of values, shape (..., 4); clear where there are no data."""
        table = self.table()
        if self.round:
            table = np.vstack([table, table[:1]])
        share = self._share(values)
        known = np.isfinite(share)
        share = np.where(known, share, 0.0)
        share = share % 1.0 if self.round else np.clip(share, 0.0, 1.0)
        at = share * (len(table) - 1)
        made = np.zeros((*values.shape, 4), np.uint8)
        for channel in range(3):
            made[..., channel] = np.interp(at, np.arange(len(table)), table[:, channel]).round()
        made[..., 3] = np.where(known, 255, 0)
        return made

    def _share(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        if not self.by_factor:
            return (values - self.low) / (self.high - self.low)
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(values / self.low) / np.log(self.high / self.low))

    def steps(self, count: int) -> NDArray[np.float64]:
        """Return values at even steps of colour, from `low` to `high`."""
        space = np.geomspace if self.by_factor else np.linspace
        return np.asarray(space(self.low, self.high, count), np.float64)

    def colour(self, value: float) -> tuple[int, int, int]:
        """Return the colour of one value."""
        red, green, blue, _ = self.rgba(np.array([value]))[0]
        return int(red), int(green), int(blue)


SLOPE = ("#f8f4ee", "#e6d5df", "#c9a9c4", "#a27fae", "#775a94", "#4d3a72", "#2b2149")
HEIGHT = ("#4f6f60", "#7f9873", "#b3b584", "#dac99c", "#eedfc4", "#fbf7ee")
ENERGY = ("#21437a", "#5b86b8", "#a8c6dd", "#f4f1ea", "#f2c48d", "#d8863b", "#8f4a12")
ASPECT = ("#34507f", "#4f8a99", "#a9c79b", "#f5e7a3", "#dcae9a", "#a07a97")
WATER = ("#f7f5ee", "#d3e2e6", "#9dc3d3", "#5f9cbd", "#2f6f9f", "#17477a", "#0b2450")
#: Dug in violet, filled in green: apart for everybody, and neither is water.
CUT_FILL = ("#4b2a6b", "#8a66a8", "#c7b3d6", "#f4f1ea", "#b9cfa0", "#6f9a5a", "#2c5a2e")
SPEED = ("#f3ead2", "#e8c98f", "#d79a5c", "#b5653f", "#83392f", "#4c1a24")
#: Slope classes take the slope ramp in even steps.
CLASSES = 8


#: Maps whose colours always stand for the same values.
FIXED: dict[str, Ramp] = {
    "slope": Ramp(SLOPE, 0.0, 0.5),
    "slope_classes": Ramp(SLOPE, 0.0, CLASSES - 1.0),
    "aspect": Ramp(ASPECT, 0.0, 360.0, round=True),
    "energy": Ramp(ENERGY, 0.5, 1.5),
    "flow": Ramp(WATER, 10.0, 100_000.0, by_factor=True),
    "wetness": Ramp(WATER, 3.0, 13.0),
    "cutfill": Ramp(CUT_FILL, -3.0, 3.0),
    "flow_to": Ramp(ASPECT, 0.0, 360.0, round=True),
    "spread": Ramp(WATER, 10.0, 100_000.0, by_factor=True),
    "spread_to": Ramp(ASPECT, 0.0, 360.0, round=True),
    "hollows": Ramp(WATER[1:], 0.0, 1.5),
    "rain_depth": Ramp(WATER[1:], 0.005, 2.0, by_factor=True),
    "rain_speed": Ramp(SPEED, 0.02, 5.0, by_factor=True),
}


def ramp_of(key: str, values: NDArray[np.float64]) -> Ramp:
    """Return the ramp a map is painted with; heights fit round numbers to the data."""
    if key in FIXED:
        return FIXED[key]
    known = values[np.isfinite(values)]
    if not known.size:
        return Ramp(HEIGHT, 0.0, 1.0)
    low, high = float(known.min()), float(known.max())
    step = 5.0 if high - low > 20 else 1.0
    low, high = np.floor(low / step) * step, np.ceil(high / step) * step
    return Ramp(HEIGHT, float(low), float(max(high, low + step)))


def relief(shade: NDArray[np.float64], level: float, on_dark: bool = False) -> Rgba:
    """Return hill shading, brightness 0 to 255, as black and white veils to lay over anything.

    `level` is the brightness that stays clear. On dark paper black says little, so white says more.
    """
    strength = 1.0 if on_dark else 0.55
    known = np.isfinite(shade)
    off = np.where(known, shade - level, 0.0)
    dark = np.clip(-off / max(level, 1e-6), 0.0, 1.0) ** 0.8
    light = np.clip(off / max(255.0 - level, 1e-6), 0.0, 1.0) * strength
    made = np.zeros((*shade.shape, 4), np.uint8)
    made[..., :3] = np.where(off > 0, 255, 20)[..., None]
    made[..., 3] = np.where(known, 255 * np.where(off > 0, light, dark * 0.85), 0)
    return made
