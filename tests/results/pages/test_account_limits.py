"""Nobody guesses passwords here: what is tried too often is refused for a while, by every process of the server."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest
from allauth.core.internal import ratelimit
from django.conf import settings as site
from django.core import mail
from django.core.cache import caches
from django.core.cache.backends import locmem
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from results.site import settings as real
from tests.factories import make_user

from .people import code_of, is_in, joined, log_in, second_factor, sign_up
from .shops import text

pytestmark = pytest.mark.django_db
WAIT = "300"


@pytest.fixture
def owner():
    return make_user("owner")


def test_five_wrong_passwords_and_the_right_one_is_refused_too(client, owner):
    tries = [log_in(client, "owner", f"wrong {number}").status_code for number in range(5)]

    refused = log_in(client, "owner", "sawdust")

    assert tries == [422] * 5
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, WAIT)
    assert "Too many wrong tries. Wait five minutes" in text(refused)
    assert not is_in(client)
    # Others are not shut out with them, and neither is the one who knows it once the wait is over.
    make_user("other")
    assert log_in(Client(), "other", "sawdust").status_code == 302


def test_whoever_tries_wrong_passwords_keeps_nobody_out_elsewhere(client, owner):
    tries = [log_in(client, "owner", f"wrong {number}").status_code for number in range(7)]
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")

    assert tries == [422] * 5 + [429] * 2
    assert log_in(elsewhere, "owner", "sawdust").status_code == 302
    # There is no more to guess with elsewhere than here.
    others = Client(REMOTE_ADDR="192.0.2.8")
    assert [log_in(others, "owner", f"wrong {number}").status_code for number in range(6)] == [422] * 5 + [429]


@pytest.fixture
def clock(monkeypatch):
    """The time that limits are told, in s before or after the right one."""
    told = SimpleNamespace(ahead_s=0.0, monotonic=time.monotonic, sleep=time.sleep)
    told.time = lambda: time.time() + told.ahead_s
    monkeypatch.setattr(ratelimit, "time", told)
    return told


def test_a_clock_that_was_ahead_keeps_nobody_out_once_it_is_right(client, owner, clock):
    clock.ahead_s = 2 * 3600
    assert [log_in(client, "owner", f"wrong {number}").status_code for number in range(6)] == [422] * 5 + [429]

    clock.ahead_s = 0

    assert log_in(client, "owner", "sawdust").status_code == 302
    # And tries are counted from there on as ever.
    tries = [log_in(Client(), "owner", f"wrong {number}").status_code for number in range(6)]
    assert tries == [422] * 5 + [429]


def test_a_machine_whose_clock_is_a_little_behind_forgets_no_tries_of_another(client, owner, clock):
    clock.ahead_s = 2
    for number in range(5):
        log_in(client, "owner", f"wrong {number}")

    clock.ahead_s = 0

    assert log_in(client, "owner", "sawdust").status_code == 429


def test_right_passwords_are_not_counted(client, owner):
    for _ in range(7):
        assert log_in(client, "owner", "sawdust").status_code == 302
        client.logout()


def test_tries_at_many_names_from_one_address_are_counted_together(client, owner):
    tries = [log_in(client, f"name {number}", "wrong").status_code for number in range(31)]

    assert (tries[:30], tries[30]) == ([422] * 30, 429)
    assert log_in(client, "owner", "sawdust").status_code == 429
    # From another address, the owner gets in.
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    assert log_in(elsewhere, "owner", "sawdust").status_code == 302


def test_an_invented_forwarding_header_is_no_other_address(owner):
    tries = [
        log_in(Client(headers={"X-Forwarded-For": f"192.0.2.{number}"}), f"name {number}", "wrong").status_code
        for number in range(31)
    ]

    assert tries[-1] == 429


def test_behind_a_proxy_the_address_it_adds_is_counted(settings, owner):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1

    def tried(number: int, reader: str) -> int:
        return log_in(Client(headers={"X-Forwarded-For": f"invented, {reader}"}), f"name {number}", "x").status_code

    assert [tried(number, "192.0.2.1") for number in range(31)][-1] == 429
    assert tried(31, "192.0.2.2") == 422


def test_signing_up_too_often_gets_a_page_that_says_so(client):
    answers = [sign_up(client, username=f"joiner{number}", email="x") for number in range(21)]

    refused = answers[-1]
    assert [one.status_code for one in answers] == [422] * 20 + [429]
    assert refused.headers["Retry-After"] == WAIT
    assert "Too many tries" in text(refused) and "Wait five minutes" in text(refused)


def test_asking_for_resets_too_often_sends_no_more_mail(client):
    joined(client)
    client.logout()
    mail.outbox.clear()

    ask = reverse("account_reset_password")
    answers = [client.post(ask, {"email": "joiner@shop.example"}).status_code for _ in range(4)]

    assert answers == [302, 302, 302, 429]
    assert len(mail.outbox) == 3


def test_five_wrong_codes_and_the_right_one_is_refused_too(client, owner):
    secret = second_factor(owner)
    log_in(client, "owner", "sawdust")
    page = reverse("mfa_authenticate")

    tries = [client.post(page, {"code": "000000"}).status_code for _ in range(5)]
    refused = client.post(page, {"code": code_of(secret)})

    assert tries == [422] * 5
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, WAIT)
    assert not is_in(client)


def test_the_limits_are_kept_where_all_processes_look(client, owner, settings):
    settings.CACHES = real.CACHES
    call_command("createcachetable", verbosity=0)
    assert caches["default"].__class__.__name__ == "DatabaseCache"

    for number in range(5):
        assert log_in(client, "owner", f"wrong {number}").status_code == 422
        # What a process keeps for itself, the next one knows nothing of.
        for kept in (*locmem._caches.values(), *locmem._expire_info.values()):
            kept.clear()

    assert log_in(client, "owner", "sawdust").status_code == 429


_PROCESS = """
import django
from django.conf import settings
from results.site import settings as site
apps = ["django.contrib.contenttypes", "django.contrib.auth", "allauth", "allauth.account"]
kept = {name: getattr(site, name) for name in ("CACHES", "DATABASES", "ACCOUNT_RATE_LIMITS", "SECRET_KEY")}
settings.configure(INSTALLED_APPS=apps, MIDDLEWARE=["allauth.account.middleware.AccountMiddleware"], **kept)
django.setup()
from django.test import RequestFactory
from allauth.core import context
from allauth.core.internal import ratelimit
request = RequestFactory().post("/login/")
with context.request_context(request):
    for _ in range(10):
        used = ratelimit.consume(request, app="allauth.account", action="login_failed", key="joiner")
        print(int(used is not None))
"""


@pytest.mark.django_db(databases=[])
def test_processes_at_the_same_time_let_through_no_more_than_one_would(tmp_path):
    environment = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{tmp_path / 'shared.sqlite3'}",
        "DATA_DIR": str(tmp_path),
        "SECRET_KEY": "for-tests-only",
    }
    with sqlite3.connect(tmp_path / "shared.sqlite3") as made:
        made.execute("CREATE TABLE shared_cache (cache_key TEXT PRIMARY KEY, value TEXT, expires DATETIME)")
    made.close()

    trying = [
        subprocess.Popen(
            [sys.executable, "-c", _PROCESS], env=environment, cwd=site.BASE_DIR, stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    let_through = [int(line) for one in trying for line in one.communicate(timeout=60)[0].split()]

    assert len(let_through) == 20 and sum(let_through) == 5
