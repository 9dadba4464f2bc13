"""An invented study to try: filled in, with a slip to be found, handed in, and taken back."""

from __future__ import annotations

import pytest

from results.models import Study
from tests.factories import make_user

from .forms import post, save, values_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
FORM = "/submit/form/"


def test_an_invented_study_is_handed_in_and_taken_back(client):
    client.force_login(make_user())
    start = client.get("/submit/").content.decode()
    assert f'href="{FORM}?example"' in start

    page = client.get(f"{FORM}?example")
    assert "An invented study, to try it." in page.content.decode()
    values = values_of(page)
    assert "looks like newtons" in post(client, values).content.decode()

    save(client, values)
    study = Study.objects.get()
    told = client.get(study.get_absolute_url()).content.decode()
    assert study.invented and study.status == Study.Status.SUBMITTED
    assert "It is invented: if you only wanted to see how it goes, take it back." in told

    assert client.get("/mine/").content.decode().count(f'href="/studies/{study.pk}/take-back/"') == 1
    client.post(f"/studies/{study.pk}/take-back/", follow=True)
    assert not Study.objects.exists()


def test_each_opening_is_a_study_of_its_own(client):
    client.force_login(make_user())

    assert values_of(client.get(f"{FORM}?example"))["key"] != values_of(client.get(f"{FORM}?example"))["key"]


def test_whoever_is_not_logged_in_is_asked_to(client):
    assert client.get(f"{FORM}?example").status_code == 302
