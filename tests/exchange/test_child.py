"""The child process: its limits hold, its crash is a message, Cancel ends it."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import pytest

from canvas.base.errors import BadData, Cancelled
from canvas.exchange import child, worker
from canvas.exchange.read import read_features


@pytest.fixture
def points(tmp_path: Path) -> Path:
    path = tmp_path / "points.geojson"
    shape = {"type": "Point", "coordinates": [142.5, -37.5]}
    feature = {"type": "Feature", "properties": {}, "geometry": shape}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature] * 3}))
    return path


def test_progress_rises_and_ends_at_one(points: Path) -> None:
    told: list[float] = []
    read_features(points, target_crs="EPSG:7854", progress=lambda f, note="": told.append(f))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_cancel_ends_the_child(points: Path) -> None:
    def give_up(fraction: float, note: str = "") -> None:
        raise Cancelled

    begun = time.monotonic()
    with pytest.raises(Cancelled):
        read_features(points, target_crs="EPSG:7854", progress=give_up)
    assert time.monotonic() - begun < 5


def run(code: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, **limits: float) -> object:
    """Run a job of the test's own in a child; return what it answers."""
    (tmp_path / "stray_job.py").write_text("def job(arguments, folder, report):\n" + code)
    starter = tmp_path / "starter.py"
    starter.write_text(
        "from canvas.exchange import worker\nworker.JOBS['stray'] = ('stray_job', 'job')\n"
        "worker.main()\n"
    )
    real = child.subprocess.Popen

    def popen(args: list[str], **more: object) -> object:
        return real([args[0], str(starter)], **more)  # type: ignore[call-overload]

    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr(child.subprocess, "Popen", popen)
    run = child.run("stray", {}, where="stray.tif", limits=child.Limits(**limits))  # type: ignore[arg-type]
    with run as told:
        return told.data


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("    import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "could not be read"),
        ("    import os; os._exit(3)", "could not be read"),
        ("    raise RuntimeError('odd  header')", "could not be read \\(odd header\\)"),
        ("    return {'a': bytearray(3 << 30)}", "more in the file than fits in memory"),
        ("    print('noise'); raise KeyError('x')", "could not be read"),
    ],
)
def test_what_goes_wrong_in_there_is_a_message(
    code: str, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    with pytest.raises(BadData, match=said) as caught:
        run(code, monkeypatch, tmp_path)
    assert caught.value.where == "stray.tif"
    assert caught.value.kept == "Nothing was brought in."


def test_time_runs_out(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    begun = time.monotonic()
    with pytest.raises(BadData, match="longer than 1 seconds"):
        run("    import time; time.sleep(60)", monkeypatch, tmp_path, seconds=1)
    assert time.monotonic() - begun < 8


def test_prints_of_libraries_are_not_taken_for_answers(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    code = "    import os; os.write(1, b'{\"done\": true}\\n'); print('x'); return {}"
    assert run(code, monkeypatch, tmp_path) == {}


def test_no_process_and_no_file_is_left_behind(
    points: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    temporary = points.parent / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(child.tempfile, "tempdir", str(temporary))
    read_features(points, target_crs="EPSG:7854")
    assert os.listdir(temporary) == []


def test_every_job_exists() -> None:
    import importlib

    for module, name in worker.JOBS.values():
        assert callable(getattr(importlib.import_module(module), name))
