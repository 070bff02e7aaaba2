"""Pictures of the desk on a site, to be looked at: run by hand, `shots.py SITE OUT [SCALE [SIZE]]`.

Walks the stages and pages in light and dark and saves a PNG of each; SCALE 2 is the display at
200 %, SIZE the window's, such as 1920x1080.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from PySide6.QtWidgets import QApplication


def others(window, settle, shot) -> None:
    """Card, section, Ask and every dialog."""
    window.turn_to("layout")
    for kind in ("track", "building", "site_boundary"):
        found = window.bench.plan.of_kind(kind)
        if not found:
            continue
        window.show_element(found[0].id)
        settle(1.0)
        shot(f"card-{kind}")
        window.card.edit_fields()
        shot(f"fields-{kind}")
        window.card.sides[0].click()
        if kind == "track":
            window.section_of_selection()
            settle(0.5)
            shot("section")
            window.second.shut()
    window.bench.select(())
    for page in ("sun", "layers", "phases", "rules", "history"):
        window.open_page(page)
        settle(0.8)
        shot(f"page-{page}")
    window.leaf.shut()
    window.ask.ask()
    window.ask.line.setText("tree")
    shot("ask")
    window.ask.hide()
    for key in ("site.new", "site.sample", "in.features", "in.aerial", "in.ground", "in.legs",
                "in.tie", "out.export", "out.map", "help.keys", "help.about"):  # fmt: skip
        window.actions_[key].trigger()
        settle(0.3)
        dialog = QApplication.activeModalWidget()
        if dialog is not None:
            dialog.grab().save(str(shot.folder / f"dialog-{key}-{window.bench.theme}.png"))
            dialog.close()
            settle(0.1)


def main() -> None:
    site, out = Path(sys.argv[1]), Path(sys.argv[2])
    scale = sys.argv[3] if len(sys.argv) > 3 else "1"
    wide, high = (sys.argv[4] if len(sys.argv) > 4 else "1280x800").split("x")
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    os.environ["QT_SCALE_FACTOR"] = scale
    out.mkdir(parents=True, exist_ok=True)

    from canvas.desk.app import make_application, make_window
    from canvas.desk.settings import Settings
    from canvas.desk.stages import STAGES

    app = make_application()
    with tempfile.TemporaryDirectory() as folder:
        window = make_window(Settings(Path(folder) / "desk.ini"))
        window.resize(int(wide), int(high))
        window.show()

        def settle(seconds: float = 0.3) -> None:
            end = time.monotonic() + seconds
            while time.monotonic() < end or (
                window.bench.jobs.busy and time.monotonic() < end + 20
            ):
                app.processEvents()
                time.sleep(0.005)

        def shot(name: str) -> None:
            settle()
            window.grab().save(str(out / f"{name}-{window.bench.theme}-{scale}.png"))

        shot.folder = out
        shot("welcome")
        if site.is_dir() and window.open_folder(site):
            settle(1.5)
            for theme in ("light", "dark"):
                window.bench.set_theme(theme)
                settle(1.0)
                for stage in STAGES:
                    window.turn_to(stage.key)
                    settle(0.8)
                    shot(f"stage-{stage.key}")
                    window.open_page(stage.page)
                    settle(1.5)
                    shot(f"page-{stage.key}")
                    window.shut_page()
                others(window, settle, shot)
        window.close()


if __name__ == "__main__":
    main()
