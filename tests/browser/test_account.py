"""From signing up to logging in with a second factor, each page looked at on the way."""

from __future__ import annotations

import re

import pytest
from django.core import mail

from tests.results.pages.people import code_of, link

from .pages import look_at

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "long-grain-9"


def sign_up(page, password: str) -> None:
    for field in page.locator("input[type=password]").all():
        field.fill(password)
    page.get_by_role("button", name="Sign up").click()


def log_in(page, login: str) -> None:
    page.get_by_label("Username").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()


def read(page) -> str:
    return page.locator("main").inner_text()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_sign_up_confirm_and_log_in_with_a_second_factor(open_page, live_server, size):
    troubles = {}
    page = open_page("/sign-up/?next=/submit/", size=size)

    def look(name: str) -> None:
        if found := look_at(page, page.url):
            troubles[name] = found

    # A weak password is refused at its field; nothing typed is lost but the passwords.
    page.get_by_label("Username").fill("joiner")
    page.get_by_label("E-mail").fill("joiner@shop.example")
    sign_up(page, "1234")
    password = page.locator("#id_password1")
    assert password.get_attribute("aria-invalid") == "true"
    assert "id_password1_error" in password.get_attribute("aria-describedby")
    assert "too short" in page.locator("#id_password1_error").inner_text()
    assert page.get_by_label("E-mail").input_value() == "joiner@shop.example"
    sign_up(page, PASSWORD)
    page.get_by_role("heading", name="Confirm your address").wait_for()

    page.goto(link())
    look("confirm")
    page.get_by_role("button", name="Yes, that is me").click()
    assert page.url == f"{live_server.url}/submit/"

    page.get_by_role("link", name="My page").click()
    page.get_by_role("link", name="Your account").click()
    page.get_by_role("link", name="Turn it on").click()
    page.get_by_role("link", name="Turn it on").click()
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    look("turn on")
    secret = re.search(r"Secret: ([A-Z2-7]+)", read(page))[1]
    assert page.locator("img.code-picture").evaluate("one => one.naturalWidth > 0")
    page.get_by_label("Code").fill(code_of(secret))
    page.get_by_role("button", name="Turn it on").click()
    assert len(re.findall(r"\b\d{8}\b", read(page))) == 10
    for path in ("", "recovery/", "recovery/new/", "off/", "again/"):
        page.goto(f"/account/second-factor/{path}")
        look(path)
    page.goto("/account/email/")
    page.get_by_label("New e-mail").fill("new@shop.example")
    page.get_by_role("button", name="Send a mail to it").click()
    look("new address")

    page.get_by_role("button", name="Log out").click()
    page.goto("/login/?next=/account/")
    log_in(page, "joiner@shop.example")
    look("code")
    page.get_by_label("Code").fill("000000")
    page.get_by_role("button", name="Log in", exact=True).click()
    assert "This code isn't right" in read(page)
    page.get_by_label("Code").fill(code_of(secret, 1))
    page.get_by_role("button", name="Log in", exact=True).click()
    assert page.url == f"{live_server.url}/account/"
    assert "on: logging in asks for a code too" in read(page)

    page.context.clear_cookies()
    page.goto("/account/password/reset/")
    page.get_by_label("E-mail").fill("joiner@shop.example")
    page.get_by_role("button", name="Send the mail").click()
    page.goto(next(link(at) for at, one in enumerate(mail.outbox) if "a new password" in one.subject))
    look("new password")

    assert troubles == {}
