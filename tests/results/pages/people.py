"""Accounts as people make them, with their mail."""

from __future__ import annotations

import re
import time
from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth as totp
from django.core import mail
from django.urls import reverse

GOOD = {
    "username": "joiner",
    "email": "joiner@shop.example",
    "password1": "long-grain-9",
    "password2": "long-grain-9",
}


def sign_up(client: Any, **changes: str) -> Any:
    """Send the form of signing up."""
    return client.post(reverse("sign-up"), {**GOOD, **changes})


def log_in(client: Any, login: str = "joiner", password: str = "long-grain-9", **more: str) -> Any:
    """Send the form of logging in."""
    return client.post(reverse("login"), {"login": login, "password": password, **more})


def link(of: int = -1) -> str:
    """The path that a mail's link leads to."""
    return re.search(r"https?://[^/\s]+(/\S+)", mail.outbox[of].body)[1]


def joined(client: Any, **changes: str) -> None:
    """Sign up, confirm and be logged in."""
    sign_up(client, **changes)
    client.post(link())


def is_in(client: Any) -> bool:
    """Whether somebody is logged in."""
    return "_auth_user_id" in client.session


def code_of(secret: str, steps: int = 0) -> str:
    """What an app shows now, or so many times half a minute later."""
    return totp.format_hotp_value(totp.hotp_value(secret, int(time.time()) // 30 + steps))


def second_factor(user: Any, secret: str = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP") -> str:
    """Give somebody a second factor; returns its secret."""
    Authenticator.objects.create(user=user, type=Authenticator.Type.TOTP, data={"secret": secret})
    Authenticator.objects.create(
        user=user, type=Authenticator.Type.RECOVERY_CODES, data={"seed": "5eed" * 20, "used_mask": 0}
    )
    return secret
