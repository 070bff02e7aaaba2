"""Editing a design profile: points are taken hold of, moved, added, taken out, typed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.gradeline import GradeLine, Knee
from canvas.ground.profile import Section

#: Points keep so far from their neighbours [m].
APART_M = 0.5
#: Length of the curve a new point gets [m].
NEW_CURVE_M = 10.0


@dataclass(frozen=True, slots=True)
class Reach:
    """How near counts as on, in the section's own measures [m]."""

    station_m: float
    level_m: float


class ProfileHand:
    """A profile in hand: which point is chosen, and what becomes of the line."""

    def __init__(self, line: GradeLine, ground: Section, curve_m: float = NEW_CURVE_M) -> None:
        self.line = line
        self.ground = ground
        self.chosen: int | None = None
        self.curve_m = curve_m
        self._before: GradeLine | None = None

    @property
    def busy(self) -> bool:
        """Whether a point is held."""
        return self._before is not None

    @property
    def knee(self) -> Knee | None:
        """The chosen point."""
        if self.chosen is None or self.chosen >= len(self.line.knees):
            return None
        return self.line.knees[self.chosen]

    def ground_m(self, station_m: float) -> float:
        """Return the ground's height at a station; NaN beyond its ends."""
        return float(self.ground.at(station_m))

    # -- by pointer -----------------------------------------------------------------------------

    def under(self, station_m: float, level_m: float, reach: Reach) -> int | None:
        """Return the point within reach of a place, the nearest of several."""
        far = [
            max(
                abs(k.station_m - station_m) / reach.station_m,
                abs(k.level_m - level_m) / reach.level_m,
            )
            for k in self.line.knees
        ]
        best = int(np.argmin(far))
        return best if far[best] <= 1 else None

    def press(self, station_m: float, level_m: float, reach: Reach) -> bool:
        """Take hold of the point within reach; tell whether there is one."""
        self.chosen = self.under(station_m, level_m, reach)
        if self.chosen is None:
            return False
        self._before = self.line
        return True

    def move(self, station_m: float, level_m: float, reach: Reach, *, snap: bool = True) -> bool:
        """Carry the held point; with `snap` it is drawn to the ground. Tell whether it caught."""
        if self._before is None or self.chosen is None:
            return False
        station = self._within(self.chosen, station_m)
        ground = self.ground_m(station)
        caught = snap and abs(ground - level_m) <= reach.level_m
        self._set(self.chosen, station, ground if caught else level_m)
        return bool(caught)

    def release(self) -> bool:
        """Let go; tell whether the line is another."""
        before, self._before = self._before, None
        return before is not None and before.knees != self.line.knees

    def cancel(self) -> None:
        """Put the held point back."""
        if self._before is not None:
            self.line, self._before = self._before, None

    def _within(self, at: int, station_m: float) -> float:
        """Return a station a point may have: ends stay, others keep between their neighbours."""
        knees = self.line.knees
        if at in (0, len(knees) - 1):
            return knees[at].station_m
        low, high = knees[at - 1].station_m + APART_M, knees[at + 1].station_m - APART_M
        return min(max(station_m, low), high) if high > low else knees[at].station_m

    def _set(self, at: int, station_m: float, level_m: float, curve_m: float | None = None) -> None:
        knees = list(self.line.knees)
        curve = knees[at].curve_m if curve_m is None else curve_m
        knees[at] = Knee(round(station_m, 3), round(level_m, 3), round(curve, 3))
        self.line = GradeLine(tuple(knees))

    # -- by keyboard and form -------------------------------------------------------------------

    def step(self, by: int) -> None:
        """Choose the next point, or the one before."""
        count = len(self.line.knees)
        now = self.chosen if self.chosen is not None else (-1 if by > 0 else count)
        self.chosen = min(max(now + by, 0), count - 1)

    def nudge(self, station_m: float, level_m: float) -> bool:
        """Move the chosen point by so much; tell whether it moved."""
        knee, before = self.knee, self.line
        if knee is None or self.chosen is None:
            return False
        station = self._within(self.chosen, knee.station_m + station_m)
        self._set(self.chosen, station, knee.level_m + level_m)
        return before.knees != self.line.knees

    def to_ground(self) -> bool:
        """Put the chosen point on the ground; tell whether it moved."""
        knee = self.knee
        if knee is None:
            return False
        ground = self.ground_m(knee.station_m)
        return bool(np.isfinite(ground)) and self.nudge(0.0, ground - knee.level_m)

    def add(self, station_m: float) -> None:
        """Add a point on the line and choose it; `BadData` too near to another."""
        knees = list(self.line.knees)
        at = int(np.searchsorted([k.station_m for k in knees], station_m))
        near = [abs(k.station_m - station_m) for k in knees]
        if at in (0, len(knees)) or min(near) < APART_M:
            raise BadData(
                "a point of the profile stands here already, or the track has ended",
                remedy=f"Add one at least {APART_M:g} m from its neighbours.",
            )
        level = float(self.line.level_m(station_m))
        knees.insert(at, Knee(round(station_m, 3), round(level, 3), self.curve_m))
        self.line, self.chosen = GradeLine(tuple(knees)), at

    def add_after(self) -> None:
        """Add a point midway to the next one; after the last, midway before it."""
        stations = [k.station_m for k in self.line.knees]
        at = min(self.chosen if self.chosen is not None else 0, len(stations) - 2)
        self.add((stations[at] + stations[at + 1]) / 2)

    def remove(self) -> None:
        """Take the chosen point out; the ends stay: `BadData`."""
        at = self.chosen
        if at is None or self.knee is None:
            raise BadData("no point of the profile is chosen", remedy="Click one first.")
        if at in (0, len(self.line.knees) - 1):
            raise BadData(
                "a profile keeps its start and its end", remedy="Move it to another level instead."
            )
        knees = [k for i, k in enumerate(self.line.knees) if i != at]
        self.line, self.chosen = GradeLine(tuple(knees)), max(at - 1, 0)

    def put(self, what: str, value: float) -> None:
        """Give the chosen point a "station", "level", "curve", or the "grade" to it or "after" it.

        A grade moves the point's own level; the grade after it the next point's. `BadData` where
        the value can't be.
        """
        knee, at = self.knee, self.chosen
        if knee is None or at is None:
            raise BadData("no point of the profile is chosen", remedy="Click one first.")
        knees = self.line.knees
        if what == "station":
            station = self._within(at, value)
            if abs(station - value) > 1e-6:
                raise BadData(
                    f"its station must lie between its neighbours', at {station:.2f} m at most"
                    if value > station
                    else f"its station must lie between its neighbours', from {station:.2f} m on",
                    remedy="Ends keep their stations.",
                )
            self._set(at, value, knee.level_m)
        elif what == "level":
            self._set(at, knee.station_m, value)
        elif what == "curve":
            if value < 0 or at in (0, len(knees) - 1):
                raise BadData("only points between both ends have a curve, 0 or longer")
            self._set(at, knee.station_m, knee.level_m, value)
        elif what == "grade" and at > 0:
            before = knees[at - 1]
            run = knee.station_m - before.station_m
            self._set(at, knee.station_m, before.level_m + value * run)
        elif what == "after" and at < len(knees) - 1:
            after = knees[at + 1]
            level = knee.level_m + value * (after.station_m - knee.station_m)
            self._set(at + 1, after.station_m, level)
        else:
            raise BadData("there is no grade beyond the profile's end")

    def grades(self) -> tuple[float | None, float | None]:
        """Return the grades before and after the chosen point."""
        if self.chosen is None or self.knee is None:
            return None, None
        every = self.line.grades
        before = float(every[self.chosen - 1]) if self.chosen > 0 else None
        after = float(every[self.chosen]) if self.chosen < len(every) else None
        return before, after


def levels(line: GradeLine, step_m: float) -> tuple[Floats, Floats]:
    """Return stations and levels to draw a profile by: even steps and every point."""
    at = [k.station_m for k in line.knees]
    s = np.unique(np.concatenate((np.arange(at[0], at[-1], step_m), at)))
    return s, line.level_m(s)
