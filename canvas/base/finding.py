"""A finding: one rule met or broken, where, by how much, and on whose word."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from enum import StrEnum

from shapely.geometry.base import BaseGeometry

from canvas.base.quantity import UnitSystem, show
from canvas.base.sources import Mark


class Severity(StrEnum):
    """How much a finding matters, worst first."""

    #: A read legal or safety limit is broken.
    ERROR = "error"
    WARNING = "warning"
    #: Good to know; nothing is broken.
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Finding:
    """One place where the plan does not meet a rule."""

    rule: str
    #: The rule set the rule belongs to ("good_practice", "california" …).
    rule_set: str
    severity: Severity
    #: One sentence naming the elements and the trouble.
    message: str
    #: Identities of the elements concerned, the one to change first.
    elements: tuple[str, ...]
    #: SI, in `unit`; None where the rule has no number ("must lie inside").
    measured: float | None
    required: float | None
    unit: str
    #: "at least" | "at most" | "" — how measured should stand to required.
    sense: str
    #: Where on the map, site CRS: the gap, the crossing, the steep stretch.
    where: BaseGeometry
    #: Key in the sources table ("" when the mark is common practice).
    source: str
    mark: Mark
    #: What to mind, and whose word is final.
    caution: str = ""
    #: Reason given by the owner when waived; "" when the finding stands.
    waived: str = ""

    @property
    def key(self) -> str:
        """A stable name for this finding: same rule, same elements.

        More than two elements, of whom any may be the worst today, are named by a digest.
        """
        if len(self.elements) <= 2:
            return ":".join((self.rule, *self.elements))
        digest = hashlib.sha256(":".join(sorted(self.elements)).encode()).hexdigest()
        return f"{self.rule}:{len(self.elements)}:{digest[:16]}"

    @property
    def unconfirmed(self) -> bool:
        """Whether nobody read the figure in its source."""
        return self.mark in (Mark.REMEMBERED, Mark.PRACTICE)

    @property
    def failing(self) -> bool:
        """Whether it counts against the plan: not waived, and not mere advice."""
        return not self.waived and self.severity is not Severity.ADVICE

    def numbers(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return "measured …, required at least …", or "" for rules without numbers."""
        if self.required is None:
            return ""
        asked = f"required {self.sense} {show(self.required, self.unit, system)}".replace("  ", " ")
        if self.measured is None:
            return asked
        return f"measured {show(self.measured, self.unit, system)}, {asked}"
