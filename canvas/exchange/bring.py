"""Bringing foreign files into a site: read aside, then taken over in one edit.

The slow part (`read_…`, for a worker thread) touches no site; the short part (`take_…`) stores
files and applies the edit.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.base.progress import Progress, silent
from canvas.exchange import rasters
from canvas.exchange.adopt import to_elements
from canvas.exchange.geotiff import write_grid
from canvas.exchange.incoming import Incoming, Skipped, told
from canvas.exchange.read import read_features
from canvas.site.edits import Change, Edit, add
from canvas.site.facts import Ground, Picture
from canvas.site.records import changed, kind
from canvas.site.session import Session, Touched


@dataclass(frozen=True, slots=True)
class Brought:
    """What became of a file: how many elements, what was left out and why."""

    count: int
    skipped: tuple[Skipped, ...]
    notes: tuple[str, ...]
    touched: Touched | None


def take_elements(
    session: Session,
    incoming: Incoming,
    kind_key: str,
    mapping: Mapping[str, str] | None = None,
) -> Brought:
    """Add what a file holds to the plan as elements of one kind, in one edit."""
    adopted = to_elements(incoming, kind_key, mapping)
    skipped = (*incoming.skipped, *adopted.skipped)
    notes = (*incoming.notes, *adopted.notes)
    if not adopted.elements:
        return Brought(0, skipped, notes, None)
    touched = session.apply(add(f"Bring in {kind(kind_key).plural.lower()}", adopted.elements))
    return Brought(len(adopted.elements), skipped, notes, touched)


def elements(
    session: Session,
    path: Path,
    kind_key: str,
    *,
    file_crs: str = "",
    layer: str = "",
    progress: Progress = silent,
) -> Brought:
    """Read a vector file and add it to the plan as elements of one kind."""
    kind(kind_key)
    incoming = read_features(
        path,
        target_crs=session.plan.site.crs,
        file_crs=file_crs,
        layer=layer,
        progress=progress,
    )
    brought = take_elements(session, incoming, kind_key)
    if not brought.count:
        why = "; ".join(told(brought.skipped)[:5])
        raise BadData(
            f"nothing in it can become a {kind(kind_key).label.lower()}"
            + (f" ({why})" if why else ""),
            where=str(path),
            kept="The plan is as it was.",
            remedy="Choose another kind or layer, or mend the file.",
        )
    return brought


def take_ground(session: Session, file: Path, record: Ground) -> Touched:
    """Make a GeoTIFF in the site's CRS the ground in use; `record.file` is filled in here."""
    name = session.adopt(file)
    changes = [
        Change(old, changed(old, in_use=False)) for old in session.plan.of(Ground) if old.in_use
    ]
    changes.append(Change(None, changed(record, file=name, in_use=True)))
    return session.apply(Edit("Bring in the ground", tuple(changes)))


def take_made_ground(
    session: Session,
    grid: Grid,
    *,
    name: str,
    source: str,
    accuracy_m: float | None = None,
    surveyed: str = "",
) -> Touched:
    """Make ground worked out from heights or surveys the ground in use."""
    with tempfile.TemporaryDirectory(prefix="hillwright") as folder:
        out = Path(folder) / "ground.tif"
        write_grid(out, grid, session.plan.site.crs, description="Height", unit="m")
        record = Ground(
            name=name,
            source=source,
            surveyed=surveyed,
            accuracy_m=accuracy_m,
            datum=session.plan.site.heights_datum,
            cell_m=grid.cell_m,
        )
        return take_ground(session, out, record)


def take_picture(session: Session, file: Path, record: Picture) -> Touched:
    """Lay a GeoTIFF in the site's CRS under the plan; `record.file` is filled in here."""
    name = session.adopt(file)
    return session.apply(add("Bring in a picture", [changed(record, file=name)]))


def ground(
    session: Session,
    path: Path,
    *,
    vertical_unit: str,
    file_crs: str = "",
    datum: str = "",
    accuracy_m: float | None = None,
    progress: Progress = silent,
) -> Brought:
    """Read a terrain model and make it the ground in use."""
    with tempfile.TemporaryDirectory(prefix="hillwright") as folder:
        out = Path(folder) / "ground.tif"
        info = rasters.import_ground(
            path,
            out,
            target_crs=session.plan.site.crs,
            file_crs=file_crs,
            vertical_unit=vertical_unit,
            progress=progress,
        )
        record = rasters.ground_record(
            info,
            "",
            name=path.stem,
            source=path.name,
            accuracy_m=accuracy_m,
            datum=datum or session.plan.site.heights_datum,
        )
        return Brought(1, (), info.notes, take_ground(session, out, record))


def picture(
    session: Session, path: Path, *, file_crs: str = "", progress: Progress = silent
) -> Brought:
    """Read a georeferenced picture and lay it under the plan."""
    with tempfile.TemporaryDirectory(prefix="hillwright") as folder:
        out = Path(folder) / "aerial.tif"
        info = rasters.import_picture(
            path, out, target_crs=session.plan.site.crs, file_crs=file_crs, progress=progress
        )
        record = Picture(name=path.stem, source=path.name, pixel_m=info.cell_m)
        return Brought(1, (), info.notes, take_picture(session, out, record))
