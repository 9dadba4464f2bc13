"""From one database to another and back, and a restore that is killed half-way."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings as now
from django.db import connection

from results.backup import restore, take
from results.backup.archive import Reader
from results.review.chain import verify

from . import books

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.story]

KILLED = """
import os, signal, sys
import django
django.setup()
from pathlib import Path
from results.backup import files, restore

def tell(said):
    if said.startswith(sys.argv[2]):
        os.kill(os.getpid(), signal.SIGKILL)

if sys.argv[2] == "written":
    put_back = files.put_back
    def put_back_and_die(blocks):
        put_back(blocks)
        os.kill(os.getpid(), signal.SIGKILL)
    files.put_back = put_back_and_die
restore(Path(sys.argv[1]), replace=sys.argv[3] == "replace", tell=tell)
"""
AFTER = ("results_specimen", "written")


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an empty migrated book on SQLite, to be copied."""
    folder = tmp_path_factory.mktemp("empty")
    books.manage(folder, "migrate", "-v0")
    return folder


@pytest.fixture
def places(settings, tmp_path: Path, empty: Path) -> Path:
    """This run's book has its files in a folder of its own, and beside it lies an empty book on SQLite."""
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    shutil.copytree(empty, tmp_path / "other")
    return tmp_path


def parts(path: Path) -> dict[str, bytes]:
    with Reader(path) as reader:
        return {part["name"]: b"".join(reader.blocks(part)) for part in reader.parts}


def test_a_book_goes_to_another_database_and_comes_back_the_same(places):
    """This run's database, PostgreSQL or SQLite, to an SQLite file and back."""
    books.fill()
    before, files = books.said(), books.files()
    there = take(places / "there.zip").path

    books.manage(places / "other", "restore", str(there))
    assert "Everything agrees with it." in books.manage(places / "other", "verify").stdout
    books.manage(places / "other", "backup", str(places / "back.zip"))
    shutil.rmtree(now.DATA_DIR)
    restore(places / "back.zip", replace=True)

    assert books.files() == files
    assert verify() == []
    if connection.vendor == "sqlite":
        assert parts(places / "back.zip") == parts(there)
    # Whole numbers among reals look different on SQLite; as this database writes them they are the same again.
    assert books.said() == before


def killed(folder: Path, file: Path, after: str, replace: bool, url: str = "") -> None:
    environment = {
        **os.environ,
        "BACKGROUND": "database",  # as the tests have it, so that both have the same tables
        "DATA_DIR": str(folder),
        "DATABASE_URL": url,
        "DJANGO_SETTINGS_MODULE": "results.site.settings",
        "DEMO": "True",
    }
    command = [sys.executable, "-c", KILLED, str(file), after, "replace" if replace else "no"]
    found = subprocess.run(command, env=environment, cwd=now.BASE_DIR, capture_output=True, text=True, check=False)
    assert found.returncode == -signal.SIGKILL, found.stderr


@pytest.mark.parametrize("after", AFTER)
def test_killed_half_way_an_empty_book_stays_empty_and_can_be_filled(places, after):
    books.fill()
    file, other = take(places / "book.zip").path, places / "other"

    killed(other, file, after, replace=False)

    assert "The database is not empty" not in books.manage(other, "restore", str(file)).stderr
    assert "Everything agrees with it." in books.manage(other, "verify").stdout
    assert sorted(path.name for path in (other / "releases").iterdir()) == sorted(
        path.name for path in (now.DATA_DIR / "releases").iterdir()
    )


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite of a test run lives in its process alone")
@pytest.mark.parametrize("after", AFTER)
def test_killed_half_way_a_replaced_book_on_postgresql_stays_as_it_was(places, after):
    books.fill()
    before, files = books.said(), books.files()
    file = take(places / "book.zip").path

    killed(now.DATA_DIR, file, after, replace=True, url=books.address())

    assert books.said() == before and books.files() == files
    restore(file, replace=True)
    assert books.said() == before
