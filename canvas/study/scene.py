"""What a kind's answers may ask for, and the registry they are kept in."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.fact import Fact
from canvas.ground.designed import Designed
from canvas.ground.flow import Flow
from canvas.site.records import Element, element_kinds
from canvas.study.earth.registry import Work
from canvas.study.rains.keep import Shelf
from canvas.study.storm.design import DesignRain
from canvas.study.storm.peaks import PeakAt
from canvas.study.terrain import Terrain

Parts = dict[str, BaseGeometry]
A = TypeVar("A")


class Scene(Protocol):
    """The plan and its land, as a kind's answers see them. Every reading is remembered."""

    @property
    def year(self) -> int:
        """Years after planting the picture is drawn for."""

    @property
    def terrain(self) -> Terrain:
        """The ground as surveyed."""

    @property
    def crs(self) -> CRS:
        """The site's projected CRS."""

    @property
    def passing(self) -> bool:
        """Whether this is a plan that may never be: while something is dragged."""

    @property
    def combined_factor(self) -> float:
        """Grid distance per distance at ground level."""

    @property
    def convergence_deg(self) -> float:
        """Add to a grid azimuth for the one from true north."""

    def flow(self, *, designed: bool = False) -> Flow | None:
        """Return where water runs over the ground as surveyed or as designed; None without one."""

    def work(self, ident: str) -> Work | None:
        """Return an element as an earthwork; None when it moves no earth."""

    def designed(self) -> Designed | None:
        """Return the ground with every standing earthwork, or None without a ground."""

    def design_storm(self, years: float | None = None) -> DesignRain:
        """Return the design storm, or what to do for want of rain."""

    def peak(self, place: BaseGeometry | str, years: float | None = None) -> PeakAt:
        """Return what the design storm brings to an element or a place; `BadData` for want."""

    def rains(self) -> Shelf:
        """Return the storms run over this land that are kept with the site, newest first."""

    def of_kind(self, key: str) -> Sequence[Element]:
        """Return the standing elements of a kind: not gone, and built by the time looked at."""

    def parts(self, ident: str) -> Parts:
        """Return an element's named geometries."""

    def same(self, key: Hashable, inputs: tuple[object, ...], work: Callable[[], A]) -> A:
        """Return the answer called `key`, worked out only when an input is another object."""


PartsOf = Callable[[Any, Scene], Parts]
FactsOf = Callable[[Any, Scene], list[Fact]]
P = TypeVar("P", bound=PartsOf)
Q = TypeVar("Q", bound=FactsOf)


@dataclass(frozen=True, slots=True)
class KindFacts:
    """How a kind's facts are worked out, and which other kinds they depend on."""

    work: FactsOf
    reads: tuple[str, ...] = ()


_PARTS: dict[str, PartsOf] = {}
_FACTS: dict[str, KindFacts] = {}


def parts_of(*keys: str) -> Callable[[P], P]:
    """Register the function that makes the parts of these kinds."""

    def keep(function: P) -> P:
        for key in keys:
            _PARTS[key] = function
        return function

    return keep


def facts_of(key: str, *, reads: Sequence[str] = ()) -> Callable[[Q], Q]:
    """Register the function that makes the facts of a kind; `reads` names kinds it looks at."""

    def keep(function: Q) -> Q:
        _FACTS[key] = KindFacts(function, tuple(reads))
        return function

    return keep


def load_all() -> None:
    """Make sure every kind's answers are registered."""
    from canvas.study.kinds import ALL  # noqa: F401


def parts_work(key: str) -> PartsOf:
    """Return the parts function of a kind."""
    load_all()
    return _found(_PARTS, key, "parts")


def facts_work(key: str) -> KindFacts:
    """Return the facts function of a kind."""
    load_all()
    return _found(_FACTS, key, "facts")


V = TypeVar("V")


def _found(table: dict[str, V], key: str, what: str) -> V:
    try:
        return table[key]
    except KeyError:
        raise InputError(f"kind {key!r} has no {what} in canvas/study/kinds") from None


def missing() -> list[str]:
    """Return what the registry lacks for the kinds there are; a test wants it empty."""
    load_all()
    lacking = [f"{key}: parts" for key in element_kinds() if key not in _PARTS]
    return lacking + [f"{key}: facts" for key in element_kinds() if key not in _FACTS]
