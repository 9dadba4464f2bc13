"""Plans that were lodged: which were followed by a study, and which are evidence that is missing."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from results.models import Plan, Study
from results.practice.followed import followers, waiting_for
from results.practice.lodge import REASON_MOST, PlanError
from results.practice.lodge import withdraw as withdraw_it
from results.practice.plan_book import plan_xlsx
from results.site.requests import SomebodysRequest

from . import errors
from .asked import known_only, one_of
from .plan import CAUTIONS, SECTION
from .plan_shown import asked_again, sheet_of
from .submit_template import XLSX, download

PER_PAGE = 25
# For so long a plan waits for its study; after that it is evidence that is missing (our own bound).
WAITS_DAYS = 183
STATES = {"missing": "no study yet", "followed": "followed by a study", "withdrawn": "withdrawn"}
MINE = {"mine": "your own"}


@dataclass(frozen=True)
class Row:
    """A plan in the list: the public studies that follow it, and for how long none has."""

    plan: Plan
    studies: list[Study]
    days: int

    @property
    def is_missing(self) -> bool:
        """Whether it is evidence that is missing: said to come, and not there."""
        return not self.studies and (self.days > WAITS_DAYS or self.plan.is_withdrawn)


def days_since(plan: Plan) -> int:
    """Whole days since a plan was lodged."""
    return (timezone.now() - plan.lodged_at).days


def _following() -> Q:
    return Q(studies__status__in=[Study.Status.ACCEPTED, Study.Status.WITHDRAWN])


def _chosen(state: str, user: User | AnonymousUser) -> QuerySet[Plan]:
    rows = Plan.objects.annotate(n_studies=Count("studies", filter=_following())).select_related("contributor")
    rows = rows.order_by("-lodged_at", "-pk")
    if state == "mine":
        return rows.filter(contributor_id=user.pk) if user.pk else rows.none()
    if state == "withdrawn":
        return rows.filter(status=Plan.Status.WITHDRAWN)
    if state == "followed":
        return rows.filter(n_studies__gt=0)
    return rows.filter(n_studies=0, status=Plan.Status.LODGED) if state == "missing" else rows


@require_safe
def plans(request: HttpRequest) -> HttpResponse:
    """All plans, the newest first; those that no study followed are marked as missing evidence."""
    try:
        known_only(request.GET, ("state", "page"))
        states = STATES | MINE if request.user.is_authenticated else STATES
        state = one_of(request.GET, "state", list(STATES | MINE), "")
        page = errors.page_of(request, _chosen(state, request.user), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    studies = waiting_for(page.object_list)
    context = {
        "section": SECTION,
        "page": page,
        "state": state,
        "states": states,
        "rows": [Row(plan, studies[plan.pk], days_since(plan)) for plan in page.object_list],
        "counts": {name: _chosen(name, request.user).count() for name in states},
    }
    return render(request, "plan/plans.html", context)


@require_safe
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """One plan: what was planned, the studies that follow it and what they did otherwise."""
    record = get_object_or_404(Plan.objects.select_related("contributor"), pk=pk)
    own = request.user.is_authenticated and record.contributor_id == request.user.pk
    found = followers(record, Study.objects.visible_to(request.user))
    context = {
        "section": SECTION,
        "record": record,
        "sheet": sheet_of(record.planned),
        "own": own,
        "followers": found,
        "row": Row(record, [one.study for one in found if one.study.is_public], days_since(record)),
        "query": asked_again(record.planned),
        **CAUTIONS,
    }
    return render(request, "plan/one.html", context)


@require_safe
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan's sheet, as it was lodged."""
    record = get_object_or_404(Plan, pk=pk)
    context = {"section": SECTION, "record": record, "sheet": sheet_of(record.planned), **CAUTIONS}
    return render(request, "plan/sheet.html", context)


@require_safe
def spreadsheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The study that the plan foresees, which says that it follows the plan."""
    record = get_object_or_404(Plan, pk=pk)
    own = request.user.is_authenticated and record.contributor_id == request.user.pk
    number = record.pk if own and not record.is_withdrawn else None
    return download(plan_xlsx(record.planned, number), XLSX, f"breakbook-plan-{record.pk}.xlsx")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def withdraw(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Withdraw a plan of one's own, with a reason; it stays readable."""
    record = get_object_or_404(Plan, pk=pk)
    if record.contributor_id != request.user.pk:
        raise PermissionDenied("Only who lodged a plan may withdraw it.")
    reason, refused = request.POST.get("reason", ""), ""
    if request.method == "POST":
        try:
            if len(reason) > REASON_MOST:
                raise PlanError(f"The reason is {len(reason)} characters long; {REASON_MOST:,} are taken at most.")
            return redirect(withdraw_it(record, request.user, reason))
        except PlanError as error:
            refused = str(error)
    context = {"section": SECTION, "record": record, "reason": reason, "refused": refused, "most": REASON_MOST}
    return render(request, "plan/withdraw.html", context, status=422 if refused else 200)
