"""How e-mail goes out, in the settings that the framework of this release asks for."""

from __future__ import annotations

from typing import Any

import django
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend

from .env import env_bool, env_int, env_str

# From this one on a mailer's settings stand together, and the single ones of before are refused in time.
HAS_MAILERS = django.VERSION >= (6, 1)
_BEFORE = {
    "host": "EMAIL_HOST",
    "port": "EMAIL_PORT",
    "username": "EMAIL_HOST_USER",
    "password": "EMAIL_HOST_PASSWORD",
    "use_tls": "EMAIL_USE_TLS",
    "use_ssl": "EMAIL_USE_SSL",
    "timeout": "EMAIL_TIMEOUT",
}


def settings(printed: bool) -> dict[str, Any]:
    """The settings, from the environment.

    Parameters
    ----------
    printed : bool
        Print messages where the server runs, and send none.
    """
    options = {
        "host": env_str("EMAIL_HOST", "localhost"),
        "port": env_int("EMAIL_PORT", 25),
        "username": env_str("EMAIL_HOST_USER"),
        "password": env_str("EMAIL_HOST_PASSWORD"),
        "use_tls": env_bool("EMAIL_USE_TLS", False),
        "use_ssl": env_bool("EMAIL_USE_SSL", False),
        "timeout": env_int("EMAIL_TIMEOUT", 10),
    }
    return as_settings("console", {}) if printed else as_settings("smtp", options)


def as_settings(kind: str, options: dict[str, Any]) -> dict[str, Any]:
    """A way of the framework's to send, ``smtp`` or another, as settings."""
    backend = f"django.core.mail.backends.{kind}.EmailBackend"
    if HAS_MAILERS:
        return {"MAILERS": {"default": {"BACKEND": backend, "OPTIONS": options}}}
    return {"EMAIL_BACKEND": backend, **{_BEFORE[name]: value for name, value in options.items()}}


def mailer() -> BaseEmailBackend:
    """What sends messages; several go through one, so that a server is greeted once."""
    if HAS_MAILERS:
        return mail.mailers.default
    return mail.get_connection()
