"""An empty site says what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from canvas.desk.bench import FIRST_STAGE
from canvas.desk.icons import pixmap
from canvas.desk.parts import button, heading, icon_button, quiet, row, small
from canvas.desk.theme import inks
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Ground, Picture
from canvas.site.plan import Plan

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: What a site starts from: question, why, and the actions that answer it.
STEPS = (
    (
        "boundary",
        "Where does the land end?",
        "Type the title’s bearings, bring in a file, or draw it over the aerial.",
        (("in.legs", "From the title…"), ("in.features", "From a file…"),
         ("draw.site_boundary", "Draw it")),
    ),
    (
        "aerial",
        "What does it look like from above?",
        "An aerial image that knows its place, or a picture you tie to the map.",
        (("in.aerial", "Bring it in…"), ("in.tie", "Tie a picture…")),
    ),
    (
        "ground",
        "How does it rise and fall?",
        "A terrain model that reaches past the boundary: up to the watershed above, if it can.",
        (("in.ground", "Bring it in…"),),
    ),
)  # fmt: skip


def done(plan: Plan) -> dict[str, bool]:
    """Return which of the first steps are taken."""
    return {
        "boundary": bool(plan.of(SiteBoundary)),
        "aerial": bool(plan.of(Picture)),
        "ground": bool(plan.of(Ground)),
    }


class Guide(QFrame):
    """The first steps, ticked off as they are taken; gone when they are, or when sent away."""

    def __init__(self, desk: DeskWindow, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._sent_away = False
        self.setObjectName("guide")
        self.setFixedWidth(470)
        box = QVBoxLayout(self)
        box.setContentsMargins(20, 14, 14, 18)
        box.setSpacing(10)
        shut = icon_button("close", "Hide the first steps", self._send_away, desk.bench.theme)
        box.addLayout(row(heading("First, what is known of the land"), shut))
        self._ticks: dict[str, QLabel] = {}
        #: What a step shows till it is taken: why, and the buttons.
        self._open: dict[str, list[QWidget]] = {}
        for key, asks, why, acts in STEPS:
            box.addLayout(self._step(key, asks, why, acts))
        box.addWidget(small("In any order. Each step can be taken back with Ctrl+Z."))
        bench = desk.bench
        bench.site_changed.connect(self._fresh)
        bench.plan_changed.connect(lambda _t: self.refresh())
        bench.tool_changed.connect(self.refresh)
        bench.stage_changed.connect(self.refresh)
        bench.theme_changed.connect(self.refresh)
        self.hide()

    def _step(
        self, key: str, asks: str, why: str, acts: tuple[tuple[str, str], ...]
    ) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(3)
        grid.setColumnStretch(1, 1)
        tick = self._ticks[key] = QLabel()
        tick.setFixedWidth(20)
        title = QLabel(asks)
        font = title.font()
        font.setBold(True)
        title.setFont(font)
        grid.addWidget(tick, 0, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(title, 0, 1)
        reason = quiet(why)
        grid.addWidget(reason, 1, 1)
        made = [button(words, self._desk.actions_[act].trigger) for act, words in acts]
        self._open[key] = [reason, *made]
        grid.addLayout(row(*made, None), 2, 1)
        return grid

    def _send_away(self) -> None:
        self._sent_away = True
        self.refresh()

    def _fresh(self) -> None:
        self._sent_away = False
        self.refresh()

    def refresh(self) -> None:
        """Tick what is done; leave when all is, in later stages, or while something is drawn."""
        bench = self._desk.bench
        plan, session = bench.plan, bench.session
        if plan is None or session is None or session.readonly or self._sent_away:
            self.hide()
            return
        taken = done(plan)
        later = any(taken.values()) and bench.stage != FIRST_STAGE
        drawn = bench.tool is not None or len(list(plan.elements())) > 3
        if all(taken.values()) or later or drawn:
            self.hide()
            return
        ink = inks(bench.theme)
        for key, tick in self._ticks.items():
            name, shade = ("ok", ink.accent) if taken[key] else ("right", ink.quiet)
            tick.setPixmap(pixmap(name, 18, shade, self.devicePixelRatioF()))
            tick.setAccessibleName("done" if taken[key] else "open")
            for made in self._open[key]:
                made.setVisible(not taken[key])
        self.show()
        self.place()

    def place(self) -> None:
        """Stand in the middle of the map."""
        parent = self.parentWidget()
        if parent is None or self.isHidden():
            return
        self.adjustSize()
        head = self._desk.ledge.overhang
        x = (parent.width() - self.width()) // 2
        self.move(x, max((parent.height() - head - self.height()) // 2 + head, head + 8))
        self.raise_()
