"""The verb that looks for places: swales, ponds, platforms, a track."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from canvas.base.errors import BadData
from canvas.cli.answers import write_json
from canvas.cli.common import SITE, example, main, opened, progress

if TYPE_CHECKING:
    from canvas.base.progress import Progress
    from canvas.base.quantity import UnitSystem
    from canvas.study.study import Study
    from canvas.study.suggest.proposal import Proposal

WHAT = ("swales", "ponds", "platforms", "track")


@main.command("find", epilog=example("hillwright find ~/land/kestrel_rise ponds --dry-runoff 40"))
@click.argument("site", type=SITE)
@click.argument("what", type=click.Choice(WHAT))
@click.option("--from", "start", default="", metavar="E,N", help="Start of a track [m].")
@click.option("--to", "end", default="", metavar="E,N", help="End of a track [m].")
@click.option("--grade", type=float, default=12.0, metavar="%", help="Steepest, for a track.")
@click.option("--dry-runoff", type=float, metavar="MM", help="For ponds: a dry year’s runoff.")
@click.option("--size", default="18x12", metavar="LxD", help="For platforms: length by depth [m].")
@click.option("--add", type=int, metavar="N", help="Put the Nth of the list into the plan.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def find_verb(
    site: Path,
    what: str,
    start: str,
    end: str,
    grade: float,
    dry_runoff: float | None,
    size: str,
    add: int | None,
    as_json: bool,
) -> None:
    """Look on SITE's ground for places for WHAT: swales, ponds, platforms or a track.

    The best come first, each with its reasons. Nothing is put into the plan unless asked.
    """
    from canvas.site import edits
    from canvas.site.records import kind_of
    from canvas.study.as_json import proposals_json

    with opened(site, write=add is not None) as (session, study):
        with progress() as report:
            found = _search(study, what, (start, end), grade / 100, dry_runoff, size, report)
        if as_json:
            write_json(proposals_json(study, found))
        else:
            _tell(found, study.plan.site.unit_system())
        if add is not None:
            if not 1 <= add <= len(found):
                raise BadData(f"there is no place number {add}", remedy=f"1 to {len(found)}.")
            item = found[add - 1].element
            session.apply(edits.add(f"Add a {kind_of(item).label.lower()} found", [item]))
            click.echo(f"Number {add} is in the plan.", err=as_json)


def _search(
    study: Study,
    what: str,
    ends: tuple[str, str],
    grade: float,
    dry_runoff: float | None,
    size: str,
    report: Progress,
) -> list[Proposal]:
    from canvas.study.suggest.level_lines import suggest_level_lines
    from canvas.study.suggest.platforms import PadWish, suggest_platforms
    from canvas.study.suggest.ponds import suggest_ponds
    from canvas.study.suggest.tracks import suggest_tracks

    if what == "ponds":
        return suggest_ponds(study, dry_runoff_mm=dry_runoff, progress=report)
    if what == "swales":
        return suggest_level_lines(study, progress=report)
    if what == "platforms":
        length, depth = _pair(size.lower().replace("x", ","), "--size", "18x12")
        return suggest_platforms(study, PadWish(length, depth), progress=report)
    here, there = (
        _pair(words, f"--{name}", "EAST,NORTH in metres")
        for words, name in zip(ends, ("from", "to"), strict=True)
    )
    return suggest_tracks(study, here, there, steepest=grade, progress=report)


def _pair(words: str, option: str, like: str) -> tuple[float, float]:
    try:
        one, other = (float(part) for part in words.split(","))
    except ValueError:
        raise BadData(f"{option} “{words}” is not two numbers", remedy=f"Give {like}.") from None
    return one, other


def _tell(found: list[Proposal], system: UnitSystem) -> None:
    if not found:
        click.echo("No place was found.")
    for number, each in enumerate(found, start=1):
        spot = each.element.geometry.representative_point()
        click.echo(f"{number}. {each.why}")
        click.echo(f"   at E {spot.x:.1f} m, N {spot.y:.1f} m; score {each.score:.2f}")
        parts = ", ".join(f"{name.lower()} {value:.2f}" for name, value in each.parts)
        click.echo(f"   of: {parts}")
        for fact in each.facts:
            tail = ", ".join(part for part in (fact.basis, fact.remark) if part)
            click.echo(f"   {fact.label:<28} {fact.shown(system)}{f'  ({tail})' if tail else ''}")
    click.echo("Suggestions from the ground data alone: walk the place, and have dams, cuts and")
    click.echo("ways judged by somebody licensed to, before anything is dug.")
