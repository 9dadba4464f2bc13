"""A book that was destroyed comes back whole; nothing else does."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

import pytest
from django.conf import settings as now
from django.contrib.auth import get_user_model
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client

from results.backup import BackupError, restore, take
from results.backup.archive import Reader
from results.backup.tables import NOT_TAKEN, all_models, left_behind, tables
from results.models import FormDraft, Photo, Question, Study
from results.review.chain import verify
from tests.factories import make_user

from . import books

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def places(settings, tmp_path: Path) -> Path:
    """Files and releases of a test lie in a folder of its own."""
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    return tmp_path


def test_every_table_is_taken_or_left_behind_for_a_reason():
    there = set(connection.introspection.table_names())

    taken = {table.name for table in tables()}

    assert there - taken - set(left_behind()) == {"django_migrations"} | ({"shared_cache"} & there)
    assert taken <= there
    assert all(NOT_TAKEN.values()) and "sessions.Session" in NOT_TAKEN
    assert {model._meta.label for model in all_models()} >= {"auth.User", "results.Packed", "authtoken.Token"}


def test_a_destroyed_book_comes_back_whole(places):
    study = books.fill()
    before, files_before = books.said(), books.files()
    assert sum(1 for lines in before.values() if lines) > 25 and len(files_before) >= 40
    taken = take(places / "book.zip")
    given = make_user("gone").pk
    get_user_model().objects.filter(pk=given).delete()
    shutil.rmtree(now.MEDIA_ROOT)
    shutil.rmtree(now.DATA_DIR / "releases")
    call_command("flush", interactive=False, verbosity=0)
    assert not Study.objects.exists()

    restored = restore(taken.path)

    assert books.said() == before
    assert books.files() == files_before
    assert (restored.rows, restored.files, restored.repack) == (taken.rows, len(files_before), False)
    assert verify() == []
    assert Question.objects.get().text == books.ODD
    assert FormDraft.objects.get().typed["notes"] == books.ODD
    assert Client().login(username="maker", password="sawdust")
    with Photo.objects.get().file.open() as file:
        assert file.read() == books.PICTURE
    assert f'href="/studies/{study.pk}/"' in Client().get("/search/", {"q": study.title}).content.decode()


def test_the_file_is_its_owners_alone_and_has_no_sessions(places):
    books.fill()
    session = Session.objects.get()

    taken = take(places / "book.zip")

    assert stat.S_IMODE(taken.path.stat().st_mode) == 0o600
    assert [path.name for path in places.iterdir() if path.name != "data"] == ["book.zip"]
    with Reader(taken.path) as reader:
        everything = [b"".join(reader.blocks(part)) for part in reader.parts]
    assert not any(session.session_key.encode() in part for part in everything)
    hashed = get_user_model().objects.get(username="maker").password
    assert any(hashed.encode() in part for part in everything)
    with pytest.raises(BackupError, match="is there already, and a backup is never overwritten"):
        take(taken.path)


def test_a_book_is_only_replaced_when_told_to(places, monkeypatch):
    books.fill()
    before = books.said()
    file = take(places / "book.zip").path
    added = make_user("added later")
    Question.objects.all().delete()
    orphan = Photo.objects.get()
    orphan.pk = "11111111-1111-4111-8111-111111111111"
    orphan.sha256 = "f" * 64
    orphan.file.name = orphan.file.storage.save("photos/later.jpg", orphan.file.open())
    orphan.save(force_insert=True)
    orphan.file.close()
    changed = books.said()

    with pytest.raises(BackupError, match="The database is not empty: there are rows in .*--replace"):
        restore(file)
    monkeypatch.setattr("builtins.input", lambda asked: "y")
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("restore", str(file), replace=True)
    assert books.said() == changed and (now.MEDIA_ROOT / "photos/later.jpg").exists()

    monkeypatch.setattr("builtins.input", lambda asked: "yes")
    call_command("restore", str(file), replace=True)

    assert books.said() == before
    assert not (now.MEDIA_ROOT / "photos/later.jpg").exists()
    assert len(books.files()) >= 40
    assert not Session.objects.exists()
    assert make_user("next").pk <= added.pk  # the key of somebody who never was in this book


def test_a_key_that_was_given_is_not_given_again(places):
    books.fill()
    gone = make_user("gone").pk
    get_user_model().objects.filter(pk=gone).delete()
    file = take(places / "book.zip").path

    restore(file, replace=True)

    assert make_user("next").pk == gone + 1


def test_odd_tables_and_states_are_refused_by_name(places):
    books.fill()
    file = take(places / "book.zip").path
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('results', '0999_later', '2026-01-01')"
        )
    try:
        with pytest.raises(BackupError, match="it has beside results.0999_later.*migrate APP NAME"):
            restore(file, replace=True)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM django_migrations WHERE name = '0999_later'")


def test_a_release_that_lies_there_with_other_files_is_not_overwritten(places):
    books.fill()
    before = books.said()
    file = take(places / "book.zip").path
    (sums,) = (now.DATA_DIR / "releases").glob("*/SHA256SUMS")
    sums.chmod(0o600)
    sums.write_text("something else")

    with pytest.raises(BackupError, match="is there already with other files than the backup's"):
        restore(file, replace=True)

    assert books.said() == before and sums.read_text() == "something else"


def test_a_file_that_is_missing_is_told_and_keeps_nothing_from_being_taken(places):
    books.fill()
    photo = Photo.objects.get()
    photo.file.storage.delete(photo.file.name)

    taken = take(places / "book.zip")

    assert taken.missing == [f"media/{photo.file.name}"]
    assert restore(taken.path, replace=True).files == taken.files


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite's writers wait for each other by themselves")
def test_a_book_in_use_is_not_replaced_beneath_its_readers(places, monkeypatch):
    books.fill()
    file = take(places / "book.zip").path
    monkeypatch.setattr("results.backup.put_back.LOCK_TIMEOUT", "200ms")
    other = connection.copy()
    try:
        with other.cursor() as cursor:
            cursor.execute("BEGIN")
            cursor.execute("SELECT 1 FROM results_study")
        with pytest.raises(BackupError, match="The database is in use or away"):
            restore(file, replace=True)
    finally:
        other.close()

    assert Study.objects.exists()


def test_files_of_a_shared_store_go_into_a_backup_and_come_back(places, settings, monkeypatch):
    import boto3
    from django.core.cache import caches
    from moto import mock_aws

    from results.site.machines import shared_store

    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.setenv(name, "for-tests")
    with mock_aws():
        store = boto3.resource("s3", region_name="us-east-1").Bucket("book-of-tests")
        store.create()
        options = shared_store("s3://book-of-tests/here?region=us-east-1")
        storages = {**settings.STORAGES, "default": {"BACKEND": "results.stored.Bucket", "OPTIONS": options}}
        settings.STORAGES = storages
        books.fill()
        before = {one.key: one.get()["Body"].read() for one in store.objects.all()}
        assert len(before) >= 40 and any("/releases/" in key for key in before)
        file = take(places / "book.zip").path
        store.objects.all().delete()
        caches["process"].clear()

        restore(file, replace=True)

        assert {one.key: one.get()["Body"].read() for one in store.objects.all()} == before
        store.objects.all().delete()
        caches["process"].clear()
        taken = take(places / "again.zip")
        assert taken.files == 0 and len(taken.missing) == 4
    # To a disk from what was in a store: the names are the same.
    settings.STORAGES = {**storages, "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"}}
    restore(file, replace=True)
    assert sorted(books.files().values()) == sorted(before.values())


def test_a_place_that_cannot_be_written_is_told(places):
    (places / "a file").write_text("")

    with pytest.raises(BackupError, match="can't be written"):
        take(places / "a file" / "book.zip")
