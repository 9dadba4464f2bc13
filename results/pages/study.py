"""A study's page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from results.evidence import study_view
from results.models import Study

from . import study_sheet
from .submit_again import form_holds


def study(request: HttpRequest, pk: int) -> HttpResponse:
    record = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    view = study_view(record)
    controls = {one.series.control_id for one in view.series}
    own = request.user.is_authenticated and record.contributor_id == request.user.pk
    context = {
        "section": "studies",
        "study": record,
        "view": view,
        "sheets": [study_sheet.sheet(one, is_control=one.series.pk in controls) for one in view.series],
        "setups": [study_sheet.setup_sheet(setup) for setup in record.setups.select_related("loading")],
        "citation": study_sheet.citation(record, request.build_absolute_uri(record.get_absolute_url())),
        "own": own,
        "fits_form": own and form_holds(record),
    }
    return render(request, "browse/study.html", context)
