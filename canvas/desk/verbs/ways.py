"""Actions on the selected tracks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.base.errors import UserError
from canvas.desk.actions import Needs, Record

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def _cross_drains(desk: DeskWindow) -> None:
    """Place the cross-drains the selected track still lacks."""
    from canvas.site.elements.access import Track
    from canvas.tools.crossdrains import cross_drains_edit

    bench = desk.bench
    tracks = [item for item in bench.selected() if isinstance(item, Track)]
    if len(tracks) != 1 or bench.study is None:
        bench.tell("warning", "Select one track to place its cross-drains.")
        return
    if bench.study.plan.get(tracks[0].id) is not tracks[0]:
        bench.tell("note", "The track is still being worked out: try again in a moment.")
        return
    try:
        edit = cross_drains_edit(bench.study, tracks[0])
    except UserError as trouble:
        bench.tell("warning", trouble.text())
        return
    if edit is None:
        bench.tell("note", "No cross-drain is missing along this track.")
    elif bench.apply(edit) is not None:
        bench.tell("note", edit.label.replace("Place", "Placed"))


RECORDS: tuple[Record, ...] = (
    Record("ways.drains", "Cross-drains along a &track",
           "Place the water bars, dips or pipes the selected track lacks, at the spacing its"
           " grades ask", _cross_drains, "&Draw/Access", "Ctrl+D, Shift+Z", "kind-water_bar",
           Needs.CHANGE, 3),
)  # fmt: skip
