"""Dams and dug ponds cut through with dimensions, along the crest, and what they hold by level."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show, shown
from canvas.drawing.chart import Axis, Series, line_chart
from canvas.drawing.details.crosscut import BUILT, EXISTING, CrossCut
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Anchor, Cap, Fill, Hatch, Stroke
from canvas.ground.designed import Designed
from canvas.ground.excavation import Dugout
from canvas.ground.frames import line_points
from canvas.ground.pond import StageStorage
from canvas.ground.spillway import Spillway
from canvas.site.elements.ponds import Dam, DugPond
from canvas.study.earth.ponds import PondWork
from canvas.study.earth.registry import Work
from canvas.study.study import Study

PLACES = 600
BEYOND_M = 2.0
RIGHT_MM = 30.0
CHART_MM = (110.0, 52.0)
TRENCH = Stroke("earth", 0.25, (0.8, 0.5), cap=Cap.FLAT)
INDICATIVE = "Levels are indicative: set out with a level on site."
SAFETY = "A dam that fails kills: a licensed engineer and the law of the place decide."


def _units(study: Study) -> UnitSystem:
    return study.plan.site.unit_system()


@details_of("dam")
def dam_details(item: Dam, study: Study) -> list[Detail]:
    """Return a dam's section, its long section, its spillway's section and its storage curves."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, PondWork):
        return []
    made, name, units = work.thing, item.name or "Dam", _units(study)
    found = [_across(item, made, work, units, name), _along(item, made, units, name)]
    if made.spillway is not None:
        found.append(_spillway(study, item, made.spillway, work, name))
    return [*found, *storage_curves(made.storage, made.sill_m, units, name)]


def _cut_line(
    line: LineString, at_m: float, right: bool
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return a place on a line and the unit step square to it, to its right or left."""
    xy, run = line_points(line)
    k = int(np.clip(np.searchsorted(run, at_m, side="right") - 1, 0, len(run) - 2))
    ahead = (xy[k + 1] - xy[k]) / (run[k + 1] - run[k])
    at = xy[k] + ahead * (at_m - run[k])
    side = (float(ahead[1]), float(-ahead[0])) if right else (float(-ahead[1]), float(ahead[0]))
    return (float(at[0]), float(at[1])), side


def _across(item: Dam, made: PondWork, work: Work, units: UnitSystem, name: str) -> Detail:
    """Return the section where the dam is highest, water on the left."""
    dam, bank = made.dam, made.dam.bank
    deepest = float(dam.axis.distance_m[int(np.nanargmin(dam.axis.z_m))])
    (x, y), (dx, dy) = _cut_line(item.geometry, deepest, not dam.water_right)
    half, high = bank.width_m / 2, dam.toe_height_m
    u = np.linspace(
        -(half + bank.upstream * high * 1.2 + 4 * BEYOND_M),
        half + bank.downstream * high * 1.2 + BEYOND_M,
        PLACES,
    )
    assert work.ground is not None
    ground = work.ground.sample(x + u * dx, y + u * dy)
    known = np.isfinite(ground)
    u, ground = u[known], ground[known]
    over = np.maximum(np.abs(u) - half, 0.0) / np.where(u < 0, bank.upstream, bank.downstream)
    built = np.maximum(bank.crest_m - over, ground)
    fill = u[built > ground + 1e-3]
    inside = (u >= fill[0] - 4 * BEYOND_M) & (u <= fill[-1] + BEYOND_M)
    u, ground, built = u[inside], ground[inside], built[inside]
    middle = float(np.interp(0.0, u, ground))
    bottom = middle - (bank.trench.depth_m if bank.trench else 0.0)
    cut = CrossCut((float(u[0]), float(u[-1])),
                   (min(float(ground.min()), bottom) - 0.3, bank.crest_m + 0.3), units,
                   right_mm=RIGHT_MM)  # fmt: skip
    cut.water(u, np.where(u < 0, built, np.inf), made.sill_m)
    cut.moved(u, ground, built)
    if bank.trench is not None:
        _trench(cut, bank.trench.bottom_m, bank.trench.depth_m, bank.trench.side, middle)
    cut.line(np.column_stack((u, ground)), EXISTING)
    cut.line(np.column_stack((u, built)), BUILT)
    cut.across(-half, half, bank.crest_m, off_mm=2.5)
    wet, dry = bank.upstream * high / 3, bank.downstream * high / 3
    cut.slope(-half - wet, bank.crest_m - high / 6, bank.upstream)
    cut.slope(half + dry, bank.crest_m - high / 6, bank.downstream)
    cut.level((float(u[0]) - half) / 2, made.sill_m, f"full {cut.length(made.sill_m)}", "water")
    foot, toe = float(fill[-1]), float(np.interp(fill[-1], u, ground))
    cut.aside(toe, bank.crest_m, foot, f"height here {cut.length(bank.crest_m - toe)}", 4.0, half)
    cut.aside(made.sill_m, bank.crest_m, foot,
              f"freeboard {cut.length(made.pond.freeboard_m)}", 17.0, half)  # fmt: skip
    return cut.detail(f"{name}: section where it is highest", _dam_notes(item, made, units))


def _trench(cut: CrossCut, bottom: float, depth: float, side: float, ground: float) -> None:
    half = bottom / 2
    ring = [(-half - side * depth, ground), (-half, ground - depth), (half, ground - depth),
            (half + side * depth, ground)]  # fmt: skip
    cut.area(ring, Fill("earth", Hatch.CROSS, 0.5, 45.0, 1.3, 0.13))
    cut.line(ring, TRENCH)
    cut.across(-half, half, ground - depth, off_mm=-3.2)
    cut.upward(ground - depth, ground, -half - side * depth, off_mm=-2.0)


def _dam_notes(item: Dam, made: PondWork, units: UnitSystem) -> list[str]:
    crest = show(made.dam.bank.crest_m, "m", units)
    over = show(item.settlement * made.dam.height_m, "m", units)
    strip = show(item.strip_m, "m", units)
    high = show(made.dam.toe_height_m, "m", units)
    return [
        f"Crest {crest} settled, {high} over its lowest toe; built {over} higher here. "
        f"Strip {strip} of topsoil first. {INDICATIVE}",
        SAFETY,
    ]


def _along(item: Dam, made: PondWork, units: UnitSystem, name: str) -> Detail:
    """Return the long section on the crest's line: ground, trench, crest and full water."""
    how = shown("m", units)
    run, ground = made.dam.axis.distance_m * how.factor, made.dam.axis.z_m * how.factor
    crest, full = made.dam.bank.crest_m * how.factor, made.sill_m * how.factor
    stands = crest > ground
    series = [
        Series("ground", run, ground, "earth", 0.35, (1.6, 0.7)),
        Series("crest", run, np.where(stands, crest, np.nan), "ink", 0.5),
        Series("full water", run, np.where(full > ground, full, np.nan), "water", 0.35),
    ]
    if item.trench_depth_m > 0:
        deep = np.where(stands, ground - item.trench_depth_m * how.factor, np.nan)
        series.append(Series("cut-off", run, deep, "earth", 0.25, (0.8, 0.5)))
    chart = line_chart(
        series, *CHART_MM, Axis(f"{how.symbol} from the line's start"),
        Axis(f"Level, {how.symbol}"),
    )  # fmt: skip
    title = f"{name}: along the crest, heights {chart.stretch:.1f} times"
    return Detail(title, chart.entries, chart.width_mm, chart.height_mm)


def _spillway(study: Study, item: Dam, made: Spillway, work: Work, name: str) -> Detail:
    """Return the section across the spillway's sill, seen down the flow."""
    channel, units = made.channel, _units(study)
    at = min(channel.level_length_m, channel.line.length) / 2
    (x, y), (dx, dy) = _cut_line(channel.line, at, True)
    half = channel.width_m / 2
    flood = next((f.value for f in study.facts(item.id) if f.key == "flood_head_m"), None)
    flood = flood if isinstance(flood, float) else None
    side = item.sill_below_m * channel.side
    u = np.linspace(-half - side - 4 * BEYOND_M, half + side + 4 * BEYOND_M, PLACES)
    assert work.ground is not None
    # The bank stands already when its spillway is cut.
    stands = Designed(work.ground.base, (*work.ground.patches, work.patches[0]))
    ground = stands.sample(x + u * dx, y + u * dy)
    known = np.isfinite(ground)
    u, ground = u[known], ground[known]
    built = np.minimum(ground, channel.sill_m + np.maximum(np.abs(u) - half, 0.0) / channel.side)
    cut = CrossCut((float(u[0]), float(u[-1])),
                   (float(built.min()) - 0.3, max(float(ground.max()), channel.sill_m + 1.0)),
                   units, right_mm=12.0)  # fmt: skip
    if flood is not None:
        within = np.abs(u) <= half + channel.side * flood + 0.1
        cut.water(u, np.where(within, built, np.inf), channel.sill_m + flood)
    cut.moved(u, ground, built)
    cut.line(np.column_stack((u, ground)), EXISTING)
    cut.line(np.column_stack((u, built)), BUILT)
    cut.across(-half, half, channel.sill_m, off_mm=-3.5)
    cut.slope(half + side / 2 + 0.3, channel.sill_m + 0.2, channel.side)
    cut.level(0.0, channel.sill_m, f"sill {cut.length(channel.sill_m)}")
    if flood is not None:
        cut.upward(channel.sill_m, channel.sill_m + flood, -half, off_mm=-3.0)
    grade = show(channel.exit_grade, "%", units)
    notes = [f"Level for {show(channel.level_length_m, 'm', units)}, then falls {grade}. "
             f"In firm ground, grassed before it is needed.", INDICATIVE]  # fmt: skip
    return cut.detail(f"{name}: spillway at its sill", notes)


def storage_curves(
    storage: StageStorage, full_m: float, units: UnitSystem, name: str
) -> list[Detail]:
    """Return the charts of what a pond holds and of its water's area, by level."""
    if len(storage.level_m) < 2:
        return []
    how = shown("m", units)
    level = storage.level_m * how.factor
    found = []
    for label, values, unit in (
        ("Water held", storage.volume_m3, "m3"), ("Water's area", storage.area_m2, "m2"),
    ):  # fmt: skip
        as_shown = shown(unit, units)
        series = Series(label, level, values * as_shown.factor, "water", 0.45, fill="water_fill")
        chart = line_chart(
            [series], *CHART_MM, Axis(f"Level, {how.symbol}"),
            Axis(f"{label}, {as_shown.symbol}", low=0.0),
        )  # fmt: skip
        title = f"{name}: {label.lower()} by level, full at {show(full_m, 'm', units)}"
        found.append(Detail(title, chart.entries, chart.width_mm, chart.height_mm))
    return found


@details_of("dug_pond")
def dug_details(item: DugPond, study: Study) -> list[Detail]:
    """Return a dug pond's section across its middle, and its storage curves."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Dugout):
        return []
    made, name, units = work.thing, item.name or "Pond", _units(study)
    return [
        _basin(item, made, work, units, name),
        *storage_curves(made.water.storage(), made.water_m, units, name),
    ]


def _narrow(item: DugPond) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Return a pond's middle, the direction of its short side, and half that side's length."""
    spot = item.geometry.centroid
    if not item.geometry.contains(spot):
        spot = item.geometry.representative_point()
    corners = shapely.get_coordinates(shapely.oriented_envelope(item.geometry))
    sides = np.diff(corners[:3], axis=0)
    short = sides[int(np.argmin(np.hypot(*sides.T)))]
    size = float(math.hypot(*short))
    return (spot.x, spot.y), (float(short[0]) / size, float(short[1]) / size), size / 2


def _basin(item: DugPond, made: Dugout, work: Work, units: UnitSystem, name: str) -> Detail:
    (x, y), (dx, dy), half = _narrow(item)
    rim = item.side * item.freeboard_m + item.rim_m
    far = half + rim + 2.5 * made.earth.highest_fill_m * item.outer + 3 * BEYOND_M
    u = np.linspace(-far, far, PLACES)
    assert work.ground is not None
    surface = work.patches[0].surface()
    ground = work.ground.sample(x + u * dx, y + u * dy)
    built = surface.sample(x + u * dx, y + u * dy)
    built = np.where(np.isnan(built), ground, built)
    known = np.isfinite(ground)
    u, ground, built = u[known], ground[known], built[known]
    moved = u[np.abs(built - ground) > 1e-2]
    inside = (u >= moved[0] - BEYOND_M) & (u <= moved[-1] + BEYOND_M)
    u, ground, built = u[inside], ground[inside], built[inside]
    low, high = float(built.min()), max(float(ground.max()), made.water_m + item.freeboard_m)
    cut = CrossCut((float(u[0]), float(u[-1])), (low - 0.3, high + 0.2), units, right_mm=RIGHT_MM)
    wet = np.where(np.abs(u) <= half + item.side * item.freeboard_m, built, np.inf)
    cut.water(u, wet, made.water_m)
    cut.moved(u, ground, built)
    cut.line(np.column_stack((u, ground)), EXISTING)
    cut.line(np.column_stack((u, built)), BUILT)
    edge = _water_ends(u, wet, made.water_m)
    cut.across(*edge, low, off_mm=-4.0)
    cut.level(0.6 * edge[0], made.water_m, f"full {cut.length(made.water_m)}", "water")
    cut.upward(low, made.water_m, 0.0, off_mm=1.5)
    cut.note(edge[0] + item.side * made.deepest_m / 2, (low + made.water_m) / 2,
             f"{item.side:g} : 1", (2.5, -2.0), Anchor.LEFT, "dimension")  # fmt: skip
    notes = [f"Rim {show(item.freeboard_m, 'm', units)} above full water, "
             f"{show(item.rim_m, 'm', units)} wide. {INDICATIVE}",
             "Deep water drowns: fence it, and leave one gentle way out."]  # fmt: skip
    return cut.detail(f"{name}: section across its middle", notes)


def _water_ends(u: Floats, bed: Floats, level: float) -> tuple[float, float]:
    wet = u[bed < level]
    return (float(wet[0]), float(wet[-1])) if len(wet) else (-0.5, 0.5)
