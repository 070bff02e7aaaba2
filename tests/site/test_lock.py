"""One writer at a time, by the system's own lock; the Windows way over a stand-in for its library.

The stand-in keeps what the documentation of `msvcrt.locking` says: bytes are locked from where the
file stands, also past its end; LK_NBLCK fails at once when another holds one of them; LK_UNLCK
lets go of what was locked. The locks below it are the kernel's own, of files, not of processes.
"""

from __future__ import annotations

import errno
import importlib.util
import os
import struct
import sys
import types
from pathlib import Path

import pytest

from canvas.base.errors import SiteReadOnly
from canvas.site.session import Session
from canvas.site.store import lock


class Msvcrt(types.ModuleType):
    """`msvcrt` as far as locking goes."""

    LK_UNLCK, LK_NBLCK = 0, 2

    def __init__(self) -> None:
        super().__init__("msvcrt")
        #: First byte and count of every range that is locked, by file.
        self.held: dict[int, tuple[int, int]] = {}
        self.taken = 0

    def locking(self, fd: int, mode: int, nbytes: int) -> None:
        import fcntl

        assert mode in (self.LK_UNLCK, self.LK_NBLCK), "waiting would hold the desk up"
        start = os.lseek(fd, 0, os.SEEK_CUR)
        if mode == self.LK_UNLCK:
            assert self.held.pop(fd) == (start, nbytes), "what is let go was locked so"
        kind = fcntl.F_WRLCK if mode == self.LK_NBLCK else fcntl.F_UNLCK
        # struct flock of Linux: type, whence, start, length, process.
        asked = struct.pack("hhqqi4x", kind, os.SEEK_SET, start, nbytes, 0)
        try:
            fcntl.fcntl(fd, fcntl.F_OFD_SETLK, asked)
        except BlockingIOError as error:
            raise PermissionError(errno.EACCES, "Permission denied") from error
        if mode == self.LK_NBLCK:
            self.held[fd] = start, nbytes
            self.taken += 1


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> tuple[types.ModuleType, Msvcrt]:
    """The module as Windows loads it, and the library it locks with."""
    if not sys.platform.startswith("linux"):
        pytest.skip("locks of open files are Linux's")
    library = Msvcrt()
    spec = importlib.util.spec_from_file_location("lock_of_windows", lock.__file__)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with monkeypatch.context() as patch:
        patch.setitem(sys.modules, "msvcrt", library)
        patch.setattr(sys, "platform", "win32")
        spec.loader.exec_module(module)
    return module, library


def test_windows_keeps_a_second_writer_out_until_the_first_lets_go(
    windows: tuple[types.ModuleType, Msvcrt], tmp_path: Path
) -> None:
    module, _ = windows
    site = tmp_path / "site.gpkg"
    first = module.Lock(site)
    with pytest.raises(SiteReadOnly, match="open elsewhere") as caught:
        module.Lock(site)
    assert f"process {os.getpid()}" in caught.value.what
    first.release()
    second = module.Lock(site)
    second.release()
    # Another site is nobody's business.
    module.Lock(tmp_path / "other.gpkg").release()


def test_windows_locks_behind_the_words_that_others_read(
    windows: tuple[types.ModuleType, Msvcrt], tmp_path: Path
) -> None:
    """There, bytes that are locked can't be read by others either."""
    module, library = windows
    held = module.Lock(tmp_path / "site.gpkg")
    words = held.path.read_text()
    assert words.startswith(f"process {os.getpid()} on ")
    ((start, count),) = library.held.values()
    assert count == 1
    assert start > len(words)
    # Nothing was written out there: the file is as long as its words.
    assert held.path.stat().st_size == len(words)
    held.release()


def test_windows_tells_a_disk_without_locks_from_one_that_is_held(
    windows: tuple[types.ModuleType, Msvcrt], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    module, library = windows

    def refuse(_fd: int, _mode: int, _count: int) -> None:
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(library, "locking", refuse)
    with pytest.raises(SiteReadOnly, match="can't keep two programs apart"):
        module.Lock(tmp_path / "site.gpkg")


def test_a_site_is_written_by_one_and_read_by_the_next_on_windows(
    windows: tuple[types.ModuleType, Msvcrt], session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    module, library = windows
    folder = session.folder
    session.close()
    monkeypatch.setattr("canvas.site.session.Lock", module.Lock)
    with Session.open(folder) as first:
        assert not first.readonly
        with Session.open(folder) as second:
            assert "open elsewhere" in second.readonly_reason
            assert second.plan == first.plan
    with Session.open(folder) as third:
        assert not third.readonly
    assert (library.taken, library.held) == (2, {})
