"""A plan and its land go in, every figure comes out: the one source of numbers.

Desk, sheets and command line print what a study says; none of them computes.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Hashable, Sequence
from functools import cached_property
from typing import Any, TypeVar

import shapely
from pyproj import CRS
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.base.finding import Finding
from canvas.base.progress import Progress, silent
from canvas.ground.catchment import Catchment
from canvas.ground.contours import Contours, contours
from canvas.ground.designed import Designed
from canvas.ground.flow import Flow
from canvas.ground.profile import Section
from canvas.site.facts import Phase
from canvas.site.plan import Plan
from canvas.site.records import Element, Record, kind_of
from canvas.study import maps, scene, site_facts, suns, waters
from canvas.study.checks import Checks, unchecked
from canvas.study.earth import works
from canvas.study.earth.clashes import clash_facts
from canvas.study.earth.registry import EARTH, Work
from canvas.study.land import Land
from canvas.study.maps import MapAnswer
from canvas.study.memory import Memory
from canvas.study.rains.keep import Shelf, shelf
from canvas.study.readout import Readout, readout
from canvas.study.scene import Parts
from canvas.study.storm.chain import Chain, chain, unknown_yet
from canvas.study.storm.chain_facts import CHAIN_KINDS, chain_facts
from canvas.study.storm.cover import CoverMap, cover_map
from canvas.study.storm.design import DesignRain, design_rain
from canvas.study.storm.peaks import PeakAt, peak_at, still_true
from canvas.study.suns import SunAt, SunDay
from canvas.study.terrain import Terrain

A = TypeVar("A")
R = TypeVar("R", bound=Record)
#: Statuses of what stands in the finished design.
STANDING = ("existing", "proposed", "built")


class Study:
    """Answers about one plan on one land, at one phase and year of growth.

    `at` is a phase's identity: what is proposed for later phases is left out; "" takes all.
    `year` counts years after planting. Safe to ask from several threads.
    """

    def __init__(
        self,
        plan: Plan,
        land: Land,
        *,
        at: str = "",
        year: int = 10,
        memory: Memory | None = None,
        checks: Checks | None = None,
    ) -> None:
        self.plan = plan
        self.land = land
        self.at = at
        self._year = year
        self._memory = memory if memory is not None else Memory()
        self._checks = checks if checks is not None else Checks()
        #: A plan that may never be: what takes long is not worked out for it.
        self._passing = False
        #: The study such a plan was asked of.
        self._before: Study | None = None
        #: The findings, once somebody has asked for them.
        self.found: tuple[Finding, ...] | None = None

    # -- following the plan ------------------------------------------------------------

    def moved(self, plan: Plan) -> Study:
        """Return the study of the next plan, sharing every answer that is still true."""
        return self._with(plan, self._memory, self._checks)

    def at_phase(self, phase: str) -> Study:
        """Return the study of the same plan as built up to a phase; "" for all of them."""
        return Study(self.plan, self.land, at=phase, year=self._year)

    def preview(self, plan: Plan) -> Study:
        """Return the study of a plan that may never be: nothing it works out is kept."""
        made = self._with(plan, self._memory.overlay(), self._checks)
        made._passing = True
        made._before = self
        return made

    def _with(self, plan: Plan, memory: Memory, checks: Checks) -> Study:
        made = Study(plan, self.land, at=self.at, year=self._year, memory=memory, checks=checks)
        made.__dict__["terrain"] = self.terrain
        return made

    # -- what kinds' answers may read (see `scene.Scene`) ------------------------------

    @property
    def year(self) -> int:
        """Years after planting the picture is drawn for."""
        self._memory.note("year", self._year)
        return self._year

    @cached_property
    def terrain(self) -> Terrain:
        """The ground as surveyed."""
        return Terrain(self.land.grid, self.land.ground)

    @property
    def crs(self) -> CRS:
        """The site's projected CRS."""
        return self.land.crs

    @property
    def combined_factor(self) -> float:
        """Grid distance per distance at ground level."""
        return self.land.earth.combined if self.land.earth is not None else 1.0

    @property
    def convergence_deg(self) -> float:
        """Add to a grid azimuth for the one from true north [deg]."""
        return self.land.earth.convergence_deg if self.land.earth is not None else 0.0

    def of_kind(self, key: str) -> Sequence[Element]:
        """Return the standing elements of a kind at this time."""
        for token in (("kind", key), *((("at"), ("kind", "phase")) if self.at else ())):
            self._memory.note(token, self._current(token))
        return [
            item
            for item in self.plan.of_kind(key)
            if isinstance(item, Element) and self.stands(item)
        ]

    def of_kind_group(self, key: str) -> object:
        """Return a token that is the same object while no element of a kind changes."""
        self.of_kind(key)
        return self._current(("kind", key))

    def stands(self, item: Element) -> bool:
        """Return whether an element is part of the design at this time."""
        if item.status not in STANDING:
            return False
        return not self.at or item.status != "proposed" or item.phase not in self.later

    @cached_property
    def later(self) -> frozenset[str]:
        """Identities of the phases after the one looked at."""
        limit = next((p.place for p in self.plan.of(Phase) if p.id == self.at), None)
        if limit is None:
            return frozenset()
        return frozenset(p.id for p in self.plan.of(Phase) if p.place > limit)

    # -- answers -----------------------------------------------------------------------

    def _current(self, token: Hashable) -> object:
        """Return what an input token stands for in this study."""
        match token:
            case ("record", str(ident)):
                return self.plan.get(ident)
            case ("kind", str(key)):
                return self.plan.group(key)
            case "year":
                return self._year
            case "at":
                return self.at
            case "rains":
                return shelf(self.land.folder)
            case _:
                return self.land

    def remember(self, key: Hashable, work: Callable[[], A]) -> A:
        """Return the answer called `key`, worked out only when an input it read has changed."""
        return self._memory.answer(key, self._current, work)

    def parts(self, ident: str) -> Parts:
        """Return an element's named geometries; rules, drawing and schedules share them."""
        item = self.plan.element(ident)

        def work() -> Parts:
            self._memory.note(("record", ident), item)
            return scene.parts_work(kind_of(item).key)(item, self)

        return self.remember(("parts", ident), work)

    def parts_of(self, key: str, items: Sequence[Element]) -> list[Parts]:
        """Return the named geometries of many elements of one kind of the plan, in their order."""
        return self._memory.answers(
            ("parts of", key), self._current, items, lambda item: self.parts(item.id)
        )

    def own_facts(self, ident: str) -> tuple[Fact, ...]:
        """Return what an element's kind tells of it: all but what a storm does to it."""
        item = self.plan.element(ident)

        def work() -> tuple[Fact, ...]:
            self._memory.note(("record", ident), item)
            self._memory.note("land", self.land)
            key = kind_of(item).key
            own = tuple(scene.facts_work(key).work(item, self))
            # What it does to the works after it is looked for once it is let go.
            if key in EARTH and not self._passing:
                own += tuple(clash_facts(self, ident))
            return own

        return self.remember(("own facts", ident), work)

    def facts(self, ident: str) -> tuple[Fact, ...]:
        """Return everything known about an element, what a storm does to it as well."""
        own = self.own_facts(ident)
        if kind_of(self.plan.element(ident)).key not in CHAIN_KINDS:
            return own

        def work() -> tuple[Fact, ...]:
            told = {fact.key for fact in self.own_facts(ident)}
            more = chain_facts(self, ident)
            return self.own_facts(ident) + tuple(f for f in more if f.key not in told)

        return self.remember(("facts", ident), work)

    def site_facts(self) -> tuple[Fact, ...]:
        """Return what is known about the site as a whole."""
        return tuple(site_facts.site_facts(self))

    def findings(self) -> tuple[Finding, ...]:
        """Return every place where the plan does not meet its rules, worst first."""
        if self.found is None:
            self.found = self._checks.findings(self)
        return self.found

    def unchecked(self) -> tuple[str, ...]:
        """Return what the findings do not cover, in sentences; empty when all was checked."""
        return unchecked(self)

    def findings_of(self, ident: str) -> tuple[Finding, ...]:
        """Return the findings that concern an element."""
        return tuple(each for each in self.findings() if ident in each.elements)

    def map(self, key: str, *, month: int = 0, designed: bool = False) -> MapAnswer:
        """Return a computed map of the ground as surveyed or designed; see `maps.MAP_KINDS`.

        `month` is 1 to 12, or 0 for the year, where the kind of map takes one.
        """
        told = ("map", key, month, designed)

        def make() -> MapAnswer:
            self._memory.note("land", self.land)
            return maps.compute(self, key, month=month, designed=designed)

        if key in maps.RUN_KINDS:
            return self.same(told, (self.rains(),), make)
        if not designed and maps.map_kind(key).of_both:
            return self.remember(told, make)
        return self.same(told, (self.designed(), self.land), make)

    def same(self, key: Hashable, inputs: tuple[object, ...], work: Callable[[], A]) -> A:
        """Return the answer called `key`, worked out only when an input is another object."""
        return self._memory.same(key, inputs, work)

    def last(self, key: Hashable) -> Any:
        """Return what `same` worked out last under a key, true or not; None before."""
        return self._memory.last(key)

    def build_order(self) -> tuple[tuple[Element, int], ...]:
        """Return the standing earthworks in the order they are built, with their phase's place."""

        def work() -> tuple[tuple[Element, int], ...]:
            self._memory.note("land", self.land)
            self._memory.note(("kind", "phase"), self._current(("kind", "phase")))
            return works.in_order(self)

        return self.remember("build order", work)

    def work(self, ident: str) -> Work | None:
        """Return an element as an earthwork; None when it moves no earth or doesn't stand."""
        return works.shaped(self, ident)

    def works(self) -> tuple[Work, ...]:
        """Return every standing earthwork, in the order they are built."""
        return works.all_works(self)

    def designed(self) -> Designed | None:
        """Return the ground with every standing earthwork, or None without a ground."""
        return works.designed(self)

    def terrain_as(self, *, designed: bool) -> Terrain:
        """Return the ground as surveyed or as designed, at this time."""
        ground = self.designed() if designed else None
        if ground is None or not ground.patches:
            return self.terrain
        surveyed = self.land.ground
        return self.same("designed terrain", (ground,), lambda: Terrain(ground.levels, surveyed))

    def flow(self, *, designed: bool = False) -> Flow | None:
        """Return where water runs over the ground as surveyed or as designed; None without one.

        While something is dragged, the designed flow stays as it was when it was picked up.
        """

        def work() -> Flow | None:
            self._memory.note("land", self.land)
            return waters.work_out(self)

        if self._before is not None:
            # Any work at all: to shape those that stand after the one in hand would take long.
            worked = designed and bool(self.build_order())
            known: Flow | None = self._memory.last("designed flow") if worked else None
            self._memory.note("land", self.land)
            # Kept by the study that stays, or every move of the pointer would work it out.
            return known if known is not None else self._before.flow()
        ground = self.designed() if designed else None
        if ground is None or not ground.patches:
            return self.remember("flow", work)
        return self.same("designed flow", (ground,), lambda: waters.over(ground))

    def catchment(self, place: BaseGeometry, *, designed: bool = False) -> Catchment:
        """Return what drains to a point, line or area; `BadData` where there is no ground."""
        return waters.catchment_of(self, place, designed=designed)

    # -- storms ------------------------------------------------------------------------

    def noted(self, cls: type[R]) -> list[R]:
        """Return the records of a class, noting that the answer being worked out reads them."""
        token = ("kind", kind_of(cls).key)
        self._memory.note(token, self._current(token))
        return self.plan.of(cls)

    def note_land(self) -> None:
        """Note that the answer being worked out reads the land."""
        self._memory.note("land", self.land)

    def design_storm(self, years: float | None = None) -> DesignRain:
        """Return the design storm, or what to do for want of rain; `years` asks for a rarer one."""
        return self.remember(("storm", years or 0.0), lambda: design_rain(self, years))

    def cover(self) -> CoverMap | None:
        """Return what lies on the ground, cell by cell; None without a ground."""
        return cover_map(self)

    def rains(self) -> Shelf:
        """Return the storms run over this land that are kept with the site, newest first."""
        found = shelf(self.land.folder)
        self._memory.note("rains", found)
        return found

    def peak(self, place: BaseGeometry | str, years: float | None = None) -> PeakAt:
        """Return what the design storm brings to an element (its identity) or a place.

        `BadData` says what is missing: rain, or ground.
        """
        if not isinstance(place, str):
            return peak_at(self, place, years)
        if self._before is not None:
            before = still_true(self, self._before, place, years)
            if before is not None:
                return before
        item = self.plan.element(place)

        def work() -> PeakAt:
            self._memory.note(("record", place), item)
            self.note_land()
            return peak_at(self, item.geometry, years)

        return self.remember(("peak", place, years or 0.0), work)

    @property
    def passing(self) -> bool:
        """Whether this is a plan that may never be: while something is dragged."""
        return self._passing

    def ponds_start(self) -> str:
        """Return how full ponds are when the storm starts."""
        return self.design_storm().record.ponds

    def around(self) -> BaseGeometry | None:
        """Return the land within the site's boundaries; None while none is drawn."""
        shapes = [item.geometry for item in self.of_kind("site_boundary")]
        return shapely.union_all(shapes) if shapes else None

    def chain(self, progress: Progress = silent) -> Chain:
        """Return the design storm led through the works by where they spill.

        While something is dragged, the chain stays as it was when it was picked up.
        """
        if self._passing:
            known: Chain | None = self._memory.last_kept("chain")
            return known if known is not None else unknown_yet(self.design_storm())
        return self.remember("chain", lambda: chain(self, progress))

    def known_chain(self) -> Chain | None:
        """Return the chain if it is worked out and still true; None else."""
        found: Chain | None = self.known("chain")
        return found

    def known(self, key: Hashable) -> Any:
        """Return what `remember` keeps under a key if it is still true; None else."""
        return self._memory.known(key, self._current)

    def contours(self, interval_m: float, *, designed: bool = False) -> Contours | None:
        """Return contour lines at an interval, or None without a ground."""
        grid = self.terrain_as(designed=designed).grid
        if grid is None:
            return None

        def work() -> Contours:
            self._memory.note("land", self.land)
            return contours(grid, interval_m)

        if grid is self.land.grid:
            return self.remember(("contours", interval_m), work)
        return self.same(
            ("designed contours", interval_m), (grid,), lambda: contours(grid, interval_m)
        )

    def section(self, line: LineString, step_m: float | None = None) -> Section | None:
        """Return the ground along a line, or None without a ground."""
        return self.terrain.section(line, step_m)

    def readout(self, x_m: float, y_m: float) -> Readout:
        """Return everything known about one spot."""
        return readout(self, x_m, y_m)

    def sun(self, when: datetime.datetime) -> SunAt:
        """Return where the sun stands, azimuth from grid north; `when` carries a zone."""
        return suns.sun_at(self, when)

    def sun_day(self, day: datetime.date) -> SunDay:
        """Return sunrise, noon and sunset of a day, in the site's standard time."""
        return suns.sun_day(self, day)
