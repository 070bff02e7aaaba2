"""A writer killed at any moment: every edit it acknowledged is there, and the site opens.

More than two hundred kills, aimed to land inside edits, imports, raster writes, undo, redo,
migrations and the making of a site, each at a random moment of it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from faults.store_writer import digest

from canvas.site.facts import Ground, Site
from canvas.site.session import Session

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="kills by signal and forks"),
]
TESTS = Path(__file__).parents[1]
FIRST_FORM = (TESTS / "site" / "old" / "first_form.sql").read_text(encoding="utf-8")
#: Within so many seconds of the beginning the kill comes; about what the work takes.
SPANS_S = {"edit": 0.004, "import": 0.04, "raster": 0.02, "undo": 0.006, "redo": 0.006}
ROUNDS = 40


class Nursery:
    """The program that forks writers, and what the last one said."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(Path(__file__).parent / "store_writer.py")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
            cwd=TESTS.parent,
            env={**os.environ, "PYTHONPATH": str(TESTS.parent)},
        )

    def hear(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "the writer's program ended"
        said: dict[str, Any] = json.loads(line)
        return said

    def kill(self, what: str, folder: Path, seed: int, target: str, delay_s: float) -> Said:
        """Run a writer, kill it `delay_s` after it begins its first `target`."""
        assert self.process.stdin is not None
        self.process.stdin.write(
            json.dumps({"what": what, "folder": str(folder), "seed": seed}) + "\n"
        )
        pid, said = self.hear()["pid"], Said()
        until = time.monotonic() + 20
        while not said.end:
            heard = self.hear()
            said.note(heard)
            if heard.get("intent") == target and not said.killed:
                said.killed = True
                time.sleep(delay_s)
                os.kill(pid, signal.SIGKILL)
            assert time.monotonic() < until, f"no {target} came"
        return said


class Said:
    """What a writer acknowledged last, and what it was doing when it died."""

    def __init__(self) -> None:
        self.killed = False
        self.end = 0
        self.done: dict[str, Any] | None = None
        self.intent: dict[str, Any] | None = None
        self.acknowledged = 0

    def note(self, heard: dict[str, Any]) -> None:
        if "end" in heard:
            self.end = heard["end"]
            assert self.end == -signal.SIGKILL, "the writer ended by itself"
        elif "done" in heard:
            self.done, self.intent = heard, None
            self.acknowledged += 1
        else:
            self.intent = heard

    @property
    def inside(self) -> str:
        return self.intent["intent"] if self.intent else ""


@pytest.fixture(scope="module")
def nursery() -> Iterator[Nursery]:
    made = Nursery()
    yield made
    with contextlib.suppress(OSError):
        made.process.stdin.close()  # type: ignore[union-attr]
    made.process.stdout.close()  # type: ignore[union-attr]
    made.process.wait(10)


def check(session: Session, said: Said) -> None:
    """Everything acknowledged is there; what was under way is there whole or not at all."""
    assert not session.readonly, session.readonly_reason
    assert session.notices == ()
    found = (session.revision, digest(session.plan))
    allowed = []
    if said.done is not None:
        allowed.append((said.done["revision"], said.done["digest"]))
    if said.intent is not None and "digest" in said.intent:
        allowed.append((said.intent["revision"], said.intent["digest"]))
    assert found in allowed
    for ground in session.plan.of(Ground):
        content = session.path_of(ground.file).read_bytes()
        assert hashlib.sha256(content).hexdigest()[:16] in ground.file


def check_deeply(folder: Path) -> None:
    """The database is sound, its R-trees agree, and history leads back and forth."""
    con = sqlite3.connect(folder / "site.gpkg")
    assert con.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    for kind in ("tree", "track"):
        assert con.execute(f"SELECT rtreecheck('rtree_{kind}_geom')").fetchone() == ("ok",)
        counts = con.execute(
            f"SELECT (SELECT count(*) FROM {kind}), (SELECT count(*) FROM rtree_{kind}_geom)"
        ).fetchone()
        assert counts[0] == counts[1]
    con.close()
    with Session.open(folder) as session:
        plan, steps = session.plan, 0
        while steps < 5 and session.undo():
            steps += 1
        for _ in range(steps):
            session.redo()
        assert session.plan == plan


def test_no_acknowledged_edit_is_lost(nursery: Nursery, tmp_path: Path) -> None:
    rng = random.Random(20260331)
    Session.start(tmp_path, Site(name="Made up", crs="EPSG:7854")).close()
    landed: Counter[str] = Counter()
    kills = acknowledged = 0
    for turn in range(ROUNDS):
        for target, span in SPANS_S.items():
            said = nursery.kill("open", tmp_path, rng.random(), target, rng.uniform(0, span))
            kills += 1
            acknowledged += said.acknowledged
            landed[said.inside] += 1
            with Session.open(tmp_path) as session:
                check(session, said)
                session.tidy() if turn % 8 == 0 else None
        if turn % 8 == 7:
            check_deeply(tmp_path)
    check_deeply(tmp_path)
    assert kills == ROUNDS * len(SPANS_S) == 200
    assert acknowledged > kills
    assert min(landed[target] for target in SPANS_S) >= 5, landed


def test_a_migration_killed_at_any_moment(nursery: Nursery, tmp_path: Path) -> None:
    rng = random.Random(20260401)
    inside = 0
    expected: int | None = None
    for turn in range(24):
        folder = tmp_path / str(turn)
        folder.mkdir()
        con = sqlite3.connect(folder / "site.gpkg")
        con.executescript(FIRST_FORM)
        con.close()
        said = nursery.kill("open", folder, turn, "open", rng.uniform(0, 0.06))
        inside += said.inside == "open"
        with Session.open(folder) as session:
            if said.done is not None:
                check(session, said)
            else:
                expected = expected or digest(session.plan)
                assert digest(session.plan) == expected
                assert session.plan.element("oak").name == "Oak"
                assert [step.label for step in session.past_steps()] == ["Move", "Plant"]
    assert inside >= 8


def test_a_site_begun_is_whole_or_not_there(nursery: Nursery, tmp_path: Path) -> None:
    rng = random.Random(20260402)
    site = Site(name="Made up", crs="EPSG:7854")
    began = time.monotonic()
    Session.start(tmp_path / "timed", site).close()
    took_s = time.monotonic() - began
    inside = 0
    for turn in range(16):
        folder = tmp_path / str(turn)
        said = nursery.kill("start", folder, turn, "start", rng.uniform(0, took_s))
        inside += said.inside == "start"
        if said.done is None and not Session.is_site(folder):
            Session.start(folder, site).close()
        with Session.open(folder) as session:
            if said.done is not None:
                check(session, said)
            assert session.plan.site == site
            assert session.undo_steps() == [] or said.done is not None
    assert inside >= 4
