"""Read settings from the environment; a value that can't be used stops the start and names itself."""

from __future__ import annotations

import os
import secrets
from collections.abc import Sequence
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def env_str(name: str, default: str = "") -> str:
    return os.environ.get(name, default)


def env_bool(name: str, default: bool) -> bool:
    value = os.environ.get(name)
    if value is None or value == "":
        return default
    if value.lower() in ("true", "1", "yes", "on"):
        return True
    if value.lower() in ("false", "0", "no", "off"):
        return False
    raise ImproperlyConfigured(f"{name}={value!r} can't be read: use True or False.")


def env_int(name: str, default: int) -> int:
    value = os.environ.get(name)
    if value is None or value == "":
        return default
    try:
        return int(value)
    except ValueError:
        raise ImproperlyConfigured(f"{name}={value!r} can't be read: use a whole number.") from None


def env_choice(name: str, default: str, known: Sequence[str]) -> str:
    value = os.environ.get(name) or default
    for one in known:
        if value.lower() == one.lower():
            return one
    raise ImproperlyConfigured(f"{name}={value!r} can't be used: say {', '.join(known[:-1])} or {known[-1]}.")


def env_list(name: str, default: list[str]) -> list[str]:
    value = os.environ.get(name)
    if value is None:
        return default
    return [part.strip() for part in value.split(",") if part.strip()]


def secret_key(*, debug: bool, demo: bool, data_dir: Path) -> str:
    """The site's secret: from the environment, or a throwaway where nothing real is at stake."""
    if value := env_str("SECRET_KEY"):
        return value
    if debug:
        return "only-for-development-with-debug-on"
    if demo:
        # Kept in a file so that a demo login survives a restart.
        path = data_dir / "demo-secret"
        if not path.exists():
            data_dir.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600)
            path.write_text(secrets.token_urlsafe(50))
        return path.read_text()
    raise ImproperlyConfigured(
        "SECRET_KEY is not set, and DEBUG is off. Set SECRET_KEY to a long random text "
        "(python -c 'import secrets; print(secrets.token_urlsafe(50))'), or run 'manage.py demo' "
        "to look around."
    )
