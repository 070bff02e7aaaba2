"""The verb that answers for earth: what is dug, filled, kept, brought in and taken away."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from canvas.cli.answers import write_json
from canvas.cli.common import SITE, example, main, opened, title

if TYPE_CHECKING:
    from canvas.study.book import Table


@main.command(epilog=example("hillwright earth ~/land/kestrel_rise --json"))
@click.argument("site", type=SITE)
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def earth(site: Path, as_json: bool) -> None:
    """Balance the earth of SITE's works: by kind, in bank, loose and placed volumes, by phase."""
    from canvas.study.balance import balance
    from canvas.study.balance_tables import NOTES, balance_json, carriage, tables
    from canvas.study.book import Book

    with opened(site) as (session, study):
        if as_json:
            write_json(balance_json(study))
            return
        book = Book(study, session.plan.site.unit_system())
        made = tables(study, book)
        found = balance(study)
        if not made and not found.left_out:
            click.echo("No earthworks are proposed.")
        elif made:
            for row in (found.whole, *found.phases):
                click.echo(carriage(book, row))
            click.echo("")
        for each in made:
            _write_table(each)
        for ident, why in found.left_out:
            click.echo(f"LEFT OUT: {title(session.plan.element(ident))}: {why}")
        if made:
            click.echo("\n".join(NOTES))


def _write_table(table: Table) -> None:
    """Write a table with its columns lined up."""
    rows = [tuple(c.heading for c in table.columns), *(line.cells for line in table.lines)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(table.columns))]
    click.echo(table.title)
    for row in rows:
        cells = [
            cell.rjust(wide) if column.right else cell.ljust(wide)
            for cell, wide, column in zip(row, widths, table.columns, strict=True)
        ]
        click.echo("  " + "  ".join(cells).rstrip())
    click.echo("")
