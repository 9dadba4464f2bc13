"""Taking a study back: it stays readable, and counts no more."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from results.models import Study, reviews
from results.review.decide import withdraw
from results.site.requests import SomebodysRequest

from .submit_again import form_holds


@login_required
@require_http_methods(["GET", "POST"])
def take_back(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Withdraw a study, with a reason: its contributor or a reviewer; it stays readable and no longer counts."""
    study = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    error, reason = "", request.POST.get("reason", "")
    if not study.is_of(request.user) and not reviews(request.user):
        return render(request, "submit/not_yours.html", {"study": study}, status=403)
    if study.status == Study.Status.WITHDRAWN:
        return redirect(study)
    if study.status != Study.Status.ACCEPTED:  # nobody has used it, so that nothing of it needs to stay
        return redirect("revisions:take-back", study.pk) if study.is_of(request.user) else redirect(study)
    if request.method == "POST":
        try:
            withdraw(study, request.user, reason)
        except ValueError as refused:
            error = str(refused)
        else:
            messages.success(
                request,
                gettext("Withdrawn: %(title)s. It stays readable, marked as withdrawn.") % {"title": study.title},
            )
            return redirect(study)
    context = {"section": "submit", "study": study, "error": error, "reason": reason}
    context["fits_form"] = form_holds(study)
    return render(request, "submit/withdraw.html", context, status=422 if error else 200)
