"""The second factor: turning it on, logging in with it, recovery codes, and turning it off."""

from __future__ import annotations

import re

import pytest
from allauth.mfa.models import Authenticator
from django.core import mail
from django.urls import reverse

from tests.factories import make_user

from .people import code_of, is_in, log_in, second_factor
from .shops import text

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    user = make_user("owner")
    log_in(client, "owner", "sawdust")
    return user


def with_password(client, page: str):
    """Open a page that asks for the password once more, and give it."""
    asked = client.get(page)
    assert asked.url.startswith(reverse("account_reauthenticate"))
    return client.post(asked.url, {"password": "sawdust"}, follow=True)


def test_the_second_factor_is_turned_on_with_a_code_and_then_asked_for(client, owner):
    assert "It is off." in text(client.get(reverse("mfa_index")))
    page = with_password(client, reverse("mfa_activate_totp"))
    secret = re.search(r"Secret: ([A-Z2-7]+)", text(page))[1]
    assert 'src="data:image/svg+xml' in page.content.decode()

    wrong = client.post(reverse("mfa_activate_totp"), {"code": "000000"})
    assert wrong.status_code == 422 and "This code isn't right" in text(wrong)
    assert secret in text(wrong)
    done = client.post(reverse("mfa_activate_totp"), {"code": code_of(secret)}, follow=True)

    codes = re.findall(r"\b\d{8}\b", text(done))
    assert "10 of 10 are unused" in text(done) and len(set(codes)) == 10
    client.logout()
    assert log_in(client, "owner", "sawdust", next="/mine/").url == reverse("mfa_authenticate")
    assert not is_in(client)
    wrong = client.post(reverse("mfa_authenticate"), {"code": "000000"})
    assert wrong.status_code == 422 and "This code isn't right" in text(wrong) and not is_in(client)
    right = client.post(reverse("mfa_authenticate"), {"code": code_of(secret, 1)})
    assert (right.status_code, right.url) == (302, "/mine/") and is_in(client)


def test_a_code_is_good_once(client, owner):
    secret = second_factor(owner)
    code = code_of(secret)
    client.logout()
    log_in(client, "owner", "sawdust")
    client.post(reverse("mfa_authenticate"), {"code": code})
    assert is_in(client)
    client.logout()
    log_in(client, "owner", "sawdust")

    again = client.post(reverse("mfa_authenticate"), {"code": code})

    assert again.status_code == 422 and "was used already" in text(again)
    assert not is_in(client)


def test_a_recovery_code_opens_the_account_once(client, owner):
    second_factor(owner)
    codes = Authenticator.objects.get(user=owner, type="recovery_codes").wrap().get_unused_codes()
    for status in (302, 422):
        client.logout()
        log_in(client, "owner", "sawdust")
        assert client.post(reverse("mfa_authenticate"), {"code": codes[3]}).status_code == status


def test_the_code_page_is_for_those_with_the_password(client):
    make_user("owner")

    response = client.get(reverse("mfa_authenticate"))

    assert (response.status_code, response.url) == (302, reverse("login"))


@pytest.mark.django_db(transaction=True)  # told once a change is certain
def test_recovery_codes_are_shown_after_the_password_only_and_made_anew(client, owner):
    second_factor(owner)
    old = Authenticator.objects.get(user=owner, type="recovery_codes").wrap().get_unused_codes()
    for name in ("mfa_view_recovery_codes", "mfa_generate_recovery_codes", "mfa_download_recovery_codes"):
        assert client.get(reverse(name)).url.startswith(reverse("account_reauthenticate"))

    shown = with_password(client, reverse("mfa_view_recovery_codes"))
    file = client.get(reverse("mfa_download_recovery_codes"))
    client.post(reverse("mfa_generate_recovery_codes"))
    fresh = client.get(reverse("mfa_view_recovery_codes"))

    assert all(code in text(shown) for code in old)
    assert file.content.decode().split() == old
    assert "New recovery codes are made" in text(fresh)
    assert not any(code in text(fresh) for code in old)


def test_turning_it_off_asks_for_the_password_and_leaves_nothing(client, owner):
    second_factor(owner)
    with_password(client, reverse("mfa_deactivate_totp"))

    response = client.post(reverse("mfa_deactivate_totp"), follow=True)

    assert "It is off." in text(response)
    assert not Authenticator.objects.exists()


def test_a_wrong_password_or_code_again_changes_nothing(client, owner):
    second_factor(owner)
    asked = client.get(reverse("mfa_deactivate_totp")).url

    wrong = client.post(asked, {"password": "wrong"})
    other_way = reverse("mfa_reauthenticate") + asked[asked.index("?") :]
    wrong_code = client.post(other_way, {"code": "000000"})

    assert wrong.status_code == 422 and "This is not your password." in text(wrong)
    assert "Use authenticator app or code" in text(wrong)
    assert wrong_code.status_code == 422
    assert client.get(reverse("mfa_deactivate_totp")).status_code == 302
    assert Authenticator.objects.count() == 2


@pytest.mark.django_db(transaction=True)  # told once a change is certain
def test_changes_of_who_gets_in_are_told_by_mail(client):
    user = make_user("owner", email="owner@shop.example")
    user.emailaddress_set.create(email="owner@shop.example", verified=True, primary=True)
    log_in(client, "owner", "sawdust")
    page = with_password(client, reverse("mfa_activate_totp"))
    secret = re.search(r"Secret: ([A-Z2-7]+)", text(page))[1]

    client.post(reverse("mfa_activate_totp"), {"code": code_of(secret)})

    assert [(one.to, one.subject) for one in mail.outbox] == [
        (["owner@shop.example"], "Breakbook: the second factor is on")
    ]
    assert "If it wasn't, reset your password at once." in mail.outbox[0].body
