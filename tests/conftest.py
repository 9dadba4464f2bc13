"""What many tests stand on."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection
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


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say loudly what this run left out."""
    left_out = []
    if connection.vendor != "postgresql":
        left_out.append('PostgreSQL: this run was on SQLite; see DEVELOPERS.md, "The loop", for the other one')
    skipped = {str(report.longrepr[2]) for report in terminalreporter.getreports("skipped")}
    left_out += sorted(reason.removeprefix("Skipped: ") for reason in skipped)
    if left_out:
        terminalreporter.section("NOT RUN HERE", sep="!", yellow=True, bold=True)
        for line in left_out:
            terminalreporter.line(f"- {line}")
