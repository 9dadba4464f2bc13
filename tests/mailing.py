"""Where the tests' e-mail goes, in the settings of whichever release of the framework runs."""

from __future__ import annotations

from results.site.mail import as_settings


def send_to(settings, port: int) -> None:
    """Send to a server on this machine."""
    settings_of(settings, "smtp", {"host": "127.0.0.1", "port": port, "timeout": 5})


def keep_mail(settings) -> None:
    """Send nothing, and keep it in ``mail.outbox``."""
    settings_of(settings, "locmem", {})


def settings_of(settings, kind: str, options: dict) -> None:
    for name, value in as_settings(kind, options).items():
        setattr(settings, name, value)
