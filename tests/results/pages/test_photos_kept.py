"""Photos of a study: who sees them, who changes and removes them, and that files and rows go together."""

from __future__ import annotations

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from PIL import Image

from results.models import Photo, Study, data_version
from results.photos.keep import Closed, Sent, add, remove
from results.photos.remake import remake
from tests.factories import make_study
from tests.results.photos.pictures import photo, saved

from .photo_pages import PEOPLE, STATUSES, a_photo, a_study, address, as_, person, row
from .shops import text

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shelf(settings, tmp_path):
    """A folder of its own for the files."""
    settings.MEDIA_ROOT = tmp_path
    return tmp_path / "photos"


# who may what


@pytest.mark.parametrize("status", STATUSES)
@pytest.mark.parametrize("who", PEOPLE)
def test_photo_is_seen_by_whoever_may_read_the_study_and_nobody_else(status, who):
    study = a_study("accepted")
    one = a_photo(study)
    reason = "wrong arm" if status == "withdrawn" else ""
    Study.objects.filter(pk=study.pk).update(status=status, withdrawn_reason=reason)
    public = status in ("accepted", "withdrawn")
    may = public or who == "owner" or (who == "reviewer" and status in ("submitted", "returned"))
    client = as_(who)

    for url in (one.get_absolute_url(), one.small_url):
        response = client.get(url)
        assert response.status_code == (200 if may else 404), (url, who)
        if may:
            assert response.headers["Cache-Control"] == ("public, max-age=86400" if public else "private, no-cache")
            assert response.headers["Content-Type"] == "image/jpeg"
            assert response.headers["X-Content-Type-Options"] == "nosniff"
            assert response.headers["Content-Disposition"].startswith('inline; filename="breakbook-')
            assert ("Cookie" in response.headers.get("Vary", "")) != public
            again = client.get(url, headers={"If-None-Match": response.headers["ETag"]})
            assert (again.status_code, again.content) == (304, b"")
            assert again.headers["Cache-Control"] == response.headers["Cache-Control"]
            assert client.get(url, headers={"If-None-Match": '"another"'}).status_code == 200
        assert client.post(url).status_code == 405


def test_photo_and_small_one_are_the_files_that_were_made():
    one = a_photo(a_study())
    client = as_("nobody")

    gzip = {"Accept-Encoding": "gzip"}
    large, small = (client.get(url, headers=gzip).content for url in (one.get_absolute_url(), one.small_url))

    remade = remake(photo(), 12)
    assert (large, small) == (remade.picture, remade.small)
    assert Image.open(io.BytesIO(large)).size == (one.width, one.height)
    head = client.head(one.get_absolute_url())
    assert head.headers["Content-Length"] == str(one.size_bytes)


def test_photo_that_is_not_there_is_not_found(shelf):
    one = a_photo(a_study())
    client = as_("nobody")
    for path in shelf.iterdir():
        path.unlink()

    for url in (one.get_absolute_url(), one.small_url, f"/photos/{uuid.uuid4()}.jpg", "/photos/../settings.jpg"):
        assert client.get(url).status_code == 404


@pytest.mark.parametrize("status", STATUSES)
@pytest.mark.parametrize("who", PEOPLE)
def test_only_the_contributor_changes_photos_and_never_of_a_withdrawn_study(status, who):
    study = a_study()
    one = a_photo(study)
    reason = "wrong arm" if status == "withdrawn" else ""
    Study.objects.filter(pk=study.pk).update(status=status, withdrawn_reason=reason)
    client = as_(who)
    own, base = who == "owner", address(study)
    reads = status in ("accepted", "withdrawn") or (who == "reviewer" and status in ("submitted", "returned"))
    refused = 302 if who == "nobody" else 403 if reads else 404
    writes = {
        base: row(0, photo(seed=7), "New"),
        f"{base}{one.pk}/": {"caption": "Other words", "before": '["Tenon broken off", "", ""]'},
        f"{base}{one.pk}/remove/": {},
    }

    for url, data in writes.items():
        got, posted = client.get(url), client.post(url, data)
        assert got.status_code == (200 if own else refused), url
        assert posted.status_code == ((409 if status == "withdrawn" else 302) if own else refused), url
        if who == "nobody":
            assert posted.url == f"/login/?next={url}"
        assert client.put(url).status_code == (302 if who == "nobody" else 405)
    captions = set(study.photos.values_list("caption", flat=True))
    assert captions == ({"New"} if own and status != "withdrawn" else {"Tenon broken off"})


def test_photo_of_another_study_of_ones_own_is_not_found_under_this_one():
    study, other = a_study(), make_study(contributor=person("owner"))
    one = a_photo(study)

    for url in (f"{address(other)}{one.pk}/", f"{address(other)}{one.pk}/remove/"):
        assert as_("owner").get(url).status_code == 404


def test_form_of_another_site_is_refused():
    study = a_study()
    client = Client(enforce_csrf_checks=True)
    client.force_login(study.contributor)

    for url, data in ((address(study), row(0, photo())), (f"{address(study)}{a_photo(study).pk}/remove/", {})):
        assert client.post(url, data).status_code == 403
    assert study.photos.count() == 1


# changing and removing


def test_what_is_said_of_a_photo_can_be_changed():
    study = a_study()
    url = f"{address(study)}{a_photo(study).pk}/"
    client = as_("owner")
    page = client.get(url).content.decode()
    assert 'value="Tenon broken off"' in page

    before = '["Tenon broken off", "", ""]'
    response = client.post(url, {"caption": "Shoulder crushed", "specimen": "A2", "before": before})

    one = study.photos.select_related("series", "specimen").get()
    assert (response.status_code, one.caption, one.specimen.label, one.series.label) == (
        302, "Shoulder crushed", "A2", "Oak tenons",
    )  # fmt: skip
    wrong = client.post(url, {"caption": "", "specimen": "A7", "before": before})
    assert wrong.status_code == 422
    assert "The caption is blank" in text(wrong) and "There is no specimen 'A7'" in text(wrong)


def test_words_that_were_changed_in_another_tab_are_not_overwritten_unseen():
    study = a_study()
    url = f"{address(study)}{a_photo(study).pk}/"
    client = as_("owner")
    before = '["Tenon broken off", "", ""]'
    client.post(url, {"caption": "From the first tab", "before": before})

    second = client.post(url, {"caption": "From the second tab", "before": before})

    assert second.status_code == 409
    assert "it says “From the first tab” now" in text(second)
    assert 'value="From the second tab"' in second.content.decode()
    assert study.photos.get().caption == "From the first tab"
    # Sent once more, having seen it, it holds; and the first form sent twice is no quarrel.
    now = '["From the first tab", "", ""]'
    assert client.post(url, {"caption": "From the second tab", "before": now}).status_code == 302
    assert client.post(url, {"caption": "From the second tab", "before": now}).status_code == 302


def test_removing_asks_first_and_takes_the_files_along(shelf, django_capture_on_commit_callbacks):
    study = a_study()
    one = a_photo(study)
    url = f"{address(study)}{one.pk}/remove/"
    client = as_("owner")
    before = data_version().number

    assert "Remove this photo?" in text(client.get(url)) and study.photos.exists()
    with django_capture_on_commit_callbacks(execute=True):
        assert "The photo was removed." in text(client.post(url, follow=True))

    assert not study.photos.exists() and not list(shelf.iterdir())
    assert client.get(one.get_absolute_url()).status_code == 404
    assert data_version().number > before
    assert "That photo was removed before." in text(client.post(url, follow=True))
    assert client.get(url).status_code == 404


def test_files_stay_when_the_row_stays(shelf, django_capture_on_commit_callbacks):
    one = a_photo(a_study())
    with django_capture_on_commit_callbacks(execute=True), pytest.raises(RuntimeError), transaction.atomic():
        remove(one)
        raise RuntimeError("the server goes down before the end")

    kept = Photo.objects.get()
    assert {kept.file.path, kept.thumbnail.path} == {str(path) for path in shelf.iterdir()}


def test_files_go_with_the_study(shelf, django_capture_on_commit_callbacks):
    study = a_study("draft")
    a_photo(study)
    with django_capture_on_commit_callbacks(execute=True):
        study.delete()

    assert not list(shelf.iterdir())


def test_photo_stays_with_its_study_when_its_specimen_goes():
    study = a_study()
    series = study.series.get()
    a_photo(study, series=series, specimen=series.specimens.get(label="A1"))

    series.specimens.get(label="A1").delete()
    assert (study.photos.get().series, study.photos.get().specimen) == (series, None)
    series.delete()
    assert study.photos.get().series is None


def test_withdrawn_study_takes_none_whatever_way_they_come():
    study = a_study("withdrawn")

    with pytest.raises(Closed, match="withdrawn study can't be changed"):
        add(study, study.contributor, [Sent(remake(photo(), 12), "x")])


def test_names_of_files_sent_are_not_used(shelf):
    study = a_study()
    sent = row(0, None) | {"photo-0": SimpleUploadedFile("../../evil.php", saved(Image.new("RGB", (99, 99)), "PNG"))}

    assert as_("owner").post(address(study), sent).status_code == 302
    assert sorted(path.suffix for path in shelf.iterdir()) == [".jpg", ".jpg"]
