"""The checker: all rules over all subjects, and again only where something changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from canvas.base.finding import Finding
from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.relations import RELATIONS, Reach
from canvas.rules.scene import Scene
from canvas.rules.subject import GroundSampler, Subject
from canvas.rules.wording import findings_of


class Checker:
    """Checks subjects against rules; remembers enough to recheck a moved element quickly.

    One checker belongs to one ground and one choice of rules; it is not for several threads at
    a time.
    """

    def __init__(self, rules: Iterable[Rule], sampler: GroundSampler | None) -> None:
        self.rules = tuple(rules)
        self._sampler = sampler
        self._scene = Scene(sampler)
        self._waivers: Mapping[str, str] = {}
        self._breaches: dict[str, dict[tuple[str, ...], Breach]] = {}
        self._findings: dict[str, tuple[Finding, ...]] = {}

    def check(
        self, subjects: Mapping[str, Subject], waivers: Mapping[str, str] | None = None
    ) -> tuple[Finding, ...]:
        """Return the findings of all subjects; waivers are reasons by finding key."""
        self._scene = Scene(self._sampler)
        self._waivers = dict(waivers or {})
        self._scene.waived = _waived_pairs(self._waivers)
        self._scene.update(dict(subjects))
        for rule in self.rules:
            self._work(rule, None)
        return self._all()

    def recheck(
        self, changed: Mapping[str, Subject | None], waivers: Mapping[str, str] | None = None
    ) -> tuple[Finding, ...]:
        """Return all findings after some subjects were added, replaced or (None) removed.

        The answer is the one `check` would give. `waivers` replaces the former ones when given.
        """
        anew: set[str] = set()
        if waivers is not None and dict(waivers) != self._waivers:
            anew = _rules_named(self._waivers) | _rules_named(waivers)
            self._waivers = dict(waivers)
            self._scene.waived = _waived_pairs(self._waivers)
        kinds = self._scene.update(changed)
        idents = frozenset(changed)
        for rule in self.rules:
            if rule.key in anew:
                self._work(rule, None)
            elif kinds.intersection(_kinds(rule)):
                self._work(rule, None if _carries_far(rule, kinds) else idents)
        return self._all()

    def _work(self, rule: Rule, only: frozenset[str] | None) -> None:
        fresh = RELATIONS[rule.relation].work(rule, self._scene, only)
        kept: dict[tuple[str, ...], Breach] = {}
        if only is not None:
            before = self._breaches.get(rule.key, {})
            kept = {key: each for key, each in before.items() if only.isdisjoint(key)}
            if not fresh and len(kept) == len(before):
                return
        kept.update((each.elements, each) for each in fresh)
        self._breaches[rule.key] = kept
        ordered = [kept[key] for key in sorted(kept)]
        self._findings[rule.key] = findings_of(rule, ordered, self._scene, self._waivers)

    def _all(self) -> tuple[Finding, ...]:
        found = (each for rule in self.rules for each in self._findings.get(rule.key, ()))
        return tuple(found)


def _kinds(rule: Rule) -> set[str]:
    return {kind for side in rule.selectors for kind in (*side.kinds, *side.anchors)}


def _carries_far(rule: Rule, kinds: set[str]) -> bool:
    """Return whether a change of these kinds may reach elements that did not change."""
    if any(kinds.intersection(side.anchors) for side in rule.selectors):
        return True
    reach = RELATIONS[rule.relation].reach
    if reach is Reach.FIRST:
        others = (side for side in (rule.b, rule.c) if side is not None)
        return any(kinds.intersection(side.kinds) for side in others)
    return reach is Reach.ALL


def _rules_named(waivers: Mapping[str, str]) -> set[str]:
    return {key.split(":", 1)[0] for key in waivers}


def _waived_pairs(waivers: Mapping[str, str]) -> dict[str, set[tuple[str, ...]]]:
    found: dict[str, set[tuple[str, ...]]] = {}
    for key in waivers:
        rule, *elements = key.split(":")
        found.setdefault(rule, set()).add(tuple(elements))
    return found
