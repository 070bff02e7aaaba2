"""The wheel holds what the program reads, and does the main job away from the checkout."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import venv
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CONSTRAINTS = ROOT / "resources" / "constraints.txt"
#: Wheels fetched once are kept with the environment, for where the registry's aren't cached.
KEPT = Path(sys.prefix) / "wheels"
#: Scripts for the checkout, and pictures for the README.
LEFT_OUT = {"constraints.txt", "pictures", "run", "setup", "test"}


def run(command: list[str | Path], cwd: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a command with nothing of the checkout on its path, and a home of its own."""
    dropped = ("PYTHONPATH", "VIRTUAL_ENV", "DISPLAY", "WAYLAND_DISPLAY", "NUMBA_CACHE_DIR")
    env = {k: v for k, v in os.environ.items() if k not in dropped}
    env |= {"QT_QPA_PLATFORM": "offscreen", "PIP_DISABLE_PIP_VERSION_CHECK": "1"} | more
    return subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        timeout=600,
    )


def pip(python: str | Path, *words: str | Path, cwd: Path) -> None:
    done = run([python, "-m", "pip", "-q", *words], cwd)
    assert done.returncode == 0, done.stderr


def wanted_in_the_wheel() -> set[str]:
    """Return what of the checkout the program needs, by its place in the wheel."""
    resources = ROOT / "resources"
    sample = ROOT / "sample_sites" / "kestrel_rise" / "site"
    return {
        *(
            f"canvas/_resources/{path.relative_to(resources).as_posix()}"
            for path in resources.rglob("*")
            if path.is_file() and path.relative_to(resources).parts[0] not in LEFT_OUT
        ),
        *(f"canvas/_sample_sites/kestrel_rise/site/{path.name}" for path in sample.iterdir()),
        *(path.relative_to(ROOT).as_posix() for path in (ROOT / "canvas").rglob("*.py")),
    }


@dataclass(frozen=True)
class Built:
    """A wheel, and what should be in it: looked up just then, for a checkout is worked on."""

    path: Path
    wanted: set[str]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build the wheel from the checkout."""
    folder = tmp_path_factory.mktemp("built")
    wanted = wanted_in_the_wheel()
    pip(sys.executable, "wheel", "--no-deps", "-w", folder, ROOT, cwd=folder)
    (path,) = folder.glob("hillwright-*.whl")
    return Built(path, wanted)


@pytest.fixture(scope="module")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install the wheel into an empty environment; return the folder of its commands."""
    folder = tmp_path_factory.mktemp("elsewhere")
    venv.create(folder / "env", with_pip=True)
    python = folder / "env" / "bin" / "python"
    wanted = ("-c", CONSTRAINTS, "--find-links", KEPT, built.path)
    KEPT.mkdir(exist_ok=True)
    fetched = run(
        [sys.executable, "-m", "pip", "-q", "download", "--prefer-binary", "-d", KEPT, *wanted],
        folder,
    )
    (KEPT / built.path.name).unlink(missing_ok=True)
    # Off the network, what was kept last time may still do.
    offline = "--no-index" if fetched.returncode == 0 else "--prefer-binary"
    pip(python, "install", offline, *wanted, cwd=folder)
    return python.parent


def test_the_wheel_holds_what_the_program_reads_and_no_more(built: Built) -> None:
    packed = zipfile.ZipFile(built.path)
    names = {name for name in packed.namelist() if ".dist-info/" not in name}
    assert names == built.wanted
    for needed in ("sources.toml", "species.csv", "fonts/Lato-Regular.ttf", "rules/victoria.toml"):
        assert f"canvas/_resources/{needed}" in names
    # Small enough to be sent by mail.
    assert built.path.stat().st_size < 12e6


def test_the_wheel_says_what_it_needs(built: Built) -> None:
    packed = zipfile.ZipFile(built.path)
    info = f"{built.path.name.split('-py3')[0]}.dist-info"
    told = packed.read(f"{info}/METADATA").decode()
    assert "Requires-Python: >=3.11" in told
    assert "License-Expression: MIT" in told
    assert f"{info}/licenses/LICENSE" in packed.namelist()
    assert "hillwright = canvas.cli:main" in packed.read(f"{info}/entry_points.txt").decode()


@pytest.mark.slow
def test_the_wheel_does_the_main_job(installed: Path, tmp_path: Path) -> None:
    hillwright = installed / "hillwright"
    home = {"HOME": str(tmp_path / "home"), "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": ""}
    site = tmp_path / "my site é"

    def call(*words: str | Path, code: int = 0) -> str:
        done = run([hillwright, *words], tmp_path, **home)
        assert done.returncode == code, done.stderr
        assert "Traceback" not in done.stderr
        return done.stdout

    where = run([installed / "python", "-c", "import canvas; print(canvas.__file__)"], tmp_path)
    assert Path(where.stdout.strip()).is_relative_to(installed.parent)

    call("sample", "kestrel_rise", site)
    # 1: the sample fails some checks on purpose.
    assert json.loads(call("check", site, "--json", code=1))["counts"]
    assert json.loads(call("facts", site, "--json"))["site"] == "Kestrel Rise"
    call("map", site, "slope", tmp_path / "slope.tif")
    call("export", site, tmp_path / "trees.gpx", "--kind", "tree")
    call("import", site, tmp_path / "trees.gpx", "--as", "note")
    call("sheet", site, tmp_path / "plan.pdf", "--paper", "A3")
    assert (tmp_path / "slope.tif").stat().st_size > 100_000
    pdf = (tmp_path / "plan.pdf").read_bytes()
    assert pdf.startswith(b"%PDF")
    assert b"/FontFile2" in pdf, "the program's own typeface is embedded"


@pytest.mark.slow
def test_the_desk_opens_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from PySide6.QtCore import QTimer\n"
        "from canvas.desk import app as desk\n"
        "app = desk.make_application(); window = desk.make_window(); window.show()\n"
        "app.processEvents(); print(window.isVisible()); window.close()"
    )
    done = run([installed / "python", "-c", code], tmp_path, HOME=str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "True"
    assert "Could not" not in done.stderr
