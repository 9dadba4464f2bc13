"""A study's page."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString

from results.evidence import Choices, study_view
from results.evidence.beside import Beside, beside
from results.evidence.choices import ACTIONS
from results.evidence.study import LEVEL
from results.intake.findings import without_series
from results.kept import once
from results.models import Finding, Question, Series, Study
from results.practice.followed import followed
from results.site.choices import told_now
from results.site.requests import SomebodysRequest
from stats.charts.beside import beside as beside_chart
from stats.charts.chart import Chart, rows_of
from stats.footing.footings import FOOTINGS as KINDS

from . import drawings, questions, scale, study_sheet, tables
from .photo_forms import groups_of
from .standing import standing
from .study_citation import citation
from .submit_again import form_holds
from .wording import footing_name
from .workshop_address import workshop_url


@dataclass(frozen=True)
class Together:
    """How a study compares with the others, as the page shows it."""

    table: tables.Table | None
    chart: Chart | None
    alone: list[tuple[str, list[str]]]
    numbers: list[tuple[str, str]]
    invented: bool


@dataclass(frozen=True)
class Said:
    """What the checks noticed, once for all series that it is the same of."""

    finding: Finding
    series: list[Series]
    message: str


@dataclass(frozen=True)
class Shown:
    """All of the page that follows from the data alone."""

    findings: list[Said]
    counts: dict[str, int]
    # Setups and series as they stand on the page: to fill in their many cells takes most of its time.
    body: SafeString
    together: Together | None


def study(request: SomebodysRequest, pk: int) -> HttpResponse:
    record = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    asked = questions.shown(record, request.user)
    shown = _shown(record, asked.doubts)
    own = request.user.is_authenticated and record.contributor_id == request.user.pk
    chart = {"beside": shown.together.chart} if shown.together and shown.together.chart else {}
    invented = record.invented or bool(shown.together and shown.together.invented)
    stand = standing(record, request.user)
    address = request.build_absolute_uri(record.get_absolute_url())
    context = {
        "section": "studies",
        "study": record,
        "shown": shown,
        "workshop_url": workshop_url(record.workshop) if record.is_public else "",
        "charts": drawings.shown(chart, "browse:study-chart", record.pk, invented=invented),
        "citation": citation(record, address, stand.accepted if record.is_public else None),
        "own": own,
        "stand": stand,
        "photos": groups_of(record),
        "asked": asked,
        "fits_form": own and form_holds(record),
        "followed": followed(record),
    }
    return render(request, "browse/study.html", context)


@drawings.addressed
def study_chart(request: HttpRequest, pk: int, name: str, kind: str) -> HttpResponseBase:
    """The page's chart, as SVG or as the figure that plotly's script draws; for those who may read the study."""
    record = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    together = _shown(record, questions.doubts(record.questions.all())).together
    chart = together.chart if together and name == "beside" else None
    invented = record.invented or bool(together and together.invented)
    response = drawings.answer(request, chart, kind, invented=invented)
    if not record.is_public:
        response.headers["Cache-Control"] = "private, no-store"
    return response


def _shown(record: Study, doubts: list[Question]) -> Shown:
    """What is public is worked out once for each state of the data; what isn't, whenever its owner asks.

    Doubts are no data, but stand beside what they are about.
    """
    if not record.is_public:
        return _make(record, doubts)
    raised = "".join(f" {one.pk} {one.state} {one.series_id} {one.specimen_id}" for one in doubts)
    return once(f"study page {record.pk}{raised}{told_now()}", lambda: _make(record, doubts))


def _make(record: Study, doubts: list[Question]) -> Shown:
    view = study_view(record)
    controls = {one.series.control_id for one in view.series}
    on_setup: dict[int, list] = {}
    for one in view.series:
        on_setup.setdefault(one.series.setup_id, []).append(one.series)
    setups = record.setups.select_related("loading", "instrument", "rig__loading", "rig__instrument")
    setups = setups.prefetch_related("rig__calibrations")
    body = {
        "study": record,
        "sheets": [study_sheet.sheet(one, is_control=one.series.pk in controls, doubts=doubts) for one in view.series],
        "rigs": [study_sheet.rig(setup, on_setup.get(setup.pk, [])) for setup in setups],
    }
    return Shown(
        findings=_said_once(view.findings),
        counts=view.counts,
        body=render_to_string("browse/study_body.html", body),
        # What is withdrawn has left all comparisons, this one too.
        together=None
        if record.status == Study.Status.WITHDRAWN
        else _together(beside(view, invented=Choices().with_invented)),
    )


def _said_once(findings: list[Finding]) -> list[Said]:
    found: dict[object, Said] = {}
    for one in findings:
        message = without_series(one.message, one.series.label) if one.series else one.message
        alone = one.pk if one.specimen_id or not one.series_id else None
        like = found.setdefault((one.code, one.severity, one.remedy, message, alone), Said(one, [], message))
        if one.series and one.series not in like.series:
            like.series.append(one.series)
    return list(found.values())


def _together(found: Beside) -> Together:
    alone: dict[str, list[str]] = {}
    for label, why in found.alone:
        alone.setdefault(why, []).append(label)
    if found.rows.empty:
        return Together(None, None, list(alone.items()), [], False)
    links = [
        f"{reverse('compare:compare')}?"
        + Choices(
            joints=(row.joint,),
            action=row.action,
            footing=row.footing,
            tests=row.tests,
            timbers=(row.timber,) if row.footing == "stress" else (),
        ).query()
        for row in rows_of(found.rows)
    ]
    chart = beside_chart(scale.beside(found.rows), about=_about(found), level=LEVEL)
    table = tables.of_frame(chart.table, "This study beside all others", links=links)
    return Together(table, chart, list(alone.items()), _numbers(found), found.invented)


def _about(found: Beside) -> str:
    """What all rows were measured by; they needn't have one footing, since each is a ratio to its own others."""
    kinds = {(row.footing, row.unit, row.action) for row in rows_of(found.rows)}
    if len(kinds) > 1:
        return "each on a footing of its own, see the table"
    ((footing, unit, action),) = kinds
    return f"{footing_name(KINDS[footing], unit)}, {ACTIONS[action]}"


def _numbers(found: Beside) -> list[tuple[str, str]]:
    """Calls of the API that give the figures behind the table, one a footing: its name and where."""
    joints: dict[str, set[str]] = {}
    for row in rows_of(found.rows):
        joints.setdefault(row.footing, set()).add(row.joint)
    return [
        (
            KINDS[footing].name,
            reverse("api:footings", args=["csv"])
            + "?"
            + urlencode([*(("joint", code) for code in sorted(codes)), ("footing", footing)]),
        )
        for footing, codes in joints.items()
    ]
