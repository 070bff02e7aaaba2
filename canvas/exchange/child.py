"""Runs a reader of foreign files in a child process, under limits of memory and time.

Native libraries read what strangers wrote. Whatever happens in there, a crash, an endless loop,
a flood of memory, the program itself goes on and says what could not be read. The child answers
in plain JSON (and well-known binary for shapes): nothing it sends is ever run.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from canvas.base.errors import BadData
from canvas.base.progress import Progress, silent

GIB = 1 << 30
#: A child's answer larger than this is refused.
MOST_ANSWER_BYTES = GIB // 2
#: How often the person's Cancel is looked for [s].
LOOK_S = 0.1
NOTHING_DONE = "Nothing was brought in."

#: Drivers that could open other files or the network on a file's behalf.
UNWANTED = (
    "OGR_VRT GDALG WMS WMTS WCS WFS OAPIF OGCAPI HTTP CSW DAAS EEDA EEDAI PLSCENES PLMOSAIC "
    "NGW Carto AmigoCloud Elasticsearch GPSBabel STACTA STACIT"
)


@dataclass(frozen=True, slots=True)
class Limits:
    """How much a child may take. Where the system has no memory limit, only time holds."""

    memory_bytes: int = GIB
    seconds: float = 120.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What a job brought back; `folder` holds the files it wrote."""

    data: dict[str, Any]
    folder: Path


def check_file(path: Path) -> None:
    """Refuse what is not a file with something in it; every reader's first look."""
    if path.is_dir():
        raise BadData("this is a folder, not a file", where=path.name, remedy="Choose a file.")
    if not path.is_file():
        raise BadData("there is no such file", where=str(path), remedy="Check its name.")
    try:
        with path.open("rb") as file:
            empty = not file.read(1)
    except OSError as error:
        raise BadData(
            f"the file cannot be opened ({error.strerror})",
            where=path.name,
            remedy="Check that you may read it.",
        ) from error
    if empty:
        raise BadData("the file is empty", where=path.name, remedy="Save or fetch it again.")


@contextlib.contextmanager
def run(
    job: str,
    arguments: Mapping[str, object],
    *,
    where: str,
    limits: Limits | None = None,
    progress: Progress = silent,
) -> Iterator[Answer]:
    """Run a job of `worker.JOBS` and yield its answer while its folder is there.

    Parameters
    ----------
    where : str
        The file's name, for messages.

    Raises
    ------
    BadData
        The job said so, crashed, or went over a limit.
    Cancelled
        `progress` raised it; the child is gone.
    """
    limits = limits or Limits()
    with tempfile.TemporaryDirectory(prefix="hillwright-") as name:
        folder = Path(name)
        request = {
            "job": job,
            "arguments": dict(arguments),
            "folder": name,
            "memory_bytes": limits.memory_bytes,
            "seconds": limits.seconds,
        }
        said = _converse(request, folder, limits, progress, where)
        if "bad" in said:
            bad = {key: str(said["bad"].get(key, "")) for key in ("what", "where", "remedy")}
            place = f"{where}, {bad['where']}" if bad["where"] else where
            raise BadData(bad["what"], where=place, kept=NOTHING_DONE, remedy=bad["remedy"])
        yield Answer(_result(folder, where), folder)


def _converse(
    request: dict[str, Any], folder: Path, limits: Limits, progress: Progress, where: str
) -> dict[str, Any]:
    """Start the child, hand it the request, follow its progress, return its last word."""
    with (folder / "stderr").open("wb") as errors:
        child = subprocess.Popen(
            [sys.executable, "-P", "-m", "canvas.exchange.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            cwd=folder,
            env=_environment(folder),
        )
    try:
        assert child.stdin is not None
        assert child.stdout is not None
        with contextlib.suppress(BrokenPipeError):
            child.stdin.write(json.dumps(request).encode())
            child.stdin.close()
        return _follow(child, child.stdout, limits, progress, where)
    finally:
        child.kill()
        child.wait()
        if child.stdout is not None:
            child.stdout.close()


def _follow(
    child: subprocess.Popen[bytes],
    stdout: IO[bytes],
    limits: Limits,
    progress: Progress,
    where: str,
) -> dict[str, Any]:
    # A pipe can't be waited on with a time-out everywhere, so a thread does the waiting.
    lines: queue.Queue[bytes] = queue.Queue()
    threading.Thread(target=_pump, args=(stdout, lines), daemon=True).start()
    until = time.monotonic() + limits.seconds
    fraction, note = 0.0, ""
    while True:
        progress(fraction, note)
        try:
            line = lines.get(timeout=LOOK_S)
        except queue.Empty:
            if time.monotonic() > until:
                raise _too_slow(where, limits) from None
            continue
        if not line:
            raise _died(child.wait(), where, limits)
        said = json.loads(line)
        if "fraction" not in said:
            return dict(said)
        fraction, note = float(said["fraction"]), str(said["note"])


def _pump(stdout: IO[bytes], lines: queue.Queue[bytes]) -> None:
    with contextlib.suppress(ValueError, OSError):  # closed under us: the child is gone
        while line := stdout.readline(1 << 20):
            lines.put(line)
    lines.put(b"")


def _environment(folder: Path) -> dict[str, str]:
    """Return the child's environment: ours, with the libraries kept small and off the network."""
    package = str(Path(__file__).resolve().parents[2])
    paths = [package, *filter(None, os.environ.get("PYTHONPATH", "").split(os.pathsep))]
    return os.environ | {
        "PYTHONPATH": os.pathsep.join(paths),
        "TMPDIR": str(folder),
        "GDAL_CACHEMAX": "64",
        "GDAL_NUM_THREADS": "1",
        "GDAL_SKIP": UNWANTED,
        "GDAL_HTTP_MAX_RETRY": "0",
        "PROJ_NETWORK": "OFF",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


def _result(folder: Path, where: str) -> dict[str, Any]:
    path = folder / "result.json"
    if path.stat().st_size > MOST_ANSWER_BYTES:
        raise _too_big(where)
    return dict(json.loads(path.read_bytes()))


def _too_slow(where: str, limits: Limits) -> BadData:
    return BadData(
        f"reading took longer than {limits.seconds:.0f} seconds and was stopped",
        where=where,
        kept=NOTHING_DONE,
        remedy="Cut the file down to the site and its surroundings, then try again.",
    )


def _too_big(where: str) -> BadData:
    return BadData(
        "there is more in the file than can be taken in at once",
        where=where,
        kept=NOTHING_DONE,
        remedy="Cut the file down to the site and its surroundings, then try again.",
    )


def _died(code: int, where: str, limits: Limits) -> BadData:
    if hasattr(signal, "SIGXCPU") and code == -signal.SIGXCPU:
        return _too_slow(where, limits)
    return BadData(
        "the file could not be read: it is damaged, not of the kind its name says, or needs more "
        f"than {limits.memory_bytes / GIB:.1f} GiB of memory",
        where=where,
        kept=NOTHING_DONE,
        remedy="Open it in the program it came from, save it afresh and try again.",
    )
