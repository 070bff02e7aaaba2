"""What can go wrong, as one small tree.

CanvasError
├── InputError      a caller inside the program passed something unusable (also a ValueError)
├── UserError       text written for the person at the desk: what, where, what was kept, the way out
│   ├── BadData         a file or a typed value cannot be used
│   ├── FileTooNew      a site written by a later version
│   ├── SiteReadOnly    the site is open elsewhere, or its folder cannot be written
│   └── StoreTrouble    disk full, folder gone, file damaged
└── Cancelled       the person pressed Cancel; never shown as an error
"""

from __future__ import annotations


class CanvasError(Exception):
    """Root of everything the program raises on purpose."""


class InputError(CanvasError, ValueError):
    """A caller passed something unusable: a fault of the program, not of the person."""


class UserError(CanvasError):
    """Trouble the person can understand and act on.

    Parameters
    ----------
    what : str
        What happened, in one plain sentence.
    where : str
        File, line, layer or field it happened in; "" when there is no place to name.
    kept : str
        What was left untouched; "" when nothing was at stake.
    remedy : str
        The way out.
    """

    def __init__(self, what: str, *, where: str = "", kept: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.kept = kept
        self.remedy = remedy
        super().__init__(self.text())

    def text(self) -> str:
        """Everything there is to say, in reading order, on as many lines as needed."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return "\n".join(part for part in (head, self.kept, self.remedy) if part)


class BadData(UserError):
    """A file or typed value that cannot be used."""


class FileTooNew(UserError):
    """A site written by a later version of the program."""


class SiteReadOnly(UserError):
    """The site cannot be written: it is open elsewhere or its folder is read-only."""


class StoreTrouble(UserError):
    """The disk or the site file failed: full, gone, damaged."""


class Cancelled(CanvasError):
    """The person pressed Cancel."""
