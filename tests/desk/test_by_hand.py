"""The desk's tests work it from outside: no call in them changes what the desk shows or holds.

Sites and windows are opened by fixtures; parts of the desk that stand by themselves (jobs, tiles of
a picture) are called. Everything else is done with events, through `desk.hand`.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent
#: Methods that change the desk, the plan or a control from within.
CONTROLS = """
    setText setPlainText setValue setChecked setCheckState setCurrentIndex setCurrentText
    setCurrentRow setCurrentItem setCurrentWidget setCurrentCell selectRow setSizes setFocus
    trigger toggle animateClick showMenu showPopup popup
"""
DESK = """
    apply undo redo select set_tool set_look set_theme set_stage set_at show_place tell
    open_page shut_page turn_to show_element show_selection show_finding step_finding go_to
    go_to_lonlat zoom waive show_section section_of_selection show_measured turn_theme
    ask_dialog close_site open_session close_session adopt_session open_folder edit_fields shut
"""
MAP = """
    zoom_all zoom_to zoom_by centre_on pan look set_cross feed commit escape tool_key refresh
    open_entry choose_next take
"""
CHANGING = frozenset(f"{CONTROLS} {DESK} {MAP}".split())
#: Where one of these names means something else, and why.
ELSEWHERE = {
    ("hand.py", "setText"): "the clipboard, as another program fills it",
    ("test_verbs_copy.py", "setText"): "the clipboard, as another program fills it",
    ("test_map_looks.py", "open_session"): "opening a site",
    ("conftest.py", "open_folder"): "opening a site",
    ("test_rain_page.py", "open_folder"): "opening a site",
    ("test_rain_page.py", "apply"): "a storm changed since, as its own page changes it",
}
#: Names the desk and its parts go by in the tests.
DESKS = {"opened", "land", "desk", "at_house", "view", "alone", "slope", "staged"}


def files() -> list[Path]:
    found = [p for p in FOLDER.glob("*.py") if p.name != "shots.py"]
    assert len(found) > 20
    return found


@pytest.mark.parametrize("path", files(), ids=lambda p: p.name)
def test_nothing_is_changed_from_within(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            called = node.func.attr
            # Hands, and a session that is filled before the desk opens it.
            if ast.unparse(node.func.value) in ("hand", "self.hand", "session"):
                continue
            if called in CHANGING and (path.name, called) not in ELSEWHERE:
                raise AssertionError(
                    f"{path.name}:{node.lineno} calls {called}(): do it as a person does, with "
                    "the hands of desk/hand.py (reach, click, type, act, pick, draw …)"
                )
        targets = node.targets if isinstance(node, ast.Assign) else []
        for target in targets:
            if isinstance(target, ast.Attribute):
                words = ast.unparse(target)
                assert words.partition(".")[0] not in DESKS, f"{path.name}:{node.lineno}: {words}"
