"""Long sections of tracks with levels, grades and curves; cross-sections at stations."""

from __future__ import annotations

import numpy as np

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show, shown
from canvas.drawing.chart import Chart
from canvas.drawing.details.crosscut import BUILT, EXISTING, CrossCut
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Anchor, Cap, Entry, Lines, Stroke, Text
from canvas.drawing.furniture import nice_step, ring
from canvas.drawing.profile import SectionPicture, cut_and_fill, profile_entries
from canvas.ground.designed import Designed
from canvas.ground.formation import Track as Formed
from canvas.ground.frames import line_points
from canvas.ground.trackline import places
from canvas.site.elements.access import Track
from canvas.site.records import kind_of
from canvas.study.earth.registry import Work
from canvas.study.kinds.tracks import crossings_on
from canvas.study.longsection import TrackProfile, track_profile
from canvas.study.study import Study

#: Scales along, and how much more the heights are drawn, the largest that fits.
ALONG = (100, 200, 250, 500, 1000, 1250, 2000, 2500, 5000, 10000)
STRETCH = (10, 5, 4, 2.5, 2, 1)
WIDE_MM, HIGH_MM = 240.0, 62.0
LEFT_MM, RIGHT_MM, TOP_MM = 26.0, 12.0, 22.0
LETTERS_MM = 1.7
#: Height of a row of figures, and of the row of bends [mm]; figures stand no closer than this.
ROW_MM, BEND_MM, APART_MM = 10.5, 5.0, 4.4
ROWS = ("Station", "Ground", "Design", "− cut + fill")
#: Shown to either side of a cross-section beyond its batters [m]; how far it is looked for.
BESIDE_M, REACH_M = 2.0, 40.0
FINE = Stroke("rule", 0.13, cap=Cap.FLAT)
INDICATIVE = "Levels are indicative: set out with a level on site."


@details_of("track")
def track_details(item: Track, study: Study) -> list[Detail]:
    """Return a shaped track's long section, and its sections at its deepest cut and fill."""
    profile, work = track_profile(study, item.id), study.work(item.id)
    if profile is None or profile.earth is None or work is None:
        return []
    found = [long_section(item, study, profile, work.thing)]
    off = profile.design_m() - profile.ground.z_m
    for k, words in ((int(np.argmin(off)), "deepest cut"), (int(np.argmax(off)), "highest fill")):
        station = float(profile.ground.distance_m[k])
        made = cross_section(item, study, work, station, words)
        if made is not None:
            found.append(made)
    return found


# -- the long section ------------------------------------------------------------------------------


def _scales(length_m: float, rise_m: float) -> tuple[int, float]:
    """Return the scale along, and how many times more heights are drawn."""
    along = next((s for s in ALONG if 1000 * length_m / s <= WIDE_MM), ALONG[-1])
    up = next((k for k in STRETCH if 1000 * rise_m * k / along <= HIGH_MM), STRETCH[-1])
    return along, up


def long_section(item: Track, study: Study, profile: TrackProfile, track: Formed) -> Detail:
    """Return existing and design levels along a track at scale, with a table of levels."""
    units = study.plan.site.unit_system()
    ground, design = profile.ground, profile.design_m()
    low = float(np.nanmin(np.fmin(ground.z_m, design)))
    high = float(np.nanmax(np.fmax(ground.z_m, design)))
    datum = np.floor(low - 1.0)
    along, up = _scales(profile.length_m, high - datum)
    wide, tall = 1000 * profile.length_m / along, 1000 * (high - datum) * up / along
    foot = BEND_MM + ROW_MM * len(ROWS) + 4.0
    width, height = LEFT_MM + wide + RIGHT_MM, foot + tall + TOP_MM
    # The range is in the shown unit, as the profile's own entries are.
    k = _factor(units)
    chart = Chart(
        (), width, height, (LEFT_MM, foot, wide, tall),
        (0.0, profile.length_m * k, datum * k, high * k),
    )  # fmt: skip
    picture = SectionPicture(ground.distance_m, ground.z_m, design, profile.line)
    entries: list[Entry] = [*cut_and_fill(picture, chart, k)]
    path = np.array([chart.at(s * k, z * k) for s, z in zip(ground.distance_m, ground.z_m,
                                                            strict=True)])  # fmt: skip
    entries.append(Lines([path], EXISTING))
    entries += profile_entries(profile.line, chart, units, LETTERS_MM)
    entries += _table(profile, chart, along, units)
    entries += _bends(track, chart, units)
    entries += _crossings(study, track, profile, chart, units)
    left, bottom = LEFT_MM, foot
    entries.append(Lines([ring((left, bottom), (left + wide, bottom))], Stroke("ink", 0.25)))
    words = f"datum {show(float(datum), 'm', units)}"
    entries.append(Text(left - 1.2, bottom + 1.4, words, LETTERS_MM, "ink", Anchor.RIGHT))
    scale = f"1:{along} along, 1:{along / up:g} up"
    title = f"{item.name or 'Track'}: long section"
    return Detail(title, tuple(entries), width, height, scale)


def _factor(units: UnitSystem) -> float:
    return shown("m", units).factor


def _stations(profile: TrackProfile, along: int) -> Floats:
    """Return the stations of the table: even ones, and every point of the profile."""
    apart = APART_MM * along / 1000
    step = nice_step(apart)
    points = np.array([knee.station_m for knee in profile.line.knees])
    points = points[points <= profile.length_m + 1e-6]
    even = np.arange(0.0, profile.length_m, step)
    free = even[[bool(np.all(np.abs(points - s) >= apart)) for s in even]]
    return np.sort(np.concatenate((points, free)))


def _table(profile: TrackProfile, chart: Chart, along: int, units: UnitSystem) -> list[Entry]:
    """Return the rows of figures under a long section."""
    left, bottom, wide, _ = chart.plot
    k = _factor(units)
    entries: list[Entry] = []
    tops = [bottom - BEND_MM - ROW_MM * row for row in range(len(ROWS) + 1)]
    rules = [ring((left - LEFT_MM + 2, y), (left + wide, y)) for y in tops]
    entries.append(Lines(rules, FINE))
    for row, name in enumerate(ROWS):
        y = tops[row] - ROW_MM / 2
        entries.append(Text(left - 3.0, y, name, LETTERS_MM, "ink_soft", Anchor.RIGHT))
    ticks = []
    last = -np.inf
    for s in _stations(profile, along):
        x, _ = chart.at(float(s) * k, chart.range[2])
        # Points of the profile may crowd: a figure is left out, never written over.
        if x - last < LETTERS_MM * 1.5:
            continue
        last = x
        ground, design = float(profile.ground.at(s)), float(profile.line.level_m(s))
        off = design - ground
        figures = (
            show(float(s), "m", units, 1), show(ground, "m", units), show(design, "m", units),
            ("+" if off > 0.005 else "") + show(off, "m", units),
        )  # fmt: skip
        ticks.append(ring((x, bottom), (x, tops[0])))
        for row, words in enumerate(figures):
            plain = words.split("\N{NO-BREAK SPACE}")[0]
            entries.append(
                Text(x, tops[row] - ROW_MM / 2, plain, LETTERS_MM, "ink", turn_deg=-90.0)
            )
    return [*entries, Lines(ticks, FINE)]


def _bends(track: Formed, chart: Chart, units: UnitSystem) -> list[Entry]:
    """Return each bend as a step in the band under the section, left or right, with its radius."""
    k, bottom = _factor(units), chart.plot[1]
    middle = bottom - BEND_MM / 2
    steps, words = [], []
    run = [(chart.at(0.0, chart.range[2])[0], middle)]
    for curve in track.centre.curves:
        side = 1.2 if curve.turn_deg > 0 else -1.2
        (a, _), (b, _) = (chart.at(s * k, chart.range[2]) for s in (curve.from_m, curve.to_m))
        run += [(a, middle), (a, middle + side), (b, middle + side), (b, middle)]
        told = f"R {show(curve.radius_m, 'm', units, 0)}"
        words.append(Text((a + b) / 2, middle - side * 0.6, told, LETTERS_MM * 0.85, "ink_soft"))
    run.append((chart.plot[0] + chart.plot[2], middle))
    steps.append(ring(*run))
    return [Lines(steps, Stroke("ink_soft", 0.18)), *words]


def _crossings(
    study: Study, track: Formed, profile: TrackProfile, chart: Chart, units: UnitSystem
) -> list[Entry]:
    """Return culverts, fords and water bars at their stations, named from above."""
    k = _factor(units)
    entries: list[Entry] = []
    top = chart.plot[1] + chart.plot[3]
    for station, item in crossings_on(track, study):
        x, y = chart.at(station * k, float(profile.line.level_m(station)) * k)
        words = item.name or kind_of(item).label
        bore = getattr(item, "bore_m", None)
        if bore is not None:
            words += f" {show(bore, 'm', units)}"
        entries.append(Lines([ring((x, y), (x, top + 1.5))], Stroke("water", 0.18, (0.8, 0.5))))
        entries.append(
            Text(x, top + 2.5, words, LETTERS_MM * 0.9, "water", Anchor.LEFT, turn_deg=-60.0)
        )
        level = getattr(item, "inlet_m", None)
        if level is not None:
            _, z = chart.at(0.0, level * k)
            half = 0.7
            pipe = [ring((x - half, z), (x + half, z), (x + half, z + 1.2), (x - half, z + 1.2),
                         (x - half, z))]  # fmt: skip
            entries.append(Lines(pipe, Stroke("water", 0.3)))
    return entries


# -- cross-sections --------------------------------------------------------------------------------


def cross_section(
    item: Track, study: Study, work: Work, station_m: float, words: str = ""
) -> Detail | None:
    """Return the section across a track at a station, seen from its start; None off the ground."""
    track = work.thing
    if not isinstance(track, Formed) or work.ground is None:
        return None
    units = study.plan.site.unit_system()
    at, normal = places(*line_points(track.centre.line), np.array([station_m]))
    u = np.arange(-REACH_M, REACH_M, 0.05)
    xy = at[0] + u[:, None] * normal[0]
    before = work.ground.sample(xy[:, 0], xy[:, 1])
    whole = Designed.of(work.ground.base, [*work.ground.patches, *work.patches])
    after = whole.sample(xy[:, 0], xy[:, 1])
    half = track.build.width_m / 2
    moved = np.nan_to_num(np.abs(after - before)) > 0.005
    # What belongs to this place, not to the track as it comes round a bend.
    near = np.abs(u) <= half
    for side in (u < 0, u > 0):
        order = np.flatnonzero(side)[::-1] if side[0] else np.flatnonzero(side)
        for k in order:
            if np.abs(u[k]) > half and not moved[k]:
                break
            near[k] = True
    left, right = u[near][0] - BESIDE_M, u[near][-1] + BESIDE_M
    keep = (u >= left) & (u <= right) & np.isfinite(before) & np.isfinite(after)
    if keep.sum() < 10:
        return None
    u, before, after = u[keep], before[keep], after[keep]
    cut = CrossCut(
        (float(u[0]), float(u[-1])),
        (float(min(before.min(), after.min())) - 0.3, float(max(before.max(), after.max())) + 0.6),
        units,
    )
    cut.moved(u, before, after)
    cut.line(np.column_stack((u, before)), EXISTING)
    cut.line(np.column_stack((u, after)), BUILT)
    _dimensions(cut, track, u, after, units)
    title = f"{item.name or 'Track'}: section at {show(station_m, 'm', units, 1)}"
    notes = [_notes(item, track, units), INDICATIVE]
    return cut.detail(f"{title}, {words}" if words else title, notes)


def _dimensions(cut: CrossCut, track: Formed, u: Floats, after: Floats, units: UnitSystem) -> None:
    build = track.build
    half = build.width_m / 2
    foot = float(after.min())
    cut.across(-half, half, foot, f"carriageway {cut.length(build.width_m)}", off_mm=-6.0)
    middle = float(np.interp(0.0, u, after))
    cut.level(0.0, middle, show(middle, "m", units))
    for side in (-1.0, 1.0):
        edge = float(np.interp(side * half, u, after))
        out = float(np.interp(side * (half + 0.6), u, after))
        # A little within the edge, where the patch's cells are all the carriageway's.
        slope = (float(np.interp(side * 0.8 * half, u, after)) - middle) / (0.8 * half)
        cut.note(side * half / 2, (edge + middle) / 2, show(abs(slope), "%", decimals=0),
                 (0.0, -2.4))  # fmt: skip
        if abs(out - edge) > 0.15:
            batter = build.batters.cut if out > edge else build.batters.fill
            if batter:
                cut.slope(side * (half + 0.9), (out + edge) / 2, batter)


def _notes(item: Track, track: Formed, units: UnitSystem) -> str:
    build = track.build
    told = [kind_of(item).spec("forming").label_of(item.forming).lower()]
    if build.aggregate_m:
        told.append(f"aggregate {show(build.aggregate_m, 'm', units)} on the formation")
    if build.strip_m:
        told.append(f"topsoil stripped {show(build.strip_m, 'm', units)}")
    if build.batters.fill is None:
        told.append("full bench: nothing is filled")
    words = ", ".join(told)
    return words[0].upper() + words[1:] + "."
