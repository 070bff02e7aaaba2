"""Rasters and attachments: immutable files beside the site file, named by their content."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
import sys
import time
from collections.abc import Iterable
from pathlib import Path

from canvas.base.errors import BadData
from canvas.base.progress import Progress, silent
from canvas.site.store.trouble import translated

CHUNK_BYTES = 1 << 20
HASH_LETTERS = 16
#: A name that `adopt` gave, wherever it stands in a text.
ADOPTED = re.compile(rf"[a-z0-9_]{{1,24}}-[0-9a-f]{{{HASH_LETTERS}}}(?:\.[a-z0-9]{{1,8}})?")
PART = ".part"
#: A copy not written to for so long [s] is not being made any more.
ABANDONED_S = 24 * 3600


def sync_folder(folder: Path) -> None:
    """Flush a folder's list of files to the disk, where the system can."""
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def checked_name(file: str) -> str:
    """Return the name of a file of the site; `BadData` when it points anywhere else."""
    if not file or file in (".", "..") or re.search(r"[\\/:\0]", file):
        raise BadData(
            f"“{file}” does not name a file of the site",
            remedy="Files of a site lie in its own folder.",
        )
    return file


def adopt(source: Path, folder: Path, stem: str = "", progress: Progress = silent) -> str:
    """Copy a file into the folder under the name of its content, on the disk when this returns.

    Parameters
    ----------
    stem : str
        Plain word the name begins with; "" takes the source's own.

    Returns
    -------
    str
        The name, such as `ground-1f0c2d3e4a5b6c7d.tif`.
    """
    plain = re.sub(r"[^a-z0-9_]+", "_", (stem or source.stem).lower()).strip("_")[:24] or "file"
    suffix = re.sub(r"[^a-z0-9.]", "", source.suffix.lower())[:9]
    if ADOPTED.fullmatch(source.name) and source.parent.samefile(folder):
        return source.name
    temporary = folder / f".adopt-{secrets.token_hex(6)}{PART}"
    try:
        with translated(source if not source.is_file() else folder):
            digest = _copy(source, temporary, progress)
            name = f"{plain}-{digest[:HASH_LETTERS]}{suffix}"
            temporary.replace(folder / name)
            sync_folder(folder)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    return name


def _copy(source: Path, target: Path, progress: Progress) -> str:
    digest = hashlib.sha256()
    total, done = max(source.stat().st_size, 1), 0
    with source.open("rb") as old, target.open("xb") as new:
        while chunk := old.read(CHUNK_BYTES):
            new.write(chunk)
            digest.update(chunk)
            done += len(chunk)
            progress(min(done / total, 1.0), "Copying")
        new.flush()
        os.fsync(new.fileno())
    return digest.hexdigest()


def named_in(texts: Iterable[str]) -> set[str]:
    """Return the names of adopted files that texts speak of."""
    return {name for text in texts for name in ADOPTED.findall(text)}


def abandoned_in(folder: Path) -> set[str]:
    """Return the names of copies that broke off a day or more ago."""
    before = time.time() - ABANDONED_S
    parts = (path for path in folder.glob(f".adopt-*{PART}") if path.stat().st_mtime < before)
    return {path.name for path in parts}


def adopted_in(folder: Path) -> set[str]:
    """Return the names of the adopted files in a folder."""
    return {path.name for path in folder.iterdir() if ADOPTED.fullmatch(path.name)}
