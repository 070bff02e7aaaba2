"""The stages of the work: what each shows, how far it has come, whose findings are its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from canvas.base.finding import Finding
from canvas.site.facts import Ground, Picture
from canvas.site.plan import Plan
from canvas.site.records import Element, kind_of
from canvas.site.storms import DesignStorm, RainRows


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing a stage sets out to have."""

    label: str
    done: bool


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work."""

    key: str
    title: str
    icon: str
    #: What a person does here, in one line.
    about: str
    marks: Callable[[Plan, tuple[Finding, ...]], list[Mark]]
    #: Families of kinds whose findings count here; () for none, None for all.
    groups: tuple[str, ...] | None
    #: Keys of the actions on the ledge, in order.
    actions: tuple[str, ...]
    #: The page that belongs to it.
    page: str
    #: What the map shows on entering: changes to the look.
    look: Mapping[str, Any] = field(default_factory=dict)


def _any(plan: Plan, *keys: str) -> bool:
    return any(plan.of_kind(key) for key in keys)


def _ours(plan: Plan, keys: Iterable[str]) -> bool:
    return any(
        isinstance(item, Element) and item.status in ("proposed", "built")
        for key in keys
        for item in plan.of_kind(key)
    )


def _survey(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    existing = any(
        item.status in ("existing", "remove") and kind_of(item).group != "Land"
        for item in plan.elements()
    )
    return [
        Mark("boundary", _any(plan, "site_boundary")),
        Mark("ground", any(item.in_use for item in plan.of(Ground))),
        Mark("aerial", bool(plan.of(Picture))),
        Mark("what is there", existing),
    ]


def _analysis(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    return [
        Mark("slopes", any(item.in_use for item in plan.of(Ground))),
        Mark("water", _any(plan, "watercourse", "water_body")),
        Mark("zones", _any(plan, "zone")),
    ]


def _layout(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    return [
        Mark("access", _ours(plan, ("track", "path"))),
        Mark("house", _ours(plan, ("building",))),
        Mark("services", _ours(plan, ("tank", "septic_tank", "septic_field", "well"))),
        Mark("fire", _ours(plan, ("firebreak",))),
    ]


def _earth(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    shaped = any(getattr(item, "forming", "none") != "none" for item in plan.of_kind("track"))
    return [
        Mark("platforms", _ours(plan, ("platform", "terraces"))),
        Mark("shaped tracks", shaped),
        Mark("places for spoil", _ours(plan, ("heap",))),
    ]


def _water(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    storms = plan.of(DesignStorm)
    rain = any(r.depths.strip() for r in plan.of(RainRows))
    return [
        Mark("rain to design for", rain or any(s.depth_mm is not None for s in storms)),
        Mark("land cover", _any(plan, "ground_cover", "vegetation")),
        Mark("swales or drains", _ours(plan, ("swale", "drain"))),
        Mark("ponds", _ours(plan, ("dam", "dug_pond"))),
    ]


def _planting(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    return [
        Mark("trees", _ours(plan, ("tree", "tree_row"))),
        Mark("hedges", _ours(plan, ("hedge",))),
        Mark("beds", _ours(plan, ("garden_bed",))),
    ]


def _checks(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    return [
        Mark("rules chosen", bool(plan.site.sets())),
        Mark("nothing failing", not any(each.failing for each in findings)),
    ]


def _sheets(plan: Plan, findings: tuple[Finding, ...]) -> list[Mark]:
    site = plan.site
    return [
        Mark("title block", bool(site.name and site.designer)),
        Mark("datum", bool(site.heights_datum)),
        Mark("phases", bool(plan.phases())),
    ]


STAGES: tuple[Stage, ...] = (
    Stage(
        "survey",
        "Survey",
        "survey",
        "Bring in what is known of the land, and draw what stands on it.",
        _survey,
        ("Land",),
        (
            "in.legs", "in.features", "in.aerial", "in.ground", "draw.site_boundary",
            "in.heights", "draw.building", "draw.tree", "draw.watercourse", "draw.fence",
            "draw.vegetation", "draw.public_road", "draw.overhead_line", "draw.test_pit",
        ),
        "site",
        {"shading": "", "finding_places": False},
    ),
    Stage(
        "analysis",
        "Site analysis",
        "analysis",
        "Read slope, aspect and sun from the ground, and sketch zones over it.",
        _analysis,
        (),
        (
            "shade.slope_classes", "shade.aspect", "shade.energy", "shade.hillshade", "shade.flow",
            "measure.section", "measure.area", "measure.drop", "measure.catchment", "page.slopes",
            "page.sun", "draw.zone",
        ),
        "slopes",
        {"shading": "slope_classes", "finding_places": False},
    ),
    Stage(
        "layout",
        "Layout",
        "layout",
        "Place the house, the ways to it, water, waste water and firebreaks.",
        _layout,
        ("Structures", "Access", "Services", "Fire", "Writing"),
        (
            "draw.building", "draw.track", "draw.path", "draw.fence", "draw.gate", "draw.tank",
            "draw.well", "draw.septic_tank", "draw.septic_field", "draw.buried_service",
            "draw.firebreak", "measure.section", "page.phases",
        ),
        "schedule",
        {"shading": "hillshade", "finding_places": False},
    ),
    Stage(
        "earth",
        "Earthworks",
        "earth",
        "Shape the ground for house and ways, and see what is dug, filled and left over.",
        _earth,
        ("Earthworks",),
        (
            "draw.platform", "draw.terraces", "draw.track", "draw.turning_head",
            "draw.passing_bay", "draw.culvert", "draw.ford", "draw.water_bar", "ways.drains",
            "draw.heap", "draw.borrow_pit", "page.places", "measure.section", "shade.cutfill",
            "page.details", "page.earth",
        ),
        "earth",
        {"shading": "cutfill", "finding_places": False},
    ),
    Stage(
        "water",
        "Water",
        "water",
        "Hold water on the hill, let it out safely, and rain a storm on the plan.",
        _water,
        ("Water",),
        (
            "draw.swale", "draw.drain", "draw.level_sill", "draw.check_dam", "draw.dam",
            "draw.dug_pond", "draw.ground_cover", "measure.drop", "shade.hollows",
            "page.places", "page.details", "page.storm", "draw.gauge", "draw.gauge_line",
            "page.rain",
        ),
        "storm",
        {"shading": "hillshade", "finding_places": False, "spills": True},
    ),
    Stage(
        "planting",
        "Planting",
        "planting",
        "Set out trees, rows, hedges and beds at their true size.",
        _planting,
        ("Plants",),
        (
            "draw.tree", "draw.tree_row", "draw.hedge", "draw.garden_bed", "draw.vegetation",
            "tool.repeat_line", "tool.repeat_area", "shade.energy", "page.schedule",
        ),
        "schedule",
        {"shading": "", "finding_places": False},
    ),
    Stage(
        "checks",
        "Checks",
        "checks",
        "See what does not meet its rules, where, and on whose word.",
        _checks,
        None,
        ("page.findings", "check.next", "check.previous", "page.rules", "measure.length"),
        "findings",
        {"shading": "", "findings": True, "finding_places": True},
    ),
    Stage(
        "sheets",
        "Sheets",
        "sheets",
        "Print a true-scale plan somebody can build from.",
        _sheets,
        (),
        ("page.sheet", "page.schedule", "page.phases", "draw.note", "draw.dimension", "out.export"),
        "sheet",
        {"shading": "", "finding_places": False},
    ),
)  # fmt: skip


def stage(key: str) -> Stage:
    """Return the stage called `key`."""
    return next(each for each in STAGES if each.key == key)


def findings_of(where: Stage, plan: Plan, findings: tuple[Finding, ...]) -> int:
    """Return how many standing findings of warning or worse belong to a stage."""
    return sum(1 for each in findings if each.failing and _belongs(where, plan, each))


def _belongs(where: Stage, plan: Plan, finding: Finding) -> bool:
    if where.groups is None:
        return True
    first = plan.get(finding.elements[0]) if finding.elements else None
    return first is not None and kind_of(first).group in where.groups
