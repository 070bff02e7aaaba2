"""One process-wide pool that splits the rows of a grid over the processor's cores.

Compiled kernels release the interpreter's lock, so plain threads run them side by side. The
compiler's own parallel loops are not used: its fallback scheduler aborts the process when two
threads enter it at once.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache

#: Below this many cells a thread switch costs more than it saves.
LEAST_CELLS = 100_000

_inside = threading.local()


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(
        max_workers=max((os.cpu_count() or 1) - 1, 1), thread_name_prefix="rows"
    )


def over_rows(shape: tuple[int, int], work: Callable[[int, int], object]) -> None:
    """Call `work(first_row, end_row)` until all rows of a grid of `shape` are done.

    `work` must only write its own rows. Small grids, and calls from within `work`, run in the
    calling thread; so does one share of every large one.
    """
    rows, cols = shape
    shares = min(os.cpu_count() or 1, rows, max(rows * cols // LEAST_CELLS, 1))
    if shares <= 1 or getattr(_inside, "busy", False):
        work(0, rows)
        return
    edges = [rows * i // shares for i in range(shares + 1)]

    def share(i: int) -> None:
        _inside.busy = True
        try:
            work(edges[i], edges[i + 1])
        finally:
            _inside.busy = False

    waiting = [_pool().submit(share, i) for i in range(1, shares)]
    share(0)
    for each in waiting:
        each.result()
