"""Photos of a study: shown to whoever may read it, added, captioned and removed by who contributed it."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import parse_etags
from django.utils.translation import gettext
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_safe

from results.models import Photo, Study
from results.photos.keep import Closed, add, change, remove
from results.site.requests import SomebodysRequest

from . import errors
from .in_language import count_of
from .photo_forms import ROWS, Row, Said, groups_of, read_rows
from .submit_typed import number

A_DAY = 24 * 3600
SECTION = "studies"


@require_safe
def picture(request: HttpRequest, pk: uuid.UUID, *, small: bool = False) -> HttpResponse:
    """A photo's file; there is none for who may not read its study."""
    photo = get_object_or_404(Photo.objects.select_related("study"), pk=pk)
    public = photo.study.is_public
    # Asked only where it matters: what depends on who asks is kept by no cache on the way.
    if not public and not Study.objects.visible_to(request.user).filter(pk=photo.study_id).exists():
        raise Http404("There is no such photo.")
    etag = f'"{photo.sha256[:32]}{"-small" if small else ""}"'
    if etag in parse_etags(request.headers.get("If-None-Match", "")):
        response: HttpResponse = HttpResponseNotModified()
    else:
        try:
            with (photo.thumbnail if small else photo.file).open("rb") as file:
                response = HttpResponse(file.read(), content_type="image/jpeg")
        except FileNotFoundError:  # removed this very moment
            raise Http404("There is no such photo.") from None
        name = f"breakbook-{photo.pk}{'-small' if small else ''}.jpg"
        response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    # The picture of an address never changes; but it may be removed, and is gone everywhere within a day.
    response.headers["Cache-Control"] = f"public, max-age={A_DAY}" if public else "private, no-cache"
    response.headers["ETag"] = etag
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response


@csrf_exempt  # checked in _mine: by then it is known who sends, and how much
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def mine(request: SomebodysRequest, pk: int) -> HttpResponseBase:
    """The photos of one's own study: those that are there, and room for more."""
    study = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    if not study.is_of(request.user):
        return render(request, "photos/not_yours.html", {"section": SECTION, "study": study}, status=403)
    if request.method == "POST" and _is_too_long(request):
        # Nothing of it is read; what was typed beside can't be either.
        return _page(request, study, too_long=True, status=413)
    try:
        return csrf_protect(_mine)(request, study)
    except OSError as error:
        if not errors.is_full(error):
            raise
        return _page(request, study, full=True, status=507)


def _is_too_long(request: HttpRequest) -> bool:
    said = number(request.META.get("CONTENT_LENGTH") or "0")
    return said is None or said > (ROWS * settings.PHOTO_MAX_MB + 1) * 1_000_000


def _mine(request: SomebodysRequest, study: Study) -> HttpResponseBase:
    if request.method != "POST":
        return _page(request, study)
    rows = read_rows(request.POST, request.FILES, study)
    sent = [row for row in rows if row.sent is not None]
    try:
        kept = add(study, request.user, [row.sent for row in sent if row.sent is not None])
    except Closed as closed:
        return _page(request, study, closed=str(closed), status=409)
    for at, refused in kept.refused.items():
        sent[at].faults["photo"] = str(refused)
    if kept.added:
        messages.success(request, gettext("%(photos)s added.") % {"photos": count_of(kept.added, "photo")})
    wrong = [row for row in rows if row.faults]
    if wrong:
        return _page(request, study, [*wrong, *[Row() for _ in range(ROWS - len(wrong))]], status=422)
    return redirect("photos:mine", study.pk)


def _page(request: HttpRequest, study: Study, rows: list[Row] | None = None, *, status: int = 200, **told: object):
    room = settings.PHOTOS_MOST - study.photos.count()
    context = {
        "section": SECTION,
        "study": study,
        "photos": groups_of(study),
        "rows": rows or [Row() for _ in range(ROWS)],
        "wrong": rows is not None,
        "rows_shown": sum(1 for row in rows or [] if row.faults) or 1,
        "series": list(study.series.values_list("label", flat=True)),
        "room": max(room, 0),
        "most_mb": settings.PHOTO_MAX_MB,
        "closed": "",
        **told,
    }
    return render(request, "photos/mine.html", context, status=status)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def one(request: HttpRequest, pk: int, photo: uuid.UUID) -> HttpResponse:
    """What is said of a photo of one's own study."""
    found = _own(request, pk, photo)
    if isinstance(found, HttpResponse):
        return found
    said = Said.of(found)
    before = said.mark
    status = 200
    if request.method == "POST":
        said = Said.posted(request.POST, found.study)
        if not said.faults and before not in (request.POST.get("before"), said.mark):
            said.faults["caption"] = (
                f"It was changed meanwhile, in another tab or device: it says “{found.caption}” now. "
                "Send this again if it should say what you typed."
            )
            status = 409
        elif said.faults:
            status = 422
        else:
            return _changed(request, found, said)
    context = {
        "section": SECTION,
        "study": found.study,
        "photo": found,
        "said": said,
        "before": before,
        "series": list(found.study.series.values_list("label", flat=True)),
    }
    return render(request, "photos/one.html", context, status=status)


def _changed(request: HttpRequest, photo: Photo, said: Said) -> HttpResponse:
    try:
        change(photo, caption=said.caption, series=said.found_series, specimen=said.found_specimen)
    except Closed as closed:
        return _page(request, photo.study, closed=str(closed), status=409)
    messages.success(request, gettext("Changed."))
    return redirect("photos:mine", photo.study_id)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def take_out(request: HttpRequest, pk: int, photo: uuid.UUID) -> HttpResponse:
    """Remove a photo of one's own study, once that is said twice."""
    found = _own(request, pk, photo)
    if isinstance(found, HttpResponse):
        return found
    if request.method != "POST":
        return render(request, "photos/remove.html", {"section": SECTION, "study": found.study, "photo": found})
    try:
        remove(found)
    except Closed as closed:
        return _page(request, found.study, closed=str(closed), status=409)
    messages.success(request, gettext("The photo was removed."))
    return redirect("photos:mine", found.study_id)


def _own(request: HttpRequest, pk: int, photo: uuid.UUID) -> Photo | HttpResponse:
    """A photo of a study of one's own, or the page that says why not."""
    study = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    if not study.is_of(request.user):
        return render(request, "photos/not_yours.html", {"section": SECTION, "study": study}, status=403)
    found = study.photos.select_related("series", "specimen").filter(pk=photo).first()
    if found is None and request.method == "POST":
        # Sent twice, or removed in another tab: what was wanted, or can't be had any more.
        messages.info(request, gettext("That photo was removed before."))
        return redirect(reverse("photos:mine", args=[study.pk]))
    if found is None:
        raise Http404("There is no such photo.")
    found.study = study
    return found
