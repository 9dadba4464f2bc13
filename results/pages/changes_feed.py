"""The change feed: studies that began to count and studies that were withdrawn, as Atom."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from django.contrib.syndication.views import Feed
from django.urls import reverse
from django.utils.feedgenerator import Atom1Feed
from django.utils.html import escape

from results.models import Study

# Newest changes that the feed tells; the studies themselves are all on their page.
MOST = 100
# XML has no way to write these, and people paste them.
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


@dataclass(frozen=True)
class Change:
    """A study that began to count, or was withdrawn."""

    study: Study
    kind: str
    at: datetime


def newest(most: int = MOST) -> list[Change]:
    """The newest changes, the latest first; a withdrawn study has two, one for each time."""
    public = Study.objects.public()
    accepted = public.filter(accepted_at__isnull=False).order_by("-accepted_at", "-id")[:most]
    withdrawn = public.filter(status=Study.Status.WITHDRAWN).order_by("-changed_at", "-id")[:most]
    found = [Change(study, "accepted", study.accepted_at) for study in accepted]
    found += [Change(study, "withdrawn", study.changed_at) for study in withdrawn]
    return sorted(found, key=lambda change: (change.at, change.study.pk), reverse=True)[:most]


def _writable(words: str) -> str:
    return _UNWRITABLE.sub("", words)


class Changes(Feed):
    """``/data/changes.atom``."""

    feed_type = Atom1Feed
    title = "Breakbook: changes"
    subtitle = "Studies newly accepted, and studies withdrawn."
    author_name = "Breakbook"

    def link(self) -> str:
        return reverse("browse:data")

    def items(self) -> list[Change]:
        return newest()

    def item_title(self, change: Change) -> str:
        made_up = " (invented)" if change.study.invented else ""
        return _writable(f"{change.kind.capitalize()}: {change.study.title}{made_up}")

    def item_description(self, change: Change) -> str:
        withdrawn = change.kind == "withdrawn"
        words = f"It no longer counts. Reason: {change.study.withdrawn_reason}" if withdrawn else change.study.question
        # The feed says that its descriptions are HTML; people's words are not.
        return escape(_writable(words))

    def item_link(self, change: Change) -> str:
        return f"{change.study.get_absolute_url()}#{change.kind}"

    def item_author_name(self, change: Change) -> str:
        return _writable(change.study.workshop)

    def item_pubdate(self, change: Change) -> datetime:
        return change.at

    def item_updateddate(self, change: Change) -> datetime:
        return change.at

    def item_categories(self, change: Change) -> list[str]:
        return [change.kind]
