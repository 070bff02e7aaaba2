"""Verbs that begin, fill and open sites, and take things out of them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from canvas.base.errors import UserError
from canvas.cli.common import FILE, SITE, example, main, opened, progress

if TYPE_CHECKING:
    from canvas.exchange.bring import Brought


@main.command("open", epilog=example("hillwright open ~/land/kestrel_rise"))
@click.argument("site", type=SITE, required=False)
def open_site(site: Path | None) -> None:
    """Open the desk, on SITE if one is given."""
    from canvas.desk.app import run_desk

    sys.exit(run_desk(site))


@main.command(epilog=example("hillwright sample kestrel_rise ~/land/kestrel_rise"))
@click.argument("name")
@click.argument("folder", type=SITE)
def sample(name: str, folder: Path) -> None:
    """Copy the sample site NAME into FOLDER, to look at and play with."""
    from canvas.site.samples import copy_sample

    copy_sample(name, folder)
    click.echo(f"{name} is in {folder}. Open it with: hillwright open {folder}")


@main.command(
    epilog=example(
        'hillwright start ~/land/hill --name "The hill" --crs EPSG:7854'
        " --boundary title.geojson --ground lidar.tif --vertical-unit m --aerial photo.tif"
    )
)
@click.argument("folder", type=SITE)
@click.option("--name", required=True, help="What the site is called.")
@click.option(
    "--crs", default="", help="Projected CRS in metres, EPSG:n; left out: the boundary's UTM zone."
)
@click.option("--boundary", type=FILE, help="A file with the boundary, in any format read.")
@click.option("--ground", type=FILE, help="A terrain model: GeoTIFF, ASCII grid or XYZ.")
@click.option("--aerial", type=FILE, help="A georeferenced aerial image.")
@click.option(
    "--vertical-unit",
    type=click.Choice(["m", "ft", "us_ft"]),
    help="Unit of the terrain model's heights; never guessed. Left out: as the file states it.",
)
@click.option("--datum", default="", help="What heights are measured from, such as AHD.")
@click.option("--accuracy", type=float, help="Standard error of the terrain model's heights [m].")
def start(
    folder: Path,
    name: str,
    crs: str,
    boundary: Path | None,
    ground: Path | None,
    aerial: Path | None,
    vertical_unit: str | None,
    datum: str,
    accuracy: float | None,
) -> None:
    """Begin a new site in FOLDER, with what there is of boundary, ground and aerial."""
    from canvas.exchange import bring
    from canvas.site.facts import Site
    from canvas.site.session import Session
    from canvas.study.place import checked_crs, offered_crs

    if not name.strip():
        raise click.UsageError("--name needs a name")
    unit = vertical_unit or (_stated_unit(ground) if ground is not None else "m")
    rasters = [file for file in (ground, aerial) if file is not None]
    chosen = checked_crs(crs or offered_crs([boundary] if boundary else [], rasters))
    site = Site(name=name, crs=chosen, heights_datum=datum)
    with (
        _undone_on_trouble(folder),
        Session.start(folder, site) as session,
        progress() as report,
    ):
        if boundary is not None:
            brought = bring.elements(session, boundary, "site_boundary", progress=report)
            _tell_brought(brought)
        if ground is not None:
            brought = bring.ground(
                session,
                ground,
                vertical_unit=unit,
                datum=datum,
                accuracy_m=accuracy,
                progress=report,
            )
            _tell_notes(brought)
        if aerial is not None:
            _tell_notes(bring.picture(session, aerial, progress=report))
    click.echo(f"{name} is in {folder} ({chosen}). Open it with: hillwright open {folder}")


def _stated_unit(ground: Path) -> str:
    """Return the unit a terrain model says its heights are in; a usage error when it says none."""
    from canvas.exchange.rasters import VERTICAL_UNITS, inspect_raster

    hint = inspect_raster(ground).unit_hint
    if hint not in VERTICAL_UNITS:
        raise click.UsageError(
            f"{ground} does not state its unit: add --vertical-unit m, ft or us_ft"
        )
    return hint


@contextmanager
def _undone_on_trouble(folder: Path) -> Iterator[None]:
    """Leave no half-begun site behind: take away what was made in `folder`."""
    before = set(folder.iterdir()) if folder.is_dir() else None
    try:
        yield
    except (UserError, KeyboardInterrupt):
        made = set(folder.iterdir()) - (before or set()) if folder.is_dir() else set()
        for each in made:
            each.unlink()
        if before is None and folder.is_dir():
            folder.rmdir()
        raise


@main.command(epilog=example("hillwright export ~/land/kestrel_rise trees.gpx --kind tree"))
@click.argument("site", type=SITE)
@click.argument("out", type=FILE)
@click.option("--kind", "kinds", multiple=True, help="Only this kind; repeat for several.")
def export(site: Path, out: Path, kinds: tuple[str, ...]) -> None:
    """Write what is drawn to OUT: .geojson, .gpx, .kml, .csv or .gpkg."""
    from canvas.exchange.write import export as write
    from canvas.site.records import kind, kind_of

    wanted = {kind(key).key for key in kinds}
    with opened(site) as (session, _):
        chosen = [
            item for item in session.plan.elements() if not wanted or kind_of(item).key in wanted
        ]
        written = write(out, chosen, crs=session.plan.site.crs)
    click.echo(f"Elements written to {out}: {written.count}")
    for note in written.notes:
        click.echo(note, err=True)


@main.command("import", epilog=example("hillwright import ~/land/hill oaks.gpx --as tree"))
@click.argument("site", type=SITE)
@click.argument("file", type=FILE)
@click.option(
    "--as", "kind", required=True, metavar="KIND", help="A kind of element, such as tree."
)
@click.option("--crs", default="", help="CRS of the file, where the file does not say.")
@click.option("--layer", default="", help="Layer of the file, where it holds several.")
def import_verb(site: Path, file: Path, kind: str, crs: str, layer: str) -> None:
    """Bring FILE into SITE as elements of one KIND."""
    from canvas.exchange import bring

    with opened(site, write=True) as (session, _), progress() as report:
        brought = bring.elements(session, file, kind, file_crs=crs, layer=layer, progress=report)
    _tell_brought(brought)


def _tell_brought(brought: Brought) -> None:
    from canvas.exchange.incoming import told

    click.echo(f"Brought in: {brought.count}")
    _tell_notes(brought)
    for line in told(brought.skipped):
        click.echo(f"Left out, {line}", err=True)


def _tell_notes(brought: Brought) -> None:
    for note in brought.notes:
        click.echo(note, err=True)
