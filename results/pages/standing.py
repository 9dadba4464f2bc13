"""Where a study stands in its life, and what its contributor or a reviewer may do next."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from results.models import Revision, Study, reviews
from results.review.decide import may_decide
from results.review.errors import ReviewError
from results.review.hand_in import discard, hand_in_draft
from results.site.requests import SomebodysRequest

State = Revision.State


@dataclass(frozen=True)
class Standing:
    """A study and its revisions as somebody sees them.

    Parameters
    ----------
    study : Study
    own, reviewer, decides : bool
        Whether whoever looks contributed it, is a reviewer, and may decide on what waits.
    newest, accepted, waits : Revision or None
        The newest revision, the newest accepted one, and the one that waits.
    """

    study: Study
    own: bool
    reviewer: bool
    decides: bool
    newest: Revision | None
    accepted: Revision | None
    waits: Revision | None

    @property
    def returned(self) -> Revision | None:
        """What was returned last, if nothing was handed in since."""
        return self.newest if self.newest is not None and self.newest.state == State.RETURNED else None

    @property
    def sees_all(self) -> bool:
        """Whether more than what is accepted is shown."""
        return self.own or self.reviewer

    @property
    def next(self) -> str:
        """What its contributor can do, or waits for."""
        status = self.study.status
        if status == Study.Status.DRAFT:
            return "Only you can see it. Look it over and hand it in."
        if status == Study.Status.SUBMITTED:
            return "A reviewer looks at it next; you can still change it."
        if status == Study.Status.WITHDRAWN:
            return "It stays readable, and no longer counts."
        if self.returned is not None:
            what = "Your change" if status == Study.Status.ACCEPTED else "It"
            return f"{what} was returned with remarks: mend it and hand it in again."
        if self.waits is not None:
            return "Your change waits for a reviewer; until then it stays as it is."
        return "It counts. Nothing is left to do."


def standings(studies: Iterable[Study], user: User) -> list[Standing]:
    """Where each of these studies stands, for this person."""
    listed = list(studies)
    revisions: dict[int, list[Revision]] = {one.pk: [] for one in listed}
    rows = Revision.objects.defer("document").filter(study__in=revisions).select_related("made_by", "decided_by")
    for row in rows.order_by("-number"):
        revisions[row.study_id].append(row)
    reviewer = user.is_authenticated and reviews(user)
    return [_standing(study, revisions[study.pk], user, reviewer) for study in listed]


def standing(study: Study, user: User) -> Standing:
    """Where a study stands, for this person."""
    return standings([study], user)[0]


def _standing(study: Study, revisions: list[Revision], user: User, reviewer: bool) -> Standing:
    def first(of: Callable[[Revision], bool]) -> Revision | None:
        return next((one for one in revisions if of(one)), None)

    for one in revisions:
        one.study = study
    waits = first(lambda one: one.state == State.SUBMITTED)
    return Standing(
        study=study,
        own=user.is_authenticated and study.contributor_id == user.pk,
        reviewer=reviewer,
        decides=reviewer and waits is not None and may_decide(waits, user),
        newest=revisions[0] if revisions else None,
        accepted=first(lambda one: one.state == State.ACCEPTED),
        waits=waits,
    )


def _own(request: HttpRequest, pk: int) -> Study:
    return get_object_or_404(Study, pk=pk, contributor=request.user)


@login_required
@require_http_methods(["GET", "POST"])
def hand_in(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Hand in a draft of one's own as it is, or a returned study once more."""
    study = _own(request, pk)
    if request.method == "POST":
        try:
            hand_in_draft(study, request.user)
        except ReviewError as refused:
            messages.error(request, str(refused))
        else:
            messages.success(
                request, gettext("Handed in: %(title)s. A reviewer looks at it next.") % {"title": study.title}
            )
    return redirect(study)


@login_required
@require_http_methods(["GET", "POST"])
def take_back(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Delete a study of one's own that was never accepted; the page asks first."""
    study = _own(request, pk)
    if study.is_public:
        return redirect("submit:withdraw", study.pk)
    if request.method == "GET":
        return render(request, "revisions/take_back.html", {"section": "studies", "study": study})
    try:
        discard(study, request.user)
    except ReviewError as refused:
        messages.error(request, str(refused))
        return redirect(study)
    messages.success(request, gettext("Taken back: %(title)s. Nothing of it is kept.") % {"title": study.title})
    return redirect("browse:mine")
