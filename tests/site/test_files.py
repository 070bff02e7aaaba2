"""Rasters and attachments beside the site file, and copies of whole sites."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from canvas.base.errors import BadData, Cancelled, InputError, StoreTrouble
from canvas.site.edits import add, put, remove
from canvas.site.facts import Ground, Picture
from canvas.site.records import changed
from canvas.site.session import Session


def made(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def test_adopted_files_are_named_by_content(session: Session, tmp_path: Path) -> None:
    source = made(tmp_path, "Ground Survey 2026.TIF", b"heights" * 1000)
    digest = hashlib.sha256(source.read_bytes()).hexdigest()
    name = session.adopt(source)
    assert name == f"ground_survey_2026-{digest[:16]}.tif"
    assert session.path_of(name).read_bytes() == source.read_bytes()
    assert session.adopt(source) == name
    assert session.adopt(session.path_of(name)) == name
    assert session.adopt(source, stem="ground") == f"ground-{digest[:16]}.tif"
    assert {path.name for path in session.folder.iterdir()} == {
        "site.gpkg",
        "site.lock",
        name,
        f"ground-{digest[:16]}.tif",
    }


def test_a_cancelled_or_failed_adoption_leaves_nothing(session: Session, tmp_path: Path) -> None:
    before = sorted(session.folder.iterdir())

    def cancel(fraction: float, note: str = "") -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        session.adopt(made(tmp_path, "a.tif", b"x"), progress=cancel)
    with pytest.raises(InputError, match="own file"):
        session.adopt(session.file)
    with pytest.raises(StoreTrouble, match=r"nowhere\.tif"):
        session.adopt(tmp_path / "nowhere.tif")
    assert sorted(session.folder.iterdir()) == before


@pytest.mark.parametrize("name", ["", "..", "../a.tif", "/etc/passwd", "a\\b", "c:x", "a/b"])
def test_no_name_leads_out_of_the_folder(session: Session, name: str) -> None:
    with pytest.raises(BadData, match="does not name a file"):
        session.path_of(name)


def test_a_missing_raster_is_a_notice(session: Session, tmp_path: Path) -> None:
    name = session.adopt(made(tmp_path, "ground.tif", b"heights"))
    session.apply(add("Bring in ground", [Ground(file=name, name="Survey")]))
    session.apply(add("Bring in picture", [Picture(file="../aerial.tif", name="Aerial")]))
    session.close()
    with Session.open(session.folder) as again:
        (words,) = again.notices
        assert words.startswith("Aerial: the file ../aerial.tif is missing")
        plan = again.plan
    (session.folder / name).unlink()
    with Session.open(session.folder) as again:
        assert any(words.startswith(f"Survey: the file {name}") for words in again.notices)
        assert again.plan == plan


def test_tidying_removes_only_what_neither_plan_nor_journal_needs(
    session: Session, tmp_path: Path
) -> None:
    names = [session.adopt(made(tmp_path, f"g{i}.tif", bytes([i]))) for i in range(4)]
    made(session.folder, "mine.tif", b"not ours to remove")
    ground = Ground(file=names[0])
    session.apply(add("Bring in ground", [ground]))
    later = changed(ground, file=names[1])
    session.apply(put("Replace ground", [(ground, later)]))
    session.apply(remove("Remove ground", [later]))
    session.copy_to(session.folder / "option.gpkg")
    old, fresh = (made(session.folder, f".adopt-{word}.part", b"") for word in ("old", "fresh"))
    os.utime(old, (0, 0))
    with Session.open(session.folder / "option.gpkg") as option:
        option.apply(add("Bring in ground", [Ground(file=names[2])]))
        assert session.tidy() == [names[3]]
    left = {path.name for path in session.folder.iterdir()}
    assert old.name not in left
    assert fresh.name in left
    assert {*names[:3], "mine.tif", "site.gpkg", "option.gpkg"} <= left
    assert names[3] not in left
    session.undo()
    session.undo()
    assert session.plan.of(Ground) == [ground]
    assert session.path_of(ground.file).is_file()


def test_nothing_is_tidied_while_another_site_cannot_be_read(session: Session) -> None:
    made(session.folder, "broken.gpkg", b"no database" * 100)
    made(session.folder, "spare-0123456789abcdef.tif", b"x")
    with pytest.raises(StoreTrouble, match=r"broken\.gpkg"):
        session.tidy()
    assert (session.folder / "spare-0123456789abcdef.tif").is_file()


def test_a_copy_is_an_alternative_of_its_own(session: Session, tmp_path: Path) -> None:
    used = session.adopt(made(tmp_path, "ground.tif", b"heights"))
    spare = session.adopt(made(tmp_path, "spare.tif", b"nobody's"))
    ground = Ground(file=used)
    session.apply(add("Bring in ground", [ground]))
    target = session.copy_to(tmp_path / "other")
    assert target == tmp_path / "other" / "site.gpkg"
    with Session.open(tmp_path / "other") as other:
        assert not other.readonly
        assert other.plan == session.plan
        assert other.notices == ()
        assert other.path_of(used).read_bytes() == b"heights"
        assert not other.path_of(spare).exists()
        other.undo()
        assert other.plan.of(Ground) == []
    assert session.plan.of(Ground) == [ground]
    with pytest.raises(StoreTrouble, match="already"):
        session.copy_to(tmp_path / "other")
    with Session.open(session.folder) as reader:
        reader.copy_to(tmp_path / "third")
    with Session.open(tmp_path / "third") as third:
        assert third.plan == session.plan
