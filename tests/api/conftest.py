"""What the tests of the API stand on."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.cache import caches


@pytest.fixture(autouse=True)
def nothing_kept() -> Iterator[None]:
    """A test's data is rolled back, and so is what was kept of it."""
    caches["answers"].clear()
    caches["process"].clear()
    yield
