"""Wind roses: the year's, and those that matter: with rain, on hot dry afternoons, in the cold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.sky.climate_record import Hourly

SECTORS = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
#: Below this the air counts as still [m/s] (common practice).
CALM_MS = 0.5
#: Edges of speed classes [m/s]: FAO-56's light, moderate and strong, and one above.
SPEED_EDGES = (1.0, 3.0, 5.0, 8.0)


@dataclass(frozen=True, slots=True, eq=False)
class WindRose:
    """How often the wind blows FROM each of 16 directions, true north."""

    label: str
    #: Counts by sector and speed class, shape (16, classes).
    counts: NDArray[np.int64]
    #: Upper edges of the speed classes [m/s], the last one open.
    edges_ms: tuple[float, ...]
    calm: int
    #: Hours with speed or direction missing (beside calm ones).
    missing: int
    mean_ms: float
    #: Mean vector of the hours that blow: where from, and how strong.
    from_deg: float
    vector_ms: float

    @property
    def total(self) -> int:
        """Hours counted, calm ones too."""
        return int(self.counts.sum()) + self.calm

    @property
    def by_sector(self) -> NDArray[np.int64]:
        """Hours by sector, (16,)."""
        return np.asarray(self.counts.sum(axis=1))

    @property
    def shares(self) -> Floats:
        """Share of all hours by sector, (16,)."""
        return self.by_sector / max(self.total, 1)

    def top(self, count: int = 3) -> tuple[str, ...]:
        """Return the most frequent sectors, first the most."""
        order = np.argsort(-self.by_sector, kind="stable")
        return tuple(SECTORS[i] for i in order[:count] if self.by_sector[i] > 0)


def sector_of(from_deg: Floats) -> NDArray[np.int64]:
    """Return the sector number (0 is north) of directions the wind comes from."""
    turned = (np.asarray(from_deg, dtype=np.float64) + 11.25) % 360.0
    return np.floor(turned / 22.5).astype(np.int64)


def wind_rose(
    speed_ms: Floats, from_deg: Floats, label: str = "the year", calm_ms: float = CALM_MS
) -> WindRose:
    """Return the rose of a series; a direction of NaN counts only when the air is still."""
    speed, origin = np.asarray(speed_ms, np.float64), np.asarray(from_deg, np.float64)
    still = speed < calm_ms
    blows = (speed >= calm_ms) & np.isfinite(origin)
    edges = SPEED_EDGES
    counts = np.zeros((16, len(edges) + 1), dtype=np.int64)
    classes = np.searchsorted(np.array(edges), speed[blows], side="right")
    np.add.at(counts, (sector_of(origin[blows]), classes), 1)
    angle = np.radians(origin[blows])
    mean, where, strength = float("nan"), float("nan"), 0.0
    known = np.isfinite(speed)
    if known.any():
        mean = float(speed[known].mean())
    if blows.any():
        east = float(np.mean(-speed[blows] * np.sin(angle)))
        north = float(np.mean(-speed[blows] * np.cos(angle)))
        strength = float(np.hypot(east, north))
        where = float(np.degrees(np.arctan2(-east, -north)) % 360.0)
    lost = int(speed.size - still.sum() - blows.sum())
    return WindRose(label, counts, (*edges, np.inf), int(still.sum()), lost, mean, where, strength)


def wind_roses(
    hourly: Hourly, dry_months: Sequence[int] = (), cold_months: Sequence[int] = ()
) -> tuple[WindRose, ...]:
    """Return the roses of the year, of rain, of hot dry afternoons (12-17 h) and of the cold.

    They differ, and each serves its own end: the second for eaves and porches, the third for
    fire and heat, the fourth for shelter. Dry months by default are the three warmest, cold ones
    the three coldest; the rain's rose is left out where the record has no rain.
    """
    if "wind_ms" not in hourly.columns or "wind_from_deg" not in hourly.columns:
        raise BadData("the record has no wind", remedy="Use a record with speed and direction.")
    speed, origin = hourly.columns["wind_ms"], hourly.columns["wind_from_deg"]
    warmth = [
        float(np.nanmean(hourly.columns["t_c"][hourly.months == m]))
        if (hourly.months == m).any()
        else np.nan
        for m in range(1, 13)
    ]
    order = [int(m) + 1 for m in np.argsort(warmth)]
    dry, cold = tuple(dry_months) or tuple(order[-3:]), tuple(cold_months) or tuple(order[:3])
    everything = np.ones(speed.size, dtype=bool)
    picks = [("the year", everything)]
    rain = hourly.columns.get("rain_mm")
    if rain is not None:
        picks.append(("hours with rain", np.nan_to_num(rain) > 0))
    afternoon = (hourly.hours >= 12) & (hourly.hours < 18)
    picks.append(("hot dry afternoons", np.isin(hourly.months, dry) & afternoon))
    picks.append(("cold months", np.isin(hourly.months, cold)))
    return tuple(wind_rose(speed[of], origin[of], label) for label, of in picks if of.any())
