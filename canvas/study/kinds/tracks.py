"""Tracks: along the ground as it is, or shaped to a design profile."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPoint, Point

from canvas.base.fact import Fact
from canvas.base.quantity import FT
from canvas.ground.alignment import SUSTAINED_M, bends, climb_and_fall, dead_ends, steepest
from canvas.ground.formation import Track as Formed
from canvas.ground.frames import line_points
from canvas.ground.materials import material
from canvas.ground.profile import Section
from canvas.ground.trackline import STATION_M, places
from canvas.ground.waysides import Drain, DrainKind, drain_spacings_m, drained, drains
from canvas.site.elements.access import Track
from canvas.site.records import Element
from canvas.study.earth.registry import EARTH
from canvas.study.earth.ways import bay_beside
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import earth_facts, trouble
from canvas.study.kinds.pads import earth_parts
from canvas.study.kinds.shapes import band
from canvas.study.scene import Parts, Scene, facts_of, parts_of

#: A line's end within this distance of another way is joined to it.
JOIN_M = 3.0
#: What leads water across a track.
CROSSINGS = ("water_bar", "culvert", "ford")
#: A profile that ends so far before its track does is told of [m].
PROFILE_SHORT_M = 1.0
#: A design grade is the steepest over this length [m], as the ground's is over two cells.
OVER_M = 2.0


def formed(ident: str, scene: Scene) -> Formed | None:
    """Return a track as it is in the ground; None where it isn't shaped, or can't be."""
    work = scene.work(ident)
    return work.thing if work is not None and isinstance(work.thing, Formed) else None


@parts_of("track")
def track_parts(item: Track, scene: Scene) -> Parts:
    """Return centre line, carriageway, the width to keep clear; of a shaped one its earth too.

    `profile` is the centre line with its design levels; `bends` its arcs' middles, each with
    the radius of its inner edge as its height; `drains` where cross-drains are due.
    """
    line = item.geometry
    clear_m = max(item.clear_width_m, item.width_m)
    track = formed(item.id, scene)
    if track is None:
        return {
            "shape": line,
            "centre_line": line,
            "edge": band(line, item.width_m),
            "clear_way": band(line, clear_m),
        }
    centre, s = track.centre.line, track.stations
    clear = shapely.union(band(centre, clear_m), track.carriageway)
    parts: Parts = {
        "shape": line,
        "centre_line": centre,
        "edge": track.carriageway,
        "clear_way": clear,
        "profile": LineString(np.column_stack((s.x_m, s.y_m, s.level_m))),
        **earth_parts(scene.work(item.id)),
    }
    if track.centre.curves:
        parts["bends"] = MultiPoint(
            [
                (at.x, at.y, max(curve.radius_m - item.width_m / 2, 0.0))
                for curve in track.centre.curves
                for at in (centre.interpolate((curve.from_m + curve.to_m) / 2),)
            ]
        )
    placed = drains_placed(track, scene)
    due = [drain.station_m for drain in drains_due(item, track, placed)]
    if due:
        parts["drains"] = across(track, due)
    if not track.unsupported.is_empty:
        parts["unsupported"] = track.unsupported
    return parts


def across(track: Formed, stations_m: list[float]) -> MultiLineString:
    """Return lines from edge to edge of a carriageway at stations."""
    half = track.build.width_m / 2
    at, normal = places(*line_points(track.centre.line), np.array(stations_m))
    ends = np.stack((at - normal * half, at + normal * half), axis=1)
    return MultiLineString([LineString(pair) for pair in ends])


def drains_due(item: Track, track: Formed, placed: Sequence[float] = ()) -> list[Drain]:
    """Return where a shaped track's cross-drains are due, besides those placed."""
    return drains(track.grade_line, DrainKind(item.cross_drains), item.erodible, placed)


def crossings_on(track: Formed, scene: Scene) -> list[tuple[float, Element]]:
    """Return what leads water across a track, each with its station, in order."""
    centre, half = track.centre.line, track.build.width_m / 2
    found = []
    for key in CROSSINGS:
        for item in scene.of_kind(key):
            if item.geometry.distance(centre) <= half:
                at = item.geometry.intersection(centre)
                place = at.representative_point() if not at.is_empty else item.geometry.centroid
                found.append((float(centre.project(place)), item))
    return sorted(found, key=lambda pair: pair[0])


def drains_placed(track: Formed, scene: Scene) -> list[float]:
    """Return the stations at which water is led across a track, in order."""
    return [station for station, _ in crossings_on(track, scene)]


def drain_gap(item: Track, track: Formed, placed: list[float]) -> tuple[float, int]:
    """Return the longest way water runs along a track, as a share of the spacing; lows undrained.

    Each metre counts by its own grade's spacing. Water runs from a summit, a drain or the start
    to the next drain, low or end.
    """
    line = track.grade_line
    start, end = line.knees[0].station_m, line.knees[-1].station_m
    summits, lows = line.turning_points_m()
    kind, worst = DrainKind(item.cross_drains), 0.0
    cuts = np.unique(np.concatenate(([start], placed, summits, lows, [end])))
    cuts = cuts[(cuts >= start) & (cuts <= end)]
    for a, b in itertools.pairwise(cuts):
        s = np.linspace(a, b, max(round((b - a) / STATION_M), 1) * 4 + 1)
        grade = line.grade((s[:-1] + s[1:]) / 2)
        worst = max(worst, float((np.diff(s) / drain_spacings_m(grade, kind, item.erodible)).sum()))
    dry = sum(1 for low in lows if not drained(float(low), placed))
    return worst, dry


def design_profile(track: Formed) -> Section:
    """Return a track's design levels along its centre line."""
    s = track.stations
    return Section(s.station_m, s.x_m, s.y_m, s.level_m)


def _design_facts(item: Track, track: Formed, scene: Scene) -> list[Fact]:
    """Return what follows from a design profile: grades, drains, benches."""
    profile = design_profile(track)
    most, held = steepest(profile, OVER_M), steepest(profile, SUSTAINED_M)
    climb, fall = climb_and_fall(profile)
    placed, due = drains_placed(track, scene), drains_due(item, track)
    missing = drains_due(item, track, placed)
    gap, dry = drain_gap(item, track, placed)
    span = f"over {SUSTAINED_M:g} m ({SUSTAINED_M / FT:.0f} ft), as designed"
    facts = []
    if most is not None and held is not None:
        facts += [
            common.ratio("max_grade", "Steepest grade", abs(most.grade), "as designed"),
            common.ratio("sustained_grade", "Steepest held grade", abs(held.grade), span),
        ]
    facts += _curve_facts(track)
    ends_m, length_m = track.grade_line.knees[-1].station_m, track.centre.line.length
    if ends_m < length_m - PROFILE_SHORT_M:
        told = f"at {ends_m:.1f} m of {length_m:.1f} m: its last grade goes on"
        facts.append(common.words("profile_ends", "Design profile ends", told))
    bench_m = float(len(track.wants_full_bench())) * STATION_M
    facts += [
        Fact("climb_m", "Climbs in all", climb, "m"),
        Fact("fall_m", "Falls in all", fall, "m"),
        Fact("bench_m", "Length that wants a full bench", bench_m, "m",
             remark="where the ground falls across it by more than 55 %"),
        common.count("drains_due", "Cross-drains due", len(due), "at the handbook's spacing"),
        common.count("drains", "Cross-drains placed", len(placed)),
        common.count("drains_missing", "Cross-drains missing", len(missing)),
        Fact("drain_gap", "Longest run between them", gap, "%",
             "of the greatest spacing at its grades", source="keller_sherar2003"),
        common.count("lows_undrained", "Low points without a drain", dry),
    ]  # fmt: skip
    facts.append(common.area("unsupported_m2", "Carriageway over thin air", track.unsupported.area))
    moved = earth_facts((track.patch,), track.earth, material(item.soil), scene)
    facts += [fact for fact in moved if fact.key != "laid_m3"]
    if track.build.aggregate_m:
        facts.append(
            Fact("aggregate_m3", "Aggregate", track.aggregate_m3, "m3", "placed and compacted")
        )
    return facts


def _curve_facts(track: Formed) -> list[Fact]:
    """Return the tightest bend of the centre line, and the shortest easing of its grades."""
    turns, inner = track.centre.curves, track.grade_line.knees[1:-1]
    facts = []
    if turns:
        short = sum(1 for curve in turns if not curve.fits)
        facts += [
            Fact("least_radius_m", "Tightest bend, centre line", track.centre.tightest_m, "m"),
            common.count("tight_bends", "Bends without room for the radius", short),
        ]
    if inner:
        shortest = min(knee.curve_m for knee in inner)
        facts.append(Fact("least_curve_m", "Shortest vertical curve", shortest, "m"))
    return facts


def _ground_facts(item: Track, scene: Scene, *, designed: bool) -> list[Fact]:
    """Return grades of the ground as it is; of a shaped track the steepest, to compare."""
    found = scene.terrain.alignment(item.geometry, item.width_m, SUSTAINED_M)
    if found is None or found.steepest is None or found.sustained is None:
        return []
    span = f"over {SUSTAINED_M:g} m ({SUSTAINED_M / FT:.0f} ft)"
    held = abs(found.sustained.grade)
    if designed:
        return [common.ratio("ground_grade", "Steepest held grade of the ground", held, span)]
    return [
        common.ratio("max_grade", "Steepest grade", abs(found.steepest.grade), "on the ground"),
        common.ratio("sustained_grade", "Steepest held grade", held, span),
        Fact("climb_m", "Climbs in all", found.climb_m, "m"),
        Fact("fall_m", "Falls in all", found.fall_m, "m"),
    ]


def _bay_facts(item: Track, line: LineString, scene: Scene) -> list[Fact]:
    """Return the passing bays beside a track, and the longest way between them."""
    beside = (bay_beside(bay, item, line) for bay in scene.of_kind("passing_bay"))
    stations = sorted(bay.station_m for bay in beside if bay is not None)
    gap = float(np.diff([0.0, *stations, line.length]).max())
    return [
        common.count("passing_bays", "Passing bays", len(stations)),
        Fact("bay_gap_m", "Longest way without a passing bay", gap, "m"),
    ]


def track_ends(scene: Scene) -> dict[str, list[Point]]:
    """Return the dead ends of every track, by the track's identity."""
    tracks = [item for item in scene.of_kind("track") if isinstance(item, Track)]
    roads = [road.geometry for road in scene.of_kind("public_road")]
    found: dict[str, list[Point]] = {}
    for end in dead_ends([track.geometry for track in tracks], JOIN_M, roads):
        found.setdefault(tracks[end.line].id, []).append(end.at)
    return found


@facts_of("track", reads=(*EARTH, "public_road"))
def track_facts(item: Track, scene: Scene) -> list[Fact]:
    """Return lengths, grades, bends, surface and ends; of a shaped one its earth and drains."""
    track = formed(item.id, scene)
    if track is None:
        line, surface = item.geometry, item.geometry.length * item.width_m
        turns = bends(item.geometry, item.width_m)
        tightest = min((bend.inside_radius_m for bend in turns), default=None)
        own = _ground_facts(item, scene, designed=False)
    else:
        line, surface = track.centre.line, track.carriageway.area
        radii = [curve.radius_m for curve in track.centre.curves]
        tightest = max(min(radii) - item.width_m / 2, 0.0) if radii else None
        own = [
            *_design_facts(item, track, scene),
            *_ground_facts(item, scene, designed=True),
        ]
    clear_m = max(item.clear_width_m, item.width_m)
    return [
        *trouble(scene.work(item.id) if item.forming != "none" else None),
        *common.line_facts(line, scene),
        *own,
        Fact("min_inside_radius_m", "Tightest bend, inner edge", tightest, "m"),
        Fact("width_m", "Running width", item.width_m, "m"),
        Fact("clear_width_m", "Clear width", clear_m, "m"),
        Fact("clear_height_m", "Clear height", item.clear_height_m, "m"),
        common.area("surface_m2", "Surface", surface),
        common.count("dead_ends", "Dead ends", len(track_ends(scene).get(item.id, []))),
        *_bay_facts(item, line, scene),
    ]
