"""The command line. Each verb imports what it needs when it runs, so that all start fast."""

from __future__ import annotations

import codecs
import io
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from canvas import __version__
from canvas.base.errors import BadData, Cancelled, UserError

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from canvas.base.fact import Fact
    from canvas.base.finding import Finding
    from canvas.exchange.bring import Brought
    from canvas.site.records import Element
    from canvas.site.session import Session
    from canvas.study.study import Study

TROUBLE = 2
SITE = click.Path(path_type=Path)
FILE = click.Path(path_type=Path, dir_okay=False)


class Verbs(click.Group):
    """Runs `open` when no verb is given, and turns trouble into plain words and exit code 2."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Take a folder in place of a verb as a site to open."""
        if args and args[0] not in self.commands and Path(args[0]).exists():
            args = ["open", *args]
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                # A locale that can't write ² or ° loses these signs, not the whole answer.
                stream.reconfigure(errors="replace")
        try:
            return super().invoke(ctx)
        except Cancelled:
            _stop("Cancelled.")
        except UserError as err:
            _stop(err.text())


def _stop(words: str) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(TROUBLE)


@click.group(cls=Verbs, invoke_without_command=True)
@click.version_option(__version__, prog_name="hillwright")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Plan a few hectares of raw hill land, check the plan, and print it at true scale.

    Without a verb the desk opens.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(open_site, site=None)


def _example(words: str) -> str:
    return f"\b\nExample:\n  {words}"


@main.command("open", epilog=_example("hillwright open ~/land/kestrel_rise"))
@click.argument("site", type=SITE, required=False)
def open_site(site: Path | None) -> None:
    """Open the desk, on SITE if one is given."""
    from canvas.desk.app import run_desk

    sys.exit(run_desk(site))


@main.command(epilog=_example("hillwright sample kestrel_rise ~/land/kestrel_rise"))
@click.argument("name")
@click.argument("folder", type=SITE)
def sample(name: str, folder: Path) -> None:
    """Copy the sample site NAME into FOLDER, to look at and play with."""
    from canvas.site.samples import copy_sample

    copy_sample(name, folder)
    click.echo(f"{name} is in {folder}. Open it with: hillwright open {folder}")


@main.command(
    epilog=_example(
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
        _progress() as progress,
    ):
        if boundary is not None:
            brought = bring.elements(session, boundary, "site_boundary", progress=progress)
            _tell_brought(brought)
        if ground is not None:
            brought = bring.ground(
                session,
                ground,
                vertical_unit=unit,
                datum=datum,
                accuracy_m=accuracy,
                progress=progress,
            )
            _tell_notes(brought)
        if aerial is not None:
            _tell_notes(bring.picture(session, aerial, progress=progress))
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


@contextmanager
def _opened(site: Path, *, write: bool = False) -> Iterator[tuple[Session, Study]]:
    from canvas.site.session import Session
    from canvas.study.land import Land
    from canvas.study.study import Study

    with Session.open(site, readonly=not write) as session:
        for notice in session.notices:
            click.echo(notice, err=True)
        land = Land.load(session.plan, session.folder)
        told = " ".join(session.notices)
        if land.trouble and not (land.ground is not None and land.ground.file in told):
            click.echo(land.trouble, err=True)
        yield session, Study(session.plan, land)


@contextmanager
def _progress() -> Iterator[Any]:
    """Show how far long work is, on a terminal only."""
    shown = sys.stderr.isatty()

    def report(fraction: float, note: str = "") -> None:
        if shown:
            click.echo(f"\r{fraction:4.0%} {note:<60.60}", nl=False, err=True)

    yield report
    if shown:
        click.echo("\r" + " " * 66 + "\r", nl=False, err=True)


@main.command(epilog=_example("hillwright facts ~/land/kestrel_rise --json"))
@click.argument("site", type=SITE)
@click.argument("element", required=False)
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def facts(site: Path, element: str | None, as_json: bool) -> None:
    """Write what is known of SITE, or of one ELEMENT by its name or identity."""
    from canvas.study.as_json import facts_json

    with _opened(site) as (session, study):
        chosen = [_find(study, element)] if element else list(session.plan.elements())
        if as_json:
            _write_json(facts_json(study, [item.id for item in chosen]))
            return
        if not element:
            _write_facts(study, study.site_facts())
        for item in chosen:
            click.echo(f"\n{_title(item)}")
            _write_facts(study, study.facts(item.id))


def _find(study: Study, words: str) -> Element:
    from canvas.site.records import kind_of

    every = list(study.plan.elements())
    wanted = words.casefold()
    found = [e for e in every if e.id == words] or [
        e for e in every if wanted in (e.name.casefold(), kind_of(e).label.casefold())
    ]
    if len(found) != 1:
        trouble = "no element is" if not found else f"{len(found)} elements are"
        names = sorted({e.name for e in (found or every) if e.name})[:12]
        raise BadData(
            f"{trouble} called “{words}”",
            remedy=f"Give its identity (see --json) or its name. Some: {', '.join(names)}.",
        )
    return found[0]


def _title(item: Element) -> str:
    from canvas.site.records import kind_of

    label = kind_of(item).label
    return f"{label}: {item.name}  [{item.id}]" if item.name else f"{label}  [{item.id}]"


def _write_facts(study: Study, found: tuple[Fact, ...]) -> None:
    system = study.plan.site.unit_system()
    for fact in found:
        tail = ", ".join(part for part in (fact.basis, fact.remark) if part)
        click.echo(f"  {fact.label:<32} {fact.shown(system)}{f'  ({tail})' if tail else ''}")


def _write_json(value: dict[str, Any]) -> None:
    plain = codecs.lookup(sys.stdout.encoding or "ascii").name != "utf-8"
    click.echo(json.dumps(value, indent=1, ensure_ascii=plain, allow_nan=False))


@main.command(epilog=_example("hillwright check ~/land/kestrel_rise --rules victoria --json"))
@click.argument("site", type=SITE)
@click.option("--rules", "sets", multiple=True, metavar="SET", help="In place of the site's own.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON (documented in the README).")
def check(site: Path, sets: tuple[str, ...], as_json: bool) -> None:
    """Check SITE against its rules. Exit 0 clean, 1 with failing findings, 2 on trouble."""
    from canvas.site.records import changed
    from canvas.study.as_json import findings_json

    with _opened(site) as (session, study):
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
            _write_json(findings_json(asked, found))
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


@main.command("map", epilog=_example("hillwright map ~/land/kestrel_rise slope slope.tif"))
@click.argument("site", type=SITE)
@click.argument("kind")
@click.argument("out", type=FILE)
@click.option("--month", type=click.IntRange(0, 12), default=0, help="For energy; 0: the year.")
@click.option("--at", "place", default="", help="For catchment: an element, or EAST,NORTH [m].")
def map_verb(site: Path, kind: str, out: Path, month: int, place: str) -> None:
    """Work out a map of SITE (height, slope, aspect, hillshade, energy, flow, catchment …)."""
    from canvas.exchange.rasters import write_grid
    from canvas.study.maps import catchment_map, map_kind

    if out.suffix.lower() not in (".tif", ".tiff"):
        raise BadData(
            f"a map is written as a GeoTIFF, not “{out.suffix}”",
            where=out.name,
            remedy="Name it .tif or .tiff.",
        )
    _folder_there(out)
    with _opened(site) as (_, study):
        if kind == "catchment":
            answer = catchment_map(study, _place(study, place))
        else:
            options = {"month": float(month)} if map_kind(kind).by_month else {}
            answer = study.map(kind, **options)
        label = f"{answer.label}; {answer.note}" if answer.note else answer.label
        write_grid(out, answer.grid, study.plan.site.crs, description=label, unit=answer.unit)
    click.echo(f"{answer.label} is in {out}")
    if answer.note:
        click.echo(f"({answer.note})")


def _place(study: Study, words: str) -> BaseGeometry:
    """Return the place meant by "EAST,NORTH" or by an element's name."""
    from shapely import Point

    if not words:
        raise click.UsageError("catchment needs --at: an element, or EAST,NORTH in metres")
    try:
        east, north = (float(part) for part in words.split(","))
    except ValueError:
        return _find(study, words).geometry
    return Point(east, north)


@main.command(epilog=_example("hillwright sheet ~/land/kestrel_rise plan.pdf --paper A1"))
@click.argument("site", type=SITE)
@click.argument("out", type=FILE)
@click.option("--paper", default="A3", help="A4 to A0, or a US size. Default A3.")
@click.option("--scale", type=float, help="The n of 1:n; left out: the best round scale.")
@click.option("--portrait", is_flag=True, help="Upright; left out: on its long side.")
@click.option("--phase", default="", help="As built up to this phase, by its name or number.")
@click.option("--contours", type=float, metavar="M", help="Interval of contours [m]; 0: none.")
@click.option("--mono", is_flag=True, help="For black-and-white printers.")
def sheet(
    site: Path,
    out: Path,
    paper: str,
    scale: float | None,
    portrait: bool,
    phase: str,
    contours: float | None,
    mono: bool,
) -> None:
    """Print the plan sheet of SITE to OUT (.pdf or .png) at true scale."""
    from canvas.paint.export import write_sheet
    from canvas.sheets.plan_sheet import SheetOptions, plan_sheet
    from canvas.site.facts import Picture

    _folder_there(out)
    palette = "mono" if mono else "paper"
    with _opened(site) as (session, whole):
        study = whole.at_phase(_phase(whole, phase)) if phase else whole
        options = SheetOptions(
            paper=paper, landscape=not portrait, scale=scale, contours_m=contours, palette=palette
        )
        pages = plan_sheet(study, options, folder=session.folder)
        written = write_sheet(pages, out, palette=palette)
        told = " ".join((*session.notices, study.land.trouble))
        pictures = session.plan.of(Picture)
    missing = tuple(f"The picture “{p.name}”" for p in pictures if p.file in told)
    for note in pages[0].notes:
        if note.rstrip(".") not in told and not note.startswith(missing):
            click.echo(note, err=True)
    for file in written:
        click.echo(f"The plan sheet is in {file}")


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


@main.command(epilog=_example("hillwright export ~/land/kestrel_rise trees.gpx --kind tree"))
@click.argument("site", type=SITE)
@click.argument("out", type=FILE)
@click.option("--kind", "kinds", multiple=True, help="Only this kind; repeat for several.")
def export(site: Path, out: Path, kinds: tuple[str, ...]) -> None:
    """Write what is drawn to OUT: .geojson, .gpx, .kml, .csv or .gpkg."""
    from canvas.exchange.write import export as write
    from canvas.site.records import kind, kind_of

    wanted = {kind(key).key for key in kinds}
    with _opened(site) as (session, _):
        chosen = [
            item for item in session.plan.elements() if not wanted or kind_of(item).key in wanted
        ]
        written = write(out, chosen, crs=session.plan.site.crs)
    click.echo(f"Elements written to {out}: {written.count}")
    for note in written.notes:
        click.echo(note, err=True)


@main.command("import", epilog=_example("hillwright import ~/land/hill oaks.gpx --as tree"))
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

    with _opened(site, write=True) as (session, _), _progress() as progress:
        brought = bring.elements(session, file, kind, file_crs=crs, layer=layer, progress=progress)
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
