"""Where the compiler keeps finished kernels between runs, so that only the first run waits.

They lie beside their source. Where nothing can be written there (an install of the system's, a
shared disk), in the person's own cache; where there is none either (a service without a home), in
a folder that goes with the process. Left alone, the compiler would refuse to start there.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path

#: What the compiler looks at, once, when it is first imported.
SETTING = "NUMBA_CACHE_DIR"


def keep_kernels(package: Path) -> None:
    """Name a folder for the kernels of `package` when they can't lie beside their source."""
    if os.environ.get(SETTING) or os.access(package, os.W_OK):
        return
    from platformdirs import user_cache_path

    kept = user_cache_path("hillwright", appauthor=False) / "kernels"
    try:
        kept.mkdir(parents=True, exist_ok=True)
        usable = os.access(kept, os.W_OK)
    except OSError:
        usable = False
    if not usable:
        # A fresh one each time: code another user could have left there must never be run.
        kept = Path(tempfile.mkdtemp(prefix="hillwright-kernels-"))
        atexit.register(shutil.rmtree, kept, ignore_errors=True)
    os.environ[SETTING] = str(kept)
