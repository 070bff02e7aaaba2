"""What the card says: findings first, then every figure with its unit, basis and ±."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from canvas.base.fact import Fact
from canvas.base.finding import Finding, Severity
from canvas.desk.icons import pixmap
from canvas.desk.parts import button, empty, label, quiet, row, rule, small
from canvas.desk.theme import inks
from canvas.site.records import Element, kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

SIGNS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.ADVICE: "advice"}


#: Room for a statement beside its name.
WORDS_WIDTH = 160
#: As many stand on the card; the page has them all.
MOST_FINDINGS = 3
#: Rules whose finding one action mends: its words, and its key.
REMEDIES = {"good_practice.line_level": ("Set level again", "edit.level_again")}


class FindingPlate(QFrame):
    """One finding: how grave, what, measured and required, on whose word."""

    def __init__(
        self, desk: DeskWindow, finding: Finding, *, brief: bool = False, number: str = ""
    ) -> None:
        super().__init__()
        self.setObjectName("plate")
        self.finding = finding
        bench = desk.bench
        ink = inks(bench.theme)
        sign = QLabel()
        grave = finding.failing
        name = "waived" if finding.waived else SIGNS[finding.severity]
        shade = ink.warn if grave else ink.quiet
        sign.setPixmap(pixmap(name, 16, shade, self.devicePixelRatioF()))
        sign.setAccessibleName(finding.severity.value)
        words = label(finding.message)
        grid = QGridLayout(self)
        grid.setContentsMargins(8, 7, 8, 7)
        grid.setSpacing(4)
        grid.setColumnStretch(1, 1)
        grid.addWidget(sign, 0, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(words, 0, 1)
        name_on_map = small(number)
        name_on_map.setToolTip("Its number on the map")
        grid.addWidget(name_on_map, 1, 0, Qt.AlignmentFlag.AlignTop)
        lines = [finding.numbers(bench.units), source_words(finding)]
        if finding.waived:
            lines.append(f"Waived: {finding.waived}")
        if finding.caution:
            lines.append(finding.caution)
        told = [line for line in lines if line]
        self.setToolTip("\n".join(told) if brief else "")
        grid.addWidget(small("\n".join(told[:1] if brief else told)), 1, 1)
        show = button("Show it", lambda: desk.show_finding(finding.key), look="link")
        parts: list[QWidget | None] = [show]
        if not finding.waived and bench.session is not None and not bench.session.readonly:
            waive = button("Waive…", lambda: desk.waive(finding.key), look="link")
            parts.append(waive)
            if finding.rule in REMEDIES:
                title, action = REMEDIES[finding.rule]
                parts.append(button(title, lambda: mend(desk, finding, action), look="link"))
        grid.addLayout(row(*parts, None, gap=2), 2, 1)


def mend(desk: DeskWindow, finding: Finding, action: str) -> None:
    """Select what a finding speaks of, and do the action that mends it."""
    desk.bench.select(finding.elements[:1])
    desk.actions_[action].trigger()


def numbers(findings: tuple[Finding, ...]) -> dict[str, str]:
    """Return the number each finding bears on the map, by its key."""
    from canvas.drawing.finding_marks import numbered

    return {finding.key: number for number, finding in numbered(findings)}


def source_words(finding: Finding) -> str:
    """Return on whose word a finding rests, and how sure that is."""
    from canvas.base.sources import source

    named = source(finding.source).text if finding.source else str(finding.mark)
    return f"{named} (unconfirmed)" if finding.unconfirmed and finding.source else named


class FactsView(QWidget):
    """Findings and figures under each other."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 6, 0)
        self._box.setSpacing(6)
        self._shown: object = None
        self._as_drawn = small("As it would be where it is held now.")
        #: Labels of the figures shown, by the figure's name and basis.
        self._values: dict[tuple[str, str], QLabel] = {}
        #: Elements the figures tell of as they would be; none while they tell of the plan.
        self._would_be: frozenset[str] = frozenset()

    def show_would_be(self, items: tuple[Element, ...], facts: tuple[Fact, ...]) -> bool:
        """Put an element's figures as they would be in place of those there; False for none."""
        shown = frozenset(item.id for item in items)
        if not facts:
            held, self._would_be = bool(self._would_be), frozenset()
            if held and self._desk.bench.stale:
                # The edit was made: its own answers are on their way and say the same.
                self._would_be = shown
            elif held:
                self._shown = None
            return False
        self._would_be = shown
        self._as_drawn.show()
        for fact in facts:
            value = self._values.get((fact.label, fact.basis))
            if value is not None:
                self._tell(value, fact)
        return True

    def show_items(self, items: tuple[Element, ...]) -> None:
        """Show what the study says of one element, or what several have in common."""
        bench = self._desk.bench
        study = bench.study
        state = (items, bench.study_revision, bench.theme, bench.units, bench.stale)
        if state == self._shown:
            return
        if bench.stale and self._would_be and self._would_be == {item.id for item in items}:
            return
        self._shown, self._would_be = state, frozenset()
        focus = self._desk.focusWidget()
        if focus is not None and self.isAncestorOf(focus):
            # What held the focus goes now; it would jump to the window's first control.
            self._desk.map.setFocus()
        self._box.removeWidget(self._as_drawn)
        self._as_drawn.setParent(self)
        self._as_drawn.hide()
        self._values.clear()
        empty(self._box)
        self._box.addWidget(self._as_drawn)
        known = [i for i in items if study is not None and i.id in study.plan]
        if study is None or not known:
            self._box.addWidget(quiet("Being read…"))
            self._box.addStretch(1)
            return
        if bench.stale:
            self._box.addWidget(small("These answers are a step behind; new ones are coming."))
        ids = {item.id for item in known}
        every = study.findings()
        found = [each for each in every if ids & set(each.elements)]
        names = numbers(every)
        for finding in found[:MOST_FINDINGS]:
            plate = FindingPlate(self._desk, finding, brief=True, number=names[finding.key])
            self._box.addWidget(plate)
        if len(found) > MOST_FINDINGS:
            words = f"and {len(found) - MOST_FINDINGS} more…"
            act = self._desk.actions_["page.findings"].trigger
            self._box.addWidget(button(words, act, look="link"))
        if len(known) == 1:
            self._facts(study.facts(known[0].id))
            if kind_of(known[0]).geometry == "LineString" and study.land.grid is not None:
                act = self._desk.actions_["page.section"].trigger
                self._box.addWidget(button("Section along it", act, look="link"))
        else:
            self._together([study.facts(item.id) for item in known])
        self._box.addStretch(1)

    def _facts(self, facts: tuple[Fact, ...]) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(0, 1)
        for number, fact in enumerate(facts):
            self._fact(grid, number * 3, fact)
            # A remark stands close under its own figure, clear of the next.
            grid.setRowMinimumHeight(number * 3 + 2, 5)
        self._box.addLayout(grid)

    def _fact(self, grid: QGridLayout, at: int, fact: Fact) -> None:
        """Put a figure in a row: its name and basis, its value with unit and ±, its remark."""
        words = isinstance(fact.value, str)
        value = label("", wrap=words)
        value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._tell(value, fact)
        self._values[fact.label, fact.basis] = value
        value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        if words:
            value.setFixedWidth(WORDS_WIDTH)
        basis = f" <span style='font-size:8pt'>{escape(fact.basis)}</span>" if fact.basis else ""
        name = quiet(f"{escape(fact.label)}{basis}")
        name.setTextFormat(Qt.TextFormat.RichText)
        grid.addWidget(name, at, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(value, at, 1, Qt.AlignmentFlag.AlignTop)
        if fact.remark and not words:
            grid.addWidget(small(fact.remark), at + 1, 0, 1, 2)

    def _tell(self, value: QLabel, fact: Fact) -> None:
        """Put a figure's words in its label."""
        value.setText(fact.shown(self._desk.bench.units))
        value.setAccessibleName(f"{fact.label} {fact.basis}: {value.text()}")
        value.setToolTip(fact.remark)

    def _together(self, facts: list[tuple[Fact, ...]]) -> None:
        """Show sums of what may be added up, and only of what all of them have."""
        from canvas.study.tables import together

        self._box.addWidget(rule())
        self._facts(tuple(together(facts)))
