"""The child's side: takes one request from standard input, reads one foreign file, answers.

Run as `python -m canvas.exchange.worker` by `child`; never by hand.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path
from typing import Any, Protocol

from canvas.base.errors import BadData
from canvas.base.progress import Progress

#: Job name -> module and function. Loaded after the limits are set.
JOBS = {
    "vector": ("canvas.exchange.readers.vector", "read_job"),
    "raster_info": ("canvas.exchange.readers.raster", "inspect_job"),
    "ground": ("canvas.exchange.readers.ground", "ground_job"),
    "preview": ("canvas.exchange.readers.picture", "preview_job"),
    "glimpse": ("canvas.exchange.readers.glimpse", "glimpse_job"),
    "picture": ("canvas.exchange.readers.picture", "picture_job"),
    "climate": ("canvas.exchange.readers.climate_table", "read_job"),
}
#: No reader writes more than this to the disk.
MOST_FILE_BYTES = 6 << 30


class Job(Protocol):
    """Reads what the arguments say, may write files into `folder`, returns plain data."""

    def __call__(self, arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
        """Do the job."""


def set_limits(memory_bytes: int, seconds: float) -> None:
    """Bind this process to its share; does nothing where the system has no such limits."""
    try:
        import resource
    except ImportError:
        return
    cpu = int(seconds) + 1
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (cpu, cpu + 5))
    resource.setrlimit(resource.RLIMIT_FSIZE, (MOST_FILE_BYTES, MOST_FILE_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    """Answer one request."""
    request = json.loads(sys.stdin.buffer.read())
    # Libraries that print must not be taken for our answers.
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)

    def say(**words: object) -> None:
        answers.write(json.dumps(words) + "\n")
        answers.flush()

    def report(fraction: float, note: str = "") -> None:
        say(fraction=fraction, note=note)

    set_limits(request["memory_bytes"], request["seconds"])
    try:
        folder = Path(request["folder"])
        module, name = JOBS[request["job"]]
        job: Job = getattr(importlib.import_module(module), name)
        result = job(request["arguments"], folder, report)
        (folder / "result.json").write_text(json.dumps(result), encoding="utf-8")
    except BadData as bad:
        say(bad={"what": bad.what, "where": bad.where, "remedy": bad.remedy})
    except MemoryError:
        say(bad=_bad("there is more in the file than fits in memory", "Cut it down to the site."))
    except RecursionError:
        say(bad=_bad("the file is nested too deeply to be sound", "Save it afresh."))
    except Exception as error:  # noqa: BLE001 - anything a library can raise ends as a message
        say(bad=_bad(f"the file could not be read ({_short(error)})", "Save it afresh."))
    else:
        say(done=True)


def _bad(what: str, remedy: str) -> dict[str, str]:
    return {"what": what, "where": "", "remedy": f"{remedy} Then try again."}


def _short(error: Exception) -> str:
    words = " ".join(str(error).split())
    return (words or type(error).__name__)[:300]


if __name__ == "__main__":
    main()
