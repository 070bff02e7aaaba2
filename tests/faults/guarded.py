"""Runs one attempt to read a file in a process of its own and measures it."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from pathlib import Path

GIB = 1 << 30
MOST_SECONDS = 20.0

SCRIPT = """
import json, resource, sys
from pathlib import Path
from canvas.base.errors import BadData
from canvas.exchange import rasters
from canvas.exchange.glimpse import glimpse_raster
from canvas.exchange.read import read_features

kind, path, extra = sys.argv[1], Path(sys.argv[2]), json.loads(sys.argv[3])
out = path.parent / "out.tif"
try:
    if kind == "vector":
        found = read_features(path, target_crs="EPSG:7854", **extra)
        said = {"ok": len(found.features), "skipped": [s.why for s in found.skipped],
                "notes": list(found.notes)}
    elif kind == "ground":
        info = rasters.import_ground(path, out, target_crs="EPSG:7854", vertical_unit="m", **extra)
        said = {"ok": info.width * info.height, "notes": list(info.notes)}
    elif kind in ("glimpse", "relief"):
        seen = glimpse_raster(path, target_crs="EPSG:7854", heights=kind == "relief", **extra)
        said = {"ok": 0 if seen.rgba is None else seen.rgba.size, "notes": []}
    else:
        info = rasters.import_picture(path, out, target_crs="EPSG:7854", **extra)
        said = {"ok": info.width * info.height, "notes": list(info.notes)}
except BadData as bad:
    said = {"bad": bad.text()}
# `ru_maxrss` of a process that was forked off a larger one starts at the larger one's peak.
peak = [line for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line]
said["own_kb"] = int(peak[0].split()[1])
said["child_kb"] = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
print(json.dumps(said))
"""


def attempt(kind: str, path: Path, **extra: object) -> dict[str, object]:
    """Try to read `path`; fail when it takes 1 GiB, 20 s or ends in anything but an answer."""
    begun = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, kind, str(path), json.dumps(extra)],
        capture_output=True,
        text=True,
        timeout=MOST_SECONDS,
        check=False,
        preexec_fn=_limit,
    )
    assert time.monotonic() - begun < MOST_SECONDS
    assert done.returncode == 0, done.stderr[-2000:]
    assert "Traceback" not in done.stderr
    said: dict[str, object] = json.loads(done.stdout)
    assert int(str(said["own_kb"])) < GIB // 1024
    assert int(str(said["child_kb"])) < GIB // 1024
    return said


def refused(kind: str, path: Path, **extra: object) -> str:
    """Return the message a file was refused with."""
    said = attempt(kind, path, **extra)
    assert "bad" in said, said
    text = str(said["bad"])
    # What and where, then the way out: a message of one line would leave the person alone.
    assert path.name in text
    assert len(text.splitlines()) >= 2, text
    return text


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (GIB, GIB))
