"""What verbs share: the group they belong to, sites opened, progress shown, elements found."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from canvas import __version__
from canvas.base.errors import BadData, Cancelled, UserError

if TYPE_CHECKING:
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
        ctx.invoke(main.commands["open"], site=None)


def example(words: str) -> str:
    """Return the last paragraph of a verb's help."""
    return f"\b\nExample:\n  {words}"


@contextmanager
def opened(site: Path, *, write: bool = False) -> Iterator[tuple[Session, Study]]:
    """Open a site and study it; what was noticed goes to standard error."""
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
def progress() -> Iterator[Any]:
    """Show how far long work is, on a terminal only."""
    shown = sys.stderr.isatty()

    def report(fraction: float, note: str = "") -> None:
        if shown:
            click.echo(f"\r{fraction:4.0%} {note:<60.60}", nl=False, err=True)

    yield report
    if shown:
        click.echo("\r" + " " * 66 + "\r", nl=False, err=True)


def find(study: Study, words: str) -> Element:
    """Return the element of that identity, name or kind; `BadData` unless there is just one."""
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


def title(item: Element) -> str:
    """Return an element's kind, name and identity."""
    from canvas.site.records import kind_of

    label = kind_of(item).label
    return f"{label}: {item.name}  [{item.id}]" if item.name else f"{label}  [{item.id}]"
