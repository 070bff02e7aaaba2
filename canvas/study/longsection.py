"""Sections along lines: the ground as it is and as designed, and a track's design profile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString

from canvas.base.errors import BadData, UserError
from canvas.base.grid import Floats
from canvas.ground.formation import Track as Formed
from canvas.ground.gradefit import balanced
from canvas.ground.gradeline import GradeLine, Knee
from canvas.ground.materials import material
from canvas.ground.patch import Earth
from canvas.ground.profile import Section, section
from canvas.site.elements.access import Track
from canvas.site.records import changed
from canvas.study.earth.ways import course_of, followed, knees_of, profile_text, shortened

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Levels nearer than this are the same on a section [m].
SAME_M = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class TwoGrounds:
    """The ground along a line; both sections have the same stations."""

    existing: Section
    #: None where no earthwork comes near.
    designed: Section | None

    def cut_fill_m2(self) -> tuple[float, float]:
        """Return the areas between both lines, dug and filled."""
        if self.designed is None:
            return 0.0, 0.0
        return between_m2(self.existing.distance_m, self.existing.z_m, self.designed.z_m)


def between_m2(run: Floats, existing: Floats, designed: Floats) -> tuple[float, float]:
    """Return the areas cut and filled between two lines over the same stations."""
    off = np.nan_to_num(designed - existing)
    step, a, b = np.diff(run), off[:-1], off[1:]
    across = a * b < 0
    # Where the lines cross within a step there is a triangle on either side.
    apart = np.where(across, np.abs(a) + np.abs(b), 1.0)
    share = np.where(across, np.abs(a) / apart, 1.0)
    first = np.where(across, a * share, a + b) * step / 2
    second = np.where(across, b * (1 - share), 0.0) * step / 2
    both = np.concatenate((first, second))
    return float(-both[both < 0].sum()), float(both[both > 0].sum())


def two_grounds(study: Study, line: LineString) -> TwoGrounds | None:
    """Return the ground along a line as surveyed and as designed; None without a ground."""
    existing = study.section(line)
    if existing is None:
        return None
    ground = study.designed()
    if ground is None or not ground.patches:
        return TwoGrounds(existing, None)
    step = min(patch.levels.cell_m for patch in ground.patches)
    fine = section(ground, line, max(step, line.length / 4000))
    before = Section(
        fine.distance_m, fine.x_m, fine.y_m, study.terrain.height_at(fine.x_m, fine.y_m)
    )
    if not np.any(np.abs(np.nan_to_num(fine.z_m - before.z_m)) > SAME_M):
        return TwoGrounds(existing, None)
    return TwoGrounds(before, fine)


@dataclass(frozen=True, slots=True, eq=False)
class TrackProfile:
    """A shaped track's design profile, and what it moves."""

    item: Track
    #: The ground it is built on, along its rounded centre line.
    ground: Section
    line: GradeLine
    length_m: float
    #: None when it can't be built so.
    earth: Earth | None = None
    #: Cut that fill does not take, in the bank [m³].
    left_over_m3: float = 0.0
    #: Why it can't be built; "" when it can.
    trouble: str = ""

    @property
    def typed(self) -> bool:
        """Whether the profile is the person's own, not one that follows the ground."""
        return bool(self.item.profile.strip())

    def design_m(self) -> Floats:
        """Return the design levels at the ground's stations."""
        return self.line.level_m(self.ground.distance_m)


def track_profile(study: Study, ident: str) -> TrackProfile | None:
    """Return a track's design profile; None where it isn't to be shaped or has no ground.

    One that can't be built keeps its profile, so that it can be mended: the typed one, else a
    straight line between its ends.
    """
    work, item = study.work(ident), study.plan.get(ident)
    if work is None or work.ground is None or not isinstance(item, Track):
        return None
    if isinstance(work.thing, Formed):
        track = work.thing
        left = track.earth.left_over_m3(material(item.soil).compacted_per_bank)
        return TrackProfile(
            item, track.stations.profile(), track.grade_line, track.centre.line.length,
            track.earth, left,
        )  # fmt: skip
    if item.forming == "none":
        return None
    try:
        course = course_of(item, work.ground, study)
        ground, length = course.bed.stations.profile(), course.centre.line.length
        knees = knees_of(item)
        line = GradeLine(knees if len(knees) > 1 else _straight(ground))
        return TrackProfile(item, ground, shortened(line, length), length, trouble=work.trouble)
    except UserError:
        return None


def _straight(ground: Section) -> tuple[Knee, ...]:
    """Return the points of a line from the ground at the start to the ground at the end."""
    ends = ((float(ground.distance_m[i]), float(ground.z_m[i])) for i in (0, -1))
    return tuple(Knee(station, level) for station, level in ends)


def with_profile(item: Track, line: GradeLine | None) -> Track:
    """Return a track with another profile; None lets it follow the ground."""
    text = profile_text(line) if line is not None else ""
    made: Track = changed(item, profile=text)
    return made


def suggested(study: Study, item: Track, steepest: float) -> GradeLine:
    """Return the profile that moves least earth within a grade, its cut making its fill."""
    work = study.work(item.id)
    if work is None or work.ground is None or item.forming == "none":
        raise BadData("the track is not shaped", remedy="Shape it first.")
    course = course_of(item, work.ground, study)
    if item.full_bench:
        return followed(course.bed, steepest, item.curve_m)
    return balanced(course.bed, steepest, material(item.soil).compacted_per_bank, item.curve_m)
