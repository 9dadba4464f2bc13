"""What many tests stand on."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytest_django import DjangoDbBlocker

from results.vocabulary import FILES, load_vocabulary


@pytest.fixture(scope="module")
def vocabulary(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The vocabulary and the timbers as they ship, loaded once for all tests of a module."""
    with django_db_blocker.unblock():
        load_vocabulary()
    yield
    with django_db_blocker.unblock():
        for model, _ in reversed(FILES):
            model._default_manager.all().delete()
