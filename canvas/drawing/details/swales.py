"""Cross-sections of swales, drains, level sills and checks, with the ground and the water."""

from __future__ import annotations

import numpy as np
import shapely

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show
from canvas.drawing.details.crosscut import BUILT, EXISTING, CrossCut
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Anchor, Fill, Hatch, Stroke
from canvas.ground.bank import Works
from canvas.ground.check import Check
from canvas.ground.crosssection import Trapezoid
from canvas.ground.swale import Swale as Dug
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.study.earth.registry import Work
from canvas.study.study import Study

#: Ground drawn beyond the work on either side [m], and places it is read at.
BEYOND_M = 1.0
#: Room for the heights that stand aside of a channel's section [mm].
RIGHT_MM = 28.0
PLACES = 600
INDICATIVE = "Levels are indicative: set out with a level on site."


def _units(study: Study) -> UnitSystem:
    return study.plan.site.unit_system()


def _fact(study: Study, ident: str, key: str) -> float | None:
    found = next((fact.value for fact in study.facts(ident) if fact.key == key), None)
    return found if isinstance(found, float) else None


def _square(dug: Dug, work: Work, along_m: float) -> tuple[Floats, Floats, float]:
    """Return distances from the line towards the bank, the ground there, and the lip's level."""
    line, works = dug.line, dug.works
    along_m = min(max(along_m, 0.05), line.length - 0.05)
    a, b = line.interpolate(along_m - 0.05), line.interpolate(along_m + 0.05)
    ahead = np.array((b.x - a.x, b.y - a.y)) / max(a.distance(b), 1e-9)
    side = np.array((ahead[1], -ahead[0])) * (1.0 if dug.bank_right else -1.0)
    reach = works.crest_m + works.bank.top_m / 2 + 6 * works.bank.outer * works.bank.height_m
    u = np.linspace(-2 * works.channel.top_m - BEYOND_M, reach + BEYOND_M, PLACES)
    middle = line.interpolate(along_m)
    x, y = middle.x + u * side[0], middle.y + u * side[1]
    assert work.ground is not None
    lip = float(np.interp(along_m / line.length, (0, 1), (dug.lip_m[0], dug.lip_m[-1])))
    return u, work.ground.sample(x, y), lip


def _built(works: Works, u: Floats, ground: Floats, lip: float, bank_top: float) -> Floats:
    """Return the surface as built, between where it leaves the ground and meets it again."""
    made = works.section().heights(u, ground - lip) + lip
    over = (u > works.channel.top_m / 2 + works.berm_m) & (made > lip + bank_top)
    return np.where(over & (made > ground), np.maximum(ground, lip + bank_top), made)


def _channel(
    study: Study, item: Swale | Drain | LevelSill, title: str, along_m: float, *,
    at_sill: bool = False, water_m: float | None = None,
) -> Detail | None:  # fmt: skip
    """Return a channel's section; `water_m` is the water's level above the lip."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return None
    dug = work.thing
    works, channel, bank = dug.works, dug.works.channel, dug.works.bank
    u, ground, lip = _square(dug, work, along_m)
    known = np.isfinite(ground)
    if known.sum() < PLACES // 2:
        return None
    top = works.sills[0].above_lip_m if at_sill and works.sills else bank.height_m
    made = _built(works, u, ground, lip, top)
    # What is drawn ends a little beyond where earth is moved.
    moved = u[known & (np.abs(made - ground) > 1e-3)]
    if len(moved):
        known &= (u >= moved[0] - BEYOND_M) & (u <= moved[-1] + BEYOND_M)
    u, ground, made = u[known], ground[known], made[known]
    low = min(float(ground.min()), lip - channel.depth_m)
    high = max(float(ground.max()), lip + bank.height_m)
    cut = CrossCut((float(u[0]), float(u[-1])), (low - 0.1, high + 0.1), _units(study),
                   right_mm=RIGHT_MM)  # fmt: skip
    full = lip + (works.full_m if water_m is None else water_m)
    wet = np.where(u < works.crest_m, made, np.inf)
    cut.water(u, wet, full)
    cut.moved(u, ground, made)
    cut.line(np.column_stack((u, ground)), EXISTING)
    cut.line(np.column_stack((u, made)), BUILT)
    _dimensions(cut, works, lip, full, top, at_sill=at_sill and bool(works.sills))
    notes = [_said(study, item, dug, lip), INDICATIVE]
    return cut.detail(title, notes)


def _dimensions(
    cut: CrossCut, works: Works, lip: float, full: float, top: float, *, at_sill: bool
) -> None:
    """Draw the dimensions; `top` is how high over the lip the bank stands here."""
    channel, bank = works.channel, works.bank
    half, crest = channel.top_m / 2, lip + top
    foot = half + works.berm_m
    inner, outer = foot + bank.inner * top, foot + bank.inner * top + bank.top_m
    bed = lip - channel.depth_m
    if isinstance(channel, Trapezoid) and channel.bottom_m > 0:
        cut.across(-channel.bottom_m / 2, channel.bottom_m / 2, bed, off_mm=-5.0)
    cut.across(-half, half, bed, off_mm=-10.0)
    if works.berm_m > 0:
        cut.across(half, foot, lip, off_mm=-5.0)
    cut.across(inner, outer, lip + top, off_mm=2.5)
    cut.upward(bed, lip, -half, off_mm=-3.0)
    cut.level(-half / 3, full, f"water {cut.length(full)}", "water")
    cut.note(outer + bank.outer * top, lip, f"{bank.outer:g} : 1", (-2.5, -1.2), Anchor.RIGHT,
             "dimension")  # fmt: skip
    cut.note(half + bank.inner * top / 2, lip - channel.depth_m / 2, f"{channel.side_run:g} : 1",
             (3.0, -1.0), Anchor.LEFT, "dimension")  # fmt: skip
    toe = outer + bank.outer * top
    if top > 0.0:
        name = "sill" if at_sill else "bank"
        cut.aside(lip, crest, toe, f"{name} {cut.length(top)}", 9.0, outer)
    # Water runs over a sill: there is no freeboard there.
    if not at_sill and crest - full > 0.02:
        cut.aside(full, crest, toe, f"freeboard {cut.length(crest - full)}", 27.0, outer)


def _said(study: Study, item: Swale | Drain | LevelSill, dug: Dug, lip: float) -> str:
    units = _units(study)
    holds = show(dug.holds_m3, "m3", units)
    settled = dug.works.settlement
    long, level = show(item.geometry.length, "m", units), show(lip, "m", units)
    words = f"Lip {level}. Holds {holds} to its sill over {long}."
    if isinstance(item, Drain):
        words = f"Lip {level} here. Falls {show(abs(item.grade), '%', units)} along {long}."
    if settled > 0:
        words += f" Bank shown settled: build it {settled * 100:.0f} % higher."
    return words


@details_of("swale")
def swale_details(item: Swale, study: Study) -> list[Detail]:
    """Return the swale's section in its middle, and at its sill."""
    long, middle = float(item.geometry.length), float(item.geometry.length) / 2
    work = study.work(item.id)
    sills = work.thing.works.sills if work is not None and isinstance(work.thing, Dug) else ()
    if sills and abs(sills[0].at_m - middle) < sills[0].length_m:
        middle = long / 4
    units = _units(study)
    name = item.name or "Swale"
    found = [_channel(study, item, f"{name}: section at {show(middle, 'm', units)}", middle)]
    if sills:
        at = sills[0].at_m
        title = f"{name}: sill, {show(sills[0].length_m, 'm', units)} long"
        found.append(_channel(study, item, title, at, at_sill=True))
    return [each for each in found if each is not None]


@details_of("drain")
def drain_details(item: Drain, study: Study) -> list[Detail]:
    """Return the drain's section with the water it carries below its freeboard."""
    deep = _fact(study, item.id, "flow_depth_m")
    over = item.bank_m - item.freeboard_m if deep is None else deep - item.depth_m
    name = item.name or "Diversion drain"
    title = f"{name}: section, {'design flow' if deep is not None else 'below its freeboard'}"
    made = _channel(study, item, title, item.geometry.length / 2, water_m=over)
    return [made] if made is not None else []


@details_of("level_sill")
def level_sill_details(item: LevelSill, study: Study) -> list[Detail]:
    """Return the level sill's section."""
    name = item.name or "Level sill"
    made = _channel(study, item, f"{name}: section", item.geometry.length / 2, at_sill=True)
    return [made] if made is not None else []


# -- checks in gullies -----------------------------------------------------------------------------

STONE = Fill("earth", Hatch.CROSS, 0.6, 45.0, 1.4, 0.13)


@details_of("check_dam")
def check_details(item: CheckDam, study: Study) -> list[Detail]:
    """Return the check seen from below the gully, and cut through its notch."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Check) or work.ground is None:
        return []
    name = item.name or "Check"
    return [
        _face(study, item, work.thing, work, f"{name}: seen from downstream"),
        _through(study, item, work.thing, work, f"{name}: through the notch"),
    ]


def _face(study: Study, item: CheckDam, made: Check, work: Work, title: str) -> Detail:
    line = item.geometry
    at = np.linspace(0.0, line.length, PLACES)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, list(at)))
    assert work.ground is not None
    z = work.ground.sample(xy[:, 0], xy[:, 1])
    # Seen from below: the water comes towards us.
    u = at if made.water_right else line.length - at
    notch = made.notch_at_m if made.water_right else line.length - made.notch_at_m
    order = np.argsort(u)
    u, z = u[order], z[order]
    top = made.notch_level_m + item.notch_deep_m
    wall = np.where(np.abs(u - notch) <= item.notch_m / 2, made.notch_level_m, top)
    stands = np.maximum(wall, z)
    low, high = float(z.min()), max(float(z.max()), top)
    cut = CrossCut((0.0, float(line.length)), (low - item.key_m - 0.1, high + 0.1), _units(study))
    body = np.vstack((np.column_stack((u, stands)), np.column_stack((u, z))[::-1]))
    cut.area(body, STONE)
    if item.key_m > 0:
        under = z < top
        cut.line(
            np.column_stack((u[under], z[under] - item.key_m)), Stroke("earth", 0.2, (0.6, 0.5))
        )
    cut.line(np.column_stack((u, z)), EXISTING)
    cut.line(np.column_stack((u, stands)), BUILT)
    half = item.notch_m / 2
    cut.across(notch - half, notch + half, made.notch_level_m, off_mm=2.5)
    cut.upward(made.bed_m, made.notch_level_m, notch, off_mm=3.0)
    cut.upward(made.notch_level_m, top, notch - half, off_mm=-2.0)
    cut.note(notch, made.bed_m, f"bed {cut.length(made.bed_m)}", (0, -3.0))
    return cut.detail(title, [INDICATIVE])


def _through(study: Study, item: CheckDam, made: Check, work: Work, title: str) -> Detail:
    """Return the section down the gully: straight on square to the check."""
    middle = item.geometry.interpolate(made.notch_at_m)
    a = item.geometry.interpolate(max(made.notch_at_m - 0.1, 0.0))
    b = item.geometry.interpolate(min(made.notch_at_m + 0.1, item.geometry.length))
    ahead = np.array((b.x - a.x, b.y - a.y)) / max(a.distance(b), 1e-9)
    # Down the gully lies away from the water.
    down = np.array((-ahead[1], ahead[0])) * (1.0 if made.water_right else -1.0)
    half, high = item.crest_m / 2, item.height_m
    wide = half + high * max(item.upstream, item.downstream) + item.apron_m + BEYOND_M
    u = np.linspace(-wide, wide, PLACES)
    assert work.ground is not None
    z = work.ground.sample(middle.x + u * down[0], middle.y + u * down[1])
    known = np.isfinite(z)
    u, z = u[known], z[known]
    level = made.notch_level_m
    rise = np.where(u < 0, (-u - half) / item.upstream, (u - half) / item.downstream)
    wall = level - np.maximum(rise, 0.0)
    stands = np.where(wall > z, wall, z)
    low = min(float(z.min()), made.bed_m - item.key_m)
    cut = CrossCut((float(u[0]), float(u[-1])), (low - 0.2, max(float(z.max()), level) + 0.2),
                   _units(study))  # fmt: skip
    caught = np.where((u < 0) & (level > stands), level, stands)
    soil = np.vstack((np.column_stack((u, caught)), np.column_stack((u, stands))[::-1]))
    cut.area(soil, Fill("earth", Hatch.DOTS, 0.6, gap_mm=1.2, line_mm=0.25))
    body = np.vstack((np.column_stack((u, stands)), np.column_stack((u, z))[::-1]))
    cut.area(body, STONE)
    if item.key_m > 0:
        bed = made.bed_m
        key = [(-half, bed), (-half, bed - item.key_m), (half, bed - item.key_m), (half, bed)]
        cut.area(key, STONE)
        cut.upward(bed - item.key_m, bed, half, off_mm=2.0)
    cut.line(np.column_stack((u, z)), EXISTING)
    cut.line(np.column_stack((u, stands)), BUILT)
    cut.across(-half, half, level, off_mm=3.0)
    cut.upward(made.bed_m, level, -half, off_mm=-3.0)
    toe = half + high * item.downstream
    if item.apron_m > 0:
        floor = float(np.interp(toe, u, z))
        cut.line([(toe, floor), (toe + item.apron_m, floor)], Stroke("earth", 0.6, (0.5, 0.4)))
        cut.across(toe, toe + item.apron_m, floor, f"apron {cut.length(item.apron_m)}", off_mm=-5.0)
    cut.note(float(u[0]), level, "soil it catches", (2.0, 2.0), Anchor.LEFT)
    return cut.detail(title, [INDICATIVE])
