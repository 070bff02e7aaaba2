"""A clock for tests that only ask that something does not take for ever."""

from __future__ import annotations

import time

import pytest


@pytest.fixture
def stopwatch():
    def clock(work):
        start = time.perf_counter()
        work()
        return time.perf_counter() - start

    return clock
