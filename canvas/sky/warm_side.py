"""Which way a slope faces and how warm that makes it, in either hemisphere."""

from __future__ import annotations

import numpy as np

from canvas.base.grid import Floats
from canvas.base.sources import cites

NAMES = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
#: Flatter than this a slope faces nowhere [degrees] (common practice, to be set).
FLAT_DEG = 3.0
#: How far off the equator's side a slope still counts as warm [degrees] (common practice).
WARM_WITHIN_DEG = 67.5


def aspect_name(slope_deg: float, aspect_true_deg: float, flat_deg: float = FLAT_DEG) -> str:
    """Return the eighth of the compass a slope faces (downhill, true north), or "flat"."""
    if slope_deg < flat_deg or not np.isfinite(aspect_true_deg):
        return "flat"
    return NAMES[int(((aspect_true_deg + 22.5) % 360) // 45)]


def side(lat_deg: float, slope_deg: float, aspect_true_deg: float) -> str:
    """Return "warm", "cool", "between", "flat", or "tropical" where the sun passes both sides."""
    if aspect_name(slope_deg, aspect_true_deg) == "flat":
        return "flat"
    if abs(lat_deg) < 10:
        return "tropical"
    equator = 180.0 if lat_deg > 0 else 0.0
    off = abs((aspect_true_deg - equator + 180) % 360 - 180)
    return (
        "warm" if off <= WARM_WITHIN_DEG else "cool" if off >= 180 - WARM_WITHIN_DEG else "between"
    )


@cites("mccune_keon2002")
def heat_load(lat_deg: float, slope_deg: Floats | float, aspect_true_deg: Floats | float) -> Floats:
    """Return the heat load index: a rank of slopes by heat, warmest on the afternoon side.

    McCune & Keon's first equation; aspects fold about 225° north of the equator and 315° south of
    it. A rank only: it can pass 1.
    """
    axis = 225.0 if lat_deg >= 0 else 315.0
    folded = np.radians(np.abs(180 - np.abs(np.asarray(aspect_true_deg, np.float64) - axis)))
    lat, b = np.radians(abs(lat_deg)), np.radians(np.asarray(slope_deg, dtype=np.float64))
    power = (
        -1.467
        + 1.582 * np.cos(lat) * np.cos(b)
        - 1.5 * np.cos(folded) * np.sin(b) * np.sin(lat)
        - 0.262 * np.sin(lat) * np.sin(b)
        + 0.607 * np.sin(folded) * np.sin(b)
    )
    return np.asarray(np.exp(power))
