"""One writer at a time: a lock file that the operating system lets go when its holder dies."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import sys
from pathlib import Path

from canvas.base.errors import SiteReadOnly

# The byte that is locked lies behind the words, so that others may still read who holds it.
_BYTE = 1 << 20
_HELD = {errno.EAGAIN, errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK}


class Lock:
    """The right to write one site file, held until `release` or the end of the process.

    Raises
    ------
    SiteReadOnly
        Another process holds it, or the folder can't be written.
    """

    def __init__(self, site_file: Path) -> None:
        self.path = site_file.with_suffix(".lock")
        try:
            self._fd = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise SiteReadOnly(
                "the folder can't be written",
                where=str(site_file.parent),
                kept="Nothing will be changed.",
                remedy="Allow writing there, or copy the site to a folder of your own.",
            ) from error
        try:
            _take(self._fd)
        except OSError as error:
            holder = self._holder()
            os.close(self._fd)
            if error.errno not in _HELD:
                raise SiteReadOnly(
                    f"this disk can't keep two programs apart ({error.strerror})",
                    where=str(site_file),
                    kept="Nothing will be changed.",
                    remedy="Copy the site to a disk of this machine and open it there.",
                ) from error
            raise SiteReadOnly(
                f"the site is open elsewhere{holder}",
                where=str(site_file),
                kept="Nothing will be changed from here.",
                remedy="Close it there, then open it again here.",
            ) from error
        # Who holds it only serves the notice; a full disk must not stop anybody from opening.
        with contextlib.suppress(OSError):
            os.ftruncate(self._fd, 0)
            os.write(self._fd, f"process {os.getpid()} on {socket.gethostname()}\n".encode())

    def _holder(self) -> str:
        try:
            os.lseek(self._fd, 0, os.SEEK_SET)
            words = os.read(self._fd, 200).decode("utf-8", "replace").strip()
        except OSError:
            return ""
        return f" ({words})" if words else ""

    def release(self) -> None:
        """Let go. The file stays: removing it would race with the next one to lock it."""
        _let_go(self._fd)
        os.close(self._fd)


if sys.platform == "win32":
    import msvcrt

    def _take(fd: int) -> None:
        os.lseek(fd, _BYTE, os.SEEK_SET)
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        os.lseek(fd, 0, os.SEEK_SET)

    def _let_go(fd: int) -> None:
        # Closing lets go too, but there some time after: the site may be opened again at once.
        os.lseek(fd, _BYTE, os.SEEK_SET)
        msvcrt.locking(fd, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _take(fd: int) -> None:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _let_go(_fd: int) -> None:
        """Leave it to closing, which lets go at once."""
