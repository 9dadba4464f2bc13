"""What a study said at each time: its revisions, one of them, two compared; and going back to one."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from results.models import Revision, Study, reviews
from results.review.document import examined, read
from results.review.errors import ReviewError, Stale
from results.review.hand_in import change, newest_number

from . import errors
from .prose import Prose
from .revisions_shown import compared, named, shown
from .signed_out import to_login, typed_before

PER_PAGE = 50
WHY_MOST = 1_000
View = Callable[..., HttpResponse]


class RestoreForm(forms.Form):
    """Why a study goes back to what it said."""

    why = Prose(
        most=WHY_MOST,
        rows=3,
        label="Why",
        help_text="Readers see it beside the revision.",
        error_messages={
            "required": "The reason is blank; say why the study goes back to this revision.",
            "max_length": f"This is %(show_value)s characters long; the most is {WHY_MOST}.",
        },
    )
    based_on = forms.IntegerField(min_value=0, widget=forms.HiddenInput)


def telling(view: View) -> View:
    """A document that can't be read, or a word that left the vocabulary, is told on a page of its own."""

    @wraps(view)
    def seen(request: HttpRequest, pk: int, **kwargs: int) -> HttpResponse:
        try:
            return view(request, pk, **kwargs)
        except ReviewError as trouble:
            return _trouble(request, pk, trouble)

    return seen


def _trouble(request: HttpRequest, pk: int, trouble: ReviewError, *, why: str = "") -> HttpResponse:
    """What can't be shown or done; `why` is what was typed to have it done. The study itself may be gone by now."""
    study = Study.objects.visible_to(request.user).filter(pk=pk).first()
    context = {"section": "studies", "study": study, "trouble": trouble, "why": why}
    return render(request, "revisions/trouble.html", context, status=422)


def readable(request: HttpRequest, pk: int) -> tuple[Study, QuerySet[Revision]]:
    """A study and those of its revisions that this person may read, without their documents.

    Everybody reads the accepted ones of a public study; its contributor and reviewers read all.

    Raises
    ------
    Http404
        If they may not read the study.
    """
    study = get_object_or_404(Study.objects.visible_to(request.user).select_related("contributor"), pk=pk)
    rows = study.revisions.defer("document").select_related("made_by", "decided_by").order_by("-number")
    if not study.is_of(request.user) and not reviews(request.user):
        rows = rows.filter(state=Revision.State.ACCEPTED)
    return study, rows


@never_cache
@require_http_methods(["GET", "HEAD"])
def revisions(request: HttpRequest, pk: int) -> HttpResponse:
    """All revisions, the newest first: who, when, why, and what became of them."""
    study, rows = readable(request, pk)
    two = request.GET.get("before", ""), request.GET.get("after", "")
    if all(one.isascii() and one.isdigit() and len(one) < 9 for one in two):
        return redirect("revisions:compare", study.pk, *map(int, two))
    try:
        page = errors.page_of(request, rows, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "studies")
    for one in page:
        named(one)
    context = {
        "section": "studies",
        "study": study,
        "page": page,
        "numbers": list(rows.values_list("number", flat=True)),
        "sees_all": study.is_of(request.user) or reviews(request.user),
        "holds": _held(study),
    }
    return render(request, "revisions/revisions.html", context)


def _held(study: Study) -> int | None:
    """The number of the revision that the study's records say."""
    found = study.revisions.order_by("-number")
    if study.is_public:
        found = found.filter(state=Revision.State.ACCEPTED)
    return found.values_list("number", flat=True).first()


@never_cache
@require_http_methods(["GET", "HEAD"])
@telling
def revision(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """What a revision says, whole, and what it changed."""
    study, rows = readable(request, pk)
    return _page(request, study, rows, number, RestoreForm(initial={"based_on": newest_number(study)}))


def _page(
    request: HttpRequest, study: Study, rows: QuerySet[Revision], number: int, form: RestoreForm, status: int = 200
) -> HttpResponse:
    found = get_object_or_404(rows.defer(None), number=number)
    before = rows.defer(None).filter(number__lt=number).first()
    after = rows.filter(number__gt=number).order_by("number").first()
    document = read(found)
    try:
        page = shown(request, document)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "studies")
    own = study.is_of(request.user)
    context = {
        "section": "studies",
        "study": study,
        "revision": named(found),
        "before": before,
        "after": after,
        "shown": page,
        "changed": compared(before, found) if before is not None else None,
        "holds": _held(study),
        "own": own,
        "form": form if own and study.status != Study.Status.WITHDRAWN else None,
        "stale": status == 409,
    }
    return render(request, "revisions/revision.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD"])
@telling
def compare(request: HttpRequest, pk: int, before: int, after: int) -> HttpResponse:
    """What two revisions say differently, a page at a time."""
    study, rows = readable(request, pk)
    found = {one.number: one for one in rows.defer(None).filter(number__in=[before, after])}
    if before not in found or after not in found:
        raise Http404
    changed = compared(found[before], found[after])
    try:
        page = errors.page_of(request, changed.found, PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "studies")
    context = {"section": "studies", "study": study, "changed": changed, "page": page}
    return render(request, "revisions/compare.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@telling
def restore(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Hand in what an earlier revision says as a new one, with a reason; the contributor only."""
    if not request.user.is_authenticated:
        return to_login(request, ("why",))
    study, rows = readable(request, pk)
    if request.method == "GET":  # back from logging in, with what was typed before
        form = RestoreForm(initial={"based_on": newest_number(study), **typed_before(request)})
        return _page(request, study, rows, number, form)
    if not study.is_of(request.user):
        raise PermissionDenied("Only who contributed a study may change it.")
    form = RestoreForm(request.POST)
    if not form.is_valid():
        return _page(request, study, rows, number, form, status=422)
    wanted = get_object_or_404(rows.defer(None), number=number)
    why, seen = form.cleaned_data["why"], form.cleaned_data["based_on"]
    try:
        draft, noticed = examined(read(wanted), study)
        made = change(study, draft, request.user, noticed, why=why, based_on=seen, restores=number)
    except Stale as stale:
        form.add_error(None, str(stale))
        # What is shown now has been seen; sent again it goes over that.
        form.data = {**request.POST.dict(), "based_on": newest_number(study)}
        return _page(request, study, rows, number, form, status=409)
    except ReviewError as refused:  # it was withdrawn, or taken back in another tab
        return _trouble(request, pk, refused, why=why)
    if made.restores != number:
        messages.info(
            request, gettext("The study says that already: it is revision %(number)s.") % {"number": made.number}
        )
    elif study.status == Study.Status.ACCEPTED:
        messages.success(request, gettext("Your change waits for review; until then the study stays as it is."))
    else:
        messages.success(
            request, gettext("Back to revision %(number)s. It waits for review as it is now.") % {"number": number}
        )
    return redirect("revisions:revisions", study.pk)
