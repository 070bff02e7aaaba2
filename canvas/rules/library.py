"""The rule sets: read from `resources/rules/*.toml`, checked, and handed out as frozen rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from canvas.base import resources
from canvas.base.errors import BadData
from canvas.base.finding import Severity
from canvas.base.sources import Mark, all_sources
from canvas.rules.model import STANDING, Condition, Limit, Near, Rule, RuleSet, Selector, Step
from canvas.rules.reading import PRINTED, Table, amount, length_m, trouble
from canvas.rules.relations import RELATIONS, RelationSpec
from canvas.site.records import OWNER_LABELS, STATUS_LABELS, element_kinds

#: In the order they are offered.
SETS = ("good_practice", "california", "victoria", "portugal")

STATUSES = {value for value, _ in STATUS_LABELS}
OWNERS = {value for value, _ in OWNER_LABELS}


@cache
def rule_sets() -> dict[str, RuleSet]:
    """Return every rule set by key, in the order they are offered."""
    return {key: read_set(key, resources.toml(f"rules/{key}.toml")) for key in SETS}


def rules_of(
    set_keys: Iterable[str],
    limits: Mapping[str, float] | None = None,
    reasons: Mapping[str, str] | None = None,
) -> tuple[Rule, ...]:
    """Return the rules of the sets chosen, with the site's own limits in place of the sources'.

    Parameters
    ----------
    limits : rule key -> SI value, optional
        Keys no chosen set knows are passed over: their set may have been switched off.
    reasons : rule key -> why, optional
    """
    known = rule_sets()
    chosen: list[Rule] = []
    for key in dict.fromkeys(set_keys):
        if key not in known:
            raise BadData(
                f"there is no rule set called “{key}”", remedy=f"Rule sets: {', '.join(known)}."
            )
        chosen.extend(known[key].rules)
    limits, reasons = limits or {}, reasons or {}
    return tuple(
        rule.with_site_limit(limits[rule.key], reasons.get(rule.key, ""))
        if rule.key in limits
        else rule
        for rule in chosen
    )


def read_set(key: str, values: Mapping[str, Any]) -> RuleSet:
    """Return a rule set from its parsed table.

    Raises
    ------
    BadData
        A key is unknown or missing, or something named in a rule is not there; names the rule.
    """
    table = Table(values, f"rules/{key}.toml")
    head = {name: str(table.take(name, str)) for name in ("label", "jurisdiction", "caution")}
    legal = bool(table.take("legal", bool))
    dated = str(table.take("dated", str))
    rows = table.take("rule", list)
    table.done()
    rules = tuple(_rule(row, key, head, dated) for row in rows)
    seen: set[str] = set()
    for rule in rules:
        if rule.key in seen:
            raise trouble(rule.key, "two rules of the set share this key")
        seen.add(rule.key)
    return RuleSet(key, head["label"], head["jurisdiction"], legal, head["caution"], dated, rules)


def _rule(row: object, set_key: str, head: Mapping[str, str], dated: str) -> Rule:
    name = row.get("key", "a rule without a key") if isinstance(row, dict) else "not a table"
    table = Table(row, f"rules/{set_key}.toml, {name}")
    key = f"{set_key}.{table.take('key', str)}"
    relation = str(table.take("relation", str))
    if relation not in RELATIONS:
        raise trouble(table.where, f"no relation called “{relation}”")
    spec = RELATIONS[relation]
    sides = {side: _selector(table.table(side)) for side in ("a", "b", "c")}
    given = "".join(side for side, selector in sides.items() if selector is not None)
    if given != spec.sides:
        raise trouble(table.where, f"{relation} needs the sides {', '.join(spec.sides)}")
    first = sides["a"]
    assert first is not None
    limit = _limit(table, spec)
    source, at = _source(table)
    mark = _one_of(Mark, str(table.take("mark", str)), table.where)
    severity = _one_of(Severity, str(table.take("severity", str)), table.where)
    made = Rule(
        key=key,
        rule_set=set_key,
        says=str(table.take("says", str)),
        relation=relation,
        a=first,
        b=sides["b"],
        c=sides["c"],
        limit=limit,
        options=_options(table, spec),
        severity=severity,
        jurisdiction=head["jurisdiction"],
        source=source,
        at=at,
        mark=mark,
        dated=str(table.take("dated", str, dated)),
        caution=str(table.take("caution", str, head["caution"])),
    )
    table.done()
    _refuse_misuse(made, table.where)
    return made


def _refuse_misuse(rule: Rule, where: str) -> None:
    unread = rule.mark in (Mark.REMEMBERED, Mark.PRACTICE)
    if unread and rule.severity is Severity.ERROR:
        raise trouble(where, "a figure nobody read in its source cannot be an error")
    if not rule.source and rule.mark is not Mark.PRACTICE:
        raise trouble(where, f"marked “{rule.mark}” but no source is named")
    if not rule.caution:
        raise trouble(where, "a caution is missing")
    try:
        rule.says.format(a="", b="", count="")
    except (KeyError, IndexError, ValueError) as wrong:
        raise trouble(where, f"“says” cannot be filled in: {wrong}") from wrong


def _one_of(kind: Any, word: str, where: str) -> Any:
    try:
        return kind(word)
    except ValueError:
        allowed = ", ".join(member.value for member in kind)
        raise trouble(where, f"“{word}” is not one of {allowed}") from None


def _source(table: Table) -> tuple[str, str]:
    inner = table.table("source")
    if inner is None:
        return "", ""
    key, at = str(inner.take("key", str)), str(inner.take("at", str, ""))
    inner.done()
    if key not in all_sources():
        raise trouble(table.where, f"no source called “{key}”")
    return key, at


def _selector(table: Table | None) -> Selector | None:
    if table is None:
        return None
    kinds = table.words("kind")
    known = element_kinds()
    for kind in kinds:
        if kind not in known:
            raise trouble(table.where, f"no kind called “{kind}”")
    status = table.words("status", STANDING)
    owner = table.words("owner", ())
    if not STATUSES.issuperset(status) or not OWNERS.issuperset(owner):
        raise trouble(table.where, "no such status or owner")
    made = Selector(
        kinds,
        table.words("part", ("shape",)),
        _conditions(table.table("where")),
        status,
        owner,
        _near(table.table("near")),
    )
    table.done()
    return made


def _near(table: Table | None) -> Near | None:
    if table is None:
        return None
    within = length_m(table, "within")
    what = _selector(table)
    assert what is not None
    if what.near is not None:
        raise trouble(table.where, "“near” inside “near” is not possible")
    return Near(what, within)


def _conditions(table: Table | None) -> tuple[Condition, ...]:
    if table is None:
        return ()
    return tuple(_condition(key, asked, table.where) for key, asked in table.rest().items())


def _condition(field: str, asked: object, where: str) -> Condition:
    if isinstance(asked, (str, bool)):
        return Condition(field, (asked,))
    if isinstance(asked, list):
        return Condition(field, tuple(asked))
    table = Table(asked, f"{where}, {field}")
    unit = str(table.take("unit", str, "ratio"))
    if unit not in PRINTED:
        raise trouble(table.where, f"no unit called “{unit}”")
    factor = PRINTED[unit][1]
    bounds: dict[str, Any] = {
        name: float(table.take(name, (int, float))) * factor
        for name in ("at_least", "at_most", "above", "below")
        if isinstance(asked, dict) and name in asked
    }
    table.done()
    if not bounds:
        raise trouble(table.where, "nothing is asked of the field")
    return Condition(field, **bounds)


def _limit(table: Table, spec: RelationSpec) -> Limit | None:
    inner = table.table("limit")
    if inner is None:
        if spec.unit is not None:
            raise trouble(table.where, f"{spec.key} needs a limit")
        return None
    if spec.unit is None:
        raise trouble(table.where, f"{spec.key} takes no limit")
    of = str(inner.take("of", str, "a"))
    if of not in ("a", "b", "larger"):
        raise trouble(table.where, "a limit is of a, b or larger")
    rows = inner.take("steps", list, None)
    if rows is None:
        unit, found = amount(inner, spec.unit)
        inner.done()
        return Limit(unit, found, of=of)
    inner.done()
    steps: list[Step] = []
    unit = spec.unit
    for row in rows:
        step = Table(row, f"{table.where}, steps")
        up_to = step.table("up_to")
        top = amount(up_to, "%")[1].value if up_to is not None else float("inf")
        unit, found = amount(step, spec.unit)
        step.done()
        if steps and top <= steps[-1].up_to:
            raise trouble(table.where, "the steps must rise")
        steps.append(Step(top, found))
    if not steps or steps[-1].up_to != float("inf"):
        raise trouble(table.where, "the last step must have no “up_to”")
    return Limit(unit, steps=tuple(steps), of=of)


def _options(table: Table, spec: RelationSpec) -> tuple[tuple[str, float | str], ...]:
    found: list[tuple[str, float | str]] = []
    for name, kind in spec.options.items():
        if kind == "length":
            value = length_m(table, name, -1.0)
            if value >= 0:
                found.append((name, value))
        else:
            word = table.take(name, str, None)
            if word is not None:
                found.append((name, str(word)))
    missing = [name for name in spec.required if name not in dict(found)]
    if missing:
        raise trouble(table.where, f"{spec.key} needs {', '.join(missing)}")
    return tuple(found)
