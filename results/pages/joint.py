"""The joints of the vocabulary, and what is known of each."""

from __future__ import annotations

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from results.models import Joint, JointFamily, Study

from . import errors, known
from .browse import COUNTING, NEWEST, PER_PAGE
from .wording import how_invented


def joints(request: HttpRequest) -> HttpResponse:
    rows = Joint.objects.select_related("family").annotate(
        n_series=Count("series", filter=COUNTING),
        n_studies=Count("series__study", filter=COUNTING, distinct=True),
    )
    families: dict[str, list[Joint]] = {}
    for row in rows.order_by("family__position", "position", "code"):
        families.setdefault(row.family_id, []).append(row)
    of = JointFamily.objects.in_bulk()
    grouped = [(of[code], members) for code, members in families.items()]
    return render(request, "browse/joints.html", {"section": "joints", "families": grouped})


def joint(request: HttpRequest, code: str) -> HttpResponse:
    record = get_object_or_404(Joint.objects.select_related("family"), pk=code)
    rows = Study.objects.accepted().filter(series__joint=record)
    try:
        page = errors.page_of(request, rows.annotate(n_series=Count("series")).order_by(*NEWEST), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "joints")
    context = {
        "section": "joints",
        "joint": record,
        "rules": known.rules_of(record),
        "dims": known.dims_of(record),
        "known": known.footings_of(record),
        "how_invented": how_invented(rows.values_list("invented", flat=True)),
        "page": page,
    }
    return render(request, "browse/joint.html", context)
