"""What can't be kept of a text as it was typed, and how a text is shown in a finding."""

from __future__ import annotations

import unicodedata

# Marks that turn the direction of what follows: invisible, and able to make a text read as another.
_TURNERS = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_KEPT = set("\n\t")


def shown(text: str, most: int = 40) -> str:
    """A text in quotation marks, cut short, with nothing in it that could not be shown."""
    plain = "".join("\N{REPLACEMENT CHARACTER}" if _is_bad(c) else c for c in text[: most + 1])
    return repr(plain[:most] + "…") if len(text) > most else repr(plain)


def _is_bad(c: str) -> bool:
    return (unicodedata.category(c) in ("Cc", "Cs") and c not in _KEPT) or c in _TURNERS


def bad_sign(text: str) -> str:
    """The first character that can't be stored or hides, as U+0000; empty if there is none."""
    if text.isprintable():
        return ""
    return next((f"U+{ord(c):04X}" for c in text.replace("\r\n", "\n") if _is_bad(c)), "")
