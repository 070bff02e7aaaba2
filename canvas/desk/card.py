"""The element's card: what is known of the selection, beside it on the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPoint, QRect, QSize, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from canvas.base.errors import BadData
from canvas.desk.cardfacts import FactsView
from canvas.desk.forms import FieldForm
from canvas.desk.icons import kind_icon, pixmap
from canvas.desk.parts import icon_button, label, scrolling, small
from canvas.desk.theme import inks
from canvas.desk.wording import called, plural
from canvas.site.edits import put
from canvas.site.fields import FieldSpec
from canvas.site.records import Element, changed, kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

WIDTH = 316
GAP = 22
#: Distance to the edges of the map.
AIR = 12
#: No lower than this, however little room the map leaves: head, switch and some rows.
LEAST = 208
#: Head, switch and margins.
HEAD = 100
#: Fields every element has, shown after the kind's own.
COMMON = ("name", "status", "owner", "phase", "remark")


class Card(QFrame):
    """Facts, findings and fields of what is selected. Pinned, or dragged aside, it stays."""

    def __init__(self, desk: DeskWindow, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._bench = desk.bench
        self.setObjectName("card")
        self.setFixedWidth(WIDTH)
        self.pinned = False
        self._items: tuple[Element, ...] = ()
        self._grabbed: QPoint | None = None
        self._moved = False
        #: Where it was dragged to; None for its place at the right.
        self._left_at: QPoint | None = None
        self._form: FieldForm | None = None
        self._form_for: tuple[object, ...] = ()
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 8, 8, 10)
        box.setSpacing(6)
        box.addLayout(self._head())
        box.addLayout(self._switch())
        self.facts = FactsView(desk)
        self._fields = QWidget()
        self._fields_box = QVBoxLayout(self._fields)
        self._fields_box.setContentsMargins(0, 0, 6, 0)
        self._stack = QStackedWidget()
        self._stack.addWidget(scrolling(self.facts))
        self._stack.addWidget(scrolling(self._fields))
        box.addWidget(self._stack, 1)
        bench = self._bench
        for signal in (bench.selection_changed, bench.study_changed, bench.site_changed):
            signal.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self.refresh())
        bench.theme_changed.connect(self.refresh)
        bench.tool_changed.connect(self.refresh)
        desk.map.preview_changed.connect(self._preview_changed)
        self.hide()

    def _head(self) -> QHBoxLayout:
        self._sign = QLabel()
        self._sign.setFixedSize(24, 24)
        self._title = label("", "heading")
        self._kind = small()
        names = QVBoxLayout()
        names.setSpacing(0)
        names.addWidget(self._title)
        names.addWidget(self._kind)
        theme = self._bench.theme
        self.pin = icon_button("pin", "Pin the card aside", self._turn_pin, theme)
        self.pin.setCheckable(True)
        self._shut = icon_button("close", "Close the card", self._leave, theme)
        head = QHBoxLayout()
        head.setSpacing(6)
        head.addWidget(self._sign, 0, Qt.AlignmentFlag.AlignTop)
        head.addLayout(names, 1)
        head.addWidget(self.pin, 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(self._shut, 0, Qt.AlignmentFlag.AlignTop)
        return head

    def _switch(self) -> QHBoxLayout:
        self._sides = QButtonGroup(self)
        line = QHBoxLayout()
        line.setSpacing(6)
        self.sides: list[QPushButton] = []
        for number, words in enumerate(("What it is", "Change it")):
            made = QPushButton(words)
            made.setCheckable(True)
            made.setChecked(number == 0)
            made.setAutoDefault(False)
            self._sides.addButton(made, number)
            line.addWidget(made, 1)
            self.sides.append(made)
        line.addSpacing(4)
        self._sides.idClicked.connect(self._turn)
        return line

    def _turn(self, number: int) -> None:
        self._hold_focus(self._stack, self.sides[number])
        self._stack.setCurrentIndex(number)
        self.place()

    def _turn_pin(self) -> None:
        self.pinned = self.pin.isChecked()
        self._left_at = None
        self.place()

    def _leave(self) -> None:
        self._bench.select(())
        self._desk.map.setFocus()

    def edit_fields(self) -> None:
        """Turn to the fields and put the cursor in the first."""
        self.sides[1].click()
        if self._form is not None and self._form.names():
            self._form.control(self._form.names()[0]).setFocus()

    # -- what it shows ------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the selection as it is now."""
        tool = self._bench.tool
        self._items = tuple(self._bench.selected())
        if not self._items or (tool is not None and tool.busy):
            self._hold_focus(self, self._desk.map)
            self.hide()
            return
        first = self._items[0]
        kinds = {kind_of(item).key for item in self._items}
        one = len(self._items) == 1
        kind = kind_of(first)
        self._title.setText(called(first) if one else plural(len(self._items), "element"))
        self._kind.setText(
            kind.label if one and first.name else kind.help if one else self._counted()
        )
        sign = kind_icon(kind.key) if len(kinds) == 1 else "layers"
        self._sign.setPixmap(
            pixmap(sign, 22, inks(self._bench.theme).ink, self.devicePixelRatioF())
        )
        self.facts.show_items(self._items)
        self._show_form()
        self.show()
        self.place()
        # What is new on it has its true height only once it has been laid out.
        QTimer.singleShot(0, self, self.place)

    def _preview_changed(self) -> None:
        """Follow what is dragged: the card's figures are those it would have there."""
        latest = self._desk.map.previews.latest
        if self.isHidden() or len(self._items) != 1:
            return
        held = [item.id for item in latest.elements] == [self._items[0].id]
        if not self.facts.show_would_be(self._items, latest.facts if held else ()):
            self.facts.show_items(self._items)

    def _hold_focus(self, going: QWidget, to: QWidget) -> None:
        """Give the focus on before what holds it goes, or it would jump to the window's first."""
        focus = self._desk.focusWidget()
        if focus is not None and going.isAncestorOf(focus):
            to.setFocus()

    def _counted(self) -> str:
        counts: dict[str, list[Element]] = {}
        for item in self._items:
            counts.setdefault(kind_of(item).key, []).append(item)
        named = (
            plural(len(v), kind_of(v[0]).label.lower(), kind_of(v[0]).plural.lower())
            for v in counts.values()
        )
        return ", ".join(named)

    def _specs(self) -> tuple[FieldSpec, ...]:
        kinds = {kind_of(item).key for item in self._items}
        specs = kind_of(self._items[0]).specs
        common = {spec.name: spec for spec in specs if spec.name in COMMON}
        own = [spec for spec in specs if spec.name not in COMMON] if len(kinds) == 1 else []
        names = [name for name in COMMON if name != "name" or len(self._items) == 1]
        after = [common[name] for name in names if name != "name"]
        return (*([common["name"]] if "name" in names else []), *own, *after)

    def _show_form(self) -> None:
        plan, session = self._bench.plan, self._bench.session
        assert plan is not None
        assert session is not None
        specs = self._specs()
        phases = [("", "No phase"), *((p.id, p.name) for p in plan.phases())]
        made_for = (specs, tuple(phases), self._bench.units, session.readonly)
        if self._form is None or self._form_for != made_for:
            if self._form is not None:
                self._hold_focus(self._form, self.sides[1])
                self._fields_box.removeWidget(self._form)
                self._form.hide()
                self._form.deleteLater()
            self._form = FieldForm(specs, self._bench.units, choices={"phase": phases})
            self._form.edited.connect(self._edited)
            self._form.setEnabled(not session.readonly)
            self._fields_box.insertWidget(0, self._form)
            self._form_for = made_for
        mixed = frozenset(
            spec.name
            for spec in specs
            if len({getattr(item, spec.name) for item in self._items}) > 1
        )
        first = self._items[0]
        self._form.show_values(lambda name: getattr(first, name), mixed)

    def _edited(self, name: str, value: Any) -> None:
        plan = self._bench.plan
        if plan is None:
            return
        items = [plan.element(item.id) for item in self._items if item.id in plan]
        spec = kind_of(items[0]).spec(name)
        whom = called(items[0]) if len(items) == 1 else plural(len(items), "element")
        try:
            pairs = [(item, changed(item, **{name: value})) for item in items]
        except BadData as trouble:
            self._bench.tell("warning", trouble.text())
            self.refresh()
            return
        key = f"{name}:" + ",".join(sorted(item.id for item in items))
        self._bench.apply(put(f"{spec.label} of {whom}", pairs, merge_key=key))

    # -- where it stands ----------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        """Ask for the height of what is shown."""
        inside = self.facts if self._stack.currentIndex() == 0 else self._fields
        layout = inside.layout()
        if layout is None:
            return QSize(WIDTH, HEAD)
        layout.activate()
        room = WIDTH - 40
        tall = layout.heightForWidth(room) if layout.hasHeightForWidth() else 0
        return QSize(WIDTH, HEAD + max(tall, layout.minimumSize().height()))

    def place(self) -> None:
        """Stand beside the selection, clear of what else floats; or aside when pinned."""
        parent = self.parentWidget()
        if parent is None or self.isHidden() or not self._items:
            return
        room = parent.rect().adjusted(AIR, AIR, -AIR, -AIR)
        height = min(max(self.sizeHint().height(), LEAST), max(room.height(), LEAST))
        taken = [
            each.geometry()
            for each in (self._desk.ledge, self._desk.prompt, self._desk.key, self._desk.readout)
            if each.isVisible()
        ]
        if self.pinned:
            spot = self._left_at or QPoint(room.right() - WIDTH + 1, self._head_of(room, taken))
            x = min(max(spot.x(), room.left()), room.right() - WIDTH + 1)
            y = min(max(spot.y(), 0), max(parent.height() - HEAD, 0))
            height = max(min(height, room.bottom() - y + 1), LEAST)
            self.setGeometry(x, y, WIDTH, height)
        else:
            self.setGeometry(self._best(room, height, taken))
        self.raise_()

    @staticmethod
    def _head_of(room: QRect, taken: list[QRect]) -> int:
        """Return how high it may stand at the right, below the ledge if that reaches there."""
        over = [box.bottom() + AIR for box in taken if box.top() < room.top() + AIR
                and box.right() > room.right() - WIDTH]  # fmt: skip
        return max([room.top(), *over])

    def _best(self, room: QRect, height: int, taken: list[QRect]) -> QRect:
        """Return the place that hides least: beside the selection if it can be."""
        chosen = self._on_screen()
        tops = {min(max(box.bottom() + AIR, room.top()), room.bottom()) for box in taken}
        feet = {box.top() - AIR for box in taken}
        middle = chosen.center().y() - height // 3
        best, least = QRect(room.topLeft(), QSize(WIDTH, height)), float("inf")
        xs = (chosen.right() + GAP, chosen.left() - GAP - WIDTH, room.right() - WIDTH + 1,
              room.left(), chosen.center().x() - WIDTH // 2)  # fmt: skip
        for rank, wanted in enumerate(xs):
            x = min(max(wanted, room.left()), room.right() - WIDTH + 1)
            for top in (middle, room.top(), *tops, *(foot - height for foot in feet)):
                y = min(max(top, room.top()), max(room.bottom() - LEAST + 1, room.top()))
                end = max(min(y + height, room.bottom() + 1), y + LEAST)
                # A shorter card that is clear of all beats a whole one that hides something.
                for foot in (end, *(f for f in feet if y + LEAST <= f < end)):
                    box = QRect(x, y, WIDTH, foot - y)
                    hidden = sum(_shared(box, each) for each in taken)
                    cost = 20.0 * hidden + 2.0 * _shared(box, chosen) + rank * 300
                    cost += abs(y - middle) + 20.0 * (height - box.height())
                    if cost < least:
                        best, least = box, cost
        return best

    def _on_screen(self) -> QRect:
        bounds = [item.geometry.bounds for item in self._items]
        west, south = min(b[0] for b in bounds), min(b[1] for b in bounds)
        east, north = max(b[2] for b in bounds), max(b[3] for b in bounds)
        corner = self._desk.map.screen_of(west, north)
        other = self._desk.map.screen_of(east, south)
        return QRect(corner.toPoint(), other.toPoint()).intersected(self._desk.map.rect())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the card."""
        self._grabbed, self._moved = event.position().toPoint(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the card aside."""
        if self._grabbed is None:
            return
        step = event.position().toPoint() - self._grabbed
        self._moved = self._moved or step.manhattanLength() > 3
        if self._moved:
            self.move(self.pos() + step)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let the card go: moved, it is pinned where it was left."""
        grabbed, self._grabbed = self._grabbed, None
        if grabbed is not None and self._moved:
            self._left_at, self.pinned = self.pos(), True
            self.pin.setChecked(True)
            self.place()


def _shared(one: QRect, other: QRect) -> int:
    both = one.intersected(other)
    return both.width() * both.height() if both.isValid() else 0
