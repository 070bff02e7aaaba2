"""Files of other versions: older ones are brought to today's form, newer ones left alone."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pyogrio
import pytest
from shapely.geometry import LineString, Point

from canvas.base.errors import FileTooNew, StoreTrouble
from canvas.site.edits import add
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase
from canvas.site.records import kinds
from canvas.site.session import Session
from canvas.site.store import steps

Foreign = Callable[..., list[tuple[object, ...]]]
#: Written by the program before it kept other programs' columns, and never changed since.
FIRST_FORM = Path(__file__).parent / "old" / "first_form.sql"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    con = sqlite3.connect(tmp_path / "site.gpkg")
    con.executescript(FIRST_FORM.read_text(encoding="utf-8"))
    con.close()
    return tmp_path


def test_an_older_file_is_brought_to_todays_form(old: Path, foreign: Foreign) -> None:
    with Session.open(old) as session:
        oak, elm = session.plan.element("oak"), session.plan.element("elm")
        assert oak == Tree(id="oak", geometry=Point(600011, 5800010), name="Oak", height_m=8.5)
        assert elm == Tree(id="elm", geometry=Point(600020, 5800020), name="Elm")
        assert session.plan.of(Phase) == [Phase(id="first", name="First")]
        assert (session.revision, session.notices) == (2, ())
        assert session.undo_steps() == [], "a migration ends undo"
        assert session.undo() is None
        assert [step.label for step in session.past_steps()] == ["Move", "Plant"]
        number = session.past_steps()[0].number
        (change,) = session.changes_of(number)
        assert change.before is not None
        assert change.after == oak
        session.apply(add("Draw", [Tree(id="ash", geometry=Point(600030, 5800030))]))
        assert [step.label for step in session.past_steps()] == ["Draw", "Move", "Plant"]
    with Session.open(old) as session:
        assert [step.label for step in session.undo_steps()] == ["Draw"]
        session.undo()
        assert session.undo() is None
        session.redo()
    names = [row[0] for row in foreign(old, "SELECT name FROM hillwright_migrations")]
    assert names == [step.NAME for step in steps.ALL]
    assert {name for name, _ in pyogrio.list_layers(old / "site.gpkg")} == set(kinds())
    assert "clear_stem_m" in pyogrio.read_info(old / "site.gpkg", layer="tree")["fields"]


def test_a_reader_leaves_an_older_file_as_it_is(old: Path) -> None:
    before = (old / "site.gpkg").read_bytes()
    with Session.open(old, readonly=True) as session:
        assert session.plan.element("oak").name == "Oak"
    assert (old / "site.gpkg").read_bytes() == before


def test_a_failing_migration_leaves_the_file_as_it_was(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (old / "site.gpkg").read_bytes()

    def fail(con: sqlite3.Connection) -> None:
        con.execute("DROP TABLE hillwright_seen")
        con.execute("SELECT * FROM nowhere")

    with monkeypatch.context() as patched:
        patched.setattr(steps.m002_foreign, "run", fail)
        with pytest.raises(StoreTrouble, match="nowhere"):
            Session.open(old)
    assert (old / "site.gpkg").read_bytes() == before
    with Session.open(old) as session:
        assert len(session.plan.of(Tree)) == 2


@pytest.mark.parametrize(
    "sql",
    [
        "INSERT INTO hillwright_migrations VALUES ('m999_later', '2030-01-01T00:00:00.000Z')",
        "INSERT INTO hillwright_kinds VALUES ('airship', '[\"name\"]')",
        "UPDATE hillwright_kinds SET fields='[\"name\", \"soul\"]' WHERE kind='tree'",
    ],
)
@pytest.mark.parametrize("readonly", [True, False])
def test_a_file_from_a_later_version_is_not_touched(
    session: Session, foreign: Foreign, sql: str, readonly: bool
) -> None:
    session.close()
    foreign(session.folder, sql)
    before = (session.folder / "site.gpkg").read_bytes()
    with pytest.raises(FileTooNew, match="later version") as caught:
        Session.open(session.folder, readonly=readonly)
    assert "site.gpkg" in caught.value.where
    assert (session.folder / "site.gpkg").read_bytes() == before
    left = {path.name for path in session.folder.iterdir()}
    assert left == {"site.gpkg", "site.lock"}


def test_a_new_kind_or_field_does_not_end_undo(session: Session, foreign: Foreign) -> None:
    tree = Tree(id="oak", geometry=Point(0, 0), name="Oak")
    session.apply(add("Plant", [tree]))
    session.close()
    # As an earlier version would have left it: without a kind's table and a field's column.
    for sql in (
        "DROP TABLE hedge",
        "DROP TABLE rtree_hedge_geom",
        "DELETE FROM gpkg_contents WHERE table_name='hedge'",
        "DELETE FROM gpkg_geometry_columns WHERE table_name='hedge'",
        "DELETE FROM hillwright_kinds WHERE kind='hedge'",
        "ALTER TABLE tree DROP COLUMN clear_stem_m",
        "UPDATE hillwright_seen SET record=json_remove(record, '$.clear_stem_m')",
    ):
        foreign(session.folder, sql)
    with Session.open(session.folder) as again:
        assert again.notices == ()
        assert again.plan.get("oak") == tree
        assert [step.label for step in again.undo_steps()] == ["Plant"]
        again.undo()
        again.redo()
        again.apply(add("Plant", [kinds()["hedge"].cls(geometry=LineString([(0, 0), (5, 5)]))]))
    with Session.open(session.folder) as again:
        assert len(again.plan.of_kind("hedge")) == 1
