"""The level book: readings typed in, heights reduced, closed, and carried to the plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QWidget

from canvas.base.errors import UserError
from canvas.base.quantity import show
from canvas.desk.drawer import Page
from canvas.desk.forms import FieldForm
from canvas.desk.parts import button, fill_table, heading, quiet, row, scrolling, small, table
from canvas.desk.tiles import holding, spread
from canvas.site.edits import add, put
from canvas.site.levelling import LevelBook
from canvas.site.records import changed, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.ground.levelbook import Book

HELP = (
    "A backsight opens a set-up of the instrument, a foresight closes it; a line with both is a "
    "change point. Give the known height at the start, and at the end where the run closes."
)


class LevelsPage(Page):
    """One book at a time: its readings, its heights, its misclosure."""

    key = "levels"
    title = "Level book"
    icon = "levels"
    about = "Heights from staff readings, checked and closed"
    rise = 0.56

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._book: Book | None = None
        self.which = QComboBox()
        self.which.setAccessibleName("Level book")
        self.which.activated.connect(lambda _i: self._show())
        self.fresh = button("New book", self._new)
        self.form = FieldForm([s for s in kind("level_book").specs if s.name != "id"],
                              desk.bench.units)  # fmt: skip
        self.form.edited.connect(self._edited)
        self.words = quiet()
        self.table = table(("Point", "Rise", "Instrument", "Height", "Closed"), name="Heights")
        self.figures = table(("What", "Figure"), name="Sums and misclosure")
        self.carry = button("Set the heights of these names", self._carry, look="main")
        self.which.setMinimumWidth(150)
        book = scrolling(holding(row(self.which, self.fresh, None), self.form, small(HELP)))
        spread(
            self,
            (book, 7),
            (holding(heading("Heights"), self.words, self.table, row(self.carry, None)), 5),
            (holding(heading("Does it close?"), self.figures), 4),
        )

    def tools(self) -> Sequence[QWidget]:
        """Nothing but the page's own controls."""
        return ()

    def refresh(self) -> None:
        """List the books there are."""
        plan, session = self._desk.bench.plan, self._desk.bench.session
        if plan is None:
            return
        books = plan.of(LevelBook)
        chosen = self.which.currentData()
        self.which.clear()
        for book in books:
            self.which.addItem(book.name or "Level book", book.id)
        self.which.setCurrentIndex(max(self.which.findData(chosen), 0) if books else -1)
        write = session is not None and not session.readonly
        self.fresh.setEnabled(write)
        self.form.setEnabled(write and bool(books))
        self._show()

    def _chosen(self) -> LevelBook | None:
        plan = self._desk.bench.plan
        found = plan.get(str(self.which.currentData() or "")) if plan is not None else None
        return found if isinstance(found, LevelBook) else None

    def _show(self) -> None:
        book = self._chosen()
        self._book = None
        fill_table(self.table, [], right=frozenset())
        fill_table(self.figures, [], right=frozenset())
        self.carry.setEnabled(False)
        if book is None:
            self.words.setText("Begin a book, and type what was read on the staff.")
            return
        self.form.show_values(lambda name: getattr(book, name))
        if not book.readings.strip():
            self.words.setText("Type the readings; the heights stand here at once.")
            return
        from canvas.study.making import book_facts, carried, reduced

        try:
            self._book = reduced(book)
        except UserError as err:
            self.words.setText(err.text())
            return
        units, plan = self._desk.bench.units, self._desk.bench.plan
        rows = [
            (each.point, show(each.rise_m, "m", units, 3) if each.rise_m is not None else "",
             show(each.instrument_m, "m", units, 3), show(each.height_m, "m", units, 3),
             show(each.adjusted_m, "m", units, 3))
            for each in self._book.levels
        ]  # fmt: skip
        fill_table(self.table, rows, right=frozenset({1, 2, 3, 4}))
        facts = book_facts(self._book)
        fill_table(self.figures, [(f.label, f.shown(units)) for f in facts], right=frozenset({1}))
        pairs = carried(plan, self._book) if plan is not None else []
        self.words.setText(
            f"{len(pairs)} marks and spot heights bear a name of this book."
            if pairs
            else "No mark or spot height bears a name of this book."
        )
        self.carry.setEnabled(bool(pairs) and self.form.isEnabled())

    # -- changing -----------------------------------------------------------------------------

    def _new(self) -> None:
        book = LevelBook(name=f"Level book {self.which.count() + 1}")
        if self._desk.bench.apply(add("Begin a level book", [book])) is not None:
            self.refresh()
            self.which.setCurrentIndex(self.which.findData(book.id))
            self._show()

    def _edited(self, name: str, value: object) -> None:
        book = self._chosen()
        if book is not None:
            edit = put("Change the level book", [(book, changed(book, **{name: value}))])
            self._desk.bench.apply(edit)
            self._show()

    def _carry(self) -> None:
        plan = self._desk.bench.plan
        if plan is None or self._book is None:
            return
        from canvas.study.making import carried

        pairs = carried(plan, self._book)
        if self._desk.bench.apply(put("Set heights from the level book", pairs)) is not None:
            self._desk.bench.tell("note", f"Set {len(pairs)} heights")
