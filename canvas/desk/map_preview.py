"""Consequences while the pointer moves: symbols, figures and findings of what would be.

The latest asking wins; until its answer is there the last one stays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, Signal

from canvas.base.fact import Fact
from canvas.base.finding import Finding
from canvas.base.progress import Progress
from canvas.desk.bench import Bench
from canvas.desk.map_overlay import WARNS
from canvas.drawing.build import element_entries
from canvas.drawing.details.registry import Detail, details
from canvas.drawing.entries import Cap, Entry, Layer, Lines, Stroke
from canvas.drawing.look import Look
from canvas.drawing.pen import paths_of
from canvas.site.records import Element, kind_of
from canvas.study.earth.registry import EARTH
from canvas.study.earth.roots import roots_near
from canvas.study.live import live_words
from canvas.study.study import Study

#: More elements in hand than this are shown by their outlines alone, and not checked.
MOST_DRAWN = 60
#: Root zones are shown this far from an earthwork in hand [m].
ROOTS_M = 20.0
#: Findings named beside the pointer, at most.
MOST_NAMED = 2


@dataclass(frozen=True, slots=True, eq=False)
class Preview:
    """Answers about the elements in hand."""

    elements: tuple[Element, ...]
    layers: tuple[Layer, ...]
    findings: tuple[Finding, ...]
    #: Of the one element in hand; () for several.
    facts: tuple[Fact, ...]
    #: Figures for beside the pointer, a line each.
    told: tuple[str, ...] = ()
    #: Sections and curves of the one element in hand, where they are wanted.
    details: tuple[Detail, ...] = ()

    def words(self) -> list[str]:
        """Return the live figures, and the failing findings in few words."""
        failing = [finding for finding in self.findings if finding.failing]
        named = [f"{WARNS} {finding.message}" for finding in failing[:MOST_NAMED]]
        if len(failing) > MOST_NAMED:
            named.append(f"{WARNS} and {len(failing) - MOST_NAMED} more")
        return [*self.told, *named]


NOTHING = Preview((), (), (), ())


class Previews(QObject):
    """Asks the study about the elements in hand, one question at a time."""

    changed = Signal()

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._bench = bench
        self._lane = bench.jobs.lane("What would be", quiet=True, patient=True)
        self._asked: tuple[Element, ...] = ()
        self.latest = NOTHING
        #: Whether sections of what is in hand are wanted too.
        self.sections = False
        #: Revision of the plan that holds what was in hand; None while it is still in hand.
        self._made_at: int | None = None

    def show(self, elements: tuple[Element, ...], look: Look) -> None:
        """Ask about elements as they would be; none ends the preview."""
        study = self._bench.study
        if not elements or study is None or len(elements) > MOST_DRAWN:
            if self._made_at is None:
                self.clear()
            return
        if elements == self._asked:
            return
        self._asked, self._made_at = elements, None

        sections = self.sections

        def work(progress: Progress) -> Preview:
            return answer(study, elements, look, sections=sections)

        self._lane.ask(work, self._arrived, self._failed)

    def made(self, revision: int) -> None:
        """Keep the symbols on the map until a still picture shows the plan that holds them."""
        self._asked = ()
        self._lane.drop()
        self._made_at = revision
        self.latest = replace(self.latest, findings=(), facts=(), told=())
        self.changed.emit()

    def shown(self, revision: int) -> None:
        """Take note of what the still picture shows now."""
        if self._made_at is not None and revision >= self._made_at:
            self.clear()

    def clear(self) -> None:
        """Forget the preview."""
        self._made_at = None
        if self._asked or self.latest is not NOTHING:
            self._asked = ()
            self._lane.drop()
            self.latest = NOTHING
            self.changed.emit()

    def _arrived(self, found: Preview) -> None:
        if self._asked:
            self.latest = found
            self.changed.emit()

    def _failed(self, fault: Exception) -> None:
        self._asked = ()
        self._bench.troubled.emit(fault)


def roots_beside(study: Study, item: Element) -> list[Entry]:
    """Return the root zones an earthwork or way in hand is to keep off, as rings."""
    if kind_of(item).key not in EARTH or item.status == "existing":
        return []
    west, south, east, north = item.geometry.bounds
    zones = roots_near(study, (west - ROOTS_M, south - ROOTS_M, east + ROOTS_M, north + ROOTS_M))
    paths = [path for zone in zones for path in paths_of(zone)]
    return [Lines(paths, Stroke("leaf", 0.2, (0.7, 0.7), cap=Cap.FLAT))] if paths else []


def answer(
    study: Study, elements: tuple[Element, ...], look: Look, *, sections: bool = False
) -> Preview:
    """Return what the study says about elements as they would be."""
    would_be = study.preview(study.plan.with_(*elements))
    entries: list[Entry] = []
    for item in elements:
        entries.extend(element_entries(would_be, item, replace(look, labels=False)))
        entries.extend(roots_beside(study, item))
    idents = {item.id for item in elements}
    findings = tuple(f for f in would_be.findings() if idents.intersection(f.elements))
    facts = would_be.facts(elements[0].id) if len(elements) == 1 else ()
    told: tuple[str, ...] = ()
    if len(elements) == 1:
        told = live_words(kind_of(elements[0]).key, facts, study.plan.site.unit_system())
    layers = (Layer("in_hand", "In hand", tuple(entries)),)
    drawn = tuple(details(elements[0], would_be)) if sections and len(elements) == 1 else ()
    return Preview(elements, layers, findings, facts, told, drawn)
