"""Where a joint can break, for templates: the drawing, and the places by their number."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString, mark_safe

from results.models import FailurePlace
from stats.charts import failure_drawing as drawn

register = template.Library()


@register.simple_tag
def failure_drawing() -> SafeString:
    """The drawing; all its texts are its own."""
    return mark_safe(drawn.failure_drawing())


@register.simple_tag
def failure_places() -> list[FailurePlace]:
    """The places in the order of their numbers."""
    return list(FailurePlace.objects.all())
