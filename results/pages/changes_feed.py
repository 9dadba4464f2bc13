"""The change feed: studies that began to count, that were changed and that were withdrawn, as Atom."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from django.contrib.syndication.views import Feed
from django.db.models import F
from django.urls import reverse
from django.utils.feedgenerator import Atom1Feed
from django.utils.html import escape

from results.models import Revision, Study

# Newest changes that the feed tells; the studies themselves are all on their page.
MOST = 100
# XML has no way to write these, and people paste them.
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


@dataclass(frozen=True)
class Change:
    """A study that began to count, was changed, or was withdrawn; of a change the accepted revision."""

    study: Study
    kind: str
    at: datetime
    revision: Revision | None = None


def newest(most: int = MOST) -> list[Change]:
    """The newest changes, the latest first; a study has one for each time something became of it."""
    public = Study.objects.public()
    accepted = public.filter(accepted_at__isnull=False).order_by("-accepted_at", "-id")[:most]
    withdrawn = public.filter(status=Study.Status.WITHDRAWN).order_by("-changed_at", "-id")[:most]
    found = [Change(study, "accepted", study.accepted_at) for study in accepted if study.accepted_at]
    found += [Change(study, "withdrawn", study.changed_at) for study in withdrawn]
    # What was accepted when the study began to count is told by that.
    later = Revision.objects.filter(state=Revision.State.ACCEPTED, decided_at__gt=F("study__accepted_at"))
    changed = later.filter(study__in=public).defer("document").select_related("study").order_by("-decided_at")[:most]
    found += [Change(one.study, "changed", one.decided_at, one) for one in changed if one.decided_at]
    return sorted(found, key=lambda change: (change.at, change.study.pk), reverse=True)[:most]


def writable(words: str) -> str:
    """The words without what XML can't hold."""
    return _UNWRITABLE.sub("", words)


class Changes(Feed):
    """``/data/changes.atom``."""

    feed_type = Atom1Feed
    title = "Breakbook: changes"
    subtitle = "Studies newly accepted, changed and withdrawn."
    author_name = "Breakbook"

    def link(self) -> str:
        return reverse("browse:data")

    def items(self) -> list[Change]:
        return newest()

    def item_title(self, change: Change) -> str:
        made_up = " (invented)" if change.study.invented else ""
        return writable(f"{change.kind.capitalize()}: {change.study.title}{made_up}")

    def item_description(self, change: Change) -> str:
        withdrawn = change.kind == "withdrawn"
        words = f"It no longer counts. Reason: {change.study.withdrawn_reason}" if withdrawn else change.study.question
        if change.revision is not None:
            words = f"Revision {change.revision.number} was accepted. Reason: {change.revision.why}"
        # The feed says that its descriptions are HTML; people's words are not.
        return escape(writable(words))

    def item_link(self, change: Change) -> str:
        if change.revision is not None:
            return reverse("revisions:revision", args=[change.study.pk, change.revision.number])
        return f"{change.study.get_absolute_url()}#{change.kind}"

    def item_author_name(self, change: Change) -> str:
        return writable(change.study.workshop)

    def item_pubdate(self, change: Change) -> datetime:
        return change.at

    def item_updateddate(self, change: Change) -> datetime:
        return change.at

    def item_categories(self, change: Change) -> list[str]:
        return [change.kind]
