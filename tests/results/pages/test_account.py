"""Signing up, confirming, logging in, and a lost password."""

from __future__ import annotations

from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth import get_user_model
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import make_user
from tests.mailing import keep_mail, send_to

from .people import GOOD, is_in, joined, link, log_in, sign_up
from .shops import text

pytestmark = pytest.mark.django_db


@pytest.fixture
def elsewhere():
    """Another browser."""
    return Client()


def test_sign_up_makes_an_account_that_is_in_once_its_address_is_confirmed(client):
    response = sign_up(client)

    assert (response.status_code, response.url) == (302, reverse("account_email_verification_sent"))
    assert not is_in(client)
    assert [one.to for one in mail.outbox] == [["joiner@shop.example"]]
    assert "link in it, and you are in" in text(client.get(response.url))

    assert "joiner@shop.example is the address of joiner ." in text(client.get(link()))
    response = client.post(link())

    assert (response.status_code, response.url) == (302, reverse("submit:start"))
    assert client.session["_auth_user_id"] == str(get_user_model().objects.get(username="joiner").pk)


def test_opening_the_link_alone_confirms_nothing(client):
    # Mail programs open links to look at them.
    sign_up(client)

    client.get(link())

    assert not EmailAddress.objects.get().verified


def test_confirming_in_another_browser_logs_nobody_in(client, elsewhere):
    sign_up(client)

    response = elsewhere.post(link())

    assert (response.status_code, response.url) == (302, reverse("login"))
    assert not is_in(elsewhere)
    assert EmailAddress.objects.get().verified


def test_sign_up_goes_on_to_where_the_reader_came_from(client):
    sign_up(client, next="/submit/form/")

    assert client.post(link()).url == "/submit/form/"


@pytest.mark.parametrize("onward", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_sign_up_and_log_in_lead_nowhere_else(client, onward):
    sign_up(client, next=onward)
    assert client.post(link()).url == reverse("submit:start")

    client.logout()
    assert log_in(client, next=onward).url == reverse("browse:home")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"password2": "other"}, "You must type the same password each time."),
        ({"password1": "12345", "password2": "12345"}, "This password is too short. It must contain at least 8"),
        ({"password1": "password", "password2": "password"}, "This password is too common."),
        ({"password1": "joiner@shop", "password2": "joiner@shop"}, "The password is too similar to the"),
        ({"username": "taken"}, "This name is taken; choose another."),
        ({"username": "TAKEN"}, "This name is taken; choose another."),
        ({"username": "Staff"}, "This name is kept for those who run the site; choose another."),
        ({"username": "two words"}, "Enter a valid username."),
        ({"username": "x"}, "at least 2 characters"),
        ({"email": "joiner"}, "Enter a valid email address."),
        ({"email": ""}, "This field is required."),
    ],
)
def test_sign_up_says_what_is_wrong_and_keeps_what_was_typed(client, changes, said):
    make_user("taken")
    typed = {**GOOD, **changes}

    response = sign_up(client, **changes)

    assert response.status_code == 422
    assert said in text(response)
    assert f'value="{typed["username"]}"' in response.content.decode()
    assert f'value="{typed["password1"]}"' not in response.content.decode()
    assert get_user_model().objects.count() == 1
    assert mail.outbox == []


def test_signing_up_with_an_address_that_has_an_account_tells_only_that_address(client, elsewhere, no_limits_reached):
    joined(client)
    mail.outbox.clear()
    no_limits_reached()

    taken = sign_up(elsewhere, username="another", email="Joiner@shop.example")
    shown = text(elsewhere.get(taken.url))
    fresh_client = Client()
    fresh = sign_up(fresh_client, username="third", email="third@shop.example")

    assert (taken.status_code, taken.url) == (fresh.status_code, fresh.url)
    assert shown == text(fresh_client.get(fresh.url))
    assert sorted(get_user_model().objects.values_list("username", flat=True)) == ["joiner", "third"]
    assert "It has an account already, so nothing was made." in mail.outbox[0].body
    assert link(0) == reverse("account_reset_password")


@pytest.mark.parametrize("login", ["joiner", "joiner@shop.example", "JOINER@shop.example"])
def test_log_in_takes_the_name_or_the_address(client, login):
    joined(client)
    client.logout()

    response = log_in(client, login, next=reverse("browse:mine"))

    assert (response.status_code, response.url) == (302, reverse("browse:mine"))
    assert is_in(client)


def test_log_in_before_confirming_sends_the_mail_again(client, no_limits_reached):
    sign_up(client)
    mail.outbox.clear()
    no_limits_reached()

    response = log_in(client)

    assert (response.status_code, response.url) == (302, reverse("account_email_verification_sent"))
    assert not is_in(client)
    client.post(link())
    assert is_in(client)


@pytest.mark.parametrize("address", ["", "made-by@staff.example"])
def test_an_account_that_staff_made_needs_no_confirming(client, address):
    make_user("owner", email=address)

    response = log_in(client, "owner", "sawdust")

    assert (response.status_code, response.url) == (302, reverse("browse:home"))
    assert is_in(client)


def test_a_new_address_that_waits_keeps_nobody_out(client):
    user = make_user("owner", email="old@shop.example")
    EmailAddress.objects.create(user=user, email="new@shop.example", verified=False, primary=False)

    log_in(client, "owner", "sawdust")

    assert is_in(client)


def test_log_in_says_the_same_of_a_wrong_password_and_of_a_name_that_nobody_has(client):
    make_user("owner")

    wrong, nobody = log_in(client, "owner", "wrong"), log_in(client, "nobody", "wrong")

    said = "Name and password don't belong together."
    assert (wrong.status_code, nobody.status_code) == (422, 422)
    assert said in text(wrong) and text(wrong) == text(nobody)
    assert 'value="owner"' in wrong.content.decode()
    assert not is_in(client)


def test_a_closed_account_stays_out(client):
    make_user("owner", is_active=False)

    response = log_in(client, "owner", "sawdust")

    assert response.url == reverse("account_inactive")
    assert "This account is closed" in text(client.get(response.url))
    assert not is_in(client)


@pytest.mark.parametrize("key", ["not-a-key", "MQ:1abcde:wrong"])
def test_a_confirming_link_that_is_not_whole_says_what_to_do(client, key):
    address = reverse("account_confirm_email", args=[key])

    for response in (client.get(address), client.post(address)):
        assert response.status_code == 404
        assert "This link is no longer good" in text(response)


def test_a_confirming_link_is_good_once_and_for_three_days(client, elsewhere, monkeypatch):
    sign_up(client)
    late = timezone.now() + timedelta(days=3, minutes=1)
    with monkeypatch.context() as patched:
        patched.setattr("django.core.signing.time.time", late.timestamp)
        assert "This link is no longer good" in text(client.post(link()))
    assert not EmailAddress.objects.get().verified

    assert client.post(link()).status_code == 302
    again = elsewhere.post(link())

    assert again.status_code == 404 and "It was used before" in text(again)


def test_a_lost_password_is_reset_by_mail_once(client):
    joined(client)
    client.logout()
    mail.outbox.clear()

    asked = client.post(reverse("account_reset_password"), {"email": "joiner@shop.example"})
    assert (asked.status_code, asked.url) == (302, reverse("account_reset_password_done"))
    page = client.get(link(), follow=True)
    form = page.redirect_chain[-1][0]
    weak = client.post(form, {"password1": "1234", "password2": "1234"})
    done = client.post(form, {"password1": "end-grain-12", "password2": "end-grain-12"}, follow=True)

    assert "Type a new password" in text(page)
    assert weak.status_code == 422 and "too short" in text(weak)
    assert "Your password is changed" in text(done)
    assert mail.outbox[-1].subject == "Breakbook: your password was reset"
    assert log_in(client).status_code == 422
    assert log_in(client, password="end-grain-12").status_code == 302
    client.logout()
    again = client.get(link(0), follow=True)
    assert again.status_code == 404 and "This link is no longer good" in text(again)


def test_a_reset_link_is_good_for_a_day(client, settings):
    joined(client)
    client.logout()
    client.post(reverse("account_reset_password"), {"email": "joiner@shop.example"})
    settings.PASSWORD_RESET_TIMEOUT = -1

    response = client.get(link())

    assert response.status_code == 404 and "is older than a day" in text(response)


def test_asking_for_a_reset_says_the_same_of_every_address(client):
    joined(client)
    client.logout()
    mail.outbox.clear()

    known = client.post(reverse("account_reset_password"), {"email": "joiner@shop.example"}, follow=True)
    unknown = client.post(reverse("account_reset_password"), {"email": "nobody@shop.example"}, follow=True)

    assert text(known) == text(unknown)
    assert [one.to[0] for one in mail.outbox] == ["joiner@shop.example", "nobody@shop.example"]
    assert "There is no such account" in mail.outbox[1].body


def test_mail_that_cannot_be_sent_is_told_and_the_account_is_kept(client, settings, no_limits_reached):
    send_to(settings, 9)

    response = sign_up(client)

    assert response.status_code == 503
    assert "if you signed up, the account is there" in text(response)
    keep_mail(settings)
    no_limits_reached()
    log_in(client)
    client.post(link())
    assert is_in(client)


def test_logging_out_asks_first_and_then_does_it(client):
    make_user("owner")
    log_in(client, "owner", "sawdust")

    assert "Log out" in text(client.get(reverse("logout"))) and is_in(client)
    response = client.post(reverse("logout"))

    assert (response.status_code, response.url) == (302, reverse("browse:home"))
    assert not is_in(client)


def test_pages_of_mail_say_where_a_demonstration_prints_it(client, settings):
    page = reverse("account_email_verification_sent")
    assert "demonstration" not in text(client.get(page))

    settings.DEMO = True

    assert "prints it where the server runs" in text(client.get(page))
