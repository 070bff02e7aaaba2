"""Verbs that answer: facts, findings, maps and sheets."""

from __future__ import annotations

import codecs
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from canvas.base.errors import BadData
from canvas.cli.common import FILE, SITE, example, find, main, opened, title

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from canvas.base.fact import Fact
    from canvas.base.finding import Finding
    from canvas.study.ground_lines import GroundLine
    from canvas.study.study import Study


GROUND = click.option(
    "--ground", type=click.Choice(("existing", "designed")), default="existing",
    help="As surveyed, or with the earthworks built.",
)  # fmt: skip


@main.command(epilog=example("hillwright facts ~/land/kestrel_rise --json"))
@click.argument("site", type=SITE)
@click.argument("element", required=False)
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def facts(site: Path, element: str | None, as_json: bool) -> None:
    """Write what is known of SITE, or of one ELEMENT by its name or identity."""
    from canvas.study.as_json import facts_json

    with opened(site) as (session, study):
        chosen = [find(study, element)] if element else list(session.plan.elements())
        if as_json:
            write_json(facts_json(study, [item.id for item in chosen]))
            return
        if not element:
            _write_facts(study, study.site_facts())
        for item in chosen:
            click.echo(f"\n{title(item)}")
            _write_facts(study, study.facts(item.id))


def _write_facts(study: Study, found: tuple[Fact, ...]) -> None:
    system = study.plan.site.unit_system()
    for fact in found:
        tail = ", ".join(part for part in (fact.basis, fact.remark) if part)
        click.echo(f"  {fact.label:<32} {fact.shown(system)}{f'  ({tail})' if tail else ''}")


def write_json(value: dict[str, Any]) -> None:
    """Write an answer for other programs."""
    plain = codecs.lookup(sys.stdout.encoding or "ascii").name != "utf-8"
    click.echo(json.dumps(value, indent=1, ensure_ascii=plain, allow_nan=False))


@main.command(epilog=example("hillwright check ~/land/kestrel_rise --rules victoria --json"))
@click.argument("site", type=SITE)
@click.option("--rules", "sets", multiple=True, metavar="SET", help="In place of the site's own.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def check(site: Path, sets: tuple[str, ...], as_json: bool) -> None:
    """Check SITE against its rules. Exit 0 clean, 1 with failing findings, 2 on trouble."""
    from canvas.site.records import changed
    from canvas.study.as_json import findings_json

    with opened(site) as (session, study):
        if sets:
            facts_record = changed(session.plan.site, rule_sets=",".join(sets))
            asked = study.moved(session.plan.with_(facts_record))
        else:
            asked = study
        found = asked.findings()
        if not asked.plan.site.sets():
            raise BadData(
                "no rule set is chosen: nothing was checked",
                remedy="Name one with --rules, or choose one for the site.",
            )
        if as_json:
            write_json(findings_json(asked, found))
        else:
            _write_findings(asked, found)
        sys.exit(1 if any(each.failing for each in found) else 0)


def _write_findings(study: Study, found: tuple[Finding, ...]) -> None:
    system = study.plan.site.unit_system()
    for each in found:
        state = "waived" if each.waived else str(each.severity)
        click.echo(f"{state.upper():<8} {each.message}")
        spot = each.where.representative_point() if not each.where.is_empty else None
        at = f"at E {spot.x:.1f} m, N {spot.y:.1f} m" if spot is not None else ""
        mark = "unconfirmed, " if each.unconfirmed else ""
        source = f"{mark}{each.source or each.mark}"
        for line in (each.numbers(system), at, f"[{each.rule_set}; {source}]", each.caution):
            if line:
                click.echo(f"         {line}")
        if each.waived:
            click.echo(f"         waived: {each.waived}")
    failing = sum(each.failing for each in found)
    advice = sum(not each.failing and not each.waived for each in found)
    waived = sum(bool(each.waived) for each in found)
    for words in study.unchecked():
        click.echo(f"NOT CHECKED: {words}")
    click.echo(f"{failing} failing, {advice} advice, {waived} waived")
    click.echo("Rules are defaults: local codes and licensed practitioners decide.")


@main.command("map", epilog=example("hillwright map ~/land/kestrel_rise slope slope.tif"))
@click.argument("site", type=SITE)
@click.argument("kind")
@click.argument("out", type=FILE)
@click.option("--month", type=click.IntRange(0, 12), default=0, help="For energy; 0: the year.")
@click.option("--at", "place", default="", help="For catchment: an element, or EAST,NORTH [m].")
@GROUND
def map_verb(site: Path, kind: str, out: Path, month: int, place: str, ground: str) -> None:
    """Work out a map of SITE (height, slope, aspect, hillshade, energy, flow, cutfill …)."""
    from canvas.exchange.rasters import write_grid
    from canvas.study.maps import catchment_map, map_kind

    if out.suffix.lower() not in (".tif", ".tiff"):
        raise BadData(
            f"a map is written as a GeoTIFF, not “{out.suffix}”",
            where=out.name,
            remedy="Name it .tif or .tiff.",
        )
    _folder_there(out)
    with opened(site) as (_, study):
        if kind == "catchment":
            answer = catchment_map(study, _place(study, place), designed=ground == "designed")
        else:
            answer = study.map(map_kind(kind).key, month=month, designed=ground == "designed")
        label = f"{answer.label}; {answer.note}" if answer.note else answer.label
        write_grid(out, answer.grid, study.plan.site.crs, description=label, unit=answer.unit)
    click.echo(f"{answer.label} is in {out}")
    if answer.note:
        click.echo(f"({answer.note})")


@main.command(epilog=example("hillwright lines ~/land/kestrel_rise ridges ridges.geojson"))
@click.argument("site", type=SITE)
@click.argument("kind")
@click.argument("out", type=FILE)
@click.option(
    "--at", "place", default="", help="For drop and catchment: EAST,NORTH [m], or an element."
)
@click.option("--least", default=5000.0, metavar="M2", help="Area a line must drain [m2].")
@GROUND
def lines(site: Path, kind: str, out: Path, place: str, least: float, ground: str) -> None:
    """Write lines of SITE's ground as GeoJSON.

    Drainage, valleys, ridges, keypoints, catchment, drop; spills: ways of overflow in the storm.
    """
    from canvas.exchange.writers.shapes import write_shapes
    from canvas.study.as_json import heading
    from canvas.study.ground_lines import catchment_outline, drop, ground_lines

    _folder_there(out)
    if not least > 0:
        raise BadData("--least must be above 0 square metres")
    with opened(site) as (_, study):
        designed = ground == "designed"
        if kind == "drop":
            spot = _place(study, place).representative_point()
            found = [drop(study, spot.x, spot.y, designed=designed)]
        elif kind == "catchment":
            found = [catchment_outline(study, _place(study, place), designed=designed)]
        elif kind == "spills":
            found = _spills(study)
        else:
            found = ground_lines(study, kind, designed=designed, least_m2=least)
        rows = [(e.geometry, {heading(f): f.value for f in e.facts}) for e in found]
        count = write_shapes(out, rows, study.plan.site.crs)
    click.echo(f"{count} written to {out}")


def _spills(study: Study) -> list[GroundLine]:
    """Return the ways of overflow in the design storm; `BadData` says what is missing."""
    from canvas.study.storm.told import spill_lines

    chain = study.chain()
    if chain.trouble:
        raise BadData(chain.trouble)
    return spill_lines(chain)


def _place(study: Study, words: str) -> BaseGeometry:
    """Return the place meant by "EAST,NORTH" or by an element's name."""
    from shapely import Point

    if not words:
        raise click.UsageError("a place is needed with --at: an element, or EAST,NORTH in metres")
    try:
        east, north = (float(part) for part in words.split(","))
    except ValueError:
        return find(study, words).geometry
    return Point(east, north)


@main.command(epilog=example("hillwright sheet ~/land/kestrel_rise plan.pdf --paper A1"))
@click.argument("site", type=SITE)
@click.argument("out", type=FILE)
@click.option("--of", "sort", default="plan", help="plan (default), earthworks, details or rain.")
@click.option("--paper", default="A3", help="A4 to A0, or a US size. Default A3.")
@click.option("--scale", type=float, help="The n of 1:n; left out: the best round scale.")
@click.option("--portrait", is_flag=True, help="Upright; left out: on its long side.")
@click.option("--phase", default="", help="As built up to this phase, by its name or number.")
@click.option("--contours", type=float, metavar="M", help="Interval of contours [m]; 0: none.")
@click.option("--mono", is_flag=True, help="For black-and-white printers.")
def sheet(
    site: Path,
    out: Path,
    sort: str,
    paper: str,
    scale: float | None,
    portrait: bool,
    phase: str,
    contours: float | None,
    mono: bool,
) -> None:
    """Print a sheet of SITE to OUT (.pdf or .png) at true scale."""
    from canvas.paint.export import write_sheet
    from canvas.sheets.prepared import SheetOptions
    from canvas.sheets.sorts import SORTS, make_sheet
    from canvas.site.facts import Picture

    _folder_there(out)
    palette = "mono" if mono else "paper"
    with opened(site) as (session, whole):
        study = whole.at_phase(_phase(whole, phase)) if phase else whole
        options = SheetOptions(
            paper=paper, landscape=not portrait, scale=scale, contours_m=contours, palette=palette,
            title=SORTS[sort].label if sort in SORTS else sort,
        )  # fmt: skip
        pages = make_sheet(sort, study, options, session.folder)
        written = write_sheet(pages, out, palette=palette)
        told = " ".join((*session.notices, study.land.trouble))
        pictures = session.plan.of(Picture)
    missing = tuple(f"The picture “{p.name}”" for p in pictures if p.file in told)
    for note in pages[0].notes:
        if note.rstrip(".") not in told and not note.startswith(missing):
            click.echo(note, err=True)
    for file in written:
        click.echo(f"The {_called(sort)} is in {file}")


def _called(sort: str) -> str:
    return "plan sheet" if sort == "plan" else f"{sort} sheet"


def _folder_there(out: Path) -> None:
    """Say at once, not after long work, that what is to be written has nowhere to go."""
    if not out.parent.is_dir():
        raise BadData(
            f"the folder {out.parent} does not exist",
            where=out.name,
            remedy="Make it first, or name another.",
        )


def _phase(study: Study, words: str) -> str:
    """Return the identity of a phase by its name or its number in the order of building."""
    phases = study.plan.phases()
    for number, phase in enumerate(phases, 1):
        if words.strip().casefold() in (phase.name.casefold(), str(number), phase.id):
            return phase.id
    names = "; ".join(f"{number}: {phase.name}" for number, phase in enumerate(phases, 1))
    raise BadData(
        f"no phase is called “{words}”",
        remedy=f"Phases: {names}." if phases else "The site has no phases.",
    )
