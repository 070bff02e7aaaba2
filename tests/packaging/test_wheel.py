"""The wheel does the main job in an empty environment, away from the checkout."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(command: list[str | Path], cwd: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a command without anything of the checkout on its path."""
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
    env |= {"QT_QPA_PLATFORM": "offscreen", "PIP_DISABLE_PIP_VERSION_CHECK": "1"} | more
    return subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        timeout=900,
    )


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel and install it into an environment of its own; return its command."""
    folder = tmp_path_factory.mktemp("wheel")
    built = run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, ROOT], folder
    )
    assert built.returncode == 0, built.stderr
    wheel = next(folder.glob("hillwright-*.whl"))
    venv.create(folder / "env", with_pip=True)
    python = folder / "env" / "bin" / "python"
    constraints = ROOT / "resources" / "constraints.txt"
    done = run([python, "-m", "pip", "install", "-q", "-c", constraints, wheel], folder)
    assert done.returncode == 0, done.stderr
    return folder / "env" / "bin" / "hillwright"


@pytest.mark.slow
def test_wheel_does_the_main_job(installed: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    copied = run([installed, "sample", "kestrel_rise", site], tmp_path)
    assert copied.returncode == 0, copied.stderr
    checked = run([installed, "check", site, "--json"], tmp_path)
    assert checked.returncode == 1, checked.stderr
    assert json.loads(checked.stdout)["counts"]
    facts = run([installed, "facts", site, "--json"], tmp_path)
    assert json.loads(facts.stdout)["site"] == "Kestrel Rise"
    printed = run([installed, "sheet", site, tmp_path / "plan.pdf", "--paper", "A3"], tmp_path)
    assert printed.returncode == 0, printed.stderr
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    where = run(
        [installed.parent / "python", "-c", "import canvas; print(canvas.__file__)"], tmp_path
    )
    assert str(ROOT) not in where.stdout
