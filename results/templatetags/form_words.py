"""Fields of forms in the reader's language: labels, help and what is offered to choose from.

The forms themselves say everything in English, since the API answers with their words.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.forms import BoundField
from django.utils.safestring import SafeString
from django.utils.translation import get_language

from results.pages.headings import heading
from results.pages.in_language import named, of_form

register = template.Library()


@register.simple_tag
def label_of(field: BoundField) -> SafeString:
    """The label with the name of the input that it is for."""
    return field.label_tag(of_form(str(field.label)))


@register.simple_tag
def input_of(field: BoundField) -> SafeString:
    """The input; of a list, what may be chosen is said in the reader's language."""
    widget = field.field.widget
    if (get_language() or "en") != "en" and hasattr(widget, "choices"):
        widget.choices = [(value, _said(words)) for value, words in widget.choices]
    return field.as_widget()


@register.filter
def help_of(field: BoundField) -> str:
    """What is said under the input."""
    return of_form(str(field.help_text))


@register.filter
def in_words(text: str) -> str:
    """What a form, a heading or the vocabulary calls something, in the reader's language."""
    ways = (way(str(text)) for way in (named, of_form, heading))
    return next((said for said in ways if said != str(text)), str(text))


def _said(words: Any) -> Any:
    """A choice, or a group of them."""
    if isinstance(words, list | tuple):
        return [(value, _said(each)) for value, each in words]
    said = named(str(words))
    return of_form(said) if said == str(words) else said
