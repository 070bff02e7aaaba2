"""Zip archives, opened as if a stranger had packed them to do harm."""

from __future__ import annotations

import stat
import zipfile
from pathlib import Path, PurePosixPath

from canvas.base.errors import BadData

#: All that is unpacked together, and how far one member may swell.
MOST_BYTES = 512 << 20
MOST_MEMBERS = 10_000
MOST_SWELL = 250
#: Below this size any swelling is harmless.
SMALL_BYTES = 4 << 20
REMEDY = "Ask whoever made it for a plain archive, or unpack it yourself and choose the file."


def unpack(path: Path, folder: Path, suffixes: frozenset[str]) -> list[Path]:
    """Unpack the members with these suffixes into `folder`, flat and renamed; return them.

    Members of one stem in one directory keep a common stem, so that files that belong together
    stay together.

    Raises
    ------
    BadData
        Not a sound archive; a path that climbs out, a link, a bomb or a password in it.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                raise BadData(f"the archive holds {len(members)} files", remedy=REMEDY)
            for member in members:
                _check(member)
            wanted = [m for m in members if not m.is_dir() and _suffix(m) in suffixes]
            if sum(m.file_size for m in wanted) > MOST_BYTES:
                raise _bomb(path.name)
            return _write(archive, wanted, folder)
    # A packing the library doesn't know is a RuntimeError there.
    except (zipfile.BadZipFile, EOFError, RuntimeError, ValueError, OSError) as error:
        raise BadData(
            f"the archive is damaged or of a kind that can't be opened ({error})",
            remedy="Fetch it again, or unpack it yourself and choose the file in it.",
        ) from error


def _suffix(member: zipfile.ZipInfo) -> str:
    # Resource forks come along from some systems under the real file's name.
    if "__MACOSX" in member.filename:
        return ""
    return PurePosixPath(member.filename).suffix.lower()


def _check(member: zipfile.ZipInfo) -> None:
    name = member.filename
    parts = PurePosixPath(name.replace("\\", "/")).parts
    if ".." in parts or name.startswith(("/", "\\")) or ":" in name.split("/")[0]:
        raise BadData(
            "the archive would write outside the folder it is unpacked to; it was not opened",
            where=name[:80],
            remedy=REMEDY,
        )
    if stat.S_ISLNK(member.external_attr >> 16):
        raise BadData(
            "the archive holds a link to another file; it was not opened",
            where=name[:80],
            remedy=REMEDY,
        )
    if member.flag_bits & 1:
        raise BadData("the archive is locked with a password", remedy=REMEDY)
    swollen = member.file_size > SMALL_BYTES
    if swollen and member.file_size > MOST_SWELL * max(member.compress_size, 1):
        raise _bomb(name)


def _bomb(name: str) -> BadData:
    return BadData(
        "the archive swells to far more than its size when unpacked; it was not opened",
        where=name[:80],
        remedy=REMEDY,
    )


def _write(archive: zipfile.ZipFile, wanted: list[zipfile.ZipInfo], folder: Path) -> list[Path]:
    """Write members under names of our own making: "1_<stem>.<suffix>", numbered by stem."""
    stems: dict[str, int] = {}
    written = []
    room = MOST_BYTES
    for member in wanted:
        inner = PurePosixPath(member.filename.replace("\\", "/"))
        number = stems.setdefault(str(inner.with_suffix("")).casefold(), len(stems) + 1)
        kept = "".join(c for c in inner.stem if c.isalnum() or c in " -_")[:60].strip()
        target = folder / f"{number}_{kept}{inner.suffix.lower()}"
        with archive.open(member) as source, target.open("wb") as out:
            # The directory may lie about sizes: count what really comes out.
            while block := source.read(1 << 20):
                room -= len(block)
                if room < 0:
                    raise _bomb(member.filename)
                out.write(block)
        written.append(target)
    return written
