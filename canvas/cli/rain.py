"""A storm run over the land in two dimensions, from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from canvas.base.errors import Cancelled
from canvas.cli.answers import write_json
from canvas.cli.common import opened, progress


def rain_on_the_land(site: Path, *, as_json: bool, **wanted: Any) -> None:
    """Run the storm over SITE's designed ground, keep the run beside it, and tell of it.

    `wanted` are fields of `study.rains.setup.RainChoice`.
    """
    from canvas.study.rains.answers import stale_words
    from canvas.study.rains.run import estimate_s, run
    from canvas.study.rains.setup import RainChoice, setup
    from canvas.study.rains.wording import summary

    choice = RainChoice(**{key: value for key, value in wanted.items() if value is not None})
    with opened(site) as (session, study):
        made = setup(study, choice)
        about = estimate_s(made)
        long = f"{about / 60.0:.0f} min" if about >= 90 else f"{about:.0f} s"
        cells = made.bed.ground
        click.echo(
            f"{made.rain.said()} over {cells.shape[0]} × {cells.shape[1]} cells of "
            f"{cells.cell_m:g} m: about {long} or more. Ctrl-C stops it.",
            err=True,
        )
        try:
            with progress() as report:
                found = run(study, session.folder, choice, report)
        except KeyboardInterrupt:
            raise Cancelled from None
        if as_json:
            write_json({**found.told, "folder": str(found.folder), "stale": ""})
            return
        for line in summary(found, study.plan.site.unit_system(), stale_words(())):
            click.echo(line)
        click.echo(f"Kept in {found.folder}. Maps of it: hillwright map SITE rain_depth OUT.tif")
