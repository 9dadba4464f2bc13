"""A photo of a break sent from a phone, without scripts, and read on the study's page."""

from __future__ import annotations

import pytest

from results.models import Study
from tests.factories import make_series, make_specimen, make_study, make_user
from tests.results.photos.pictures import with_gps

from .conftest import log_in, show_pictures

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.usefixtures("vocabulary")
def test_photo_is_added_and_removed_on_a_phone_without_scripts(open_page):
    study = make_study(contributor=make_user("maker"))
    make_specimen(make_series(study, label="Tenons"), label="A1")
    page = open_page("/", size="phone", javascript=False)
    log_in(page, password="sawdust")
    page.goto(f"/studies/{study.pk}/")

    page.get_by_role("link", name="Add, change or remove photos").click()
    first = page.get_by_role("group", name="Photo 1")
    first.get_by_label("File").set_input_files({"name": "IMG 1.jpg", "mimeType": "image/jpeg", "buffer": with_gps()})
    first.get_by_label("What it shows").fill("Tenon broken off")
    first.get_by_label("Of which specimen").fill("a1")
    page.get_by_role("button", name="Add").click()

    assert "1 photo added." in page.locator("main").inner_text()
    page.goto(f"/studies/{study.pk}/")
    shown = page.get_by_role("img", name="Tenon broken off")
    show_pictures(page)
    assert shown.evaluate("image => image.naturalWidth") == 320
    page.get_by_role("link", name="Add, change or remove photos").click()
    page.get_by_role("link", name="Remove: Tenon broken off").click()
    page.get_by_role("button", name="Remove the photo").click()
    assert "The photo was removed." in page.locator("main").inner_text()
    assert not Study.objects.get().photos.exists()
