"""Taking elements and computed maps out, in open formats."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QListWidget,
    QListWidgetItem,
)

from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.parts import column, form_rows, quiet
from canvas.desk.wording import plural
from canvas.site.records import Element, element_kinds, kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.study import Study


#: Before the key of lines of the ground, to tell them from maps.
LINES = "lines:"


class SaveField(FileField):
    """A path to write to."""

    def _browse(self) -> None:
        words, _ = QFileDialog.getSaveFileName(self, self._name, str(self.path or ""), self._kinds)
        if words:
            self.set_path(Path(words))


class ExportDialog(DeskDialog):
    """Which elements, in which format, where to."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Export features",
            "GeoJSON, GPX and KML are written in longitude and latitude; GeoPackage in the site’s "
            "own grid.",
            "Write it",
        )
        from canvas.exchange.write import FORMATS

        self.format = QComboBox()
        self.format.setAccessibleName("Format")
        for suffix, words in FORMATS.items():
            self.format.addItem(f"{words} ({suffix})", suffix)
        self.file = SaveField("File to write")
        self.which = QComboBox()
        self.which.setAccessibleName("Which elements")
        self.which.addItem("Everything", "all")
        if desk.bench.selection:
            self.which.addItem(f"The selection ({len(desk.bench.selection)})", "selection")
            self.which.setCurrentIndex(1)
        self.which.addItem("Chosen kinds", "kinds")
        self.kinds = QListWidget()
        self.kinds.setAccessibleName("Kinds to export")
        self.kinds.setMaximumHeight(150)
        plan = desk.bench.plan
        for key, each in element_kinds().items():
            count = len(plan.of_kind(key)) if plan is not None else 0
            if count:
                item = QListWidgetItem(f"{each.plural} · {count}")
                item.setData(Qt.ItemDataRole.UserRole, key)
                item.setCheckState(Qt.CheckState.Checked)
                self.kinds.addItem(item)
        self.comma = QCheckBox("Decimal comma, cells parted by semicolons")
        self.words = quiet()
        form = form_rows()
        form.addRow("Format", self.format)
        form.addRow("File", column(self.file, self.comma, gap=4))
        form.addRow("Elements", column(self.which, self.kinds, gap=4))
        self.body.addLayout(form)
        self.body.addWidget(self.words)
        self.format.currentIndexChanged.connect(lambda _i: self._suffix())
        self.which.currentIndexChanged.connect(lambda _i: self._count())
        self.kinds.itemChanged.connect(lambda _i: self._count())
        self.file.line.textChanged.connect(lambda _t: self.refresh_ready())
        session = desk.bench.session
        if session is not None:
            self.file.set_path(session.folder.parent / f"{session.folder.name}.geojson")
        self._suffix()
        self._count()
        self.format.setFocus()

    def _suffix(self) -> None:
        suffix = str(self.format.currentData())
        self.comma.setVisible(suffix == ".csv")
        path = self.file.path
        if path is not None:
            self.file.set_path(path.with_suffix(suffix))

    def _chosen(self) -> list[Element]:
        bench = self.desk.bench
        if bench.plan is None:
            return []
        which = self.which.currentData()
        if which == "selection":
            return bench.selected()
        items = list(bench.plan.elements())
        if which == "kinds":
            rows = (self.kinds.item(at) for at in range(self.kinds.count()))
            keys = {
                row.data(Qt.ItemDataRole.UserRole)
                for row in rows
                if row.checkState() is Qt.CheckState.Checked
            }
            items = [item for item in items if kind_of(item).key in keys]
        return items

    def _count(self) -> None:
        self.kinds.setVisible(self.which.currentData() == "kinds")
        self.words.setText(f"{plural(len(self._chosen()), 'element')} will be written.")
        self.refresh_ready()

    def ready(self) -> bool:
        """Whether there is something to write and somewhere to write it."""
        return self.file.path is not None and bool(self._chosen())

    def do(self) -> None:
        """Write in the background."""
        path, items, plan = self.file.path, self._chosen(), self.desk.bench.plan
        if path is None or plan is None:
            return
        crs = plan.site.crs
        cells, decimal = (";", ",") if self.comma.isChecked() else (",", ".")

        def work(_progress: Any) -> Any:
            from canvas.exchange.write import export

            return export(path, items, crs=crs, separator=cells, decimal=decimal)

        self.run(f"Writing {path.name}", work, self._written)

    def _written(self, written: Any) -> None:
        tail = f" {' '.join(written.notes)}" if written.notes else ""
        count = plural(written.count, "element")
        self.desk.bench.tell("note", f"Wrote {count} to {written.path.name}.{tail}")
        self.accept()


class MapExportDialog(DeskDialog):
    """Which computed map, where to."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Export a computed map",
            "A GeoTIFF in the site’s grid, with the values themselves; lines of the ground as "
            "GeoJSON. Any GIS reads them.",
            "Write it",
        )
        from canvas.study.ground_lines import LINE_KINDS
        from canvas.study.maps import MAP_KINDS, MONTHS, RUN_KINDS

        self.map = QComboBox()
        self.map.setAccessibleName("Map")
        study = desk.bench.study
        run = study is not None and study.rains().runs
        for key, each in (MAP_KINDS | RUN_KINDS if run else MAP_KINDS).items():
            self.map.addItem(f"{each.label}: {each.help[0].lower()}{each.help[1:]}", key)
        for key, line in LINE_KINDS.items():
            words = f"{line.label}: {line.help[0].lower()}{line.help[1:]}"
            self.map.addItem(words, f"{LINES}{key}")
        shading = desk.bench.look.shading
        self.map.setCurrentIndex(max(self.map.findData(shading), 0))
        self.month = QComboBox()
        self.month.setAccessibleName("Month")
        self.month.addItem("The whole year", 0)
        for number, name in enumerate(MONTHS, start=1):
            self.month.addItem(name, number)
        self.month.setCurrentIndex(desk.bench.look.month)
        self.ground = QComboBox()
        self.ground.setAccessibleName("Ground")
        self.ground.addItem("As surveyed", "existing")
        self.ground.addItem("As designed", "designed")
        self.ground.setCurrentIndex(self.ground.findData(desk.bench.look.ground))
        self.file = SaveField("File to write", "GeoTIFF (*.tif);;GeoJSON (*.geojson)")
        form = form_rows()
        form.addRow("Map", self.map)
        form.addRow("Ground", self.ground)
        form.addRow("Month", self.month)
        form.addRow("File", self.file)
        self.body.addLayout(form)
        self.map.currentIndexChanged.connect(lambda _i: self._named())
        self.file.line.textChanged.connect(lambda _t: self.refresh_ready())
        self._named()
        self.map.setFocus()

    def _named(self) -> None:
        from canvas.study.maps import map_kind

        key = str(self.map.currentData())
        lines = key.startswith(LINES)
        self.month.setEnabled(not lines and map_kind(key).by_month)
        self.ground.setEnabled(lines or map_kind(key).of_both)
        session, path = self.desk.bench.session, self.file.path
        folder = path.parent if path is not None else None
        if folder is None and session is not None:
            folder = session.folder.parent
        if folder is not None:
            name = f"{key.removeprefix(LINES)}.geojson" if lines else f"{key}.tif"
            self.file.set_path(folder / name)

    def ready(self) -> bool:
        """Whether there is somewhere to write it."""
        return self.file.path is not None

    def do(self) -> None:
        """Work the map out and write it."""
        path, study = self.file.path, self.desk.bench.study
        if path is None or study is None:
            return
        key, month, crs = str(self.map.currentData()), self.month.currentData(), study.plan.site.crs
        designed = self.ground.currentData() == "designed"

        def work(progress: Any) -> Path:
            from canvas.exchange.rasters import write_grid

            if key.startswith(LINES):
                return write_lines(study, key.removeprefix(LINES), path, designed=designed)
            answer = study.map(key, month=month, designed=designed)
            progress(0.6, "Writing")
            write_grid(path, answer.grid, crs, description=answer.label, unit=answer.unit)
            return path

        self.run("Working the map out", work, self._written)

    def _written(self, path: Path) -> None:
        self.desk.bench.tell("note", f"Wrote {path.name}")
        self.accept()


def write_lines(study: Study, key: str, path: Path, *, designed: bool) -> Path:
    """Write lines of the ground with what is known of each; return the file."""
    from canvas.exchange.writers.shapes import write_shapes
    from canvas.study.as_json import heading
    from canvas.study.ground_lines import ground_lines

    found = ground_lines(study, key, designed=designed)
    rows = [(each.geometry, {heading(f): f.value for f in each.facts}) for each in found]
    write_shapes(path, rows, study.plan.site.crs)
    return path
