"""Rule sets in force, the site's own limits with their reasons, and the waivers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QCheckBox, QLineEdit, QTabWidget, QVBoxLayout, QWidget

from canvas.base.errors import BadData
from canvas.base.quantity import read_number, show, shown, to_si
from canvas.desk.drawer import Page
from canvas.desk.parts import (
    button,
    column,
    fill_table,
    heading,
    label,
    quiet,
    row,
    scrolling,
    small,
    table,
)
from canvas.desk.tiles import Tiles, holding, spread
from canvas.site.edits import add, put, remove
from canvas.site.facts import Threshold, Waiver
from canvas.site.records import changed

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.rules.model import Rule


class RulesPage(Page):
    """Three sides: which sets hold, what each rule asks, what was waived."""

    key = "rules"
    title = "Rules and limits"
    icon = "rules"
    about = "Which rules hold here, on whose word, and what the site asks instead"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._rules: list[Rule] = []
        self._waivers: list[Waiver] = []
        self._shown: object = None
        tabs = QTabWidget()
        tabs.setDocumentMode(True)
        tabs.addTab(self._sets_side(), "Rule sets")
        tabs.addTab(self._limits_side(), "Limits")
        tabs.addTab(self._waived_side(), "Waived")
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(tabs)

    def _sets_side(self) -> QWidget:
        from canvas.rules.library import rule_sets

        tiles = Tiles()
        first = quiet("Local codes and the authority’s own word come first; these sets help to ask "
                      "the right questions.")  # fmt: skip
        parts: list[tuple[QWidget, bool]] = [(first, True)]
        self.sets: dict[str, QCheckBox] = {}
        for key, each in rule_sets().items():
            made = self.sets[key] = QCheckBox(each.label)
            made.clicked.connect(lambda _on: self._choose())
            law = "restates law" if each.legal else "no legal source"
            about = small(f"{each.jurisdiction}; {law}; {len(each.rules)} rules; as of "
                          f"{each.dated}. {each.caution}")  # fmt: skip
            parts.append((holding(made, about), False))
        tiles.show_parts(parts)
        return tiles

    def _limits_side(self) -> QWidget:
        side = QWidget()
        self.table = table(("Rule", "Limit", "Severity"), name="Rules in force")
        self.table.setWordWrap(True)
        self.table.itemSelectionChanged.connect(self._show_rule)
        self._says = label("")
        self._about = small()
        self.value = QLineEdit()
        self.value.setAccessibleName("The site’s own limit")
        self._unit = quiet()
        self.reason = QLineEdit()
        self.reason.setAccessibleName("Reason for the site’s own limit")
        self.reason.setPlaceholderText("Why: an agreement, a permit, a decision …")
        self._set = button("Set the site’s limit", self._set_limit)
        self._clear = button("Back to the rule’s", self._clear_limit)
        chosen = QWidget()
        column(
            self._says, self._about, heading("The site’s own limit"),
            row(self.value, self._unit), self.reason, row(self._set, self._clear, None), None,
            parent=chosen,
        )  # fmt: skip
        spread(side, (self.table, 6), (scrolling(chosen), 5))
        return side

    def _waived_side(self) -> QWidget:
        side = QWidget()
        self.waived = table(("Finding", "Reason", "Decided"), name="Waived findings")
        self._lift = button("Lift the waiver", self._lift_waiver)
        column(
            quiet("Accepted with a reason; printed on the sheet."), self.waived,
            row(None, self._lift), margin=10, parent=side,
        ).setStretch(1, 1)  # fmt: skip
        return side

    # -- showing ------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the sets, limits and waivers in force."""
        from canvas.rules.library import rules_of

        plan, session = self._desk.bench.plan, self._desk.bench.session
        if plan is None or session is None:
            return
        own = {t.rule: t for t in plan.of(Threshold)}
        self._waivers = plan.of(Waiver)
        state = (plan.site, tuple(own.values()), tuple(self._waivers), session.readonly)
        if state == self._shown:
            return
        self._shown = state
        for key, box in self.sets.items():
            box.setChecked(key in plan.site.sets())
            box.setEnabled(not session.readonly)
        limits = {key: t.value for key, t in own.items()}
        reasons = {key: t.reason for key, t in own.items()}
        at = self.table.currentRow()
        self._rules = list(rules_of(plan.site.sets(), limits, reasons))
        rows = [(r.says, _limit(r, self._desk), r.severity.value) for r in self._rules]
        fill_table(self.table, rows, right=frozenset())
        if self._rules:
            self.table.selectRow(max(min(at, len(self._rules) - 1), 0))
        self._show_rule()
        fill_table(
            self.waived,
            [(w.finding, w.reason, w.decided or "–") for w in self._waivers],
            right=frozenset(),
        )
        self._lift.setEnabled(bool(self._waivers) and not session.readonly)

    def _rule(self) -> Rule | None:
        at = self.table.currentRow()
        return self._rules[at] if 0 <= at < len(self._rules) else None

    def _show_rule(self) -> None:
        rule, session = self._rule(), self._desk.bench.session
        able = rule is not None and rule.limit is not None and session is not None
        able = able and session is not None and not session.readonly
        for control in (self.value, self.reason, self._set):
            control.setEnabled(able)
        self._clear.setEnabled(able and rule is not None and bool(rule.site_reason))
        if rule is None:
            self._says.setText("No rule set is chosen.")
            self._about.setText("")
            return
        from canvas.base.sources import source

        named = source(rule.source).text if rule.source else "no source"
        sure = f"{rule.mark.value}, {rule.dated}"
        place = f", {rule.at}" if rule.at else ""
        self._says.setText(rule.says)
        self._about.setText(f"{rule.jurisdiction}. {named}{place} ({sure}). {rule.caution}")
        units = self._desk.bench.units
        if rule.limit is not None:
            how = shown(rule.limit.unit, units)
            self._unit.setText(how.symbol)
            plain = rule.limit.plain
            self.value.setText("" if plain is None else f"{plain * how.factor:.6g}")
        self.reason.setText(rule.site_reason)

    # -- changing -----------------------------------------------------------------------------

    def _choose(self) -> None:
        plan = self._desk.bench.plan
        if plan is None:
            return
        chosen = ",".join(key for key, box in self.sets.items() if box.isChecked())
        after = changed(plan.site, rule_sets=chosen)
        self._desk.bench.apply(put("Choose rule sets", [(plan.site, after)]))

    def _set_limit(self) -> None:
        plan, rule, bench = self._desk.bench.plan, self._rule(), self._desk.bench
        if plan is None or rule is None or rule.limit is None:
            return
        reason = self.reason.text().strip()
        if not reason:
            bench.tell("warning", "Give the reason for the site’s own limit; it is printed.")
            self.reason.setFocus()
            return
        try:
            value = to_si(read_number(self.value.text()), rule.limit.unit, bench.units)
        except BadData as trouble:
            bench.tell("warning", trouble.text())
            self.value.setFocus()
            return
        old = next((t for t in plan.of(Threshold) if t.rule == rule.key), None)
        words = "Set the site’s own limit"
        if old is None:
            bench.apply(add(words, [Threshold(rule=rule.key, value=value, reason=reason)]))
        else:
            bench.apply(put(words, [(old, changed(old, value=value, reason=reason))]))

    def _clear_limit(self) -> None:
        plan, rule = self._desk.bench.plan, self._rule()
        if plan is not None and rule is not None:
            old = [t for t in plan.of(Threshold) if t.rule == rule.key]
            self._desk.bench.apply(remove("Take back the site’s own limit", old))

    def _lift_waiver(self) -> None:
        at = self.waived.currentRow()
        chosen = self._waivers[max(at, 0) :][:1]
        self._desk.bench.apply(remove("Lift a waiver", chosen))


def _limit(rule: Rule, desk: DeskWindow) -> str:
    if rule.limit is None:
        return "–"
    plain = rule.limit.plain
    words = "by slope or size" if plain is None else show(plain, rule.limit.unit, desk.bench.units)
    return f"{words} (site’s own)" if rule.site_reason else words
