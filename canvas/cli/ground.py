"""The verb that makes ground: from measured heights, or with a denser survey laid in."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from canvas.base.errors import BadData
from canvas.cli.common import FILE, SITE, example, main, opened, progress

if TYPE_CHECKING:
    from canvas.study.making import NewGround
    from canvas.study.study import Study


@main.command("ground", epilog=example("hillwright ground ~/land/kestrel_rise --from-heights"))
@click.argument("site", type=SITE)
@click.option("--from-heights", is_flag=True, help="From spot heights, marks and survey lines.")
@click.option("--lay-in", "survey", type=FILE, help="A denser survey to lay in (GeoTIFF …).")
@click.option("--cell", default=1.0, metavar="M", help="Cell size of ground from heights [m].")
@click.option("--smooth", is_flag=True, help="Rounded between heights; left out: flat triangles.")
@click.option("--longest", default=60.0, metavar="M", help="Longest edge of an outer triangle [m].")
@click.option("--feather", default=5.0, metavar="M", help="Width of the blended edge [m].")
@click.option("--alone", is_flag=True, help="Do not lay it into the ground there is.")
@click.option("--keep-datum", is_flag=True, help="Do not shift the survey to the ground's heights.")
@click.option("--vertical-unit", default="m", help="Of the survey's heights: m or ft.")
def ground(
    site: Path,
    from_heights: bool,
    survey: Path | None,
    cell: float,
    smooth: bool,
    longest: float,
    feather: float,
    alone: bool,
    keep_datum: bool,
    vertical_unit: str,
) -> None:
    """Make SITE's ground from measured heights, or lay a denser survey into it."""
    from canvas.exchange.bring import take_made_ground
    from canvas.ground.tin import Surface
    from canvas.study.making import Wish, make_ground

    if from_heights == (survey is not None):
        raise BadData("say what to make the ground of", remedy="Give --from-heights or --lay-in.")
    with opened(site, write=True) as (session, study):
        if survey is not None:
            made = _laid_in(study, survey, vertical_unit, feather, keep_datum)
            name, source = survey.stem, f"{survey.name}, laid into the ground before"
        else:
            surface = Surface.SMOOTH if smooth else Surface.STRAIGHT
            wish = Wish(cell, surface, longest, feather, not alone)
            with progress() as report:
                made = make_ground(study, wish, report)
            name, source = "Measured heights", "measured by the family"
        before = study.land.ground
        kept = before.accuracy_m if before is not None and (survey or not alone) else None
        take_made_ground(session, made.grid, name=name, source=source, accuracy_m=kept)
        for fact in made.facts:
            click.echo(f"  {fact.label:<32} {fact.shown(study.plan.site.unit_system())}")
        for note in made.notes:
            click.echo(note, err=True)
    click.echo("The new ground is in use; undo takes it back.")


def _laid_in(
    study: Study, survey: Path, vertical_unit: str, feather_m: float, keep_datum: bool
) -> NewGround:
    from canvas.exchange.rasters import import_ground, open_grid
    from canvas.study.making import lay_in

    with tempfile.TemporaryDirectory(prefix="hillwright") as folder:
        out = Path(folder) / "survey.tif"
        import_ground(
            survey, out, target_crs=study.plan.site.crs, file_crs="", vertical_unit=vertical_unit
        )
        return lay_in(study, open_grid(out), feather_m=feather_m, keep_datum=keep_datum)
