"""Reading the book: the first page, studies, joints, timbers."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from results.evidence import Choices, compare
from results.models import Specimen, Study

from . import errors, known
from .browse_forms import StudyFilter
from .comparison import as_drawn, fewer_joints, strength_chart
from .wording import how_invented

PER_PAGE = 25
NEWEST = ("-accepted_at", "-id")
# The first page's chart has to fit a screen.
HOME_JOINTS = 6

# Series that count, whether asked for from a study or from a word of the vocabulary.
COUNTING = Q(series__study__status=Study.Status.ACCEPTED)


def home(request: HttpRequest) -> HttpResponse:
    found = compare(Choices())
    accepted = Study.objects.accepted()
    context = {
        "found": found,
        "how_invented": how_invented(found.series["invented"]) if not found.empty else "",
        "chart": None if found.empty else as_drawn(strength_chart(fewer_joints(found, HOME_JOINTS))),
        "shown": min(len(found.groups), HOME_JOINTS),
        "counts": {
            "studies": accepted.count(),
            "series": accepted.aggregate(n=Count("series"))["n"],
            "specimens": Specimen.objects.filter(series__study__in=accepted).count(),
        },
    }
    return render(request, "browse/home.html", context)


def studies(request: HttpRequest) -> HttpResponse:
    chosen = StudyFilter(request.GET)
    try:
        rows = chosen.narrow(Study.objects.public())
        counted = rows.annotate(n_series=Count("series", distinct=True)).order_by(*NEWEST)
        page = errors.page_of(request, counted, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "studies")
    context = {
        "section": "studies",
        "form": chosen,
        "page": page,
        "specimens": known.specimens_of(page.object_list),
        "joints": known.joints_of(page.object_list),
    }
    return render(request, "browse/studies.html", context)


@login_required
def mine(request: HttpRequest) -> HttpResponse:
    rows = request.user.studies.annotate(n_series=Count("series")).order_by("-created_at")
    try:
        page = errors.page_of(request, rows, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad)
    return render(request, "browse/mine.html", {"page": page})
