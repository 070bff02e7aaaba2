"""Broken site files, a missing disk, a folder that can't be written: said plainly, nothing lost."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest
from shapely.geometry import Point

from canvas.base.errors import BadData, SiteReadOnly, StoreTrouble, UserError
from canvas.site.edits import add
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Site
from canvas.site.session import Session
from canvas.site.store import copies

ROOT = Path(__file__).parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A closed site with enough trees to fill many pages."""
    trees = [Tree(geometry=Point(x, x % 40)) for x in range(800)]
    with Session.start(tmp_path / "hill", Site(name="Hill", crs="EPSG:7854"), trees) as session:
        session.apply(add("Plant", [Tree(id="oak", geometry=Point(1, 1))]))
    return tmp_path / "hill"


def refused(folder: Path) -> UserError:
    """The refusal to open, in both ways, with the file left as it was."""
    file = folder / "site.gpkg"
    before = file.read_bytes()
    with pytest.raises(StoreTrouble) as caught:
        Session.open(folder)
    with pytest.raises(StoreTrouble):
        Session.open(folder, readonly=True)
    assert file.read_bytes() == before
    assert str(file) in caught.value.where
    assert caught.value.remedy
    return caught.value


def test_garbage(folder: Path) -> None:
    (folder / "site.gpkg").write_bytes(os.urandom(100_000))
    assert "damaged or is no site file" in refused(folder).what


def test_an_empty_file(folder: Path) -> None:
    (folder / "site.gpkg").write_bytes(b"")
    assert "nothing of Hillwright" in refused(folder).what


def test_a_database_of_another_kind(folder: Path) -> None:
    (folder / "site.gpkg").unlink()
    con = sqlite3.connect(folder / "site.gpkg")
    con.execute("CREATE TABLE birds (name TEXT)")
    con.close()
    assert "nothing of Hillwright" in refused(folder).what


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.999])
def test_a_truncated_file(folder: Path, share: float) -> None:
    file = folder / "site.gpkg"
    whole = file.read_bytes()
    file.write_bytes(whole[: int(len(whole) * share)])
    assert "damaged" in refused(folder).what


def test_garbage_in_the_middle(folder: Path) -> None:
    file = folder / "site.gpkg"
    whole = bytearray(file.read_bytes())
    con = sqlite3.connect(file)
    (page,) = con.execute("SELECT rootpage FROM sqlite_master WHERE name='tree'").fetchone()
    (size,) = con.execute("PRAGMA page_size").fetchone()
    con.close()
    whole[(page - 1) * size : page * size] = b"\xa5" * size
    file.write_bytes(whole)
    assert "damaged" in refused(folder).what


def test_a_damaged_file_can_be_replaced_by_a_copy(folder: Path, tmp_path: Path) -> None:
    with Session.open(folder) as session:
        plan = session.plan
        session.copy_to(tmp_path / "copy")
    (folder / "site.gpkg").write_bytes(b"nothing")
    shutil.copy(tmp_path / "copy" / "site.gpkg", folder / "site.gpkg")
    with Session.open(folder) as session:
        assert session.plan == plan


def test_a_journal_entry_that_cannot_be_read_ends_only_its_undo(folder: Path) -> None:
    con = sqlite3.connect(folder / "site.gpkg")
    con.execute("UPDATE hillwright_journal SET changes=x'0100112233'")
    con.commit()
    con.close()
    with Session.open(folder) as session:
        plan = session.plan
        with pytest.raises(StoreTrouble, match="step") as caught:
            session.undo()
        assert str(folder) in caught.value.where
        assert session.plan == plan
        session.apply(add("Plant", [Tree(geometry=Point(3, 3))]))
        session.undo()
        assert session.plan == plan


def test_a_folder_that_vanishes(folder: Path, tmp_path: Path) -> None:
    session = Session.open(folder)
    plan = session.plan
    folder.rename(tmp_path / "moved")
    with pytest.raises(UserError) as caught:
        session.apply(add("Plant", [Tree(geometry=Point(2, 2))]))
    assert str(folder) in caught.value.where
    assert session.plan == plan
    (tmp_path / "moved").rename(folder)
    session.apply(add("Plant", [Tree(geometry=Point(2, 2))]))
    session.close()
    with Session.open(folder) as again:
        assert len(again.plan) == len(plan) + 1


def test_another_program_that_holds_the_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Session.open(folder) as session:
        session._store._con.execute("PRAGMA busy_timeout = 50")
        plan = session.plan
        other = sqlite3.connect(folder / "site.gpkg", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreTrouble, match="another program is writing"):
            session.apply(add("Plant", [Tree(geometry=Point(2, 2))]))
        assert session.plan == plan
        other.execute("ROLLBACK")
        other.close()
        session.apply(add("Plant", [Tree(geometry=Point(2, 2))]))


def test_values_a_database_cannot_hold(folder: Path) -> None:
    with Session.open(folder) as session:
        plan = session.plan
        with pytest.raises(BadData, match="can't be stored"):
            session.apply(add("Plant", [Tree(geometry=Point(2, 2), name="half \ud83c")]))
        assert session.plan == plan
        session.apply(add("Plant", [Tree(geometry=Point(2, 2), name="whole 🌳\0")]))
        plan = session.plan
    with Session.open(folder) as session:
        assert session.plan == plan


def as_nobody(folder: Path, script: str, *, nobody: bool = True) -> dict[str, object]:
    """Run a script in a process without the right to write there; what it prints is JSON."""
    head = """
        import json, os, sys
        from pathlib import Path
        from shapely.geometry import Point
        from canvas.base.errors import UserError
        from canvas.site.edits import add
        from canvas.site.elements.vegetation import Tree
        from canvas.site.facts import Site
        from canvas.site.records import kinds
        from canvas.site.session import Session
        from canvas.site.store.geopackage import check_crs
        folder = Path(sys.argv[1])
        kinds()
        check_crs("EPSG:7854", folder)
        if os.getuid() == 0 and len(sys.argv) > 2:
            os.setgid(65534)
            os.setuid(65534)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(head) + textwrap.dedent(script), str(folder)]
        + ["nobody"] * nobody,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said: dict[str, object] = json.loads(done.stdout)
    return said


@pytest.fixture
def open_folder(folder: Path) -> Iterator[Path]:
    """The site where anybody may go.

    Not below `tmp_path`: every run of pytest that begins takes the rights of others on what lies
    above it away.
    """
    above = Path(tempfile.mkdtemp(prefix="hillwright-"))
    above.chmod(0o755)
    found = Path(shutil.move(folder, above / "hill"))
    found.chmod(0o755)
    yield found
    found.chmod(0o755)
    shutil.rmtree(above)


@pytest.fixture
def locked_away(open_folder: Path) -> Path:
    """The site in a folder anybody may read and nobody may write."""
    (open_folder / "site.gpkg").chmod(0o444)
    open_folder.chmod(0o555)
    return open_folder


OPEN = """
    with Session.open(folder) as session:
        said = {"trees": len(session.plan.of(Tree)), "reason": session.readonly_reason}
        try:
            session.apply(add("Plant", [Tree(geometry=Point(1, 1))]))
        except UserError as error:
            said["refusal"] = type(error).__name__
    print(json.dumps(said))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="permissions by user")
def test_a_read_only_folder_opens_for_reading(locked_away: Path) -> None:
    (locked_away / "site.lock").unlink()
    said = as_nobody(locked_away, OPEN)
    assert said["trees"] == 801
    assert "can't be written" in str(said["reason"])
    assert said["refusal"] == "SiteReadOnly"


@pytest.mark.skipif(sys.platform == "win32", reason="permissions by user")
def test_a_read_only_file_with_a_lock_opens_for_reading(locked_away: Path) -> None:
    locked_away.chmod(0o777)
    (locked_away / "site.lock").chmod(0o666)
    said = as_nobody(locked_away, OPEN)
    assert "can't be written" in str(said["reason"])
    assert said["refusal"] == "SiteReadOnly"


@pytest.mark.skipif(sys.platform == "win32", reason="permissions by user")
def test_no_site_is_begun_where_nothing_can_be_written(locked_away: Path) -> None:
    said = as_nobody(
        locked_away,
        """
        said = {}
        for place in (folder / "new", folder / "site2.gpkg"):
            try:
                Session.start(place, Site(crs="EPSG:7854"))
            except UserError as error:
                said[place.name] = [type(error).__name__, error.where]
        print(json.dumps(said))
        """,
    )
    assert said == {
        "new": ["SiteReadOnly", str(locked_away / "new")],
        "site2.gpkg": ["SiteReadOnly", str(locked_away)],
    }


def test_a_disk_that_cannot_lock_opens_for_reading(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from canvas.site.store import lock

    def refuse(fd: int) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(lock, "_take", refuse)
    with Session.open(folder) as session:
        assert "can't keep two programs apart" in session.readonly_reason
        with pytest.raises(SiteReadOnly):
            session.undo()


CRASH = """
    import signal
    session = Session.open(folder)
    con = session._store._con
    con.execute("PRAGMA cache_size = 2")
    con.execute("BEGIN IMMEDIATE")
    con.execute("UPDATE tree SET name = hex(randomblob(400)), remark = 'half done'")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def crash(folder: Path) -> None:
    """Leave a file half written, with the rollback journal that mends it."""
    with pytest.raises(AssertionError):
        as_nobody(folder, CRASH, nobody=False)
    assert (folder / "site.gpkg-journal").stat().st_size > 0


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_a_reader_after_a_crash(open_folder: Path) -> None:
    folder = open_folder
    for path in folder.iterdir():
        path.chmod(0o666)
    folder.chmod(0o777)
    with Session.open(folder, readonly=True) as session:
        plan = session.plan
    crash(folder)
    with Session.open(folder, readonly=True) as session:
        assert session.plan == plan
        assert session.notices == ()
    crash(folder)
    with Session.open(folder) as session:
        assert session.plan == plan
        assert not session.readonly
    crash(folder)
    (folder / "site.gpkg").chmod(0o444)
    (folder / "site.lock").chmod(0o444)
    (folder / "site.gpkg-journal").chmod(0o444)
    folder.chmod(0o555)
    said = as_nobody(
        folder,
        """
        try:
            Session.open(folder)
            said = {}
        except UserError as error:
            said = {"what": error.what, "remedy": error.remedy, "where": error.where}
        print(json.dumps(said))
        """,
    )
    assert "stopped while writing" in str(said["what"])
    assert "Copy the whole folder" in str(said["remedy"])
    assert said["where"] == str(folder / "site.gpkg")
    shutil.copytree(folder, folder.parent / "copy", copy_function=shutil.copyfile)
    (folder.parent / "copy").chmod(0o755)
    with Session.open(folder.parent / "copy") as session:
        assert session.plan == plan


def test_what_forbids_writing_is_asked_of_the_system(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copies.os, "access", lambda path, mode: False)
    with Session.open(folder) as session:
        assert session.readonly
        assert str(folder / "site.gpkg") in session.readonly_reason
