"""The page of a reader's token."""

from __future__ import annotations

import html
import re
import subprocess

import pytest
from rest_framework.authtoken.models import Token

from api.openapi.answers import DRAFT_EXAMPLE
from results.models import Study
from results.vocabulary import load_vocabulary
from tests.api.test_drafts import as_csv
from tests.factories import make_user

from .shops import text

ADDRESS = "/data/token/"


@pytest.fixture
def maker(client):
    user = make_user("maker")
    client.force_login(user)
    return user


@pytest.mark.django_db
def test_token_needs_somebody_signed_in(client):
    response = client.get(ADDRESS)

    assert (response.status_code, response.url) == (302, f"/login/?next={ADDRESS}")
    assert client.post(ADDRESS, {"do": "new"}).status_code == 302
    assert not Token.objects.exists()


@pytest.mark.django_db
def test_token_is_made_shown_replaced_and_ended(client, maker):
    assert "You have none." in text(client.get(ADDRESS))

    response = client.post(ADDRESS, {"do": "new"}, follow=True)
    first = Token.objects.get(user=maker).key
    assert first in text(response)
    client.post(ADDRESS, {"do": "new"})
    second = Token.objects.get(user=maker).key
    allowed = [
        client.get("/api/v1/columns", headers={"Authorization": f"Bearer {key}"}).status_code for key in (first, second)
    ]
    client.post(ADDRESS, {"do": "end"})

    assert allowed == [401, 200]
    assert not Token.objects.exists()
    assert "You have none." in text(client.get(ADDRESS))


@pytest.mark.django_db
def test_token_is_kept_by_no_cache_and_shown_to_its_owner_only(client, maker):
    other = Token.objects.create(user=make_user("other")).key

    response = client.get(ADDRESS)

    assert other not in response.content.decode()
    assert response.headers["Cache-Control"] == "no-store, private"


@pytest.mark.django_db
def test_page_tells_what_a_token_is_good_for(client, maker, settings):
    settings.API_TOKEN_PER_MINUTE, settings.API_ANONYMOUS_PER_MINUTE = 70, 7

    assert "it may ask the read API 70 times a minute instead of 7" in text(client.get(ADDRESS))
    assert f'href="{ADDRESS}"' in client.get("/data/").content.decode()


@pytest.mark.django_db(transaction=True)
def test_lines_that_send_a_draft_run_as_printed(client, live_server, tmp_path):
    load_vocabulary()
    user = make_user("maker")
    Token.objects.create(user=user)
    client.force_login(user)
    page = client.get(ADDRESS, headers={"host": live_server.url.removeprefix("http://")}).content.decode()
    printed = html.unescape(re.search(r'<code data-language="shell">(.*?)</code>', page, re.S)[1])
    (tmp_path / "study.csv").write_text(as_csv(DRAFT_EXAMPLE))

    sent = {"cwd": tmp_path, "capture_output": True, "text": True, "timeout": 60, "check": False}
    run = subprocess.run(["bash", "-ec", printed], **sent)

    study = Study.objects.get()
    assert run.returncode == 0, run.stderr
    assert f'"study_id":{study.pk}' in run.stdout
    assert (study.status, study.contributor) == (Study.Status.DRAFT, user)
