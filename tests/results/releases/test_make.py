"""Releases are written whole or not at all, the same bytes for the same data, and never changed."""

from __future__ import annotations

import shutil
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connections
from django.db.utils import ConnectionHandler

from results.evidence import restate
from results.models import Release, Specimen, Study, Timber
from results.models.data_version import data_version
from results.releases import ReleaseError, make, shelf
from results.releases.snapshot import one_moment
from tests.factories import make_study

from .books import ACCEPTED_AT, a_published, a_study, bytes_of, dated, folder, released

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_release_is_named_for_the_last_change_to_its_data():
    a_study()
    a_published(at=ACCEPTED_AT + timedelta(days=3, hours=2))

    release = released()

    assert release.name == "2025-03-17-1"
    assert release.as_of == (ACCEPTED_AT + timedelta(days=3, hours=2)).replace(microsecond=0)
    assert {name: release.counts[name] for name in ("studies", "setups", "series", "specimens", "summaries")} == {
        "studies": 2,
        "setups": 2,
        "series": 3,
        "specimens": 6,
        "summaries": 1,
    }
    assert release.counts["timbers"] == Timber.objects.count() > 100


def test_release_is_byte_identical_when_repeated_on_the_same_data():
    a_study()
    a_published()
    first = released()
    before = bytes_of(first)
    assert len(before) > 35
    shutil.rmtree(folder(first))
    Release.objects.all().delete()

    # Restating stores footings and findings anew; they say the same.
    for study in Study.objects.all():
        restate(study)
    again = released()

    assert (again.name, again.data_hash) == (first.name, first.data_hash)
    assert bytes_of(again) == before


def test_nothing_is_written_when_nothing_has_changed():
    a_study()
    first = released()

    made = make()

    assert (made.release, made.new) == (first, False)
    assert [path.name for path in shelf.folder().iterdir()] == [first.name]
    assert Release.objects.count() == 1


def test_second_release_of_a_day_counts_on():
    a_study()
    assert released().name == "2025-03-14-1"
    a_published(at=ACCEPTED_AT + timedelta(hours=1))

    assert released().name == "2025-03-14-2"


def test_release_is_never_dated_before_the_last_one():
    a_study()
    late = a_published(at=ACCEPTED_AT + timedelta(days=30))
    assert released().name == "2025-04-13-1"
    late.delete()

    assert released().name == "2025-04-13-2"


def test_release_is_never_written_over_a_folder():
    a_study()
    there = shelf.folder() / "2025-03-14-1"
    there.mkdir(parents=True)
    (there / "mine.txt").write_text("kept")

    with pytest.raises(ReleaseError, match="2025-03-14-1 is there already, and a release is never overwritten"):
        make()

    assert [path.name for path in shelf.folder().rglob("*")] == ["2025-03-14-1", "mine.txt"]
    assert not Release.objects.exists()


def test_release_needs_the_files_of_the_one_before():
    a_study()
    first = released()
    shutil.rmtree(folder(first))

    with pytest.raises(ReleaseError, match="files of release 2025-03-14-1 are missing"):
        make()


def test_release_of_an_empty_book_is_refused():
    make_study(status="draft")

    with pytest.raises(ReleaseError, match="no accepted study"):
        make()


def test_files_can_not_be_written_to():
    a_study()

    assert {path.stat().st_mode & 0o222 for path in folder(released()).iterdir()} == {0}


def test_nothing_but_accepted_studies_is_released():
    kept = a_study("Counts", workshop="Shop that counts")
    hidden = [a_study(f"Hidden {status}", workshop=f"Hidden {status}") for status in ("a", "b", "c")]
    for study, status in zip(hidden, ("draft", "submitted", "withdrawn"), strict=True):
        fields = {"status": status, "withdrawn_reason": "a secret reason" if status == "withdrawn" else ""}
        Study.objects.filter(pk=study.pk).update(**fields)

    release = released()

    assert release.counts["studies"] == 1
    assert release.counts["specimens"] == Specimen.objects.filter(series__study=kept).count()
    for name, content in bytes_of(release).items():
        assert b"Hidden" not in content and b"secret" not in content, name
        assert kept.contributor.username.encode() not in content or b"maker" in kept.workshop.encode(), name


def test_a_release_raises_the_data_version_so_that_lists_of_releases_are_read_anew():
    a_study()
    before = data_version().number

    released()

    assert data_version().number == before + 1


# what differs from the one before


def test_first_release_adds_all_studies():
    study = a_study()

    changes = released().changes

    assert changes["before"] == ""
    assert changes["added"] == [{"study_id": study.pk, "study_title": "Rails into posts"}]
    assert (changes["changed"], changes["withdrawn"], changes["words"]) == ([], [], [])
    assert changes["counts"]["specimens"] == [0, 6]


def test_changes_name_studies_added_changed_and_withdrawn_and_words():
    same, changed, withdrawn = a_study("Same"), a_study("Changed"), a_study("=Withdrawn")
    gone = a_study("Gone")
    released()
    later = ACCEPTED_AT + timedelta(days=1)
    added = a_study("Added", at=later)
    Specimen.objects.filter(series__study=changed, outcome="held").update(notes="seen again")
    Study.objects.filter(pk=withdrawn.pk).update(
        status="withdrawn", withdrawn_reason="the arm\nwas wrong", changed_at=later
    )
    gone_pk = gone.pk
    gone.delete()
    Timber.objects.filter(pk="oak_northern_red").update(description="seen anew")

    release = released()

    assert release.name == "2025-03-15-1"
    assert release.changes == {
        "before": "2025-03-14-1",
        "added": [{"study_id": added.pk, "study_title": "Added"}],
        "changed": [{"study_id": changed.pk, "study_title": "Changed"}],
        "withdrawn": [
            {"study_id": withdrawn.pk, "study_title": "=Withdrawn", "reason": "the arm\nwas wrong"},
            {"study_id": gone_pk, "study_title": "Gone", "reason": ""},
        ],
        "words": ["timbers"],
        "counts": release.changes["counts"],
    }
    assert release.changes["counts"]["studies"] == [4, 3]
    text = shelf.text(release, "CHANGES.txt")
    assert f"Changed: 1 study\n  study {changed.pk}: Changed\n" in text
    assert f"  study {withdrawn.pk}: =Withdrawn (withdrawn: the arm was wrong)\n" in text
    assert "Same" not in text and str(same.pk) not in [line.split(":")[0] for line in text.splitlines()]


def test_a_change_to_footings_alone_changes_the_study():
    study = a_study()
    released()
    study.series.first().footings.filter(code="at_joint").update(basis="told otherwise")
    dated(study, ACCEPTED_AT)

    release = released()

    assert [one["study_id"] for one in release.changes["changed"]] == [study.pk]


# the command


def test_command_tells_what_it_wrote_and_that_nothing_has_changed():
    a_study()
    out = StringIO()

    call_command("release", stdout=out)
    call_command("release", stdout=out)

    first, second = out.getvalue().splitlines()
    place = shelf.folder() / "2025-03-14-1"
    assert first.startswith(f"Release 2025-03-14-1 in {place}: 1 studies, 2 series, 6 specimens")
    assert second == "Nothing has changed since release 2025-03-14-1; none was written."


def test_command_fails_with_the_reason():
    with pytest.raises(CommandError, match="no accepted study"):
        call_command("release")


# one moment


def test_reads_of_a_release_see_one_moment_on_sqlite(settings, tmp_path):
    database = {"ENGINE": "django.db.backends.sqlite3", "NAME": tmp_path / "book.sqlite3"}
    options = {"transaction_mode": "IMMEDIATE", "init_command": "PRAGMA journal_mode=WAL;"}
    handler = ConnectionHandler({name: {**database, "OPTIONS": dict(options)} for name in ("default", "other")})
    reader, writer = handler["default"], handler["other"]
    _sees_one_moment(reader, writer)


@pytest.mark.django_db(transaction=True)
def test_reads_of_a_release_see_one_moment_on_this_database():
    reader = connections["default"]
    if reader.vendor != "postgresql":
        pytest.skip("This database is SQLite, tried by the test above.")
    writer = reader.copy()
    try:
        _sees_one_moment(reader, writer)
    finally:
        with reader.cursor() as cursor:
            cursor.execute("DROP TABLE kept")
        writer.close()


def test_reading_whole_tables_keeps_few_pages_and_leaves_sqlite_as_it_was(tmp_path):
    database = {"ENGINE": "django.db.backends.sqlite3", "NAME": tmp_path / "book.sqlite3"}
    reader = ConnectionHandler({"default": database})["default"]

    def pages_kept():
        with reader.cursor() as cursor:
            cursor.execute("PRAGMA cache_size")
            return cursor.fetchone()[0]

    with reader.cursor() as cursor:
        cursor.execute("PRAGMA cache_size = -16000")
    with one_moment(reader):
        within = pages_kept()
    with pytest.raises(ZeroDivisionError), one_moment(reader):
        _ = 1 / 0

    assert (within, pages_kept()) == (-2000, -16000)


def _sees_one_moment(reader, writer):
    with writer.cursor() as cursor:
        cursor.execute("CREATE TABLE kept (n integer)")

    def count():
        with reader.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM kept")
            return cursor.fetchone()[0]

    with one_moment(reader):
        before = count()
        with writer.cursor() as cursor:
            cursor.execute("INSERT INTO kept VALUES (1)")
        within = count()
    assert (before, within, count()) == (0, 0, 1)
