"""Handing in a study by form: choose what was tested, fill in, check, save; and taking a study back."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Iterable
from dataclasses import replace

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods

from results.evidence import Noticed
from results.intake.examine import Examination, examine
from results.intake.findings import Place, counts
from results.intake.same import same
from results.intake.save import save, withdraw
from results.intake.template import blank_csv, blank_xlsx
from results.intake.words import Words
from results.models import Joint, Study, Upload

from .submit_again import form_holds, typed_again
from .submit_fields import Shown
from .submit_form import SERIES_MOST, SPECIMENS_MOST, SeriesTyped, Typed, blank_joints, rows_of
from .submit_preview import preview

SPECIMENS_USUAL = 5
JOINTS_ASKED = 6
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@login_required
@require_GET
def start(request: HttpRequest) -> HttpResponse:
    """Form or spreadsheet; and the first step of the form."""
    return start_page(request)


def start_page(request: HttpRequest, refused: Exception | None = None, status: int = 200) -> HttpResponse:
    """The page that a submission starts from; with a refused file's reason, if one was."""
    words = Words()
    context = {
        "section": "submit",
        "loadings": words.rows("Loading"),
        "instruments": words.rows("Instrument"),
        "families": list(blank_joints(words)),
        "joints_asked": range(1, JOINTS_ASKED + 1),
        "specimens": SPECIMENS_USUAL,
        "unsaved": Upload.objects.filter(user=request.user, study=None)[:5],
        "refused": refused,
    }
    return render(request, "submit/start.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def form(request: HttpRequest) -> HttpResponse:
    """One page with the fields that these joints and this loading need."""
    words = Words()
    if request.method == "GET":
        return _first_page(request, words)
    typed = Typed.posted(request.POST)
    do = request.POST.get("do", "check")
    if do == "anew":
        typed.key = uuid.uuid4()
    elif do not in ("check", "save"):
        _change(typed, do, request.POST, words)
        return _form_page(request, typed, words)
    key = uuid.uuid5(typed.key, str(request.user.pk))  # a key is worth something to its own user only
    examination = _on_form(examine(rows_of(typed, words), sheet=False, words=words), typed)
    saved = Study.objects.filter(submission_key=key).first()
    seen = do == "save" and request.POST.get("seen") == digest(typed, examination.noticed)
    if saved is None and seen and examination.may_be_saved:
        saved = save(examination.draft, request.user, examination.noticed, key)
    if saved is None:
        return _form_page(request, typed, words, examination)
    # The form was saved, now or before: in another tab, or before going back to it and changing something.
    counts_so = saved.status == Study.Status.ACCEPTED and examination.draft and same(examination.draft, saved)
    return _to_study(request, saved, typed.key) if counts_so else _form_page(request, typed, words, saved=saved)


def _first_page(request: HttpRequest, words: Words) -> HttpResponse:
    """The form before anything is typed; or filled in from a study of one's own."""
    asked = request.GET.get("from")
    if asked is None:
        return _form_page(request, _laid_out(request, words), words, fresh=True)
    if not (asked.isascii() and asked.isdigit() and len(asked) < 19):
        raise Http404
    study = get_object_or_404(Study, pk=int(asked), contributor=request.user)
    if not form_holds(study):
        messages.error(request, "The form holds one rig and a few series; send this study's spreadsheet, mended.")
        return redirect(study)
    return _form_page(request, typed_again(study, words), words, fresh=True, begun_from=study)


def _laid_out(request: HttpRequest, words: Words) -> Typed:
    """A form as the first step asked for it; whatever of that isn't known is left to be chosen."""
    query = request.GET
    joints = [found[0] for text in query.getlist("joint") if len(found := words.find("Joint", text)) == 1]
    asked = query.get("specimens", "")
    specimens = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else SPECIMENS_USUAL
    typed = Typed.start(query.get("loading", ""), query.get("instrument", ""), joints, specimens)
    if not typed.series:
        typed.series.append(SeriesTyped(specimens=[{} for _ in range(min(max(specimens, 1), SPECIMENS_MOST))]))
    last = request.user.studies.order_by("-id").values("workshop", "licence").first()
    if last:
        typed.study |= last
    return typed


def _change(typed: Typed, do: str, data: QueryDict, words: Words) -> None:
    """Add or take out what a button says; any other word only lays the form out anew."""
    what, _, at = do.rpartition("-")
    if what == "rows" and at.isdigit():
        typed.add_rows(int(at))
    elif what == "drop" and at.isdigit():
        typed.drop_series(int(at))
    elif do == "add-series":
        found = words.find("Joint", data.get("add-joint", ""))
        if len(found) == 1:
            typed.add_series(found[0], SPECIMENS_USUAL)


def _on_form(examination: Examination, typed: Typed) -> Examination:
    """Findings once each, and where the form shows what they are about."""
    once: dict[tuple, Noticed] = {}
    for one in _unit_once(examination.noticed, typed):
        if one.code == "no-results" and one.place is not None:
            at = int(one.place.sheet.split("-")[1])
            if not typed.series[at].by_mean and typed.series[at].specimens:
                one = replace(one, place=Place(f"specimen-{at}-0-reading", 0))
        once.setdefault((one.place, one.code, one.message), one)
    return replace(examination, noticed=tuple(once.values()))


def _unit_once(noticed: tuple[Noticed, ...], typed: Typed) -> tuple[Noticed, ...]:
    """Where all readings wait for one unit that was left blank, that unit is what is missing."""
    bare = [one for one in noticed if (one.code, one.field) == ("unit-missing", "reading")]
    if len(bare) < 2 or "reading unit" in typed.setup:
        return noticed
    said = replace(
        bare[0],
        message=f"Reading unit is blank, and {len(bare)} readings have no unit of their own.",
        record="setup",
        series="",
        specimen="",
        field="reading unit",
        value="",
        place=Place("setup-reading_unit", 0),
    )
    return (said, *(one for one in noticed if one not in bare))


def digest(typed: Typed, noticed: Iterable[Noticed]) -> str:
    """What was shown to somebody, so that saving saves nothing they have not seen."""
    said = [typed.study, typed.setup, typed.shared, *((one.values, one.specimens, one.by_mean) for one in typed.series)]
    text = "\n".join([json.dumps(said, sort_keys=True), *(f"{one.code}|{one.message}|{one.place}" for one in noticed)])
    return hashlib.sha256(text.encode()).hexdigest()


def _form_page(
    request: HttpRequest,
    typed: Typed,
    words: Words,
    examination: Examination | None = None,
    *,
    fresh: bool = False,
    begun_from: Study | None = None,
    saved: Study | None = None,
) -> HttpResponse:
    noticed = examination.noticed if examination else ()
    context = {
        "section": "submit",
        "shown": Shown(typed, words, noticed),
        "findings": [(one, one.place.sheet if one.place else "") for one in noticed],
        "counts": counts(noticed),
        "preview": preview(examination.draft) if examination and examination.draft else None,
        "seen": digest(typed, noticed),
        "fresh": fresh,
        "begun_from": begun_from,
        "saved": saved,
    }
    refused = examination is not None and not examination.may_be_saved
    return render(request, "submit/form.html", context, status=409 if saved else 422 if refused else 200)


def _to_study(request: HttpRequest, study: Study, key: uuid.UUID) -> HttpResponse:
    messages.success(request, f"Saved: {study.title}. Everybody can read it now.")
    response = redirect(study)
    # The browser keeps a copy of an unsent form; this tells it which one has arrived.
    response.set_cookie("arrived", str(key), max_age=7 * 86_400, samesite="Lax", secure=request.is_secure())
    return response


@login_required
@require_GET
def template(request: HttpRequest, kind: str) -> HttpResponse:
    """A blank spreadsheet; with joints in the address, laid out for these."""
    words = Words()
    joints: list[Joint] = []
    for text in request.GET.getlist("joint")[:SERIES_MOST]:
        joints += words.find("Joint", text)[:1]
    asked = request.GET.get("specimens", "")
    specimens = min(int(asked), SPECIMENS_MOST) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 0
    if kind == "xlsx":
        return download(blank_xlsx(joints, specimens), XLSX, "breakbook-template.xlsx")
    return download(blank_csv(joints).encode("utf-8-sig"), "text/csv; charset=utf-8", "breakbook-template.csv")


def download(data: bytes, content_type: str, name: str) -> HttpResponse:
    """A file to be kept."""
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(data, content_type=content_type, headers=headers)


@login_required
@require_http_methods(["GET", "POST"])
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw a study of one's own, with a reason; it stays readable and no longer counts."""
    study = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    error, reason = "", request.POST.get("reason", "")
    if study.contributor_id != request.user.pk:
        return render(request, "submit/not_yours.html", {"study": study}, status=403)
    if study.status == Study.Status.WITHDRAWN:
        return redirect(study)
    if request.method == "POST":
        try:
            withdraw(study, request.user, reason)
        except ValueError as refused:
            error = str(refused)
        else:
            messages.success(request, f"Withdrawn: {study.title}. It stays readable, marked as withdrawn.")
            return redirect(study)
    context = {"section": "submit", "study": study, "error": error, "reason": reason}
    context["fits_form"] = form_holds(study)
    return render(request, "submit/withdraw.html", context, status=422 if error else 200)
