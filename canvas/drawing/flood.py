"""Water on the land at one moment as a picture: quick enough to follow a slider."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Bounds
from canvas.drawing.ramps import FIXED, Rgba
from canvas.study.rains.answers import SHOWN_M
from canvas.study.rains.keep import NONE, SavedRun

#: Whole millimetres (or mm/s) and their colours.
_COUNT = 65536
#: How strongly the thinnest water covers the map, beside the deepest.
LEAST_STRENGTH = 0.5


@cache
def _colours(key: str) -> NDArray[np.uint32]:
    """Return the colour of every whole number that is kept, red first in memory."""
    ramp, values = FIXED[key], np.maximum(np.arange(_COUNT), 1) / 1000.0
    rgba = ramp.rgba(values)
    # The least of it lets what is written under it be read.
    share = np.log(values / ramp.low) / np.log(ramp.high / ramp.low)
    rgba[:, 3] = 255 * (LEAST_STRENGTH + (1.0 - LEAST_STRENGTH) * np.clip(2.0 * share, 0.0, 1.0))
    rgba[int(NONE)] = 0
    if key == "rain_depth":
        rgba[: round(SHOWN_M * 1000)] = 0
    return np.ascontiguousarray(rgba).view(np.uint32).ravel()


def water_picture(run: SavedRun, key: str, moment: int) -> tuple[Rgba, Bounds]:
    """Return the water at a kept moment, shaded as `key` ("rain_depth" or "rain_speed") is.

    Clear where there is hardly any. The picture has the shape (rows, cols, 4).
    """
    depth, speed = run.whole(moment)
    if key == "rain_depth":
        packed = _colours(key)[depth]
    else:
        wet = (depth >= round(SHOWN_M * 1000)) & (depth != NONE)
        packed = np.where(wet, _colours(key)[speed], np.uint32(0))
    rgba = np.ascontiguousarray(packed).view(np.uint8).reshape(*depth.shape, 4)
    return rgba, run.bounds
