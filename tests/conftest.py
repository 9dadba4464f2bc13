"""What many tests stand on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import caches
from django.db import connection, transaction
from pytest_django import DjangoDbBlocker

from results.demo import load_demo
from results.vocabulary import FILES, load_vocabulary

# Settings and scripts of programs of their own: to look through them for examples would change this one's.
collect_ignore = ["bench/empty_view.py", "bench/slow_settings.py", "faults/clock_settings.py"]


# Whole folders of stories; single ones elsewhere are marked.
_STORIES = {Path(__file__).with_name(name) for name in ("browser", "faults")}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--stories", action="store_true", help="With the long stories too, as in CI.")


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """All tests at once: by as many processes as there are cores, and without the stories unless they are asked for.

    Whoever names a file or a folder gets all that is in it, one after another.
    """
    option = config.option
    if hasattr(config, "workerinput"):  # one of the processes: it was told by the one that began them
        return
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    if whole and getattr(option, "numprocesses", 0) is None:
        option.numprocesses, option.dist = "auto", "loadfile"  # a file stays together: its book is made once
    option.stories = option.stories or not whole or bool(os.environ.get("CI"))


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell a process that shares the work what was decided; of the options it sees what was typed alone."""
    node.workerinput["stories"] = node.config.option.stories


def _with_stories(config: pytest.Config) -> bool:
    return getattr(config, "workerinput", {}).get("stories", config.option.stories)


@pytest.fixture(scope="session")
def thorough(pytestconfig: pytest.Config) -> bool:
    """Whether this run takes its time, for tests that try many examples made up by the machine."""
    return _with_stories(pytestconfig)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if _with_stories(config):
        return
    told: dict[bool, list[pytest.Item]] = {True: [], False: []}
    for one in items:
        told[one.get_closest_marker("story") is not None or not _STORIES.isdisjoint(one.path.parents)].append(one)
    config.hook.pytest_deselected(items=told[True])
    items[:] = told[False]


@pytest.fixture(scope="module")
def vocabulary(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The vocabulary and the timbers as they ship, loaded once for all tests of a module."""
    with django_db_blocker.unblock():
        load_vocabulary()
    yield
    with django_db_blocker.unblock():
        for model, _ in reversed(FILES):
            model._default_manager.all().delete()


@pytest.fixture(scope="module")
def demo_book(vocabulary: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The demonstration, loaded once for all tests of a module in a transaction around theirs."""
    with django_db_blocker.unblock():
        around = transaction.atomic()
        around._from_testcase = True  # as the framework's own tests say it: durable blocks may be inside
        around.__enter__()
        load_demo()
    yield
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        around.__exit__(None, None, None)


@pytest.fixture(autouse=True)
def no_limits_reached() -> Callable[[], None]:
    """Nobody has tried anything too often before a test begins; call it to forget what the test tried."""
    caches["default"].clear()
    return caches["default"].clear


@pytest.fixture(autouse=True)
def no_pages_kept() -> None:
    """No page is there from a test before, which may have changed settings or written past the data version."""
    caches["pages"].clear()
    caches["pages-asked"].clear()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The test database, which PostgreSQL only drops when nobody is in it any more.

    A reader that hung up in the middle of an answer (a browser that was closed, a request given up) can leave its
    server's session behind.
    """
    yield
    if connection.vendor != "postgresql":
        return
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT left(query, 100), pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        LEFT_BEHIND.extend(query for query, _ in cursor.fetchall())


LEFT_BEHIND: list[str] = []


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say loudly what this run left out."""
    left_out = []
    if connection.vendor != "postgresql":
        left_out.append('PostgreSQL: this run was on SQLite; see DEVELOPERS.md, "The loop", for the other one')
    if not terminalreporter.config.option.stories:
        left_out.append("long stories in a browser, of machines that break, of whole books: pytest --stories has them")
    skipped = {str(report.longrepr[2]) for report in terminalreporter.getreports("skipped")}
    left_out += sorted(reason.removeprefix("Skipped: ") for reason in skipped)
    for query in LEFT_BEHIND:
        terminalreporter.line(f"A session was left behind; its last query: {query}")
    if left_out:
        terminalreporter.section("NOT RUN HERE", sep="!", yellow=True, bold=True)
        for line in left_out:
            terminalreporter.line(f"- {line}")
