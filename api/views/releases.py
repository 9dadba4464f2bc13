"""The releases: dated snapshots that never change."""

from __future__ import annotations

from typing import Any

from django.http.response import HttpResponseBase
from django.urls import reverse
from rest_framework.request import Request
from rest_framework.response import Response

from results.models import Release

from ..columns import INTEGER, TEXT, TIME
from ..formats import Heading, Table
from ..pagination import whole
from .open import OpenView

COLUMNS: tuple[Heading, ...] = (
    Heading("release", TEXT),
    Heading("date", TEXT),
    Heading("as_of", TIME),
    Heading("studies", INTEGER),
    Heading("series", INTEGER),
    Heading("specimens", INTEGER),
    Heading("invented", INTEGER),
    Heading("added", INTEGER),
    Heading("changed", INTEGER),
    Heading("withdrawn", INTEGER),
    Heading("data_sha256", TEXT),
    Heading("page", TEXT),
    Heading("datapackage", TEXT),
)


class Releases(OpenView):
    """All releases, the newest first, with where their files are."""

    about = "Dated snapshots of all accepted studies that never change, with where their files are."

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        self.check_names()
        rows = [_row(request, release) for release in Release.objects.all()]
        if self.as_table:
            return self.in_memory(Table(COLUMNS, rows))
        return Response(whole([dict(zip([one.name for one in COLUMNS], row, strict=True)) for row in rows]))


def _row(request: Request, release: Release) -> list[Any]:
    changes = release.changes
    descriptor = reverse("data:release-file", args=[release.name, "datapackage.json"])
    return [
        release.name,
        release.date.isoformat(),
        release.as_of,
        *(release.counts[name] for name in ("studies", "series", "specimens")),
        release.invented,
        *(len(changes[name]) for name in ("added", "changed", "withdrawn")),
        release.data_hash,
        request.build_absolute_uri(release.get_absolute_url()),
        request.build_absolute_uri(descriptor),
    ]
