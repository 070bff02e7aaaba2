"""Bringing features in: what the file holds, as which kind, which column is which field."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QComboBox, QGridLayout, QListWidget, QWidget

from canvas.base.errors import BadData, UserError
from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.dialogs.crs import CrsField
from canvas.desk.dialogs.preview import TABLES, ShapesPreview, TableOptions
from canvas.desk.parts import column, empty, form_rows, heading, label, quiet, row, scrolling
from canvas.desk.wording import plural
from canvas.site.edits import add
from canvas.site.elements.land import SiteBoundary
from canvas.site.fields import FieldSpec
from canvas.site.records import element_kinds, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.exchange.adopt import Adopted
    from canvas.exchange.incoming import Incoming

#: Fields offered for a column; the rest are seldom in foreign files.
NOT_OFFERED = ("title_legs", "bearings_from", "phase")


class FeaturesDialog(DeskDialog):
    """Reads the file aside, shows what would come of it, and only then takes it over."""

    def __init__(self, desk: DeskWindow, path: Path | None = None) -> None:
        super().__init__(
            desk,
            "Bring in features",
            "GeoJSON, GeoPackage, zipped shapefile, KML, KMZ, GPX or CSV.",
            "Bring them in",
            width=760,
        )
        from canvas.exchange.read import FORMATS

        suffixes = " ".join(f"*{s}" for group in FORMATS.values() for s in group)
        self._incoming: Incoming | None = None
        self._adopted: Adopted | None = None
        self.file = FileField("File to bring in", f"Features ({suffixes});;All files (*)")
        self.layer = QComboBox()
        self.layer.setAccessibleName("Layer of the file")
        self.kind = QComboBox()
        self.kind.setAccessibleName("What they are")
        for key, each in element_kinds().items():
            self.kind.addItem(each.plural, key)
        self.crs = CrsField(offer=False)
        self.crs.line.setPlaceholderText("Only if the file does not say, or says it wrongly")
        self.table = TableOptions()
        self.table.changed.connect(self._read)
        self.words = quiet()
        self.preview = ShapesPreview(desk)
        self._columns = QGridLayout()
        self._columns.setColumnStretch(1, 1)
        self.columns: dict[str, QComboBox] = {}
        self.skipped = QListWidget()
        self.skipped.setAccessibleName("Left out, and what was changed")
        self.skipped.setMaximumHeight(92)
        self.skipped.setWordWrap(True)
        self._skipped_head = heading("Left out, or changed on the way")
        self._put_together()
        self.file.chosen.connect(lambda _p: self._read())
        self.layer.activated.connect(lambda _i: self._read(str(self.layer.currentData() or "")))
        self.crs.line.editingFinished.connect(self._read)
        self.kind.currentIndexChanged.connect(lambda _i: self._show_columns())
        self.refresh_ready()
        self.file.line.setFocus()
        if path is not None:
            self.file.set_path(path)

    def _put_together(self) -> None:
        form = form_rows()
        form.addRow("File", self.file)
        form.addRow("Layer", self.layer)
        form.addRow("Its grid (CRS)", self.crs)
        form.addRow("They are", self.kind)
        form.addRow("Table", self.table)
        form.setRowVisible(self.table, False)
        self._form = form
        self.body.addLayout(form)
        self.body.addWidget(self.words)
        inside = QWidget()
        column(heading("Which column is which field"), self._columns, None, parent=inside)
        area = scrolling(inside)
        area.setMinimumHeight(190)
        line = row(self.preview, area, gap=12)
        line.setStretch(0, 2)
        line.setStretch(1, 3)
        self.body.addLayout(line, 1)
        self.body.addWidget(self._skipped_head)
        self.body.addWidget(self.skipped)
        self._skipped_head.hide()
        self.skipped.hide()

    # -- reading ------------------------------------------------------------------------------

    def _read(self, layer: str = "") -> None:
        path, plan = self.file.path, self.desk.bench.plan
        if path is None or plan is None:
            return
        self._incoming = self._adopted = None
        crs, target = self.crs.value, plan.site.crs
        is_table = path.suffix.lower() in TABLES
        self._form.setRowVisible(self.table, is_table)
        columns = self.table.columns() if is_table else None
        bounds = [item.geometry.bounds for item in plan.of(SiteBoundary)]
        site = bounds[0] if bounds else None

        def work(progress: Any) -> Incoming:
            from canvas.exchange.read import read_features

            return read_features(
                path,
                target_crs=target,
                file_crs=crs,
                layer=layer,
                columns=columns,
                site=site,
                progress=progress,
            )

        self.run(f"Reading {path.name}", work, self._got)

    def _got(self, incoming: Incoming) -> None:
        self._incoming = incoming
        if self.layer.count() != len(incoming.layers):
            self.layer.clear()
            for info in incoming.layers:
                name = info.name or "The whole file"
                words = f"{name} · {info.geometry or 'no shapes'} · {info.count}"
                self.layer.addItem(words, info.name)
        self.layer.setEnabled(len(incoming.layers) > 1)
        self.preview.show_shapes([f.geometry for f in incoming.features])
        self._suggest_kind(incoming)
        self._show_columns()

    def _suggest_kind(self, incoming: Incoming) -> None:
        """Choose a kind whose geometry fits, unless the chosen one does already."""
        if not incoming.features:
            return
        shape = incoming.features[0].geometry.geom_type.removeprefix("Multi")
        if kind(str(self.kind.currentData())).geometry == shape:
            return
        for at in range(self.kind.count()):
            if kind(str(self.kind.itemData(at))).geometry == shape:
                self.kind.setCurrentIndex(at)
                return

    def _show_columns(self) -> None:
        from canvas.exchange.adopt import guess_mapping

        empty(self._columns)
        self.columns.clear()
        incoming = self._incoming
        if incoming is None:
            return
        key = str(self.kind.currentData())
        guessed = guess_mapping(incoming, key)
        heads = incoming.fields or tuple(
            dict.fromkeys(k for f in incoming.features for k in f.values)
        )
        at = 0
        for spec in kind(key).specs:
            if spec.name not in NOT_OFFERED and heads:
                self._column(at, spec, heads, guessed.get(spec.name, ""))
                at += 1
        if not heads:
            self._columns.addWidget(quiet("The file has no columns."), 0, 0, 1, 2)
        self._adopt()

    def _column(self, at: int, spec: FieldSpec, heads: tuple[str, ...], guess: str) -> None:
        choice = QComboBox()
        choice.setAccessibleName(f"Column for {spec.label}")
        choice.addItem("–", "")
        for head in heads:
            choice.addItem(head, head)
        choice.setCurrentIndex(max(choice.findData(guess), 0))
        choice.activated.connect(lambda _i: self._adopt())
        unit = f" [{spec.unit}]" if spec.unit and spec.unit != "count" else ""
        self._columns.addWidget(label(spec.label + unit, "quiet", wrap=False), at, 0)
        self._columns.addWidget(choice, at, 1)
        self.columns[spec.name] = choice

    def _adopt(self) -> None:
        """Make the elements, without taking them over, and say what would be left out."""
        from canvas.exchange.adopt import to_elements

        incoming = self._incoming
        if incoming is None:
            return
        key = str(self.kind.currentData())
        mapping = {n: str(c.currentData()) for n, c in self.columns.items() if c.currentData()}
        try:
            self._adopted = to_elements(incoming, key, mapping)
        except BadData as trouble:
            self._adopted = None
            self.show_trouble(trouble)
        self._tell(incoming)
        self.refresh_ready()

    def _tell(self, incoming: Incoming) -> None:
        from canvas.exchange.incoming import told

        adopted = self._adopted
        count = len(adopted.elements) if adopted is not None else 0
        each = kind(str(self.kind.currentData()))
        what = plural(count, each.label.lower(), each.plural.lower())
        grid = incoming.crs_of_file or "a grid it does not name"
        self.words.setText(f"{incoming.format}, in {grid}. Would become {what}.")
        left = [*incoming.skipped, *(adopted.skipped if adopted is not None else ())]
        lines = list(told(left))
        lines += [*incoming.notes, *(adopted.notes if adopted is not None else ())]
        self.skipped.clear()
        self.skipped.addItems(lines)
        for part in (self.skipped, self._skipped_head):
            part.setVisible(bool(lines))
        words = f"{plural(len(left), 'shape')} left out" if left else "Changed on the way"
        self._skipped_head.setText(words)

    def ready(self) -> bool:
        """Whether something would come of it."""
        return self._adopted is not None and bool(self._adopted.elements)

    def do(self) -> None:
        """Take the elements over in one edit."""
        adopted, key = self._adopted, str(self.kind.currentData())
        if adopted is None:
            return
        bench = self.desk.bench
        try:
            touched = bench.apply(add(f"Bring in {kind(key).plural.lower()}", adopted.elements))
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        if touched is not None:
            bench.select(item.id for item in adopted.elements)
            self.desk.show_selection()
            left = len(adopted.skipped) + len(self._incoming.skipped if self._incoming else ())
            tail = f", {left} left out" if left else ""
            bench.tell("note", f"Brought in {plural(len(adopted.elements), 'element')}{tail}")
            self.accept()
