"""What people typed, as pages show it: markup is text, and only plain addresses of the web become links."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

# Up to the next space or mark that no address holds; marks that turn the writing direction could disguise one.
_ADDRESS = re.compile(r"https?://[^\s<>\"'`\x00-\x1f\u200b-\u200f\u202a-\u202e\u2066-\u2069]+", re.IGNORECASE)
_ENDS_A_SENTENCE = ".,;:!?…”’"


@register.filter
def typed(text: str) -> SafeString:
    """Lines kept; ``http(s)://`` addresses as links that search engines don't follow; all else as it stands."""
    parts, at = [], 0
    for found in _ADDRESS.finditer(text):
        address = _whole(found.group())
        if not address:
            continue
        parts += [escape(text[at : found.start()]), _link(address)]
        at = found.start() + len(address)
    parts.append(escape(text[at:]))
    return mark_safe("<br>".join("".join(parts).replace("\r\n", "\n").split("\n")))


def _whole(address: str) -> str:
    """The address without what belongs to the sentence around it; nothing if it names no host."""
    address = address.rstrip(_ENDS_A_SENTENCE)
    while address.endswith(")") and address.count(")") > address.count("("):
        address = address[:-1].rstrip(_ENDS_A_SENTENCE)
    try:
        parts = urlsplit(address)
        return address if parts.hostname and "@" not in parts.netloc else ""
    except ValueError:
        return ""


def _link(address: str) -> str:
    shown = escape(address)
    return f'<a href="{shown}" rel="nofollow noopener ugc">{shown}</a>'
