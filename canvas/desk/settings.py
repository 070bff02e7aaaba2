"""What the desk remembers between runs: theme, recent sites, where the window stood."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_config_path, user_documents_path, user_log_path
from PySide6.QtCore import QByteArray, QSettings

NAME = "hillwright"
KEPT_SITES = 8


def config_folder() -> Path:
    """Return the folder the settings lie in."""
    return user_config_path(NAME, appauthor=False)


def log_file() -> Path:
    """Return the file a fault of the program is written to."""
    return user_log_path(NAME, appauthor=False) / "faults.log"


def sites_folder() -> Path:
    """Return the folder new sites are offered in."""
    return user_documents_path() / "Hillwright"


class Settings:
    """The remembered settings, in one INI file a person can read."""

    def __init__(self, file: Path | None = None) -> None:
        path = file if file is not None else config_folder() / "desk.ini"
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    def text(self, key: str, default: str = "") -> str:
        """Return a remembered word."""
        value = self._store.value(key, default)
        return value if isinstance(value, str) else default

    def put(self, key: str, value: str | QByteArray) -> None:
        """Remember a value."""
        self._store.setValue(key, value)
        self._store.sync()

    def blob(self, key: str) -> QByteArray:
        """Return remembered bytes; empty when there are none."""
        value = self._store.value(key)
        return value if isinstance(value, QByteArray) else QByteArray()

    @property
    def theme(self) -> str:
        """The chosen theme: "light" or "dark"."""
        return "dark" if self.text("theme") == "dark" else "light"

    def recent(self) -> list[Path]:
        """Return the sites opened before that are still there, latest first."""
        lines = self.text("recent").split("|")
        return [Path(line) for line in lines if line and Path(line).is_dir()]

    def opened(self, folder: Path) -> None:
        """Put a site at the head of the recent ones."""
        others = [path for path in self.recent() if path != folder]
        self.put("recent", "|".join(str(path) for path in [folder, *others][:KEPT_SITES]))
