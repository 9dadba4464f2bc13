"""Photos, uploads and releases in a store that all machines reach, by the protocol of S3."""

from __future__ import annotations

import hashlib
import io
import logging
from datetime import timedelta

import boto3
import pyarrow.parquet as pq
import pytest
from django.core.cache import caches
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse
from moto import mock_aws

from results.models import Release, Study, Upload
from results.photos.keep import remove
from results.releases import ReleaseError, make, shelf
from results.site.machines import shared_store
from results.stored import Bucket, StoreAway
from tests.factories import make_user
from tests.results.intake.made import four_sheets, workbook
from tests.results.pages.photo_pages import a_photo
from tests.results.pages.photo_pages import a_study as a_photographed
from tests.results.pages.shops import text
from tests.results.releases.books import ACCEPTED_AT, a_published, a_study, released

pytestmark = pytest.mark.django_db
BUCKET = "book-of-tests"


def use(settings, url):
    options = shared_store(url)
    settings.STORAGES = {**settings.STORAGES, "default": {"BACKEND": "results.stored.Bucket", "OPTIONS": options}}


@pytest.fixture(scope="module")
def store():
    """The bucket, and the site's storage in it: to get to know the protocol takes its library half a second."""
    keys = {"AWS_ACCESS_KEY_ID": "for-tests", "AWS_SECRET_ACCESS_KEY": "for-tests"}
    with pytest.MonkeyPatch.context() as patch, mock_aws():
        for name, value in keys.items():
            patch.setenv(name, value)
        bucket = boto3.resource("s3", region_name="us-east-1").Bucket(BUCKET)
        bucket.create()
        yield bucket


@pytest.fixture
def bucket(store, settings, tmp_path):
    """The bucket, empty, and a disk where nothing may come to lie."""
    settings.DATA_DIR = settings.MEDIA_ROOT = tmp_path / "disk"
    caches["process"].clear()
    use(settings, f"s3://{BUCKET}/here?region=us-east-1")
    yield store
    store.objects.all().delete()
    assert not (tmp_path / "disk").exists()


@pytest.fixture
def away(settings, tmp_path, monkeypatch):
    """A store at a port where nobody listens."""
    settings.DATA_DIR = tmp_path
    caches["process"].clear()
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "for-tests")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "for-tests")
    use(settings, f"s3://{BUCKET}?endpoint=http://127.0.0.1:1&region=us-east-1")


def keys(bucket):
    return sorted(one.key for one in bucket.objects.all())


# the store


def test_files_are_kept_read_and_taken_away(bucket):
    name = default_storage.save("photos/a.jpg", ContentFile(b"picture"))

    assert keys(bucket) == ["here/photos/a.jpg"]
    assert default_storage.open(name).read() == b"picture" and default_storage.size(name) == 7
    assert default_storage.exists(name) and not default_storage.exists("photos/b.jpg")
    default_storage.delete(name)
    default_storage.delete(name)  # gone already
    assert keys(bucket) == []
    with pytest.raises(FileNotFoundError):
        default_storage.open(name)


def test_nothing_is_written_over(bucket):
    first, second = (default_storage.save("uploads/a.csv", ContentFile(data)) for data in (b"one", b"two"))

    assert first != second and default_storage.open(first).read() == b"one"


def test_nothing_is_for_everybody(bucket):
    name = default_storage.save("photos/a.jpg", ContentFile(b"picture"))

    grants = bucket.Object(f"here/{name}").Acl().grants
    assert all(one["Grantee"].get("Type") != "Group" for one in grants)


# photos and uploads


@pytest.mark.usefixtures("vocabulary")
def test_a_photo_is_kept_shown_to_who_may_see_it_and_removed(bucket, client, django_capture_on_commit_callbacks):
    photo = a_photo(a_photographed("submitted"))

    assert keys(bucket) == [f"here/photos/{photo.pk}-small.jpg", f"here/photos/{photo.pk}.jpg"]
    assert client.get(photo.get_absolute_url()).status_code == 404
    client.force_login(photo.study.contributor)
    shown = client.get(photo.get_absolute_url())
    assert shown.status_code == 200 and hashlib.sha256(shown.content).hexdigest() == photo.sha256
    with django_capture_on_commit_callbacks(execute=True):
        remove(photo)
    assert keys(bucket) == []


@pytest.mark.usefixtures("vocabulary")
def test_photos_that_are_not_saved_leave_nothing_behind(bucket):
    study = a_photographed("submitted")

    with pytest.raises(ZeroDivisionError), transaction.atomic():
        a_photo(study)
        raise ZeroDivisionError
    # The files of a transaction around it are its own matter; those of one that fails inside are taken back.
    before = keys(bucket)
    study.photos.all().delete()
    Study.objects.filter(pk=study.pk).update(status="withdrawn", withdrawn_reason="wrong")
    with pytest.raises(ValueError):
        a_photo(study)
    assert keys(bucket) == before


@pytest.mark.usefixtures("vocabulary")
def test_a_spreadsheet_waits_there_from_preview_to_saving(bucket, client):
    client.force_login(make_user("owner"))
    sent = client.post(reverse("submit:send"), {"file": SimpleUploadedFile("a.xlsx", workbook(four_sheets()))})
    upload = Upload.objects.get()

    assert keys(bucket) == [f"here/uploads/{upload.pk}.xlsx"]
    assert "118.5 kg" in text(client.get(sent.headers["Location"]))
    assert client.post(sent.headers["Location"]).status_code == 302
    assert Study.objects.get().upload == upload


# releases


@pytest.fixture
def release(bucket, vocabulary):
    a_study(invented=True)
    a_published()
    return released()


def get(client, release, name="specimens.parquet", **headers):
    response = client.get(f"/data/releases/{release.name}/{name}", headers=headers)
    body = response.getvalue() if response.streaming else response.content
    return response, body


def test_a_release_lies_there_whole_with_the_sums_it_names(release, bucket):
    start = f"here/releases/{release.name}/"
    there = {one.key.removeprefix(start): one.get()["Body"].read() for one in bucket.objects.all()}

    assert set(there) == {*shelf.sums(release), shelf.SUMS}
    assert {name: hashlib.sha256(there[name]).hexdigest() for name in shelf.sums(release)} == shelf.sums(release)
    assert {file.name: file.size for file in shelf.files(release)} == {name: len(data) for name, data in there.items()}


def test_its_files_come_whole_and_forever(release, client):
    response, body = get(client, release)

    assert response.status_code == 200 and response.headers["Content-Length"] == str(len(body))
    assert response.headers["ETag"] == f'"{hashlib.sha256(body).hexdigest()}"'
    assert response.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert response.headers["Content-Type"] == "application/vnd.apache.parquet"
    assert pq.read_table(io.BytesIO(body)).num_rows == release.counts["specimens"]
    again, _ = get(client, release, **{"If-None-Match": response.headers["ETag"]})
    assert again.status_code == 304


@pytest.mark.parametrize(
    ("asked", "part"), [("bytes=0-3", slice(0, 4)), ("bytes=4-", slice(4, None)), ("bytes=-8", slice(-8, None))]
)
def test_a_part_is_the_part_asked_for(release, client, asked, part):
    _, whole = get(client, release)

    response, body = get(client, release, Range=asked)

    assert response.status_code == 206 and body == whole[part]
    first = part.start % len(whole)
    assert response.headers["Content-Range"] == f"bytes {first}-{first + len(body) - 1}/{len(whole)}"
    assert response.headers["Content-Length"] == str(len(body))


def test_a_part_behind_the_end_is_refused(release, client):
    response, _ = get(client, release, Range="bytes=99999999-")

    assert response.status_code == 416


def test_its_page_lists_its_files_and_others_are_not_found(release, client, bucket):
    bucket.Object(f"here/releases/{release.name}/hidden.txt").put(Body=b"hush")

    assert "specimens.parquet" in text(client.get(release.get_absolute_url()))
    for name in ("hidden.txt", "..%2F..%2Fphotos", "SPECIMENS.csv"):
        assert get(client, release, name)[0].status_code == 404


def test_the_next_release_tells_what_has_changed(release):
    a_study("Another", at=ACCEPTED_AT + timedelta(days=1))
    second = released()

    assert [one["study_title"] for one in second.changes["added"]] == ["Another"]
    assert second.changes["before"] == release.name


def test_a_release_whose_files_are_gone_says_so(release, client, bucket):
    bucket.objects.all().delete()
    caches["process"].clear()

    assert "Its files are not here at the moment." in text(client.get(release.get_absolute_url()))
    assert get(client, release)[0].status_code == 404
    with pytest.raises(ReleaseError, match=f"missing from s3://{BUCKET}/here/releases/{release.name}"):
        make()


def test_a_file_that_went_since_it_was_listed_is_not_found(release, client, bucket):
    get(client, release)
    bucket.Object(f"here/releases/{release.name}/specimens.parquet").delete()

    for headers in ({}, {"Range": "bytes=0-3"}):
        assert get(client, release, **headers)[0].status_code == 404


def test_no_release_is_written_over(release, bucket):
    Release.objects.all().delete()
    a_study("Another", at=ACCEPTED_AT)  # the same name, other data
    before = {one.key: one.e_tag for one in bucket.objects.all()}

    with pytest.raises(ReleaseError, match="with other data, and a release is never overwritten"):
        make()

    assert {one.key: one.e_tag for one in bucket.objects.all()} == before
    assert not Release.objects.exists()


def test_one_whose_record_was_lost_is_taken_up_again(release, bucket):
    Release.objects.all().delete()

    again = released()

    assert (again.name, again.data_hash) == (release.name, release.data_hash)


def test_what_a_try_left_behind_that_broke_off_is_no_release(bucket, vocabulary, monkeypatch):
    a_study()
    put, sent = Bucket.put, []

    def breaks(self, path, name, kind):
        if len(sent) == 5:
            raise StoreAway("gone")
        sent.append(name)
        put(self, path, name, kind)

    monkeypatch.setattr(Bucket, "put", breaks)
    with pytest.raises(StoreAway):
        make()
    assert len(keys(bucket)) == 5 and not Release.objects.exists()
    assert not any(key.endswith(shelf.SUMS) for key in keys(bucket))  # it comes last
    monkeypatch.undo()
    caches["process"].clear()

    again = released()
    assert set(shelf.sums(again)) == {file.name for file in shelf.files(again)} - {shelf.SUMS}


# a store that is away


@pytest.mark.usefixtures("vocabulary")
def test_a_store_that_is_away_is_told_and_nothing_is_half_saved(away, caplog):
    caplog.set_level(logging.CRITICAL, "django.request")
    client = Client(raise_request_exception=False)
    client.force_login(make_user("owner"))

    response = client.post(reverse("submit:send"), {"file": SimpleUploadedFile("a.xlsx", workbook(four_sheets()))})

    assert (response.status_code, response.headers["Retry-After"]) == (503, "30")
    assert "where photos, spreadsheets and releases are kept can't be reached" in text(response)
    assert not Upload.objects.exists()
    assert client.get("/studies/").status_code == 200
