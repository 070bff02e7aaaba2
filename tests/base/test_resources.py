"""The one door to the data files, and where compiled kernels may lie."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from canvas.base import compiling, resources
from canvas.base.errors import InputError


@pytest.mark.parametrize(
    "name",
    [
        "sources.toml",
        "species.csv",
        "cautions.toml",
        "fonts/Lato-Regular.ttf",
        "fonts/OFL.txt",
        "icons/hillwright.svg",
    ],
)
def test_data_files_are_found(name: str) -> None:
    assert resources.path(name).is_file()


@pytest.mark.parametrize("name", ["/etc/hostname", "../pyproject.toml", "icons/../../LICENSE"])
def test_names_may_not_climb_out(name: str) -> None:
    with pytest.raises(InputError, match="relative"):
        resources.path(name)


def test_a_missing_file_is_named() -> None:
    with pytest.raises(InputError, match=r"no such resource: icons/none\.svg"):
        resources.path("icons/none.svg")


def test_text_is_utf8_and_tables_are_parsed_once() -> None:
    assert "–" in resources.text("sources.toml")
    assert resources.toml("sources.toml") is resources.toml("sources.toml")
    assert list(resources.samples().glob("kestrel_rise/site/site.gpkg"))


def kept(setting: str | None, package: Path, home: Path) -> str:
    """Return what a fresh process without a setting of its own keeps kernels in."""
    env = {k: v for k, v in os.environ.items() if k != compiling.SETTING}
    env |= {"HOME": str(home), "XDG_CACHE_HOME": str(home / "cache")}
    if setting is not None:
        env[compiling.SETTING] = setting
    code = (
        "import os, sys; from pathlib import Path; from canvas.base import compiling as c\n"
        # Root may write anywhere: what the system says of a folder is what is tried here.
        "real = os.access\n"
        "os.access = lambda p, m: real(p, m) and 'shut' not in str(p)\n"
        "c.keep_kernels(Path(sys.argv[1])); print(os.environ.get(c.SETTING, ''))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(package)], env=env, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_kernels_lie_beside_their_source_where_that_can_be_written(tmp_path: Path) -> None:
    assert kept(None, tmp_path, tmp_path) == ""


def test_kernels_of_a_locked_package_lie_in_the_persons_cache(tmp_path: Path) -> None:
    found = Path(kept(None, tmp_path / "shut", tmp_path))
    assert found.is_dir()
    assert found.is_relative_to(tmp_path)


def test_without_any_folder_kernels_go_with_the_process(tmp_path: Path) -> None:
    found = Path(kept(None, tmp_path / "shut", tmp_path / "shut"))
    assert found.is_absolute()
    assert not found.is_relative_to(tmp_path)
    assert not found.exists()


def test_the_persons_own_setting_stands(tmp_path: Path) -> None:
    assert kept("elsewhere", tmp_path / "shut", tmp_path) == "elsewhere"
