"""Planning a test: what the book lacks, how many specimens, in which order, and whether the rig will do."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from results.practice.gaps import gaps
from results.practice.plan import PlannedTest, plan
from results.practice.plan_asked import PlanAsked
from results.practice.plan_book import plan_xlsx
from results.practice.plan_document import document
from stats.charts.chart import Chart
from stats.charts.piece_figures import power_chart
from stats.practice.caution import TESTING

from . import drawings, tables
from .plan_shown import Form, gaps_tables, groups_table, loads_of, order_table, sheet_of
from .submit_template import XLSX, download

SECTION = "plan"
CAUTIONS = {"cautions": TESTING}


@require_safe
def plan_page(request: HttpRequest) -> HttpResponse:
    """The form, the plan that it asks for, and what the book lacks."""
    asked = PlanAsked(request.GET)
    begun = bool(request.GET)
    planned = plan(asked)
    wrong = any(value for _, value, _ in asked.faults)
    lacks = gaps(asked.action or "bending", asked.cleaned_data.get("tests") or "joint", invented=asked.with_invented)
    if not begun:
        asked.errors.clear()  # nobody has asked anything yet
    context = {
        "section": SECTION,
        "asked": asked,
        "begun": begun,
        "form": Form(asked, planned),
        "planned": planned,
        "gaps": lacks,
        "lacks": gaps_tables(lacks),
        **(_found(planned) if planned else {}),
    }
    # What is only not said yet is no fault of the address.
    return render(request, "plan/plan.html", context, status=400 if wrong else 200)


def _found(planned: PlannedTest) -> dict[str, object]:
    """What the page shows of a plan."""
    query = planned.asked.query()
    return {
        "query": query,
        "charts": drawings.shown({"power": _chart(planned)}, "plan:chart", query=query, invented=planned.invented),
        "tables": {
            "groups": groups_table(planned),
            "order": order_table(planned.order, planned.asked.cleaned_data["blocks"]),
            "power": _power_table(planned),
        },
        "loads": loads_of(document(planned)),
        "another": planned.asked.query(seed=planned.asked.cleaned_data["seed"] + 1),
        "how_invented": "Some of these results are" if planned.invented else "",
    }


def _chart(planned: PlannedTest) -> Chart:
    return power_chart(planned.curve)


def _power_table(planned: PlannedTest) -> tables.Table:
    return tables.of_frame(_chart(planned).table, "The chance of telling it, by the number of specimens")


@drawings.addressed
def chart(request: HttpRequest, name: str, kind: str) -> HttpResponseBase:
    """One chart of the page, as a picture or as a figure."""
    planned = plan(PlanAsked(request.GET, drawings.PARAMETERS))
    drawn = _chart(planned) if planned and name == "power" else None
    return drawings.answer(request, drawn, kind, invented=bool(planned and planned.invented))


@require_safe
def sheet(request: HttpRequest) -> HttpResponse:
    """The plan on a sheet to print and take to the bench."""
    planned = plan(PlanAsked(request.GET))
    if planned is None:
        return back(request)
    return render(request, "plan/sheet.html", {"section": SECTION, "sheet": sheet_of(document(planned)), **CAUTIONS})


@require_safe
def spreadsheet(request: HttpRequest) -> HttpResponse:
    """The study that the plan foresees, as a spreadsheet to fill in."""
    planned = plan(PlanAsked(request.GET))
    if planned is None:
        return back(request)
    return download(plan_xlsx(document(planned)), XLSX, "breakbook-plan.xlsx")


def back(request: HttpRequest) -> HttpResponse:
    """To the page with the same parameters, which says what is wrong with them."""
    return redirect(f"{reverse('plan:plan')}?{request.GET.urlencode()}")
