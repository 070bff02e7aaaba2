"""Actions on what the desk shows: stage, map, shading, theme."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from canvas.desk.actions import Needs, Record
from canvas.desk.shadings import SHADINGS
from canvas.desk.stages import STAGES
from canvas.study.ground_lines import LINE_KINDS

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def _shade(key: str) -> Record:
    named = next(row for row in SHADINGS if row[0] == key)

    def run(desk: DeskWindow) -> None:
        study = desk.bench.study
        if key.startswith("rain_") and study is not None and not study.rains().runs:
            desk.bench.tell("warning", "No storm has been run yet: see the page “Rain on the land”")
        desk.bench.set_look(shading=key)

    plain = named[1].replace("&", "").lower()
    tip = f"Shade the map by {plain}" if key else "Take the shading off the map"
    needs = Needs.GROUND if key else Needs.SITE
    return Record(
        f"shade.{key or 'none'}", named[1], tip, run, "&View/Shade the map &by",
        f"Ctrl+B, {named[2]}", named[3], needs, 2,
        lambda desk: desk.bench.look.shading == key,
    )  # fmt: skip


def _stage(number: int) -> Record:
    stage = STAGES[number - 1]
    return Record(
        f"stage.{stage.key}", stage.title, stage.about, lambda d: d.turn_to(stage.key),
        "&View/S&tage", f"Ctrl+{number}", stage.icon, Needs.SITE, 1,
        lambda d: d.bench.stage == stage.key,
    )  # fmt: skip


def _flag(name: str) -> tuple[Callable[[DeskWindow], None], Callable[[DeskWindow], bool]]:
    def flip(desk: DeskWindow) -> None:
        desk.bench.set_look(**{name: not getattr(desk.bench.look, name)})

    return flip, lambda desk: bool(getattr(desk.bench.look, name))


def _ground(key: str, title: str, tip: str, letter: str) -> Record:
    return Record(
        f"ground.{key}", title, tip, lambda d: d.bench.set_look(ground=key), "&View/&Ground shown",
        f"Ctrl+B, {letter}", "ground", Needs.GROUND, 2, lambda d: d.bench.look.ground == key,
    )  # fmt: skip


def _lines(key: str, letter: str) -> Record:
    kind = LINE_KINDS[key]

    def flip(desk: DeskWindow) -> None:
        desk.bench.set_look(ground_lines=desk.bench.look.ground_lines ^ {key})

    return Record(
        f"lines.{key}", kind.label, f"{kind.help}: show or hide", flip,
        "&View/&Lines of the ground", f"Ctrl+B, {letter}", "contours", Needs.GROUND, 2,
        lambda d: key in d.bench.look.ground_lines,
    )  # fmt: skip


_LABELS, _LABELS_ON = _flag("labels")
_SPILLS, _SPILLS_ON = _flag("spills")
_MARKS, _MARKS_ON = _flag("findings")


def _contours(desk: DeskWindow) -> None:
    off = desk.bench.look.contour_interval_m == 0
    desk.bench.set_look(contour_interval_m=None if off else 0.0)


RECORDS: tuple[Record, ...] = (
    *(_stage(n) for n in range(1, len(STAGES) + 1)),
    Record("view.fit", "&Fit everything", "Show the whole site", lambda d: d.map.zoom_all(),
           "&View", "Ctrl+0", "fit", Needs.SITE, 2),
    Record("view.fit_selection", "Fit the &selection", "Show what is selected",
           lambda d: d.show_selection(), "&View", "Ctrl+9", "fit_selection", Needs.PICK, 2),
    Record("view.in", "Zoom &in", "Come closer", lambda d: d.zoom(1.5), "&View", "Ctrl++",
           "zoom_in", Needs.SITE, 2, also=("Ctrl+=",)),
    Record("view.out", "Zoom &out", "Step back", lambda d: d.zoom(1 / 1.5), "&View", "Ctrl+-",
           "zoom_out", Needs.SITE, 2),
    *(_shade(row[0]) for row in SHADINGS),
    _ground("existing", "As &surveyed", "Contours and shading of the ground as it is", "1"),
    _ground("designed", "As &designed", "Contours and shading with the earthworks built", "2"),
    *(_lines(key, letter) for key, letter in zip(LINE_KINDS, "3456", strict=True)),
    Record("page.layers", "&What the map shows",
           "Layers, kinds, opacity, contours and shading", lambda d: d.open_page("layers"),
           "&View", "Ctrl+L", "layers", Needs.SITE, 3),
    Record("view.labels", "&Names on the map", "Show or hide names", _LABELS, "&View",
           "Ctrl+B, L", "typed", Needs.SITE, 3, _LABELS_ON),
    Record("view.contours", "&Contours", "Show or hide contours", _contours, "&View",
           "Ctrl+B, K", "contours", Needs.GROUND, 3,
           lambda d: d.bench.look.contour_interval_m != 0),
    Record("view.spills", "Where storms spil&l", "Show or hide the ways of water that spills",
           _SPILLS, "&View", "Ctrl+B, V", "storm", Needs.GROUND, 3, _SPILLS_ON),
    Record("view.findings", "Findin&gs on the map", "Show or hide where checks fail", _MARKS,
           "&View", "Ctrl+B, F", "findings", Needs.SITE, 3, _MARKS_ON),
    Record("view.tray", "S&tage's actions", "Show the stage's actions, or fold them away",
           lambda d: d.ledge.toggle(), "&View", "Ctrl+B, T", "up", Needs.SITE, 4,
           lambda d: not d.ledge.folded),
    Record("view.drawer", "Close the &page", "Close the open page", lambda d: d.shut_page(),
           "&View", "Ctrl+B, P", "down", Needs.SITE, 4),
    Record("view.theme", "&Dark desk", "Turn the desk dark, or light again",
           lambda d: d.turn_theme(), "&View", "Ctrl+Shift+D", "theme", Needs.NOTHING, 4,
           lambda d: d.bench.theme == "dark"),
)  # fmt: skip
