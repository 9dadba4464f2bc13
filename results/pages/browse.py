"""Reading the book: the first page, studies, joints, timbers."""

from __future__ import annotations

from dataclasses import replace

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser, User
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from results.evidence import Choices, Comparison
from results.evidence.stock import held
from results.models import Study
from results.site.requests import SomebodysRequest
from stats.charts.chart import Chart
from stats.charts.svg import WIDE

from . import drawings, errors, known
from .browse_forms import StudyFilter
from .comparison import compared, fewer_joints, strength_chart
from .standing import standings
from .wording import how_invented

PER_PAGE = 25
NEWEST = ("-accepted_at", "-id")
# The first page's chart has to fit a screen.
HOME_JOINTS = 6


def home(request: HttpRequest) -> HttpResponse:
    found = compared(Choices())
    charts = {} if found.empty else {"strength": _at_a_glance(found, whole=False)}
    chart = drawings.shown(charts, "browse:home-chart", invented=found.invented).get("strength")
    context = {
        "found": found,
        "how_invented": how_invented(found.behind.inventions) if not found.empty else "",
        # On a desk it stands beside the words, which leave the widest picture no room.
        "chart": chart and replace(chart, wider=[one for one in chart.wider if one.width <= WIDE]),
        "shown": min(len(found.groups), HOME_JOINTS),
        "counts": held(),
    }
    return render(request, "browse/home.html", context)


@drawings.addressed
def home_chart(request: HttpRequest, name: str, kind: str) -> HttpResponseBase:
    """The first page's chart, as a picture or as a figure."""
    found = compared(Choices())
    drawn = name == "strength" and not found.empty
    return drawings.answer(request, _at_a_glance(found) if drawn else None, kind, invented=found.invented)


def _at_a_glance(found: Comparison, *, whole: bool = True) -> Chart:
    return strength_chart(fewer_joints(found, HOME_JOINTS), whole=whole)


def studies(request: HttpRequest) -> HttpResponse:
    chosen = StudyFilter(request.GET)
    try:
        rows = chosen.narrow(Study.objects.public()).order_by(*NEWEST)
        page = errors.page_of(request, rows, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "studies")
    context = {
        "section": "studies",
        "form": chosen,
        "page": page,
        "series": known.series_of(page.object_list),
        "specimens": known.specimens_of(page.object_list),
        "joints": known.joints_of(page.object_list),
        "waits": not page.paginator.count and _has_waiting(request.user),
    }
    return render(request, "browse/studies.html", context)


def _has_waiting(user: User | AnonymousUser) -> bool:
    """Whether somebody has studies that no list of the book shows yet; false for a reader without a session."""
    waiting = (Study.Status.SUBMITTED, Study.Status.RETURNED)
    return user.is_authenticated and user.studies.filter(status__in=waiting).exists()


@login_required
def mine(request: SomebodysRequest) -> HttpResponse:
    rows = request.user.studies.annotate(n_series=Count("series")).order_by("-created_at")
    try:
        page = errors.page_of(request, rows, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad)
    return render(request, "browse/mine.html", {"page": page, "stands": standings(page, request.user)})
