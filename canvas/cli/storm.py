"""The verb that rains a storm on a site and says what fills, what spills and where to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from canvas.base.errors import BadData
from canvas.cli.answers import write_json
from canvas.cli.common import SITE, example, main, opened, progress

if TYPE_CHECKING:
    from canvas.study.study import Study

PATTERNS = ("uniform", "triangular", "IA", "I", "II", "III", "alternating")


@main.command(epilog=example("hillwright storm ~/land/kestrel_rise --depth 80 --hours 24"))
@click.argument("site", type=SITE)
@click.option("--depth", type=float, metavar="MM", help="Depth of the storm [mm].")
@click.option("--hours", type=float, metavar="H", help="How long it lasts [h].")
@click.option("--years", type=float, metavar="T", help="Return period, from the rain table.")
@click.option("--pattern", type=click.Choice(PATTERNS), help="How the rain falls over time.")
@click.option("--2d", "spread", is_flag=True, help="Over the ground in two dimensions; kept.")
@click.option("--cell", type=float, metavar="M", help="With --2d: cell [m]; else the ground's own.")
@click.option("--whole", is_flag=True, help="With --2d: all ground, not only what drains to it.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def storm(
    site: Path,
    depth: float | None,
    hours: float | None,
    years: float | None,
    pattern: str | None,
    spread: bool,
    cell: float | None,
    whole: bool,
    as_json: bool,
) -> None:
    """Lead a storm through the swales, ponds and drains of SITE.

    Without options the site's own design storm is taken. Nothing is changed in the site: a run
    in two dimensions is kept in its folder "derived", which may be deleted.
    """
    if depth is not None and years is not None:
        raise click.UsageError("give a depth or a return period, not both")
    if not spread and (cell is not None or whole):
        raise click.UsageError("--cell and --whole go with --2d")
    asked = {"depth_mm": depth, "hours": hours, "years": years, "pattern": pattern}
    if spread:
        from canvas.cli.rain import rain_on_the_land

        rain_on_the_land(site, as_json=as_json, cell_m=cell, whole=whole, **asked)
        return
    with opened(site) as (_, plain):
        study = _with_storm(
            plain, {key: value for key, value in asked.items() if value is not None}
        )
        rain = study.design_storm()
        if not rain.known:
            raise BadData(rain.trouble, remedy="Or give --depth MM and --hours H here.")
        with progress() as report:
            chain = study.chain(report)
        if as_json:
            from canvas.study.storm.told import storm_json

            write_json(storm_json(study))
            return
        _write(study)
        if chain.trouble:
            click.echo(chain.trouble)


def _with_storm(study: Study, asked: dict[str, Any]) -> Study:
    """Return the study in another storm than the site's own."""
    from canvas.site.records import changed
    from canvas.study.storm.design import record_of

    if not asked:
        return study
    if "years" in asked:
        asked["depth_mm"] = None
    return study.moved(study.plan.with_(changed(record_of(study), **asked)))


def _write(study: Study) -> None:
    from canvas.study.storm.told import HEADINGS, books, notes, rows

    chain, units = study.chain(), study.plan.site.unit_system()
    rain = chain.rain
    click.echo(f"Storm: {rain.said()} ({rain.basis})")
    for row in rows(chain, units):
        click.echo(f"\n{row.cells[0]}{'  OVER CAPACITY' if row.over else ''}")
        for title, cell in zip(HEADINGS[1:], row.cells[1:], strict=True):
            if cell != "–":
                click.echo(f"  {title:<20} {cell}")
    found = books(chain, units)
    if found:
        click.echo("\nThe books of the whole")
        for title, cell in found:
            click.echo(f"  {title:<28} {cell}")
    for note in notes(chain):
        click.echo(note)
