"""One site and a place to print it to."""

from __future__ import annotations

import sys
from pathlib import Path

import drawn_site
import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def judged():
    return drawn_site.judged(tree_count=25)


@pytest.fixture(scope="session")
def bare():
    """Only the boundary, a tank and a bore: quick to print."""
    whole = drawn_site.study(0)
    gone = [e.id for e in whole.plan.elements() if e.id not in ("edge", "tank", "bore", "bm")]
    return whole.moved(whole.plan.without(*gone))
