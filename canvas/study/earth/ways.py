"""Tracks shaped along their design profile."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from shapely import LineString

from canvas.base.errors import BadData
from canvas.ground.crosssection import Batters, Trapezoid
from canvas.ground.curves import Rounded, rounded
from canvas.ground.designed import Designed
from canvas.ground.formation import Build, Crossfall, Roadbed
from canvas.ground.gradeline import GradeLine, Knee, follow_ground
from canvas.ground.trackline import lower_edge
from canvas.ground.waysides import Bay
from canvas.site import tabular
from canvas.site.elements.access import PROFILE, Track
from canvas.site.elements.crossings import PassingBay
from canvas.site.records import Element
from canvas.study.earth.pads import batters_for, met
from canvas.study.earth.registry import Made, work_of

if TYPE_CHECKING:
    from canvas.study.scene import Scene

CROSSFALLS = {
    "out": Crossfall.OUT,
    "in": Crossfall.IN,
    "crown": Crossfall.CROWN,
    "level": Crossfall.LEVEL,
}
#: A profile that follows the ground keeps so near to it where grades let it [m].
WITHIN_M = 0.15
#: A passing bay so near to a track's middle, beyond half its width, is that track's [m].
TOUCHES_M = 8.0


@dataclass(frozen=True, eq=False)
class Course:
    """What a track's shape hangs on besides its levels."""

    centre: Rounded
    bed: Roadbed
    steepest: float
    curve_m: float

    @cached_property
    def follows(self) -> GradeLine:
        """The profile that follows the ground, which a track without a typed one gets."""
        return followed(self.bed, self.steepest, self.curve_m)


@work_of("track", rank=20, reads=("passing_bay",))
def shape_track(item: Track, ground: Designed, scene: Scene) -> Made:
    """Return the track in the ground at its design profile; nothing where it isn't shaped."""
    if item.forming == "none":
        return Made(None, ())
    course = course_of(item, ground, scene)
    made = course.bed.at(grade_line(item, course))
    return Made(made, (met(made.patch),))


def course_of(item: Track, ground: Designed, scene: Scene) -> Course:
    """Return a track's course, kept while nothing but its profile changes."""
    bays = bays_of(item, scene)
    build = build_of(item)
    inputs = (
        ground.base, *ground.patches, item.geometry.wkb_hex, item.radius_m, item.design_grade,
        item.curve_m, str(build), str(bays),
    )  # fmt: skip

    def make() -> Course:
        centre = rounded(item.geometry, item.radius_m)
        bed = Roadbed(ground, centre, build, bays)
        return Course(centre, bed, item.design_grade, item.curve_m)

    return scene.same(("course", item.id), inputs, make)


def build_of(item: Track) -> Build:
    """Return what a track is built of."""
    batters = batters_for(item)
    ditch = None
    if item.ditch_m > 0:
        ditch = Trapezoid(item.ditch_bottom_m, item.ditch_m, 1.0)
    return Build(
        item.width_m,
        Batters(batters.cut, None) if item.full_bench else batters,
        CROSSFALLS[item.forming],
        item.crossfall,
        item.aggregate_m,
        ditch,
        item.strip_m,
        item.respread_m,
    )


def bays_of(item: Track, scene: Scene) -> tuple[Bay, ...]:
    """Return the passing bays drawn beside a track, each by its nearest place along it."""
    drawn = scene.of_kind("passing_bay")
    if not drawn:
        return ()
    centre = rounded(item.geometry, item.radius_m).line
    beside = (bay_beside(bay, item, centre) for bay in drawn)
    return tuple(bay for bay in beside if bay is not None)


def bay_beside(item: Element, track: Track, centre: LineString) -> Bay | None:
    """Return a passing bay as it lies to a track's centre line; None where it isn't beside it."""
    assert isinstance(item, PassingBay)
    place = item.geometry
    if place.distance(centre) > track.width_m / 2 + TOUCHES_M:
        return None
    at = centre.project(place)
    ahead = centre.interpolate(min(at + 0.1, centre.length))
    back = centre.interpolate(max(at - 0.1, 0.0))
    dx, dy = ahead.x - back.x, ahead.y - back.y
    right = (place.x - back.x) * dy - (place.y - back.y) * dx >= 0
    made = Bay(at, right, item.length_m, item.width_m, item.taper_m)
    return made if made.reach_m <= at <= centre.length - made.reach_m else None


def followed(bed: Roadbed, steepest: float, curve_m: float) -> GradeLine:
    """Return the profile that follows the ground: under all the width for a full bench."""
    if bed.build.batters.fill is None:
        low = lower_edge(bed.ground, bed.centre.line, bed.build.width_m / 2)
        return follow_ground(low, steepest, curve_m, WITHIN_M, below=True, hold_ends=False)
    return follow_ground(bed.stations.profile(), steepest, curve_m, WITHIN_M)


def grade_line(item: Track, course: Course) -> GradeLine:
    """Return a track's design profile: the typed one, else the one that follows the ground."""
    knees = knees_of(item)
    if not knees:
        return course.follows
    if len(knees) < 2:
        raise BadData(
            "its design profile has one point only",
            remedy="Give a start and an end, or empty it to follow the ground.",
        )
    return shortened(GradeLine(knees), course.centre.line.length)


def shortened(line: GradeLine, length_m: float) -> GradeLine:
    """Return a profile that ends where its track ends."""
    if line.knees[-1].station_m <= length_m:
        return line
    kept = [knee for knee in line.knees[:-1] if knee.station_m < length_m - 0.01]
    if not kept:
        raise BadData(
            "its design profile begins beyond its end",
            remedy="Empty the profile to follow the ground, and shape it anew.",
        )
    return GradeLine((*kept, Knee(length_m, float(line.level_m(length_m)))))


def knees_of(item: Track) -> tuple[Knee, ...]:
    """Return the points of a track's typed profile, in order; none when it has none."""
    parsed = tabular.parse(item.profile, PROFILE)
    return tuple(Knee(float(s or 0), float(z or 0), float(c or 0)) for s, z, c in parsed)


def profile_text(line: GradeLine) -> str:
    """Return a grade line as a track keeps it, to the millimetre."""
    return tabular.form(
        (round(k.station_m, 3), round(k.level_m, 3), round(k.curve_m, 3) or None)
        for k in line.knees
    )
