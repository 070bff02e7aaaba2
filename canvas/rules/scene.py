"""Everything the relations look at, remembered between rechecks and renewed where it changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.rules.members import Members
from canvas.rules.model import Near, Rule, Selector
from canvas.rules.plants import PlantTable
from canvas.rules.subject import GroundSampler, Subject

SLOPE_UNKNOWN = "The slope is not known here: the figure for the flattest ground was used."


class Scene:
    """The subjects by identity and kind, who is meant by which selector, and what is asked."""

    def __init__(self, sampler: GroundSampler | None) -> None:
        self.sampler = sampler
        self.subjects: dict[str, Subject] = {}
        self._by_kind: dict[str, dict[str, Subject]] = {}
        self._members: dict[Selector, Members] = {}
        self._plants: dict[tuple[Selector, str], PlantTable] = {}
        self._asks: dict[str, dict[str, float | None]] = {}
        self._slopes: dict[str, float | None] = {}
        #: By rule and selector: the most asked so far, and who has changed since.
        self._bounds: dict[tuple[str, Selector], tuple[float, set[str]]] = {}
        #: Pairs of elements whose finding is waived, by rule key: told of on their own.
        self.waived: dict[str, set[tuple[str, ...]]] = {}

    def update(self, changed: Mapping[str, Subject | None]) -> set[str]:
        """Take in added, replaced and (None) removed subjects; return the kinds touched."""
        kinds: set[str] = set()
        for ident, subject in changed.items():
            old = self.subjects.pop(ident, None)
            if old is not None:
                kinds.add(old.kind)
                del self._by_kind[old.kind][ident]
            if subject is not None:
                kinds.add(subject.kind)
                self.subjects[ident] = subject
                self._by_kind.setdefault(subject.kind, {})[ident] = subject
            self._slopes.pop(ident, None)
            for asks in self._asks.values():
                asks.pop(ident, None)
        for _, pending in self._bounds.values():
            pending.update(changed)
        # What is meant by "near" goes first: the others may be anchors of it.
        for selector in [s for s in self._members if kinds.intersection(s.anchors)]:
            del self._members[selector]
            for key in [key for key in self._bounds if key[1] == selector]:
                del self._bounds[key]
        for selector, members in self._members.items():
            if kinds.intersection(selector.kinds):
                self._renew(selector, members, changed)
        self._renew_plants(kinds, changed)
        return kinds

    def _renew(
        self, selector: Selector, members: Members, changed: Mapping[str, Subject | None]
    ) -> None:
        meant = (s for s in changed.values() if s is not None and selector.takes(s))
        fresh = dict(self._shapes(selector, meant))
        if selector.near is not None and fresh:
            names = list(fresh)
            anchors = self.members(selector.near.what)
            hits = anchors.near(list(fresh.values()), selector.near.within_m)
            close = {names[k] for k, ident in hits if ident != names[k]}
            fresh = {ident: shape for ident, shape in fresh.items() if ident in close}
        for ident in changed:
            members.put(ident, fresh.get(ident))

    def _renew_plants(self, kinds: set[str], changed: Mapping[str, Subject | None]) -> None:
        for (selector, part), table in list(self._plants.items()):
            if not kinds.intersection(selector.kinds):
                continue
            for ident, subject in changed.items():
                meant = subject is not None and selector.takes(subject)
                if meant and subject is not None and ident in table and table.put(subject):
                    continue
                if meant or ident in table:
                    del self._plants[(selector, part)]
                    break

    def of(self, selector: Selector) -> Iterable[Subject]:
        """Yield the subjects a selector means, `near` aside."""
        for kind in selector.kinds:
            for subject in self._by_kind.get(kind, {}).values():
                if selector.takes(subject):
                    yield subject

    def members(self, selector: Selector) -> Members:
        """Return who a selector means, with the geometry of the part it names."""
        found = self._members.get(selector)
        if found is None:
            if selector.near is None:
                found = Members(self._shapes(selector, self.of(selector)))
            else:
                found = Members(self._close(selector, selector.near))
            self._members[selector] = found
        return found

    def _close(self, selector: Selector, near: Near) -> list[tuple[str, BaseGeometry]]:
        """Return the members of a selector that lie near enough, looked for from the anchors."""
        whole = self.members(replace(selector, near=None))
        anchors = self.members(near.what).shapes
        names = list(anchors)
        hits = whole.near(list(anchors.values()), near.within_m)
        close = sorted({ident for k, ident in hits if ident != names[k]})
        return [(ident, whole.shapes[ident]) for ident in close]

    def _shapes(
        self, selector: Selector, subjects: Iterable[Subject]
    ) -> list[tuple[str, BaseGeometry]]:
        """Return the parts of subjects already known to be meant, `near` aside."""
        return [
            (subject.id, part)
            for subject in subjects
            if (part := subject.part(selector.parts)) is not None
        ]

    def plants(self, selector: Selector, part: str) -> PlantTable:
        """Return every plant of a selector, `near` aside, with the radius of a part."""
        key = (replace(selector, near=None), part)
        if key not in self._plants:
            meant = {subject.id: subject for subject in self.of(selector)}
            self._plants[key] = PlantTable(meant, part)
        return self._plants[key]

    def slope_ratio(self, ident: str) -> float | None:
        """Return the mean slope of the ground under an element; None when unknown."""
        if ident not in self._slopes:
            shape = self.subjects[ident].parts["shape"]
            known = self.sampler is not None and not shapely.is_empty(shape)
            self._slopes[ident] = self.sampler.mean_slope(shape) if known and self.sampler else None
        return self._slopes[ident]

    def ask(self, rule: Rule, ident: str) -> float | None:
        """Return what a rule asks on account of one element, SI; None when nothing."""
        limit = rule.limit
        if limit is None:
            return None
        if limit.plain is not None:
            return limit.plain
        asks = self._asks.setdefault(rule.key, {})
        if ident not in asks:
            slope = self.slope_ratio(ident) if limit.needs_slope else None
            asks[ident] = limit.asks(self.subjects[ident], slope)
        return asks[ident]

    def most_asked(self, rule: Rule, selector: Selector) -> float:
        """Return at least the largest amount a rule asks on account of anyone it selects.

        The bound never shrinks while elements move, so only those that changed are looked at.
        """
        if rule.limit is not None and rule.limit.plain is not None:
            return rule.limit.plain
        members = self.members(selector)
        known = self._bounds.get((rule.key, selector))
        bound, pending = known if known is not None else (0.0, set(members.shapes))
        asked = (self.ask(rule, ident) or 0.0 for ident in pending if ident in members)
        bound = max(bound, max(asked, default=0.0))
        self._bounds[(rule.key, selector)] = (bound, set())
        return bound

    def some_ours(self, *idents: str) -> bool:
        """Return whether at least one of the elements is ours to change."""
        return any(self.subjects[ident].ours for ident in idents)

    def slope_note(self, rule: Rule, *idents: str) -> str:
        """Return what to say where a slope that decides is unknown."""
        if rule.limit is None or not rule.limit.needs_slope:
            return ""
        if all(self.slope_ratio(ident) is not None for ident in idents):
            return ""
        return SLOPE_UNKNOWN
