"""A disk that fills up: the step is refused, and everything before it is there."""

from __future__ import annotations

import json
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from shapely.geometry import Point

from canvas.base.errors import StoreTrouble
from canvas.site.edits import add
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Site
from canvas.site.session import Session

ROOT = Path(__file__).parents[2]
MANY = [Tree(geometry=Point(x, x)) for x in range(2000)]


def test_a_full_database_refuses_the_edit(tmp_path: Path) -> None:
    """SQLite itself reports "full" when it may not add pages: the same path as a full disk."""
    with Session.start(tmp_path, Site(crs="EPSG:7854")) as session:
        session.apply(add("Plant", [Tree(geometry=Point(0, 0))]))
        plan, steps, revision = session.plan, session.undo_steps(), session.revision
        con = session._store._con
        (pages,) = con.execute("PRAGMA page_count").fetchone()
        con.execute(f"PRAGMA max_page_count = {pages + 3}")
        for _ in range(3):
            with pytest.raises(StoreTrouble, match="disk is full") as caught:
                session.apply(add("Many", MANY))
            assert "Free some space" in caught.value.remedy
            assert str(tmp_path / "site.gpkg") in caught.value.where
        assert (session.plan, session.undo_steps(), session.revision) == (plan, steps, revision)
        session.undo()
        session.redo()
        con.execute("PRAGMA max_page_count = 1000000")
        session.apply(add("Many", MANY))
        plan = session.plan
    with Session.open(tmp_path) as session:
        assert session.plan == plan


LIMITED = """
    import json, resource, signal, sys
    from pathlib import Path
    from shapely.geometry import Point
    from canvas.base.errors import UserError
    from canvas.site.edits import add
    from canvas.site.elements.vegetation import Tree
    from canvas.site.facts import Site
    from canvas.site.session import Session
    folder = Path(sys.argv[1])
    # A write past the limit fails with EFBIG instead of killing the process.
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    said = {}
    def attempt(name, act):
        try:
            act()
            said[name] = "done"
        except UserError as error:
            said[name] = [type(error).__name__, error.text()]
    session = Session.open(folder)
    size = (folder / "site.gpkg").stat().st_size
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 8192, resource.RLIM_INFINITY))
    before = session.plan
    many = [Tree(geometry=Point(x, x)) for x in range(2000)]
    attempt("edit", lambda: session.apply(add("Many", many)))
    attempt("adopt", lambda: session.adopt(folder / "big.tif"))
    attempt("copy", lambda: session.copy_to(folder / "copy"))
    attempt("start", lambda: Session.start(folder / "new", Site(crs="EPSG:7854"), many))
    said["same"] = session.plan == before
    said["left"] = sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    attempt("later", lambda: session.apply(add("Many", many)))
    print(json.dumps(said))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="limits by resource")
def test_a_disk_without_room_refuses_edit_raster_copy_and_start(tmp_path: Path) -> None:
    folder = tmp_path / "hill"
    with Session.start(folder, Site(crs="EPSG:7854")) as session:
        session.apply(add("Plant", [Tree(geometry=Point(0, 0))]))
        count = len(session.plan)
    (folder / "big.tif").write_bytes(bytes(8_000_000))
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(LIMITED), str(folder)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    for name in ("edit", "adopt", "start"):
        kind, words = said[name]
        assert kind == "StoreTrouble", said
        assert "full" in words or "no room" in words, said
        assert str(folder) in words
    assert said["same"]
    assert said["left"] == sorted(
        ["big.tif", "site.gpkg", "site.lock", "new/site.lock"]
        + (["copy/site.gpkg"] if said["copy"] == "done" else [])
    )
    assert said["later"] == "done"
    with Session.open(folder) as session:
        assert len(session.plan) == count + 2000
        assert [step.label for step in session.undo_steps()] == ["Many", "Plant"]
