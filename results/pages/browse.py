"""Reading the book: the first page, studies, joints, timbers."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from results.evidence import Choices, compare, study_view
from results.models import Joint, JointFamily, Specimen, Study, Timber
from results.models.alphabet import Alphabetical

from . import errors, known, study_sheet, wood
from .browse_forms import StudyFilter, TimberFilter
from .comparison import as_drawn, fewer_joints, strength_chart
from .submit_again import form_holds
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
