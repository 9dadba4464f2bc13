"""Photos of a study: added, shown on its page, refused in words, and never half kept."""

from __future__ import annotations

import resource
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.db import IntegrityError, transaction

from results.models import Photo, data_version
from results.photos.keep import Sent, add
from results.photos.remake import remake
from tests.factories import make_series, make_specimen, make_study
from tests.results.photos.pictures import GPS_WORDS, photo, with_gps

from .photo_pages import a_photo, a_study, address, as_, row
from .shops import text

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shelf(settings, tmp_path):
    """A folder of its own for the files."""
    settings.MEDIA_ROOT = tmp_path
    return tmp_path / "photos"


# adding


def test_several_photos_are_added_at_once_each_with_what_it_shows(shelf):
    study = a_study()
    before = data_version().number
    sent = (
        row(0, with_gps(), "The whole rig")
        | row(2, photo(seed=2), " Tenon   broken off ", "Oak tenons", "a1")
        | row(4, photo(seed=3), "Series after the test", "Oak tenons")
    )

    response = as_("owner").post(address(study), sent, follow=True)

    assert "3 photos added." in text(response)
    kept = {one.caption: one for one in study.photos.select_related("series", "specimen")}
    assert set(kept) == {"The whole rig", "Tenon broken off", "Series after the test"}
    one = kept["Tenon broken off"]
    assert (one.series.label, one.specimen.label, one.sent_by.username) == ("Oak tenons", "A1", "owner")
    assert (one.width, one.height, one.size_bytes) == (320, 240, len(Path(one.file.path).read_bytes()))
    assert kept["The whole rig"].series is None
    assert sorted(path.name for path in shelf.iterdir()) == sorted(
        f"{one.pk}{end}.jpg" for one in kept.values() for end in ("", "-small")
    )
    assert not any(GPS_WORDS in path.read_bytes() for path in shelf.iterdir())
    assert data_version().number > before
    study.refresh_from_db()
    assert study.changed_at > study.created_at


def test_photos_stand_on_the_page_of_the_study_by_series_with_their_captions():
    study = a_study()
    series = study.series.get()
    whole = a_photo(study, 1, "The <b>rig</b>")
    one = a_photo(study, 2, "Tenon broken off", series=series, specimen=series.specimens.get(label="A2"))

    page = as_("nobody").get(f"/studies/{study.pk}/").content.decode()

    assert "The &lt;b&gt;rig&lt;/b&gt;" in page and "<b>rig</b>" not in page
    for shown in (whole, one):
        assert f'href="/photos/{shown.pk}.jpg"' in page and f'src="/photos/{shown.pk}-small.jpg"' in page
    assert 'alt="Tenon broken off"' in page and "<strong>A2</strong> Tenon broken off" in page
    assert page.index("The study as a whole") < page.index(f'<a href="#series-{series.pk}">Oak tenons</a>')
    assert "Add, change or remove" not in page
    assert "Add, change or remove" in text(as_("owner").get(f"/studies/{study.pk}/"))


def test_page_without_photos_says_nothing_of_them_but_to_its_contributor():
    study = a_study()

    assert "photos-of-breaks" not in as_("nobody").get(f"/studies/{study.pk}/").content.decode()
    assert "None yet." in text(as_("owner").get(f"/studies/{study.pk}/"))


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "No photo was chosen. Choose one, and say what it shows."),
        (row(0, None), "No photo was chosen for this caption."),
        (row(0, photo(), ""), "The caption is blank; say what the photo shows, such as: tenon broken off"),
        (row(0, photo(), "x" * 201), "The caption has 201 characters; 200 fit."),
        (row(0, photo(), "looks\u202efine"), "The caption holds a character that can't be kept"),
        (row(0, photo(), "a\0b"), "The caption holds a character that can't be kept"),
        (row(0, photo(), series="Ash"), "The study has no series 'Ash'; choose one from the list."),
        (row(0, photo(), specimen="A\x001"), "There is no specimen 'A\\x001' in series Oak tenons; it has A1, A2."),
        (row(0, photo(), specimen="A9"), "There is no specimen 'A9' in series Oak tenons; it has A1, A2."),
        (row(0, b"GIF89a" + b"0" * 99), "The file is a GIF. Send a photo as JPEG, PNG, WebP or HEIC"),
        (row(0, b"<svg/>"), "The file is an SVG"),
        (row(0, b""), "The file is empty"),
        (row(0, photo(1, 1)), "1 × 1 pixels"),
        (row(0, photo()[:2000]), "damaged or was cut short"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_field_and_nothing_typed_is_lost(sent, words, shelf):
    study = a_study()

    response = as_("owner").post(address(study), sent)

    assert response.status_code == 422
    assert words in text(response)
    page = response.content.decode()
    assert 'aria-invalid="true"' in page
    typed = " ".join(sent.get("caption-0", "").split())
    if typed.isprintable():
        assert f'value="{typed}"' in page
    assert not study.photos.exists() and not shelf.exists()


def test_rows_that_are_right_are_kept_beside_those_that_are_wrong():
    study = a_study()
    sent = row(0, photo(seed=1), "") | row(1, photo(seed=2), "Good one") | row(2, b"nothing", "Bad one", specimen="A1")

    response = as_("owner").post(address(study), sent)

    shown = text(response)
    assert response.status_code == 422 and "1 photo added." in shown
    assert [one.caption for one in study.photos.all()] == ["Good one"]
    assert "The caption is blank" in shown and "no picture of a kind known here" in shown
    page = response.content.decode()
    assert page.index("The caption is blank") < page.index('value="Bad one"') < page.index('value="A1"')


def test_specimen_of_the_same_name_in_two_series_has_to_be_told_apart():
    study = a_study()
    make_specimen(make_series(study, label="Ash tenons"), label="A1")
    client = as_("owner")

    response = client.post(address(study), row(0, photo(), specimen="A1"))
    assert "Several series have a specimen 'A1': Oak tenons, Ash tenons. Choose one." in text(response)

    assert client.post(address(study), row(0, photo(), series="ash tenons", specimen="A1")).status_code == 302
    assert study.photos.get().specimen.series.label == "Ash tenons"


def test_same_picture_twice_is_caught_however_it_was_saved():
    study = a_study()
    client = as_("owner")
    client.post(address(study), row(0, photo()))

    # Behind the picture there is something else, and it has another name; it is the same picture.
    response = client.post(address(study), row(0, photo() + b"tail", "Another caption"))

    assert response.status_code == 422 and study.photos.count() == 1
    assert "This very picture is here already, as “Tenon broken off”." in text(response)
    both = row(0, photo(seed=5), "One") | row(1, photo(seed=5), "Two")
    assert "as “One”" in text(client.post(address(study), both))
    assert client.post(address(make_study(contributor=study.contributor)), row(0, photo())).status_code == 302


def test_form_sent_twice_is_kept_once_without_complaint():
    study = a_study()
    client = as_("owner")

    for _ in range(2):
        assert client.post(address(study), row(0, photo(), specimen="A1")).status_code == 302

    assert study.photos.count() == 1


def test_study_holds_so_many_photos_and_no_more(settings):
    settings.PHOTOS_MOST = 2
    study = a_study()
    sent = row(0, photo(seed=1), "One") | row(1, photo(seed=2), "Two") | row(2, photo(seed=3), "Three")

    response = as_("owner").post(address(study), sent)

    assert "A study has room for 2 photos, and this one is full. Remove one that says less first." in text(response)
    assert sorted(study.photos.values_list("caption", flat=True)) == ["One", "Two"]
    assert "has room for no more photos" in text(as_("owner").get(address(study)))


def test_large_file_and_long_request_are_refused_in_words(settings):
    settings.PHOTO_MAX_MB = 1
    study = a_study()
    client = as_("owner")

    response = client.post(address(study), row(0, photo() + b"\0" * 1_100_000))
    assert response.status_code == 422 and "MB; up to 1 MB are taken. Save it smaller" in text(response)

    five = row(0, photo() + b"\0" * 7_000_000)
    response = client.post(address(study), five)
    assert response.status_code == 413 and "larger than what is taken at once" in text(response)
    assert not study.photos.exists()


@pytest.mark.parametrize("said", ["²", "9" * 5000, "x"])
def test_length_that_is_none_is_too_long(said):
    study = a_study()

    response = as_("owner").generic("POST", address(study), b"", CONTENT_LENGTH=said)

    assert response.status_code == 413 and "larger than what is taken at once" in text(response)


@contextmanager
def full_disk(bytes_left: int):
    """No file grows beyond so many bytes: the system's own refusal, half-way through a file."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_left, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_full_disk_keeps_nothing_by_half_and_says_so(shelf):
    study = a_study()
    a_photo(study, 9, "Before")
    small, large = photo(200, 150, seed=1), photo(1200, 900, seed=2)
    before = sorted(shelf.iterdir())
    with full_disk(len(remake(small, 12).picture) + 1000):
        response = as_("owner").post(address(study), row(0, small, "Fits") | row(1, large, "Does not fit"))

    assert response.status_code == 507
    assert "Nothing was kept: the server's disk is full." in text(response)
    assert [one.caption for one in study.photos.all()] == ["Before"]
    assert sorted(shelf.iterdir()) == before


def test_row_that_is_not_saved_leaves_no_file(shelf):
    study = a_study()

    with pytest.raises(IntegrityError), transaction.atomic():
        add(study, study.contributor, [Sent(remake(photo(), 12), "kept?"), Sent(remake(photo(seed=2), 12), None)])

    assert not Photo.objects.exists() and not list(shelf.iterdir())
