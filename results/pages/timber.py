"""The timbers of the vocabulary, and what is known of each."""

from __future__ import annotations

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from results.models import Timber
from results.models.alphabet import Alphabetical

from . import errors, wood
from .browse import COUNTING, PER_PAGE
from .browse_forms import TimberFilter


def timbers(request: HttpRequest) -> HttpResponse:
    chosen = TimberFilter(request.GET)
    try:
        rows = chosen.narrow(Timber.objects.order_by(Alphabetical()))
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "timbers")
    rows = rows.annotate(n_series=Count("series", filter=COUNTING))
    return render(request, "browse/timbers.html", {"section": "timbers", "form": chosen, "timbers": rows})


def timber(request: HttpRequest, code: str) -> HttpResponse:
    record = get_object_or_404(Timber, pk=code)
    rows = record.series.counting().select_related("study", "joint", "setup__loading").order_by("-study_id", "id")
    try:
        page = errors.page_of(request, rows, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "timbers")
    context = {"section": "timbers", "timber": record, "properties": wood.properties(record), "page": page}
    return render(request, "browse/timber.html", context)
