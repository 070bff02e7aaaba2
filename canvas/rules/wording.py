"""From breaches to findings: plants told of together, waivers applied, sentences filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely import GeometryCollection

from canvas.base.finding import Finding
from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.relations import RELATIONS
from canvas.rules.relations.spacing import MOST_DRAWN
from canvas.rules.scene import Scene
from canvas.rules.subject import PLANT_KINDS, Subject
from canvas.site.records import kind_of

#: Which of two elements is the one to change: what isn't built yet, and ours, comes first.
CHANGEABLE = ("proposed", "built", "existing")


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """A breach to be told of: alone, or many plants in one."""

    breach: Breach
    #: Plants that share it, the worst first; () when it stands alone.
    crowd: tuple[str, ...] = ()


def findings_of(
    rule: Rule, breaches: Sequence[Breach], scene: Scene, waivers: Mapping[str, str]
) -> tuple[Finding, ...]:
    """Return a rule's findings; breaches come in order of their elements."""
    told: list[_Told] = []
    crowds: dict[str, list[Breach]] = {}
    waived = rule.key in scene.waived
    for breach in breaches:
        key = _crowd_key(rule, breach, scene)
        if key is None or (waived and _key(rule, breach, scene) in waivers):
            told.append(_alone(rule, breach, scene))
        else:
            crowds.setdefault(key, []).append(breach)
    told.extend(_together(rule, group, scene) for group in crowds.values())
    return tuple(_finding(rule, each, scene, waivers) for each in told)


def _crowd_key(rule: Rule, breach: Breach, scene: Scene) -> str | None:
    """Return what plants are told of together by: the thing they are too near, or the rule.

    None where the breach is told of on its own.
    """
    if rule.relation == "spacing":
        return None
    if len(rule.selectors) == 1 and len(breach.elements) == 1:
        return rule.key if scene.subjects[breach.elements[0]].kind in PLANT_KINDS else None
    if len(rule.selectors) != 2 or len(breach.elements) != 2:
        return None
    side = _crowd_side(breach, scene)
    return None if side is None else breach.elements[1 - side]


def _crowd_side(breach: Breach, scene: Scene) -> int | None:
    """Return which side may be many: trees before rows and hedges, plants before all else."""
    kinds = [scene.subjects[ident].kind for ident in breach.elements]
    if len(kinds) == 1:
        return 0
    a, b = ((name in PLANT_KINDS) + (name == "tree") for name in kinds)
    return None if a == b else int(b > a)


def _alone(rule: Rule, breach: Breach, scene: Scene) -> _Told:
    """Return a breach as it is; one among a stand's plants names the stand."""
    many = len(rule.selectors) == 1 and len(breach.elements) > 2
    return _Told(breach, breach.elements if many else ())


def _together(rule: Rule, group: Sequence[Breach], scene: Scene) -> _Told:
    if len(group) == 1:
        return _Told(group[0])
    side = _crowd_side(group[0], scene) or 0
    ranked = sorted(group, key=lambda each: (-each.shortfall, each.elements))
    worst = ranked[0]
    crowd = tuple(each.elements[side] for each in ranked)
    first = worst.elements
    where = GeometryCollection([each.where for each in ranked[:MOST_DRAWN]])
    note = next((each.note for each in ranked if each.note), "")
    made = replace(worst, elements=(*first, *crowd[1:]), where=where, count=len(group), note=note)
    return _Told(made, crowd)


def _in_order(elements: tuple[str, ...], scene: Scene) -> tuple[str, ...]:
    """Return identities with the one to change first; a stable sort, so ties stay as they are."""

    def rank(ident: str) -> tuple[bool, int]:
        subject = scene.subjects[ident]
        status = subject.element.status
        place = CHANGEABLE.index(status) if status in CHANGEABLE else len(CHANGEABLE)
        return (not subject.ours, place)

    return tuple(sorted(elements[:2], key=rank)) + elements[2:]


def _key(rule: Rule, breach: Breach, scene: Scene) -> str:
    return ":".join((rule.key, *_in_order(breach.elements, scene)))


def _finding(rule: Rule, told: _Told, scene: Scene, waivers: Mapping[str, str]) -> Finding:
    breach = told.breach
    a, b = _names(rule, told, scene)
    message = rule.says.format(a=a, b=b, count=breach.count)
    made = Finding(
        rule=rule.key,
        rule_set=rule.rule_set,
        severity=rule.severity,
        message=message,
        elements=_in_order(breach.elements, scene),
        measured=breach.measured,
        required=breach.required,
        unit=breach.unit,
        sense=RELATIONS[rule.relation].sense if breach.required is not None else "",
        where=breach.where,
        source=rule.source,
        mark=rule.mark,
        caution=caution_of(rule, breach.note),
    )
    reason = waivers.get(made.key, "")
    return replace(made, waived=reason) if reason else made


def _names(rule: Rule, told: _Told, scene: Scene) -> tuple[str, str]:
    """Return what to call the sides; all elements together where a rule has one side only."""
    subjects = [scene.subjects[ident] for ident in told.breach.elements]
    if told.crowd:
        crowd = crowd_name([scene.subjects[ident] for ident in told.crowd])
        if len(rule.selectors) == 1:
            return crowd, ""
        if subjects[0].id in told.crowd:
            return crowd, subjects[1].name
        return subjects[0].name, crowd
    if len(rule.selectors) > 1:
        return subjects[0].name, subjects[-1 if len(subjects) == 1 else 1].name
    if len(subjects) == 2:
        nameless = not any(subject.element.name for subject in subjects)
        joined = f"{subjects[0].name} and {subjects[1].name}"
        return (crowd_name(subjects) if nameless else joined), ""
    return subjects[0].name, ""


def crowd_name(plants: Sequence[Subject]) -> str:
    """Return what to call several plants: "12 trees", "5 plants"."""
    classes = {type(subject.element) for subject in plants}
    word = kind_of(classes.pop()).plural.lower() if len(classes) == 1 else "plants and rows"
    return f"{len(plants)} {word}"


def caution_of(rule: Rule, *notes: str) -> str:
    """Return what to mind: notes on this case, the site's own limit, the rule's caution."""
    said: Iterable[str] = (
        *notes,
        f"The site’s own limit is used here: {rule.site_reason}." if rule.site_reason else "",
        rule.caution,
    )
    return " ".join(each for each in said if each)
