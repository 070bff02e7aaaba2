"""The site's own page: its facts, its fields, the ground it stands on."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QWidget

from canvas.base.errors import BadData
from canvas.desk.drawer import Page
from canvas.desk.forms import FieldForm
from canvas.desk.parts import button, column, empty, heading, label, quiet, row, scrolling, small
from canvas.desk.tiles import holding, spread
from canvas.site.edits import Edit, put
from canvas.site.facts import Ground
from canvas.site.records import changed, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Fields shown here; the CRS can't change once elements lie in it, rule sets have their page.
FIELDS = ("name", "address", "designer", "revision", "heights_datum", "units")


class SitePage(Page):
    """What holds for the whole site."""

    key = "site"
    title = "Site facts"
    icon = "settings"
    about = "Name, grid, datum, units, ground and areas"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._shown: object = None
        self.form = FieldForm([s for s in kind("site").specs if s.name in FIELDS])
        self.form.edited.connect(self._edited)
        facts, grounds = QWidget(), QWidget()
        self._facts = QGridLayout(facts)
        self._facts.setContentsMargins(0, 0, 6, 0)
        self._facts.setHorizontalSpacing(10)
        self._facts.setVerticalSpacing(3)
        self._facts.setColumnStretch(0, 1)
        self._grounds = column(parent=grounds, gap=4)
        ground = holding(heading("Ground"), grounds, None)
        spread(self, (scrolling(holding(heading("Facts"), facts, None)), 6),
               (scrolling(holding(self.form, None)), 5), (scrolling(ground), 4))  # fmt: skip

    def refresh(self) -> None:
        """Show the site."""
        bench = self._desk.bench
        plan, session, study = bench.plan, bench.session, bench.study
        if plan is None or session is None:
            return
        state = (plan.site, tuple(plan.of(Ground)), bench.study_revision, session.readonly)
        if state == self._shown:
            return
        self._shown = state
        site = plan.site
        self.form.setEnabled(not session.readonly)
        self.form.show_values(lambda name: getattr(site, name))
        self._show_grounds(plan.of(Ground))
        empty(self._facts)
        facts = study.site_facts() if study is not None else ()
        for at, fact in enumerate(f for f in facts if f.key not in ("name", "heights_datum")):
            name = f"{fact.label}, {fact.basis}" if fact.basis else fact.label
            figure = isinstance(fact.value, float)
            value = label(fact.shown(bench.units), wrap=not figure)
            value.setAlignment(Qt.AlignmentFlag.AlignRight)
            if not figure:
                value.setFixedWidth(236)
            value.setAccessibleName(f"{fact.label}: {value.text()}")
            value.setToolTip(fact.remark)
            self._facts.addWidget(quiet(name), at, 0, Qt.AlignmentFlag.AlignTop)
            self._facts.addWidget(value, at, 1, Qt.AlignmentFlag.AlignRight)

    def _show_grounds(self, grounds: list[Ground]) -> None:
        empty(self._grounds)
        if not grounds:
            act = self._desk.actions_["in.ground"].trigger
            self._grounds.addWidget(quiet("None yet. Slopes, levels and sun need one."))
            self._grounds.addLayout(row(button("Bring it in…", act), None))
        for ground in grounds:
            surface = "bare earth" if ground.surface == "bare_earth" else "tops of plants, roofs"
            sure = f"± {ground.accuracy_m:g} m" if ground.accuracy_m else "accuracy unknown"
            words = "; ".join(
                w for w in (ground.source, ground.surveyed, surface, sure, ground.datum) if w
            )
            use = "in use" if ground.in_use else "not in use"
            self._grounds.addWidget(label(f"{ground.name} · {use}"))
            self._grounds.addWidget(small(words))
            if not ground.in_use:
                use_it = button("Use this one", partial(self._use, ground))
                self._grounds.addLayout(row(use_it, None))

    def _use(self, ground: Ground) -> None:
        plan = self._desk.bench.plan
        if plan is None:
            return
        pairs = [(g, changed(g, in_use=g.id == ground.id)) for g in plan.of(Ground)]
        edit: Edit = put(f"Stand on {ground.name}", pairs)
        self._desk.bench.apply(edit)

    def _edited(self, name: str, value: Any) -> None:
        plan = self._desk.bench.plan
        if plan is None:
            return
        try:
            after = changed(plan.site, **{name: value})
        except BadData as trouble:
            self._desk.bench.tell("warning", trouble.text())
            return
        spec = kind("site").spec(name)
        self._desk.bench.apply(put(f"Site’s {spec.label.lower()}", [(plan.site, after)]))
