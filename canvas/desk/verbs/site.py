"""Actions on the site as a whole: begin, open, bring in, take out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog

from canvas.desk.actions import Needs, Record

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def _new(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.start import StartDialog

    desk.ask_dialog(StartDialog(desk))


def _open(desk: DeskWindow) -> None:
    from pathlib import Path

    from canvas.desk.settings import sites_folder

    recent = desk.settings.recent()
    start = recent[0].parent if recent else sites_folder()
    folder = QFileDialog.getExistingDirectory(desk, "Open a site: choose its folder", str(start))
    if folder:
        desk.open_folder(Path(folder))


def _sample(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.sample import SampleDialog

    desk.ask_dialog(SampleDialog(desk))


def _features(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.features import FeaturesDialog

    desk.ask_dialog(FeaturesDialog(desk))


def _aerial(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.aerial import AerialDialog

    desk.ask_dialog(AerialDialog(desk))


def _ground(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.ground import GroundDialog

    desk.ask_dialog(GroundDialog(desk))


def _heights(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.makeground import MakeGroundDialog

    desk.ask_dialog(MakeGroundDialog(desk))


def _tie(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.tie import TieDialog

    desk.ask_dialog(TieDialog(desk))


def _legs(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.legs import LegsDialog

    desk.ask_dialog(LegsDialog(desk))


def _export(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.export import ExportDialog

    desk.ask_dialog(ExportDialog(desk))


def _export_map(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.export import MapExportDialog

    desk.ask_dialog(MapExportDialog(desk))


RECORDS: tuple[Record, ...] = (
    Record("site.new", "&New site…", "Begin a site from nothing", _new, "&File", "Ctrl+N", "new",
           Needs.NOTHING, 1),
    Record("site.open", "&Open site…", "Open a site's folder", _open, "&File", "Ctrl+O", "open",
           Needs.NOTHING, 1),
    Record("site.sample", "Open the &sample…", "Copy the sample site and play with it", _sample,
           "&File", "Ctrl+Shift+O", "sample", Needs.NOTHING, 1),
    Record("in.features", "Bring in &features…",
           "Bring in boundary, trees, tracks … from a file", _features, "&File/&Bring in",
           "Ctrl+I, F", "import", Needs.WRITE, 2),
    Record("in.aerial", "Bring in an &aerial…", "Bring in an aerial image that knows its place",
           _aerial, "&File/&Bring in", "Ctrl+I, A", "aerial", Needs.WRITE, 2),
    Record("in.ground", "Bring in the &ground…", "Bring in heights of the ground", _ground,
           "&File/&Bring in", "Ctrl+I, G", "ground", Needs.WRITE, 2),
    Record("in.heights", "Ground from &heights…",
           "Make ground of the heights measured: spots, marks, contours, breaklines", _heights,
           "&File/&Bring in", "Ctrl+I, H", "heights", Needs.WRITE, 2),
    Record("in.tie", "&Tie a picture…",
           "Give a plain picture or scanned map its place by control points", _tie,
           "&File/&Bring in", "Ctrl+I, T", "tie", Needs.WRITE, 2),
    Record("in.legs", "Boundary from the tit&le…",
           "Type the boundary as bearings and distances", _legs, "&File/&Bring in",
           "Ctrl+I, B", "legs", Needs.WRITE, 2),
    Record("out.export", "&Export features…", "Write elements to a file for other programs",
           _export, "&File", "Ctrl+E", "export", Needs.SITE, 3),
    Record("out.map", "Export a computed &map…", "Write slope, aspect … as a GeoTIFF",
           _export_map, "&File", "Ctrl+Shift+E", "export", Needs.GROUND, 3),
    Record("out.print", "&Print a sheet…", "Open the sheet page",
           lambda desk: desk.open_page("sheet"), "&File", "Ctrl+P", "print", Needs.SITE, 3),
    Record("site.close", "&Close site", "Close the site; everything is saved already",
           lambda desk: desk.close_site(), "&File", "Ctrl+W", "close", Needs.SITE, 4),
    Record("app.quit", "&Quit", "Leave Hillwright; everything is saved already",
           lambda desk: desk.close(), "&File", "Ctrl+Q", "", Needs.NOTHING, 4),
)  # fmt: skip
