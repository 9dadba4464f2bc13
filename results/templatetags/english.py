"""Marks what stays in English on a page in another language, so that it is read aloud as English."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

register = template.Library()


@register.simple_tag
def in_english() -> SafeString:
    """The attribute for an element that holds English; nothing where all of the page is."""
    return mark_safe("" if (get_language() or "en") == "en" else ' lang="en"')


@register.simple_tag
def in_own_language() -> SafeString:
    """The attribute for a part of such an element that is in the page's language again."""
    code = get_language() or "en"
    return mark_safe("" if code == "en" else f' lang="{code}"')


@register.filter
def english(text: Any) -> SafeString:
    """A sentence that is in English whatever the page's language is, as a part of another element."""
    if not text or (get_language() or "en") == "en":
        return conditional_escape(text)
    return format_html('<span lang="en">{}</span>', text)
