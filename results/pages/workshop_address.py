"""The address of a workshop's page: its name, written so that any name gives one address and one address one name."""

from __future__ import annotations

import re

from django.urls import reverse

_PLAIN = frozenset(b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-")
_WRITTEN = re.compile(r"(?:[A-Za-z0-9_-]|~[0-9A-F]{2})+")


def written(name: str) -> str:
    """A name as it stands in an address: a space as ``_``, what may mean something else there as ``~`` and its byte.

    Percent signs won't do: what they stand for is put back on the way, and a slash or two dots then lead elsewhere.

    Examples
    --------
    >>> written("Shop by the river"), written("A/B & Söhne")
    ('Shop_by_the_river', 'A~2FB_~26_S~C3~B6hne')
    """
    return "".join(
        "_" if byte == 0x20 else chr(byte) if byte in _PLAIN else f"~{byte:02X}" for byte in name.encode("utf-8")
    )


def read(address: str) -> str | None:
    """The name that is written so; None for what no name is written as.

    Examples
    --------
    >>> read("A~2FB_~26_S~C3~B6hne"), read("A/B"), read("~FF")
    ('A/B & Söhne', None, None)
    """
    if not _WRITTEN.fullmatch(address):
        return None
    letters = re.sub(r"~(..)", lambda found: chr(int(found[1], 16)), address.replace("_", " "))
    try:
        name = letters.encode("latin-1").decode("utf-8")
    except UnicodeDecodeError:
        return None
    # No name holds a NUL; PostgreSQL would not even look for it.
    return name if written(name) == address and "\0" not in name else None


def workshop_url(name: str) -> str:
    """Where a workshop's page is; empty for a workshop without a name."""
    return reverse("browse:workshop", args=[written(name)]) if name else ""
