"""A writer to be killed: says what it is about to do, does it, says that it is done.

Run as a program it forks a fresh writer for each job it reads, so that two hundred of them need
not import everything again. One JSON object a line, in and out.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pyproj  # noqa: F401 - here, so that no writer spends its life importing it
import shapely
from shapely.geometry import LineString, Point

from canvas.site.edits import Change, add, put, remove
from canvas.site.elements.access import Track
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Ground, Site
from canvas.site.records import Element, Record, changed, kind_of, values_of
from canvas.site.session import Session

IMPORTED = 150
MOST = 700
WORD = 1 << 64


def mark(item: Record | None) -> int:
    """A number that stands for everything a record holds; None counts nothing."""
    if item is None:
        return 0
    values = {k: float(v) if isinstance(v, int) else v for k, v in values_of(item).items()}
    text = json.dumps([item.id, kind_of(item).key, values], sort_keys=True)
    if isinstance(item, Element):
        text += shapely.to_wkb(item.geometry, hex=True, byte_order=1)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")


def digest(items: Iterable[Record]) -> int:
    """A number that stands for a whole plan."""
    return sum(map(mark, items)) % WORD


def after(now: int, changes: Iterable[Change]) -> int:
    """The digest once these changes are carried out."""
    return (now + sum(mark(c.after) - mark(c.before) for c in changes)) % WORD


def say(**words: Any) -> None:
    os.write(1, (json.dumps(words) + "\n").encode())


class Writer:
    """Edits a site without end."""

    def __init__(self, session: Session, seed: int) -> None:
        self.session = session
        self.random = random.Random(seed)
        self.digest = digest(session.plan)

    def step(self, what: str, changes: Iterable[Change], act: Callable[[], object]) -> None:
        then = after(self.digest, changes)
        say(intent=what, digest=then, revision=self.session.revision + 1)
        act()
        self.digest = then
        say(done=what, digest=then, revision=self.session.revision)

    def place(self) -> Point:
        return Point(self.random.uniform(0, 1000), self.random.uniform(0, 1000))

    def edit(self) -> None:
        trees = self.session.plan.of(Tree)
        if trees and self.random.random() < 0.7:
            tree = self.random.choice(trees)
            then = changed(tree, geometry=self.place(), height_m=self.random.uniform(1, 20))
            key = self.random.choice([None, "nudge"])
            made = put("Move", [(tree, then)], key)
        else:
            made = add("Draw", [Track(geometry=LineString([self.place(), self.place()]))])
        self.step("edit", made.changes, lambda: self.session.apply(made))

    def bring(self) -> None:
        trees = self.session.plan.of(Tree)
        if len(trees) > MOST:
            made = remove("Clear", trees[:-IMPORTED])
        else:
            made = add("Import", [Tree(geometry=self.place()) for _ in range(IMPORTED)])
        self.step("import", made.changes, lambda: self.session.apply(made))

    def raster(self) -> None:
        source = self.session.folder / "incoming.bin"
        source.write_bytes(self.random.randbytes(self.random.randrange(100_000, 800_000)))
        say(intent="raster", digest=self.digest, revision=self.session.revision)
        name = self.session.adopt(source, stem="ground")
        grounds = self.session.plan.of(Ground)
        made = (
            put("Replace ground", [(grounds[0], changed(grounds[0], file=name))])
            if grounds
            else add("Bring in ground", [Ground(file=name)])
        )
        self.step("raster", made.changes, lambda: self.session.apply(made))

    def undo(self) -> None:
        steps = self.session.undo_steps()
        if steps:
            changes = [Change(c.after, c.before) for c in self.session.changes_of(steps[0].number)]
            self.step("undo", changes, self.session.undo)

    def redo(self) -> None:
        steps = self.session.redo_steps()
        if steps:
            self.step("redo", self.session.changes_of(steps[0].number), self.session.redo)

    def go_on(self) -> None:
        while True:
            sort = self.random.choices("eirur", [5, 2, 1, 3, 3])[0]
            act = {"e": self.edit, "i": self.bring, "u": self.undo}.get(sort)
            if act is not None:
                act()
            elif self.random.random() < 0.3:
                self.raster()
            else:
                self.redo()
            if self.random.random() < 0.2:
                self.session.release()


def work(job: dict[str, Any]) -> None:
    folder = Path(job["folder"])
    say(pid=os.getpid())
    if job["what"] == "start":
        say(intent="start")
        session = Session.start(folder, Site(name="Made up", crs="EPSG:7854"))
        say(done="start", digest=digest(session.plan), revision=session.revision)
    else:
        say(intent="open")
        session = Session.open(folder)
        say(done="open", digest=digest(session.plan), revision=session.revision)
    Writer(session, job["seed"]).go_on()


def main() -> None:
    for line in sys.stdin:
        pid = os.fork()
        if pid == 0:
            try:
                work(json.loads(line))
            finally:
                os._exit(1)
        _, status = os.waitpid(pid, 0)
        say(end=os.waitstatus_to_exitcode(status))


if __name__ == "__main__":
    main()
