"""The account page: how to be told, a new address, a new password."""

from __future__ import annotations

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.urls import reverse
from rest_framework.authtoken.models import Token

from results.models import Profile
from tests.factories import make_user

from .people import joined, link, log_in, second_factor
from .shops import text

pytestmark = pytest.mark.django_db
PAGE = "/account/"


def test_account_asks_to_log_in(client):
    for page in (PAGE, "/account/email/", "/account/password/", "/account/delete/", "/account/own-data.zip"):
        assert client.get(page).url == f"/login/?next={page}"


def test_account_tells_what_it_is_made_of(client):
    joined(client)
    user = EmailAddress.objects.get().user

    page = client.get(PAGE)
    said = text(page)

    assert "no-store" in page.headers["Cache-Control"]
    assert "joiner@shop.example. Change it" in said
    assert "off: the password alone opens the account" in said
    assert "Token for programs none." in said
    second_factor(user)
    Token.objects.create(user=user)
    assert "on: logging in asks for a code too" in text(client.get(PAGE))
    assert "Token for programs made on" in text(client.get(PAGE))


def test_how_to_be_told_is_kept_for_oneself_only(client):
    other = Profile.objects.create(user=make_user("other"))
    client.force_login(make_user("owner"))

    response = client.post(PAGE, {"digest": "weekly"}, follow=True)

    assert "From now on: once a week." in text(response)
    assert Profile.objects.get(user__username="owner").digest == "weekly"
    other.refresh_from_db()
    assert other.digest == "daily"
    wrong = client.post(PAGE, {"digest": "hourly"})
    assert wrong.status_code == 422 and "hourly is not one of the available choices" in text(wrong)


def new_address(client, to: str):
    """Ask for another address, giving the password first."""
    asked = client.post(reverse("account_email"), {"action_add": "1", "email": to})
    assert asked.url.startswith(reverse("account_reauthenticate"))
    return client.post(asked.url, {"password": "long-grain-9"}, follow=True)


def test_a_new_address_holds_once_it_is_confirmed(client):
    joined(client)
    mail.outbox.clear()

    page = new_address(client, "new@shop.example")

    assert "It is joiner@shop.example , confirmed." in text(page)
    assert "new@shop.example waits to be confirmed" in text(page)
    assert [one.to[0] for one in mail.outbox] == ["new@shop.example"]
    client.post(link())
    assert list(EmailAddress.objects.values_list("email", "verified", "primary")) == [("new@shop.example", True, True)]
    assert [one.to[0] for one in mail.outbox] == ["new@shop.example", "joiner@shop.example"]
    assert "was changed from joiner@shop.example to new@shop.example" in mail.outbox[1].body


def test_a_new_address_can_be_given_up_again(client):
    joined(client)
    new_address(client, "new@shop.example")

    client.post(reverse("account_email"), {"action_remove": "1", "email": "new@shop.example"})

    assert list(EmailAddress.objects.values_list("email", flat=True)) == ["joiner@shop.example"]


def test_the_address_of_somebody_else_is_not_told_from_a_free_one(client):
    taken = make_user("other", email="taken@shop.example")
    EmailAddress.objects.create(user=taken, email="taken@shop.example", verified=True, primary=True)
    joined(client)

    page = new_address(client, "taken@shop.example")

    assert "taken@shop.example waits to be confirmed" in text(page)
    assert EmailAddress.objects.get(user__username="joiner", primary=True).email == "joiner@shop.example"


@pytest.mark.parametrize(
    ("typed", "said"),
    [("joiner", "Enter a valid email address."), ("joiner@shop.example", "This is your address already.")],
)
def test_an_address_that_will_not_do_is_refused(client, typed, said):
    joined(client)
    asked = client.get(reverse("mfa_activate_totp")).url  # any page that asks for the password
    client.post(asked, {"password": "long-grain-9"})

    response = client.post(reverse("account_email"), {"action_add": "1", "email": typed})

    assert response.status_code == 422 and said in text(response)


def test_a_new_password_needs_the_old_one(client):
    joined(client)
    good = {"oldpassword": "long-grain-9", "password1": "end-grain-12", "password2": "end-grain-12"}
    page = reverse("account_change_password")

    wrong = client.post(page, {**good, "oldpassword": "wrong"})
    weak = client.post(page, {**good, "password1": "1234", "password2": "1234"})
    done = client.post(page, good, follow=True)

    assert wrong.status_code == 422 and "This is not your password as it is now." in text(wrong)
    assert weak.status_code == 422 and "too short" in text(weak)
    assert done.redirect_chain[-1][0] == PAGE and "Your password is changed." in text(done)
    client.logout()
    assert log_in(client, password="end-grain-12").status_code == 302
