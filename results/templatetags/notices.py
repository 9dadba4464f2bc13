"""How much is new for whoever is signed in, for the head of every page."""

from __future__ import annotations

from django import template
from django.contrib.auth.models import User

from results.models import Notice

register = template.Library()


@register.simple_tag
def unseen_notices(user: User) -> int:
    """Notices not seen yet: one count, of an index that holds only those."""
    return Notice.objects.filter(user=user, seen_at=None).count()
