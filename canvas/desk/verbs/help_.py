"""Actions that help."""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.desk.actions import Needs, Record

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def _keys(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.keys import KeysDialog

    desk.ask_dialog(KeysDialog(desk))


def _about(desk: DeskWindow) -> None:
    from canvas.desk.dialogs.about import AboutDialog

    desk.ask_dialog(AboutDialog(desk))


RECORDS: tuple[Record, ...] = (
    Record("help.ask", "&Ask", "Type what you want", lambda d: d.ask.ask(), "&Help",
           "Ctrl+Space", "ask", Needs.NOTHING, 1),
    Record("help.keys", "&Keyboard", "Every action and its shortcut", _keys, "&Help", "F1",
           "keys", Needs.NOTHING, 1),
    Record("help.about", "A&bout, and cautions", "Version, sources, and what to mind", _about,
           "&Help", "Shift+F1", "about", Needs.NOTHING, 1),
)  # fmt: skip
