"""Actions on what is selected, and on the history."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication

from canvas.base.errors import UserError
from canvas.desk import hands
from canvas.desk.actions import Needs, Record
from canvas.tools.snap import SNAPS

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Second stroke of a snap's shortcut, after Ctrl+J.
SNAP_LETTERS = {
    "point": "P", "middle": "M", "crossing": "X", "square": "Q", "boundary": "B", "edge": "E",
    "contour": "C", "parallel": "L", "extension": "T",
}  # fmt: skip


def _join(desk: DeskWindow) -> None:
    from canvas.tools.reworking import join_edit

    try:
        desk.bench.apply(join_edit(desk.bench.selected()))
    except UserError as trouble:
        desk.bench.tell("warning", trouble.text())


def _delete(desk: DeskWindow) -> None:
    from canvas.tools.transform import delete_edit

    edit = delete_edit(desk.bench.selected())
    if edit is not None:
        desk.bench.apply(edit)


def _copy(desk: DeskWindow) -> None:
    from canvas.desk.clipboard import packed

    bench = desk.bench
    if bench.plan is not None:
        QApplication.clipboard().setMimeData(packed(bench.plan, bench.selected()))
        bench.tell("note", f"Copied {hands.counted(bench.selected())}")


def _cut(desk: DeskWindow) -> None:
    _copy(desk)
    _delete(desk)


def _paste(desk: DeskWindow) -> None:
    from canvas.desk.clipboard import pasted

    bench = desk.bench
    if bench.plan is None:
        return
    try:
        edit = pasted(QApplication.clipboard().mimeData(), bench.plan)
    except UserError as trouble:
        bench.troubled.emit(trouble)
        return
    if edit is None:
        bench.tell("warning", "There are no elements to paste.")
        return
    if bench.apply(edit) is not None:
        bench.select(change.id for change in edit.changes)
        desk.show_selection()


def _level_again(desk: DeskWindow) -> None:
    from canvas.tools.levelling import level_again

    bench = desk.bench
    try:
        edit = level_again(bench.study, bench.selected())
    except UserError as trouble:
        bench.tell("warning", trouble.text())
        return
    if edit is None:
        bench.tell("note", "It lies on its level already.")
    else:
        bench.apply(edit)


def _all(desk: DeskWindow) -> None:
    from canvas.tools.selecting import all_shown

    if desk.bench.plan is not None:
        desk.bench.select(all_shown(desk.map.world.index))


def _same_kind(desk: DeskWindow) -> None:
    from canvas.tools.selecting import alike

    if desk.bench.plan is not None:
        desk.bench.select(alike(desk.bench.plan, desk.bench.selection))


def _with_findings(desk: DeskWindow) -> None:
    from canvas.tools.selecting import with_findings

    if desk.bench.study is not None:
        desk.bench.select(with_findings(desk.bench.study.findings()))


def _snap_record(key: str, letter: str) -> Record:
    """Return the action that switches one kind of snap on or off."""
    words = SNAPS[key]

    def turn(desk: DeskWindow) -> None:
        world = desk.map.world
        world.snaps = world.snaps ^ {key}

    return Record(
        f"snap.{key}", words, f"Let the pointer be drawn to {words[0].lower()}{words[1:]}", turn,
        "&Edit/Snap t&o", f"Ctrl+J, {letter}", "", Needs.SITE, 1,
        lambda desk: key in desk.map.world.snaps,
    )  # fmt: skip


def _snap_all(desk: DeskWindow) -> None:
    world = desk.map.world
    world.snaps = frozenset() if world.snaps else frozenset(SNAPS)


def _tool(key: str) -> Callable[[DeskWindow], None]:
    return lambda desk: hands.take(desk, key)


def _holds(key: str) -> Callable[[DeskWindow], bool]:
    return lambda desk: hands.holds(desk, key)


def _change(
    key: str,
    title: str,
    tip: str,
    keys: str,
    icon: str,
    section: int,
    needs: Needs = Needs.CHANGE,
) -> Record:
    run, on = _tool(key), _holds(key)
    return Record(f"tool.{key}", title, tip, run, "&Edit/&Change", keys, icon, needs, section, on)


RECORDS: tuple[Record, ...] = (
    Record("edit.undo", "&Undo", "Take back the latest step", lambda d: d.bench.undo(), "&Edit",
           "Ctrl+Z", "undo", Needs.WRITE, 1),
    Record("edit.redo", "&Redo", "Do the step taken back again", lambda d: d.bench.redo(),
           "&Edit", "Ctrl+Shift+Z", "redo", Needs.WRITE, 1, also=("Ctrl+Y",)),
    Record("page.history", "Undo &list", "Every step of this site, by name",
           lambda d: d.open_page("history"), "&Edit", "Ctrl+H", "history", Needs.SITE, 1),
    Record("edit.cut", "Cu&t", "Cut the selected elements", _cut, "&Edit", "Ctrl+X", "cut",
           Needs.CHANGE, 2),
    Record("edit.copy", "&Copy", "Copy the selected elements, for this site or another", _copy,
           "&Edit", "Ctrl+C", "copy", Needs.PICK, 2),
    Record("edit.paste", "&Paste", "Paste elements where they were, in this site or another",
           _paste, "&Edit", "Ctrl+V", "paste", Needs.WRITE, 2),
    Record("edit.delete", "&Delete", "Delete the selected elements", _delete, "&Edit", "Del",
           "delete", Needs.CHANGE, 2),
    Record("edit.fields", "&Fields of the selection", "Change the fields on the card",
           lambda d: d.card.edit_fields(), "&Edit", "F2", "settings", Needs.CHANGE, 2),
    Record("select.all", "&Everything", "Select every element shown", _all, "&Edit/&Select",
           "Ctrl+A", "select", Needs.SITE, 3),
    Record("select.kind", "All of the same &kind", "Select all elements of the selected kinds",
           _same_kind, "&Edit/&Select", "Ctrl+K", "select_kind", Needs.PICK, 3),
    Record("select.failing", "All with failing &checks",
           "Select every element a finding speaks of", _with_findings, "&Edit/&Select",
           "Ctrl+Shift+K", "findings", Needs.SITE, 3),
    Record("select.none", "&Nothing", "Select nothing", lambda d: d.bench.select(()),
           "&Edit/&Select", "Ctrl+Shift+A", "select", Needs.PICK, 3),
    Record("tool.choose", "Choo&se", "Choose elements by click or box", _tool("choose"), "&Edit",
           "Ctrl+T, C", "select", Needs.SITE, 4, _holds("choose")),
    Record("snap.any", "&Any of these", "Let the pointer be drawn to things, or to none of them",
           _snap_all, "&Edit/Snap t&o", "Ctrl+J, J", "", Needs.SITE, 0,
           lambda desk: bool(desk.map.world.snaps)),
    *(_snap_record(key, letter) for key, letter in SNAP_LETTERS.items()),
    _change("move", "&Move", "Carry the selection somewhere else", "Ctrl+T, M", "move", 5),
    _change("copy", "Move a c&opy", "Carry copies of the selection somewhere else", "Ctrl+T, O",
            "duplicate", 5),
    _change("turn", "&Turn", "Turn the selection about a point", "Ctrl+T, T", "rotate", 5),
    _change("flip", "&Flip over a line", "Flip the selection over a line", "Ctrl+T, F", "mirror",
            5),
    _change("reshape", "&Reshape", "Move, add and take out corners", "Ctrl+T, R", "reshape", 6),
    _change("split", "&Split", "Split lines and areas along a drawn line", "Ctrl+T, S", "split",
            6),
    Record("edit.join", "&Join", "Join the selected lines or areas into one", _join,
           "&Edit/&Change", "Ctrl+T, J", "join", Needs.CHANGE, 6),
    _change("line_up", "&Line up", "Move the selection square onto a line", "Ctrl+T, L", "align",
            6),
    Record("edit.level_again", "Set le&vel again",
           "Trace the selected swale, drain or level sill anew at its own level", _level_again,
           "&Edit/&Change", "Ctrl+T, V", "level", Needs.CHANGE, 6),
    _change("beside", "Draw &beside at …", "Draw beside the selection at a distance",
            "Ctrl+T, B", "offset", 7),
    _change("repeat_line", "Repeat along a li&ne",
            "Repeat the selection, or trees, along a drawn line", "Ctrl+T, N", "repeat", 7,
            Needs.WRITE),
    _change("repeat_area", "Repeat in an &area",
            "Repeat the selection, or trees, over a drawn area", "Ctrl+T, A", "fill_area", 7,
            Needs.WRITE),
)  # fmt: skip
