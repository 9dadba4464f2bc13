"""What every answer tells the browser: what may run in a page, who may frame it, how cookies are kept."""

from __future__ import annotations

import importlib

import pytest

from results.site import settings as site
from results.site.policies import content_policy
from tests.factories import make_user
from tests.results.pages.shops import a_shop

pytestmark = pytest.mark.django_db

PAGES = ["/", "/login/", "/compare/", "/api/v1/", "/api/v1/reference/", "/no-such-page/", "/data/changes.atom"]


def policy(response) -> dict[str, str]:
    """The Content-Security-Policy by directive."""
    parts = (part.split(None, 1) for part in response.headers["Content-Security-Policy"].split("; "))
    return {name: " ".join(rest) for name, *rest in parts}


@pytest.mark.parametrize("address", PAGES)
def test_every_answer_allows_nothing_but_what_comes_from_this_host(client, address):
    headers = client.get(address).headers

    assert policy(client.get(address)) == {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self' data: blob:",
        "font-src": "'self'",
        "connect-src": "'self'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
        "base-uri": "'none'",
    }
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "camera=()" in headers["Permissions-Policy"] and "geolocation=()" in headers["Permissions-Policy"]


@pytest.mark.usefixtures("vocabulary")
def test_a_chart_for_others_pages_may_be_framed_by_them_and_has_no_other_freedom(client):
    a_shop()

    response = client.get("/compare/embed/strength/")

    assert response.status_code == 200
    found = policy(response)
    assert found.pop("frame-ancestors") == "*"
    assert found == {key: value for key, value in policy(client.get("/")).items() if key != "frame-ancestors"}
    assert "X-Frame-Options" not in response.headers


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(client):
    make_user("owner")
    client.get("/login/")
    client.post("/login/", {"login": "owner", "password": "sawdust"})

    for name in ("sessionid", "csrftoken"):
        cookie = client.cookies[name]
        assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["domain"]) == (True, "Lax", "/", "")


@pytest.fixture
def over_https(monkeypatch):
    """The site's settings as they are where it is served to others."""
    monkeypatch.setenv("HTTPS", "True")
    yield importlib.reload(site)
    monkeypatch.undo()
    importlib.reload(site)


def test_over_https_cookies_and_requests_never_go_in_the_clear(over_https):
    assert (over_https.SESSION_COOKIE_SECURE, over_https.CSRF_COOKIE_SECURE) == (True, True)
    assert (over_https.SESSION_COOKIE_NAME, over_https.CSRF_COOKIE_NAME) == ("__Host-sessionid", "__Host-csrftoken")
    assert content_policy(over_https.SECURE_CSP).endswith("; upgrade-insecure-requests")
    assert over_https.SECURE_SSL_REDIRECT and over_https.SECURE_HSTS_SECONDS >= 31_536_000


def test_staff_come_in_by_the_door_of_everybody(client):
    for address in ("/admin/", "/admin/login/"):
        response = client.get(address, follow=True)
        assert response.redirect_chain[-1][0].startswith("/login/?next=")
    client.force_login(make_user("reader"))
    assert client.get("/admin/", follow=True).status_code == 403
