"""The stories of faults, each told short: under load, with everything acknowledged there once in the end."""

from __future__ import annotations

import os

import pytest

from tests.faults import clock, corrupted, database, disk, passwords, poison, worker
from tests.faults.postgres import programs
from tests.faults.site import WORKERS, Book, Site

pytestmark = pytest.mark.skipif(
    not os.environ.get("FAULTS"), reason="the stories of faults take minutes: FAULTS=1 pytest tests/faults plays them"
)
SECONDS = 0.4
# Loaded once for all processes, which takes half as long.
QUICK = (*WORKERS, "--preload")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    return Book(tmp_path_factory.mktemp("book"), arguments=QUICK)


@pytest.fixture(scope="module")
def served(book: Book, tmp_path_factory: pytest.TempPathFactory) -> Site:
    """A site for the stories that leave it as well as it was."""
    site = book.site(tmp_path_factory.mktemp("served") / "site", **passwords.ENVIRONMENT)
    with site.served():
        site.wait_until_up()
        yield site


@pytest.mark.parametrize("story", [worker, poison, corrupted, passwords], ids=lambda one: one.__name__.split(".")[-1])
def test_people_go_on_and_everything_acknowledged_is_there_once(served, story):
    assert story.play(served, SECONDS, print) == []


def test_a_clock_that_jumps_confuses_nobody(book, tmp_path):
    assert clock.play_alone(book, tmp_path / "site", SECONDS, print) == []


@pytest.mark.skipif(programs() is None, reason="PostgreSQL's programs are not installed: a database that is killed")
def test_a_killed_database_loses_nothing_and_readers_are_told_when_to_come_back(book, tmp_path):
    assert database.play_alone(book, tmp_path / "site", SECONDS, print) == []


@pytest.mark.skipif(not disk.may_mount(), reason="No file system may be mounted here: a disk that fills up")
def test_a_full_disk_refuses_in_words_and_keeps_nothing_half(book, tmp_path):
    assert disk.play_alone(book, tmp_path / "site", SECONDS, print) == []


def test_a_book_that_lost_or_doubled_something_is_told(book, tmp_path):
    """The stories' own judge: it must find what it is there to find."""
    from tests.faults.hands import Ledger

    site = book.site(tmp_path / "site")
    ledger = Ledger(tried={"By nobody": 2}, acknowledged={"By nobody": 2}, accepted={10**6})
    ledger.tried["By two"] = ledger.tried["By half"] = 2
    site.run("tests.faults.spoilt")

    wrong = "; ".join(ledger.check(site))

    assert "'By nobody' was acknowledged and is missing" in wrong
    assert "revision 1000000 was said to be accepted; it is None" in wrong
    assert "'By two' is there 2 times" in wrong and "'By half' has 0 of 2 specimens" in wrong
    assert "manage.py verify" in wrong and "does not say what was accepted" in wrong
