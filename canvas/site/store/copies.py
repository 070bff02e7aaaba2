"""Whole sites: reading a copy, making one, and tidying up what no site in a folder needs."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

from canvas.base.errors import SiteReadOnly, StoreTrouble, UserError
from canvas.site.store import files
from canvas.site.store.database import Store
from canvas.site.store.lock import Lock
from canvas.site.store.trouble import folder_read_only, translated


def read(file: Path) -> Store:
    """Return a site file's copy in memory.

    After a crash the file needs its rollback journal played back, which only a writer can do; then
    it is opened for writing for a moment, where that is allowed.
    """
    try:
        return Store.read(file)
    except UserError:
        if not file.with_name(file.name + "-journal").exists():
            raise
        try:
            lock = Lock(file)
        except SiteReadOnly:
            raise StoreTrouble(
                "the program stopped while writing to this site, and the site can't be mended here",
                where=str(file),
                kept="Everything acknowledged before is in the file and its -journal.",
                remedy="Copy the whole folder to where you can write, and open it there.",
            ) from None
        try:
            Store.open(file).close()
            return Store.read(file)
        finally:
            lock.release()


def refuse_unwritable(file: Path) -> None:
    """Raise `SiteReadOnly` when the file or its folder forbids writing."""
    if not (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)):
        raise folder_read_only(file)


def copy(file: Path, store: Store, target: Path) -> None:
    """Copy a site and the files it needs to another place."""
    if target.exists():
        raise StoreTrouble(
            "there is a site already",
            where=str(target),
            kept="It was left as it is.",
            remedy="Choose another folder or name.",
        )
    with translated(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.parent.samefile(file.parent):
            for name in sorted(files.named_in(store.texts()) & files.adopted_in(file.parent)):
                if not (target.parent / name).exists():
                    _copy_file(file.parent / name, target.parent / name)
    store.copy_to(target)


def _copy_file(source: Path, target: Path) -> None:
    part = target.with_name(f".{target.name}{files.PART}")
    shutil.copyfile(source, part)
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    part.replace(target)


def tidy(file: Path, store: Store) -> list[str]:
    """Remove adopted files that no site file in the folder speaks of; return their names."""
    needed = files.named_in(store.texts())
    for other in sorted(file.parent.glob("*.gpkg")):
        if not other.samefile(file):
            needed |= _needed_by(other)
    spare = sorted(files.adopted_in(file.parent) - needed)
    with translated(file.parent):
        for name in (*spare, *sorted(files.abandoned_in(file.parent))):
            (file.parent / name).unlink()
    return spare


def _needed_by(other: Path) -> set[str]:
    """Return the files another site in the folder needs; those of no site need none."""
    with translated(other):
        con = sqlite3.connect(f"{other.absolute().as_uri()}?mode=ro", uri=True)
        try:
            ours = con.execute(
                "SELECT 1 FROM sqlite_master WHERE name='hillwright_seen'"
            ).fetchone()
        finally:
            con.close()
    if ours is None:
        return set()
    store = read(other)
    try:
        return files.named_in(store.texts())
    finally:
        store.close()
