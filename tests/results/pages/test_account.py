"""Signing up and logging in."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.urls import reverse

from tests.factories import make_user

from .shops import text

pytestmark = pytest.mark.django_db

GOOD = {"username": "joiner", "password1": "long-grain-9", "password2": "long-grain-9"}


def test_sign_up_makes_an_account_and_logs_it_in(client):
    response = client.post(reverse("sign-up"), GOOD)

    assert response.status_code == 302 and response.url == reverse("submit:start")
    assert client.session["_auth_user_id"] == str(get_user_model().objects.get(username="joiner").pk)


def test_sign_up_goes_back_to_where_the_reader_came_from(client):
    response = client.post(reverse("sign-up"), {**GOOD, "next": "/submit/form/"})

    assert response.url == "/submit/form/"


@pytest.mark.parametrize("onward", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_sign_up_leads_nowhere_else(client, onward):
    response = client.post(reverse("sign-up"), {**GOOD, "next": onward})

    assert response.url == reverse("submit:start")


def test_sign_up_says_what_is_wrong_and_keeps_what_was_typed(client):
    response = client.post(reverse("sign-up"), {**GOOD, "password2": "other"})

    assert response.status_code == 422
    assert "The two password fields didn’t match." in text(response)
    assert 'value="joiner"' in response.content.decode()
    assert not get_user_model().objects.exists()


def test_log_in_goes_on_to_the_page_asked_for(client):
    make_user("owner")

    response = client.post(
        reverse("login"), {"username": "owner", "password": "sawdust", "next": reverse("browse:mine")}
    )

    assert response.status_code == 302 and response.url == reverse("browse:mine")


def test_log_in_refuses_a_wrong_password(client):
    make_user("owner")

    response = client.post(reverse("login"), {"username": "owner", "password": "wrong"})

    assert "Please enter a correct username and password" in text(response)
