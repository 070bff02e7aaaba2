"""Going to places on the map: the selection, findings, positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely import union_all

from canvas.base.grid import Bounds
from canvas.ground.crs import to_lonlat

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: A place is shown with at least this much land around it [m].
LEAST_M = 40.0


def roomy(bounds: Bounds, share: float = 0.6) -> Bounds:
    """Return bounds with land around them, so that what is shown is seen in its place."""
    west, south, east, north = bounds
    x, y = (west + east) / 2, (south + north) / 2
    half_x = max(east - west, LEAST_M) * (0.5 + share)
    half_y = max(north - south, LEAST_M) * (0.5 + share)
    return x - half_x, y - half_y, x + half_x, y + half_y


def show_selection(desk: DeskWindow) -> None:
    """Show what is selected, or everything when nothing is."""
    items = desk.bench.selected()
    if items:
        desk.bench.show_place(roomy(union_all([item.geometry for item in items]).bounds))
    else:
        desk.bench.show_place(None)


def show_finding(desk: DeskWindow, key: str) -> None:
    """Select what a finding speaks of and show where it is."""
    study, plan = desk.bench.study, desk.bench.plan
    if study is None or plan is None:
        return
    finding = next((each for each in study.findings() if each.key == key), None)
    if finding is None:
        return
    desk.bench.select(ident for ident in finding.elements if ident in plan)
    if not finding.where.is_empty:
        desk.bench.show_place(roomy(finding.where.bounds))
    else:
        show_selection(desk)


def step_finding(desk: DeskWindow, step: int) -> None:
    """Show the next standing finding, or the one before."""
    study = desk.bench.study
    standing = [each for each in study.findings() if not each.waived] if study is not None else []
    if not standing:
        desk.bench.tell("note", "Nothing is found against the plan.")
        return
    keys = [each.key for each in standing]
    at = keys.index(desk.shown_finding) if desk.shown_finding in keys else (-1 if step > 0 else 0)
    desk.shown_finding = keys[(at + step) % len(keys)]
    show_finding(desk, desk.shown_finding)
    finding = standing[keys.index(desk.shown_finding)]
    desk.bench.tell("warning" if finding.failing else "note", finding.message)


def go_to_lonlat(desk: DeskWindow, lon_deg: float, lat_deg: float) -> None:
    """Show a geographic position."""
    study = desk.bench.study
    if study is None:
        return
    x, y = to_lonlat(study.crs).transform(lon_deg, lat_deg, direction="INVERSE")
    desk.map.centre_on(x, y)
