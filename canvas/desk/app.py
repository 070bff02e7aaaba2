"""Opens the desk: the one place where its parts are wired together."""

from __future__ import annotations

import datetime
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QLocale, QTimer
from PySide6.QtWidgets import QApplication

from canvas import __version__
from canvas.base.errors import UserError
from canvas.desk import icons, theme
from canvas.desk.bench import Bench
from canvas.desk.notices import FaultDialog
from canvas.desk.settings import Settings, log_file
from canvas.desk.window import DeskWindow
from canvas.paint import fonts


def make_application() -> QApplication:
    """Return the application, made if there is none yet."""
    found = QApplication.instance()
    if isinstance(found, QApplication):
        return found
    app = QApplication(["hillwright"])
    app.setApplicationName("Hillwright")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("hillwright")
    app.setWindowIcon(icons.app_icon())
    return app


def make_window(settings: Settings | None = None) -> DeskWindow:
    """Return a window on an empty bench."""
    kept = settings if settings is not None else Settings()
    family = fonts.load()
    bench = Bench()
    bench.set_theme(kept.theme)
    app = make_application()
    theme.apply(app, bench.theme, family=family)
    QLocale.setDefault(QLocale(QLocale.Language.English))
    window = DeskWindow(bench, kept, family)
    bench.setParent(window)
    return window


def run_desk(folder: Path | None = None) -> int:
    """Open the desk, on a site if one is given; return the exit status."""
    app = make_application()
    window = make_window()
    sys.excepthook = faults(window)
    window.show()
    if folder is not None:
        QTimer.singleShot(0, lambda: window.open_folder(folder))
    return app.exec()


Hook = Callable[[type[BaseException], BaseException, TracebackType | None], None]


def faults(window: DeskWindow) -> Hook:
    """Return what is done with an exception nobody caught."""
    shown: list[FaultDialog] = []

    def hook(kind: type[BaseException], fault: BaseException, where: TracebackType | None) -> None:
        if isinstance(fault, KeyboardInterrupt):
            window.close()
            return
        if isinstance(fault, UserError):
            window.tell_trouble(fault)
            return
        log = written_down(kind, fault, where)
        sys.__excepthook__(kind, fault, where)
        if not shown:
            # One notice is enough: a fault in painting would come again with every frame.
            dialog = FaultDialog(f"{kind.__name__}: {fault}", log, window, window.close)
            shown.append(dialog)
            dialog.finished.connect(lambda _r: shown.clear())
            window.ask_dialog(dialog)

    return hook


def written_down(
    kind: type[BaseException], fault: BaseException, where: TracebackType | None
) -> str:
    """Append a fault to the log file and return its path; say so when it can't be written."""
    path = log_file()
    when = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    lines = traceback.format_exception(kind, fault, where)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as log:
            log.write(f"--- {when} · {__version__}\n{''.join(lines)}\n")
    except OSError as err:
        return f"nowhere: {path} could not be written ({err.strerror})"
    return str(path)
