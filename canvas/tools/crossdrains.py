"""Cross-drains placed along a shaped track at the handbook's spacing, as one edit."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.formation import Track as Formed
from canvas.ground.frames import line_points
from canvas.ground.trackline import falls_right, places
from canvas.ground.waysides import Drain
from canvas.site.edits import Edit, add
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, WaterBar
from canvas.site.records import Element
from canvas.study.kinds.tracks import drains_due, drains_placed, formed
from canvas.study.study import Study

#: Between the bar and the track; 45 to 60° in the source.
ANGLE_DEG = 50.0
#: Bars go so far beyond the carriageway's edges [m].
BEYOND_M = 0.3
#: A low point filled as high as this over the ground gets a pipe; others a bar [m].
PIPE_FROM_M = 1.0
#: A pipe goes so far beyond the toes of the fill [m].
PIPE_BEYOND_M = 0.5
#: What a rolling dip is: long and gentle; common practice.
DIP: dict[str, Any] = {"name": "Rolling dip", "bar_m": 0.15, "trough_m": 0.15, "side": 10.0}


def cross_drains_edit(study: Study, item: Track) -> Edit | None:
    """Return the edit that adds the drains a track still lacks; None where it lacks none.

    `BadData` where the track isn't shaped, or can't be.
    """
    track = formed(item.id, study)
    if track is None:
        raise BadData(
            "cross-drains are placed by a track's design profile, and this one has none",
            remedy="Shape the track first, on the section page or on its card.",
        )
    due = drains_due(item, track, drains_placed(track, study))
    made = [_drain(item, track, drain, study) for drain in due]
    if not made:
        return None
    count = "a cross-drain" if len(made) == 1 else f"{len(made)} cross-drains"
    return add(f"Place {count}", made)


def _drain(item: Track, track: Formed, drain: Drain, study: Study) -> Element:
    stations = track.stations
    k = int(np.argmin(np.abs(stations.station_m - drain.station_m)))
    right = 1.0 if falls_right(stations)[k] >= 0 else -1.0
    at, normal = places(*line_points(track.centre.line), np.array([drain.station_m]))
    centre, across = at[0], normal[0] * right
    shared: dict[str, Any] = {"status": item.status, "owner": item.owner, "phase": item.phase}
    over = float(stations.level_m[k] - stations.ground_m[k])
    if drain.lowest and over >= PIPE_FROM_M:
        pipe = _pipe(track, study, centre, across)
        if pipe is not None:
            return Culvert(geometry=pipe, **shared)
    # Downhill along the track; at a low point the bar stands square.
    ahead = np.array([-normal[0][1], normal[0][0]])
    down = -math.copysign(1.0, drain.grade) if not drain.lowest else 0.0
    half = track.build.width_m / 2 + BEYOND_M
    slant = half / math.tan(math.radians(ANGLE_DEG)) * down
    ends = [centre - across * half - ahead * slant, centre + across * half + ahead * slant]
    own = DIP if item.cross_drains == "rolling_dips" else {}
    return WaterBar(geometry=LineString(ends), soil=item.soil, **own, **shared)


def _pipe(track: Formed, study: Study, centre: Floats, across: Floats) -> LineString | None:
    """Return a pipe from the fill's upper toe to its lower one; None where that rises."""
    outline = track.patch.outline()
    reach = LineString([centre - across * 60.0, centre + across * 60.0])
    inside = reach.intersection(outline)
    pieces = [p for p in getattr(inside, "geoms", [inside]) if isinstance(p, LineString)]
    here = min(pieces, key=lambda piece: piece.distance(Point(centre)), default=None)
    if here is None or here.length == 0:
        return None
    off = [float((np.array(xy) - centre) @ across) for xy in here.coords]
    ends = [
        centre + across * (min(off) - PIPE_BEYOND_M),
        centre + across * (max(off) + PIPE_BEYOND_M),
    ]
    z = study.terrain.height_at([e[0] for e in ends], [e[1] for e in ends])
    if not np.isfinite(z).all() or z[0] == z[1]:
        return None
    return LineString(ends if z[0] > z[1] else ends[::-1])
