"""Another program writes to the site file: taken in as one step, set aside when unusable."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely
from shapely.geometry import LineString, MultiPoint, Point

from canvas.base.errors import StoreTrouble
from canvas.site.edits import add, put, remove
from canvas.site.elements.access import Track
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase, Site
from canvas.site.records import changed
from canvas.site.session import Session, Touched
from canvas.site.store.rows import geometry_blob

Foreign = Callable[..., list[tuple[object, ...]]]


@pytest.fixture
def folder(session: Session) -> Path:
    """A closed site with two trees and a track."""
    session.apply(
        add(
            "Draw",
            [
                Tree(id="oak", geometry=Point(10, 10), name="Oak", height_m=8),
                Tree(id="elm", geometry=Point(20, 20), name="Elm"),
                Track(id="drive", geometry=LineString([(0, 0), (50, 0)])),
            ],
        )
    )
    session.close()
    return session.folder


def test_changes_become_one_step_to_undo(folder: Path, foreign: Foreign) -> None:
    with Session.open(folder) as before:
        plan = before.plan
    foreign(folder, "UPDATE tree SET name='Great oak', height_m=9 WHERE id='oak'")
    foreign(folder, "DELETE FROM tree WHERE id='elm'")
    foreign(
        folder,
        "INSERT INTO tree (geom, name) VALUES (?, 'Ash')",
        geometry_blob(Point(5, 6), 7854),
    )
    with Session.open(folder) as session:
        assert "1 added, 1 changed, 1 removed" in session.notices[0]
        assert [step.label for step in session.undo_steps()] == ["Changed outside", "Draw"]
        oak, ash = session.plan.of(Tree)
        assert (oak.id, oak.name, oak.height_m) == ("oak", "Great oak", 9)
        assert (ash.name, ash.geometry, len(ash.id)) == ("Ash", Point(5, 6), 12)
        outside = session.plan
    assert foreign(folder, "SELECT id FROM tree WHERE name='Ash'") == [(ash.id,)]
    with Session.open(folder) as session:
        assert session.notices == ()
        assert session.plan == outside
        assert session.undo() is not None
        assert session.plan == plan
        session.redo()
        assert session.plan == outside


def test_an_untouched_file_is_not_written_on_opening(folder: Path) -> None:
    before = (folder / "site.gpkg").read_bytes()
    Session.open(folder).close()
    Session.open(folder, readonly=True).close()
    assert (folder / "site.gpkg").read_bytes() == before


@pytest.mark.parametrize(
    ("sql", "why"),
    [
        ("UPDATE tree SET height_m=900 WHERE id='oak'", "Height now: 900"),
        ("UPDATE tree SET height_m='tall' WHERE id='oak'", "Height now: 'tall' is not a number"),
        ("UPDATE tree SET status='perhaps' WHERE id='oak'", "Status"),
        ("UPDATE tree SET name=x'00ff' WHERE id='oak'", "Name"),
        ("UPDATE tree SET geom=NULL WHERE id='oak'", "Shape: there is none"),
        ("UPDATE tree SET geom=x'47500001AE1E0000FFFF00000000' WHERE id='oak'", "Shape"),
    ],
)
def test_an_unusable_row_is_set_aside_and_what_was_there_stays(
    folder: Path, foreign: Foreign, sql: str, why: str
) -> None:
    with Session.open(folder) as before:
        plan = before.plan
    with sqlite3.connect(folder / "site.gpkg") as con:
        # A program that knows neither our rules nor the R-tree's triggers.
        con.create_function("ST_IsEmpty", 1, lambda blob: 0 if blob else None)
        for name in ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            con.create_function(name, 1, lambda blob: 0.0)
        con.execute(sql)
    con.close()
    with Session.open(folder) as session:
        assert session.plan == plan
        assert any(why in words and "Trees" in words for words in session.notices)
        assert [step.label for step in session.undo_steps()] == ["Draw"]
    aside = foreign(folder, "SELECT kind, record, why FROM hillwright_set_aside")
    assert len(aside) == 1
    kind, record, words = aside[0]
    assert kind == "tree"
    assert why in str(words)
    assert json.loads(str(record))["id"] == "oak"
    with Session.open(folder) as session:
        assert session.plan == plan
        assert session.notices == ()


def test_a_new_unusable_row_leaves_the_table_but_not_the_file(
    folder: Path, foreign: Foreign
) -> None:
    cross = shapely.from_wkt("POLYGON((0 0, 2 2, 2 0, 0 2, 0 0))")
    foreign(
        folder,
        "INSERT INTO zone (geom, name) VALUES (?, 'Bow tie')",
        geometry_blob(cross, 7854),
    )
    with Session.open(folder) as session:
        assert "crossing near 1.0 E, 1.0 N" in session.notices[0]
        assert session.plan.of_kind("zone") == []
    assert foreign(folder, "SELECT count(*) FROM zone") == [(0,)]
    ((record, geom),) = foreign(folder, "SELECT record, geom FROM hillwright_set_aside")
    assert json.loads(str(record))["name"] == "Bow tie"
    assert geom == geometry_blob(cross, 7854)


def test_columns_and_tables_of_others_are_kept(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "ALTER TABLE tree ADD COLUMN nest TEXT")
    foreign(folder, "ALTER TABLE tree ADD COLUMN photo BLOB")
    foreign(folder, "CREATE TABLE birds (name TEXT)")
    foreign(folder, "INSERT INTO birds VALUES ('wren')")
    foreign(folder, "UPDATE tree SET nest='magpie', photo=x'ff00' WHERE id='oak'")
    query = "SELECT nest, photo FROM tree WHERE id='oak'"
    with Session.open(folder) as session:
        assert session.notices == ()
        oak = session.plan.element("oak")
        later = changed(oak, name="Old oak", geometry=Point(11, 11))
        session.apply(put("Rename", [(oak, later)]))
        assert foreign(folder, query) == [("magpie", b"\xff\x00")]
        session.apply(remove("Fell", [later]))
        assert foreign(folder, query) == []
    with Session.open(folder) as session:
        session.undo()
        session.undo()
        assert session.plan.element("oak") == oak
    assert foreign(folder, query) == [("magpie", b"\xff\x00")]
    assert foreign(folder, "SELECT * FROM birds") == [("wren",)]


def test_identities_survive_being_cleared_or_copied(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "UPDATE tree SET id=NULL, name='Nameless' WHERE id='oak'")
    foreign(
        folder,
        "INSERT INTO note (id, geom, words) VALUES ('elm', ?, 'a copy of another')",
        geometry_blob(Point(1, 1), 7854),
    )
    with Session.open(folder) as session:
        assert session.plan.element("oak").name == "Nameless"
        assert isinstance(session.plan.element("elm"), Tree)
        (note,) = session.plan.of_kind("note")
        assert note.id not in {"elm", "oak"}
    foreign(folder, "UPDATE tree SET id='x' WHERE id='oak'")
    foreign(folder, "UPDATE tree SET id='oak' WHERE id='elm'")
    foreign(folder, "UPDATE tree SET id='elm' WHERE id='x'")
    with Session.open(folder) as session:
        assert session.plan.element("elm").name == "Nameless"
        assert session.plan.element("oak").name == "Elm"
    with Session.open(folder) as session:
        assert session.notices == ()


def test_other_spellings_of_the_same_are_no_change(folder: Path, foreign: Foreign) -> None:
    wkb = shapely.to_wkb(MultiPoint([(10, 10)]))
    blob = b"GP\x00\x01" + (7854).to_bytes(4, "little") + wkb
    foreign(folder, "UPDATE tree SET geom=?, remark=NULL WHERE id='oak'", blob)
    with Session.open(folder) as session:
        assert session.notices == ()
        assert [step.label for step in session.undo_steps()] == ["Draw"]
    assert foreign(folder, "SELECT geom FROM tree WHERE id='oak'") == [
        (geometry_blob(Point(10, 10), 7854),)
    ]


def test_the_site_itself_cannot_be_lost_doubled_or_moved_to_nowhere(
    folder: Path, foreign: Foreign
) -> None:
    with Session.open(folder) as before:
        plan = before.plan
    foreign(folder, "DELETE FROM site")
    with Session.open(folder) as session:
        assert session.plan == plan
    foreign(folder, "INSERT INTO site (id, name, crs) VALUES ('two', 'Two', 'EPSG:7854')")
    foreign(folder, "UPDATE site SET crs='EPSG:4326' WHERE id='site'")
    with Session.open(folder) as session:
        assert session.plan == plan
        assert len(session.notices) == 2
    assert foreign(folder, "SELECT id, crs FROM site") == [("site", "EPSG:7854")]
    assert foreign(folder, "SELECT count(*) FROM hillwright_set_aside") == [(2,)]


def test_a_dropped_table_can_be_undone(folder: Path, foreign: Foreign) -> None:
    with Session.open(folder) as before:
        plan = before.plan
    foreign(folder, "DROP TABLE tree")
    foreign(folder, "DROP TABLE rtree_tree_geom")
    with Session.open(folder) as session:
        assert session.plan.of(Tree) == []
        session.undo()
        assert session.plan == plan
    assert pyogrio.read_info(folder / "site.gpkg", layer="tree")["features"] == 2


def test_a_table_without_geometry_is_refused_untouched(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "DROP TABLE tree")
    foreign(folder, "CREATE TABLE tree (fid INTEGER PRIMARY KEY, id TEXT, shape BLOB)")
    before = (folder / "site.gpkg").read_bytes()
    with pytest.raises(StoreTrouble, match="tree has no column geom"):
        Session.open(folder)
    assert (folder / "site.gpkg").read_bytes() == before


def test_what_changes_while_the_site_is_open_is_taken_in_first(
    folder: Path, foreign: Foreign
) -> None:
    with Session.open(folder) as session:
        heard: list[Touched] = []
        session.listeners.append(heard.append)
        assert session.look_outside() is None
        foreign(folder, "UPDATE tree SET name='Great oak' WHERE id='oak'")
        session.apply(add("Plant", [Tree(id="ash", geometry=Point(1, 1))]))
        assert [(t.what, t.ids) for t in heard] == [("reload", {"oak"}), ("apply", {"ash"})]
        assert session.plan.element("oak").name == "Great oak"
        stale = session.plan.element("oak")
        foreign(folder, "UPDATE tree SET name='Greater oak' WHERE id='oak'")
        with pytest.raises(StoreTrouble, match="another program changed this just now"):
            session.apply(put("Rename", [(stale, changed(stale, name="Mine"))]))
        assert session.plan.element("oak").name == "Greater oak"
        labels = [step.label for step in session.undo_steps()]
        assert labels == ["Changed outside", "Plant", "Changed outside", "Draw"]


def test_another_library_appends_features(folder: Path) -> None:
    """The independent library is GDAL's GeoPackage driver, by way of pyogrio."""
    shapes = np.array([shapely.to_wkb(Point(x, 1)) for x in (1, 2, 3)], dtype=object)
    names = np.array(["a", "b", "c"], dtype=object)
    heights = np.array([1.5, 2.5, 400.0])
    pyogrio.raw.write(
        folder / "site.gpkg",
        shapes,
        [names, heights],
        ["name", "height_m"],
        layer="tree",
        geometry_type="Point",
        crs="EPSG:7854",
        append=True,
    )
    with Session.open(folder) as session:
        assert sorted(tree.name for tree in session.plan.of(Tree)) == ["Elm", "Oak", "a", "b"]
        assert any("2 added" in words for words in session.notices)
        assert any("400" in words for words in session.notices)


def test_a_new_crs_from_outside_is_followed(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "UPDATE site SET crs='EPSG:7855'")
    with Session.open(folder) as session:
        assert session.plan.site.crs == "EPSG:7855"
    assert pyogrio.read_info(folder / "site.gpkg", layer="tree")["crs"] == "EPSG:7855"
    with Session.open(folder) as session:
        assert session.notices == ()
        session.undo()
        assert session.plan.site == Site(name="Made up", crs="EPSG:7854", heights_datum="AHD")
    assert pyogrio.read_info(folder / "site.gpkg", layer="tree")["crs"] == "EPSG:7854"


def test_a_reader_sees_outside_changes_without_writing(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "UPDATE phase SET name='Later' WHERE id='first'")
    before = (folder / "site.gpkg").read_bytes()
    with Session.open(folder, readonly=True) as session:
        assert [phase.name for phase in session.plan.of(Phase)] == ["Later"]
        assert "1 changed" in session.notices[0]
    assert (folder / "site.gpkg").read_bytes() == before


def test_a_file_left_in_another_journal_mode_is_taken_back(folder: Path, foreign: Foreign) -> None:
    with Session.open(folder) as session:
        plan = session.plan
    assert foreign(folder, "PRAGMA journal_mode=WAL") == [("wal",)]
    other = sqlite3.connect(folder / "site.gpkg", isolation_level=None)
    other.execute("UPDATE phase SET name='Later' WHERE id='first'")
    with Session.open(folder, readonly=True) as reader:
        assert [phase.name for phase in reader.plan.of(Phase)] == ["Later"]
    with pytest.raises(StoreTrouble, match="another program"):
        Session.open(folder)
    other.close()
    with Session.open(folder) as session:
        assert session._store._con.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        session.undo()
        assert session.plan == plan
    assert {path.name for path in folder.iterdir()} == {"site.gpkg", "site.lock"}


def test_text_that_is_no_utf8_does_not_keep_the_site_shut(folder: Path, foreign: Foreign) -> None:
    foreign(folder, "UPDATE tree SET name=CAST(x'ff6f616b' AS TEXT) WHERE id='oak'")
    with Session.open(folder) as session:
        assert session.plan.element("oak").name == "\ufffdoak"
        session.undo()
        assert session.plan.element("oak").name == "Oak"
