"""A reviewer's pages: what waits, and one revision with all that is needed to decide on it."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django import forms
from django.contrib import messages
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from results.models import Finding, Revision, Study, reviews
from results.review import decide
from results.review.errors import ReviewError
from results.site.requests import SomebodysRequest

from . import errors, questions
from .prose import Prose
from .review_shown import Looked, changed_by, looked_at, with_photos
from .signed_out import to_login, typed_before

PER_PAGE, DECIDED_LATELY = 25, 20
REMARKS_MOST = 4_000
FIELDS = ("do", "remarks")
View = Callable[..., HttpResponse]


class DecideForm(forms.Form):
    """Accept or return, with remarks where they are needed."""

    do = forms.ChoiceField(
        choices=[("accept", "accept"), ("return", "return")],
        error_messages={
            "required": "Say what becomes of it: press one of the two buttons.",
            "invalid_choice": "“%(value)s” is neither accept nor return.",
        },
    )
    remarks = Prose(
        most=REMARKS_MOST,
        rows=5,
        label="Remarks",
        required=False,
        help_text="The contributor reads them, and they stay with the revision. To return it, say what to mend.",
    )

    def __init__(self, *args, stand: int = 0, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.stand = stand
        if stand:
            self.fields["remarks"].help_text += " To accept it with errors or doubts standing, say why all the same."

    def clean_remarks(self) -> str:
        remarks, do = self.cleaned_data["remarks"], self.cleaned_data.get("do")
        if not remarks and do == "return":
            raise forms.ValidationError("The remarks are blank; say what is to be mended before it can be accepted.")
        if not remarks and do == "accept" and self.stand:
            stand = "errors or doubts stand" if self.stand > 1 else "error or doubt stands"
            raise forms.ValidationError(
                f"The remarks are blank, and {self.stand} {stand}; say why it is accepted all the same."
            )
        return remarks


def for_reviewers(view: View) -> View:
    """To the login page for whoever isn't signed in, and a clear word for whoever is no reviewer."""

    @wraps(view)
    def seen(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        if not request.user.is_authenticated:
            return to_login(request, FIELDS)
        if not reviews(request.user):
            return render(request, "review/reviewers_only.html", status=403)
        return view(request, *args, **kwargs)

    return seen


@never_cache
@for_reviewers
@require_http_methods(["GET", "HEAD"])
def queue(request: SomebodysRequest) -> HttpResponse:
    """What waits, the oldest first; and what was decided lately."""
    rows = _revisions().filter(state=Revision.State.SUBMITTED).order_by("made_at", "pk")
    try:
        page = errors.page_of(request, rows.annotate(photos=Count("study__photos")), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad)
    found = _findings(page.object_list)
    context = {
        "page": page,
        "rows": [(one, found[one.pk], not decide.may_decide(one, request.user)) for one in page],
        "decided": _revisions().exclude(decided_by=None).order_by("-decided_at")[:DECIDED_LATELY],
    }
    return render(request, "review/queue.html", context)


def _revisions() -> QuerySet[Revision]:
    return Revision.objects.defer("document").select_related("study__contributor", "made_by", "decided_by")


def _findings(rows: list[Revision]) -> dict[int, dict[str, int]]:
    """Findings by severity, of each of these revisions: stored ones, and of a change to an accepted study its own."""
    new = {one.study_id: one.pk for one in rows if one.study.status != Study.Status.ACCEPTED}
    found: dict[int, dict[str, int]] = {one.pk: {} for one in rows}
    counted = Finding.objects.filter(study__in=new).values("study", "severity").annotate(n=Count("pk"))
    for row in counted.order_by("study", "severity"):
        found[new[row["study"]]][row["severity"]] = row["n"]
    return found | {one.pk: looked_at(one).counts for one in rows if one.study_id not in new}


@never_cache
@for_reviewers
@require_http_methods(["GET", "HEAD", "POST"])
def revision(request: SomebodysRequest, pk: int) -> HttpResponse:
    """One revision with all that is needed to decide on it; and the decision."""
    found = get_object_or_404(Revision.objects.select_related("study__contributor", "made_by", "decided_by"), pk=pk)
    looked = looked_at(found)
    if request.method != "POST":
        return _page(request, found, looked, DecideForm(initial=typed_before(request), stand=looked.stand))
    if not decide.may_decide(found, request.user):
        return render(request, "review/own.html", {"revision": found}, status=403)
    if found.state != Revision.State.SUBMITTED:
        return _no_longer_waits(request, found)
    form = DecideForm(request.POST, stand=looked.stand)
    if not form.is_valid():
        return _page(request, found, looked, form, status=422)
    accepts, remarks = form.cleaned_data["do"] == "accept", form.cleaned_data["remarks"]
    try:
        (decide.accept if accepts else decide.send_back)(found, request.user, remarks)
    except decide.Decided:
        return _no_longer_waits(request, found)
    except ReviewError as refused:
        form.add_error("remarks", str(refused))
        return _page(request, found, looked, form, status=422)
    messages.success(request, f"{'Accepted' if accepts else 'Returned with remarks'}: {found.study}.")
    return redirect("review:queue")


def _page(
    request: SomebodysRequest, found: Revision, looked: Looked, form: DecideForm, *, status: int = 200
) -> HttpResponse:
    study, parts = found.study, with_photos(looked, found.study)
    context = {
        "revision": found,
        "study": study,
        "looked": looked,
        "parts": parts,
        "first": [(part, at) for at, part in enumerate(parts, 1) if part.stands_out],
        "changed": changed_by(found),
        "asked": questions.shown(study, request.user),
        "waits": found.state == Revision.State.SUBMITTED,
        "may": decide.may_decide(found, request.user),
        "form": form,
    }
    return render(request, "review/revision.html", context, status=status)


def _no_longer_waits(request: HttpRequest, found: Revision) -> HttpResponse:
    """Somebody else was quicker, or something newer came; what was typed is shown to be copied."""
    found.refresh_from_db(fields=["state", "decided_at", "decided_by", "remarks"])
    outcome = {"accept": Revision.State.ACCEPTED, "return": Revision.State.RETURNED}.get(request.POST.get("do", ""))
    if found.decided_by == request.user and found.state == outcome:  # the button was pressed twice
        return redirect("review:queue")
    waiting = found.study.revisions.defer("document").filter(state=Revision.State.SUBMITTED).first()
    context = {
        "revision": found,
        "study": found.study,
        "waiting": waiting,
        "remarks": request.POST.get("remarks", ""),
    }
    return render(request, "review/decided.html", context, status=409)
