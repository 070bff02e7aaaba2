"""What a rule says, as frozen values; numbers are SI, beside the figure and unit as printed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from canvas.base.finding import Severity
from canvas.base.sources import Mark
from canvas.rules.subject import Subject

#: Elements in these states take part in rules unless a rule says otherwise.
STANDING = ("existing", "proposed", "built")
#: Slack that keeps a distance of exactly the limit within it [m, or the unit's own].
SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing asked of a field or fact. A value that is unknown meets no condition.

    The field "taxon" asks for a species, or for any species of a genus.
    """

    field: str
    values: tuple[str | bool, ...] = ()
    at_least: float = -math.inf
    at_most: float = math.inf
    above: float = -math.inf
    below: float = math.inf

    def met(self, subject: Subject) -> bool:
        """Return whether a subject meets it."""
        if self.field == "taxon":
            return subject.belongs_to(self.values)
        found = subject.value(self.field)
        if self.values:
            return found in self.values
        if found is None or isinstance(found, str):
            return False
        return self.at_least <= found <= self.at_most and self.above < found < self.below


@dataclass(frozen=True, slots=True)
class Near:
    """Only what lies within a distance of something counts: the trees near a dwelling."""

    what: Selector
    within_m: float


@dataclass(frozen=True, slots=True)
class Selector:
    """Which elements, and which of their parts."""

    kinds: tuple[str, ...]
    #: The first part there is counts.
    parts: tuple[str, ...] = ("shape",)
    where: tuple[Condition, ...] = ()
    status: tuple[str, ...] = STANDING
    #: Any owner when empty.
    owner: tuple[str, ...] = ()
    near: Near | None = None

    def takes(self, subject: Subject) -> bool:
        """Return whether a subject is meant, `near` aside."""
        item = subject.element
        return (
            subject.kind in self.kinds
            and item.status in self.status
            and (not self.owner or item.owner in self.owner)
            and all(condition.met(subject) for condition in self.where)
        )

    @property
    def anchors(self) -> tuple[str, ...]:
        """Kinds whose place decides what is meant."""
        return self.near.what.kinds if self.near else ()


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure, how it was printed, and what it is multiplied by."""

    #: SI.
    value: float
    #: As the source prints it.
    printed: float
    unit: str
    #: Field or fact the value is a multiple of; "" for a plain figure. "slope_deg" is the slope.
    times: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """The amount on slopes up to and including `up_to`, above the step before it."""

    up_to: float
    amount: Amount


@dataclass(frozen=True, slots=True)
class Limit:
    """What is asked: one amount, or a table of amounts by the slope of the ground.

    Where the slope is unknown the first step holds. A subject whose multiplied field is unknown
    is not asked anything.
    """

    #: Key of `base.quantity.UNITS` findings are shown in.
    unit: str
    amount: Amount | None = None
    steps: tuple[Step, ...] = ()
    #: Whose field and slope count: "a", "b", or "larger" of what both ask.
    of: str = "a"

    @property
    def plain(self) -> float | None:
        """The figure that holds for everything; None when it depends on slope or a field."""
        return self.amount.value if self.amount and not self.amount.times else None

    def amount_on(self, slope_ratio: float | None) -> Amount:
        """Return the amount that holds on a slope."""
        if self.amount is not None:
            return self.amount
        if slope_ratio is None or math.isnan(slope_ratio):
            return self.steps[0].amount
        for step in self.steps:
            if slope_ratio <= step.up_to + SLACK:
                return step.amount
        return self.steps[-1].amount

    def asks(self, subject: Subject, slope_ratio: float | None) -> float | None:
        """Return what is asked of a subject on a slope, SI; None when it can't be told."""
        amount = self.amount_on(slope_ratio)
        if not amount.times:
            return amount.value
        if amount.times == "slope_deg":
            return None if slope_ratio is None else amount.value * slope_deg(slope_ratio)
        factor = subject.number(amount.times)
        return None if factor is None else amount.value * factor

    @property
    def needs_slope(self) -> bool:
        """Whether the ground decides."""
        return bool(self.steps) or bool(self.amount and self.amount.times == "slope_deg")


def slope_deg(slope_ratio: float) -> float:
    """Return a slope in degrees."""
    return math.degrees(math.atan(slope_ratio))


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of a set. `key` is "set.name" and never changes once published."""

    key: str
    rule_set: str
    says: str
    relation: str
    a: Selector
    b: Selector | None
    c: Selector | None
    limit: Limit | None
    #: Figures and words only some relations take, by name; SI.
    options: tuple[tuple[str, float | str], ...]
    severity: Severity
    jurisdiction: str
    #: Key in the sources table; "" for common practice.
    source: str
    #: Section or page in it.
    at: str
    mark: Mark
    #: When it was read or written down.
    dated: str
    caution: str
    #: Why the site asks something else than the source; "" when it doesn't.
    site_reason: str = ""

    @property
    def needs_ground(self) -> bool:
        """Whether it can't be judged, or only by its mildest step, without a ground."""
        by_slope = self.limit is not None and self.limit.needs_slope
        return by_slope or self.relation in ("max_slope", "max_grade", "not_above", "is_set")

    def number(self, name: str, default: float = 0.0) -> float:
        """Return a numeric option."""
        return float(dict(self.options).get(name, default))

    def word(self, name: str, default: str = "") -> str:
        """Return a text option."""
        return str(dict(self.options).get(name, default))

    @property
    def selectors(self) -> tuple[Selector, ...]:
        """Every selector there is."""
        return tuple(each for each in (self.a, self.b, self.c) if each is not None)

    def with_site_limit(self, value: float, reason: str) -> Rule:
        """Return the rule with the site's own limit (SI) in place of the source's."""
        if self.limit is None:
            return self
        own = Limit(self.limit.unit, Amount(value, value, self.limit.unit), of=self.limit.of)
        return replace(self, limit=own, site_reason=reason or "no reason given")


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules of one jurisdiction, chosen together."""

    key: str
    label: str
    jurisdiction: str
    #: Whether the set restates law; good practice doesn't.
    legal: bool
    caution: str
    dated: str
    rules: tuple[Rule, ...]
