"""The checker kept alive between plans, so that a moved element is rechecked, not the world."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding, Severity
from canvas.rules.checker import Checker
from canvas.rules.library import rules_of
from canvas.rules.subject import Subject
from canvas.site.facts import Threshold, Waiver
from canvas.site.records import Element, kind_of
from canvas.study.earth.clashes import CLASH_READS, clash_parts
from canvas.study.earth.registry import EARTH
from canvas.study.scene import facts_work
from canvas.study.storm.chain_facts import CHAIN_KINDS, CHAIN_READS, WithSpills

if TYPE_CHECKING:
    from canvas.study.study import Study

ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.ADVICE: 2}


class LazyFacts(Mapping[str, float | str | None]):
    """An element's facts by key, worked out only when a rule asks."""

    def __init__(self, study: Study, ident: str) -> None:
        self._study = study
        self._ident = ident
        self._known: dict[str, float | str | None] | None = None

    def _all(self) -> dict[str, float | str | None]:
        if self._known is None:
            facts = reversed(self._study.facts(self._ident))
            # The first fact of a key wins.
            self._known = {fact.key: fact.value for fact in facts}
        return self._known

    def follow(self, study: Study) -> bool:
        """Answer from the next study; return whether what was told so far is still so."""
        told, self._known, self._study = self._known, None, study
        return told is None or self._all() == told

    def __getitem__(self, key: str) -> float | str | None:
        return self._all()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())


class Checks:
    """Findings of one study after another, each from the one before."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._checker: Checker | None = None
        self._setting: tuple[object, ...] = ()
        #: The study last checked, and what it was made of.
        self._study: Study | None = None
        self._elements: dict[str, Element] = {}
        self._subjects: dict[str, Subject] = {}
        self._groups: dict[str, object] = {}
        self._last: tuple[Finding, ...] = ()

    def findings(self, study: Study) -> tuple[Finding, ...]:
        """Return the findings of a study, worst first."""
        with self._lock:
            if study is self._study:
                return self._last
            self._last = tuple(
                sorted(self._update(study), key=lambda f: (bool(f.waived), ORDER[f.severity]))
            )
            self._study = study
            return self._last

    def _update(self, study: Study) -> tuple[Finding, ...]:
        waivers = {item.finding: item.reason for item in study.plan.of(Waiver)}
        elements = {item.id: item for item in study.plan.elements() if study.stands(item)}
        setting = (
            study.plan.site.sets(),
            study.plan.group("threshold"),
            study.land,
            study.year,
        )
        fresh = self._checker is None or any(
            old is not new and old != new for old, new in zip(self._setting, setting, strict=False)
        )
        if fresh or self._checker is None:
            own = study.plan.of(Threshold)
            rules = rules_of(
                study.plan.site.sets(),
                {item.rule: item.value for item in own},
                {item.rule: item.reason for item in own},
            )
            ground = study.terrain if study.land.grid is not None else None
            self._checker = Checker(rules, ground)
            self._subjects = {ident: subject(study, item) for ident, item in elements.items()}
            found = self._checker.check(self._subjects, waivers)
        else:
            changed = self._changed(study, elements)
            self._subjects.update((i, made) for i, made in changed.items() if made is not None)
            found = self._checker.recheck(changed, waivers)
        self._setting = setting
        self._elements = elements
        self._groups = _groups(study)
        return found

    def _changed(self, study: Study, elements: dict[str, Element]) -> dict[str, Subject | None]:
        before = self._elements
        changed: dict[str, Subject | None] = {
            ident: None for ident in before if ident not in elements
        }
        touched = {
            key for key, group in _groups(study).items() if self._groups.get(key) is not group
        }
        touched |= {key for key in self._groups if key not in _groups(study)}
        again = {
            kind
            for kind in {kind_of(item).key for item in elements.values()}
            if touched.intersection(facts_work(kind).reads)
        }
        if touched.intersection(CHAIN_READS):
            again.update(CHAIN_KINDS)
        if touched.intersection(CLASH_READS):
            again.update(EARTH)
        for ident, item in elements.items():
            if before.get(ident) is not item:
                changed[ident] = subject(study, item)
            elif kind_of(item).key in again:
                made = subject(study, item)
                if not _still(self._subjects[ident], made, study):
                    changed[ident] = made
        return changed


def _still(old: Subject, made: Subject, study: Study) -> bool:
    """Return whether an element looks to rules as it did; its facts then follow the new study.

    What water does is only worked out when asked for: there it is taken to have changed.
    """
    if old.kind in CHAIN_KINDS or old.parts.keys() != made.parts.keys():
        return False
    pairs = ((part, made.parts[name]) for name, part in old.parts.items())
    if not all(one is two or one.equals_exact(two, 0.0) for one, two in pairs):
        return False
    return isinstance(old.facts, LazyFacts) and old.facts.follow(study)


def unchecked(study: Study) -> tuple[str, ...]:
    """Return what the findings don't cover, in sentences: no rule set, no ground."""
    sets = study.plan.site.sets()
    if not sets:
        return ("No rule set is chosen: nothing was checked.",)
    if study.land.grid is not None:
        return ()
    present = {kind_of(item).key for item in study.plan.elements() if study.stands(item)}
    blind = sum(
        rule.needs_ground and bool(present.intersection(rule.a.kinds)) for rule in rules_of(sets)
    )
    if not blind:
        return ()
    rules = "1 rule about" if blind == 1 else f"{blind} rules about"
    return (f"{rules} slope or grade could not be checked: there is no ground.",)


def _groups(study: Study) -> dict[str, object]:
    return {key: study.plan.group(key) for key in study.plan.group_keys()}


def subject(study: Study, item: Element) -> Subject:
    """Return an element as rules see it: its parts and its facts by key."""
    parts: Mapping[str, BaseGeometry] = study.parts(item.id)
    if kind_of(item).key in EARTH:
        parts = {**parts, **clash_parts(study, item.id)}
    if kind_of(item).key in CHAIN_KINDS:
        parts = WithSpills(study, item.id, parts)
    return Subject(item, parts, LazyFacts(study, item.id))
