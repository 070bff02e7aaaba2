"""Where stores spill, on the map: lines with arrows the way the water runs."""

from __future__ import annotations

import numpy as np
import shapely

from canvas.base.grid import Bounds
from canvas.base.quantity import show
from canvas.drawing.entries import Anchor, Entry, Layer, Lines, Path, Stamps, Stroke, Text
from canvas.drawing.labels import Label
from canvas.drawing.look import Look
from canvas.drawing.pen import along
from canvas.study.storm.chain import Chain, Spill
from canvas.study.study import Study

KEY = "spills"
LABEL = "Where storms spill"
RUNS = Stroke("water", 0.5)
OVER = Stroke("warning", 0.7)
#: A way nothing runs in this storm.
STILL = Stroke("water", 0.25, (1.6, 1.0))
#: Arrows are this far apart, and this large [mm].
APART_MM, ARROW_MM = 16.0, 2.2
#: Figures stand so far down the way [mm].
BEGIN_MM = 9.0


def spill_layer(
    study: Study, look: Look, bounds: Bounds | None = None
) -> tuple[Layer, list[Label]] | None:
    """Return the ways of spills and their figures; None when not wanted or nothing spills.

    A chain not worked out yet is not waited for: the map is drawn again when it is there.
    """
    if not look.spills or KEY in look.hidden_layers:
        return None
    chain = study.known_chain()
    if chain is None or chain.run is None:
        return None
    entries, labels = _entries(chain, look, bounds)
    return (Layer(KEY, LABEL, tuple(entries)), labels) if entries else None


def _entries(chain: Chain, look: Look, bounds: Bounds | None) -> tuple[list[Entry], list[Label]]:
    entries: list[Entry] = []
    labels: list[Label] = []
    for ident in chain.order:
        spills = chain.spills(ident)
        running = [s for s in spills if s.runs]
        still = [] if running else spills[:1]
        for spill in (*still, *running):
            line = spill.path.line
            if line is None or not _meets(line.bounds, bounds):
                continue
            path = shapely.get_coordinates(line)
            entries += _way(spill, path, look)
            if spill.runs:
                labels.append(Label(_figures(spill, path, look)))
    return entries, labels


def _meets(found: Bounds, bounds: Bounds | None) -> bool:
    if bounds is None:
        return True
    west, south, east, north = bounds
    return found[0] <= east and found[2] >= west and found[1] <= north and found[3] >= south


def _way(spill: Spill, path: Path, look: Look) -> list[Entry]:
    """Return one way: its line, its arrows, its peak and volume."""
    stroke = OVER if spill.over else RUNS if spill.runs else STILL
    ids = (spill.path.node,)
    entries: list[Entry] = [Lines([path], Stroke("halo", stroke.width_mm + 0.7, alpha=0.7)),
                            Lines([path], stroke, ids)]  # fmt: skip
    if not spill.runs:
        return entries
    places = along(path, look.metres(APART_MM), look.metres(APART_MM / 2))
    if len(places):
        sizes = places.xy[:, 0] * 0.0 + ARROW_MM
        entries.append(
            Stamps(
                "flow",
                places.xy,
                sizes,
                places.bearing_deg,
                False,
                None,
                Stroke(stroke.role, 0.4),
                ids,
            )
        )
    return entries


def _figures(spill: Spill, path: Path, look: Look) -> Text:
    passed = spill.passed
    peak, volume = (
        show(passed.peak_m3s, "m3/s", look.units),
        show(passed.volume_m3, "m3", look.units, 0),
    )
    words = f"{peak} · {volume}"
    capacity = spill.path.way.capacity_m3s
    if spill.over:
        words = f"OVER · {words}"
        if capacity is not None:
            words += f", passes {show(capacity, 'm3/s', look.units)}"
    total = float(np.hypot(*np.diff(path, axis=0).T).sum())
    place = along(path, total + 1.0, min(look.metres(BEGIN_MM), total / 2))
    x, y = float(place.xy[0, 0]), float(place.xy[0, 1])
    return Text(
        x + look.metres(1.4), y, words, 1.7, "warning" if spill.over else "water", Anchor.LEFT,
        halo="halo", weight=5.0,
    )  # fmt: skip
