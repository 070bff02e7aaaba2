"""One drawn site for all drawing tests."""

from __future__ import annotations

import drawn_site
import pytest


@pytest.fixture(scope="session")
def whole():
    return drawn_site.study()


@pytest.fixture(scope="session")
def judged():
    return drawn_site.judged()
