"""Handing in a study, or a change to one, as a spreadsheet: send, look at what was read, mend or hand it in."""

from __future__ import annotations

import hashlib
import uuid
from itertools import islice
from pathlib import PurePath

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.files.base import ContentFile
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from results.evidence.draft import Place
from results.intake.annotate import annotated
from results.intake.examine import Examination, examine
from results.intake.findings import ERROR, Noticed, Unreadable, counts, where
from results.intake.read import kind_of, read_rows, too_large
from results.intake.rows import Row, Rows
from results.intake.study_book import study_csv, study_xlsx
from results.models import Study, Upload
from results.review.hand_in import ReviewError, Stale, change, hand_in, newest_number
from results.site.requests import SomebodysRequest

from .submit import start_page
from .submit_again import form_holds
from .submit_change import begun_from, compared, needs_why, own_study, told_change, told_new, without_why
from .submit_preview import preview
from .submit_template import XLSX, download
from .submit_typed import number

FINDINGS_MOST = 200
_NO_ROOM = "no-room"


@login_required
@require_http_methods(["GET", "POST"])
def send(request: SomebodysRequest) -> HttpResponse:
    """Keep a file that can be looked at, and go and look at it."""
    if request.method == "GET":  # back from logging in, without the file
        return redirect("submit:start")
    asked = request.POST.get("change")
    study = own_study(request.user, asked) if asked else None
    try:
        data, kind, name = _received(request)
        upload = _kept(request, data, kind, name, study)
    except Unreadable as refused:
        status = 507 if refused.code == _NO_ROOM else 422
        if study is not None:
            return _change_page(request, study, refused, status)
        return start_page(request, refused, status)
    return redirect("submit:upload", upload.pk)


def _received(request: HttpRequest) -> tuple[bytes, str, str]:
    sent = request.FILES.get("file")
    if sent is None:
        raise Unreadable("no-file", "No file was chosen.", "Choose a CSV file or a workbook saved as XLSX.")
    name = "".join(c for c in PurePath(sent.name or "file").name if c.isprintable())[-200:]
    # By the size told first, so that what is far too large is never held in memory.
    if sent.size and sent.size > settings.UPLOAD_MAX_MB * 1_000_000:
        raise too_large(name, sent.size)
    data = sent.read()
    return data, kind_of(data, name), name


def _kept(request: SomebodysRequest, data: bytes, kind: str, name: str, study: Study | None) -> Upload:
    """The file and its record: both or neither."""
    upload = Upload(
        user=request.user,
        kind=kind,
        name=name,
        size_bytes=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
        changes=study,
    )
    at = upload.file.field.generate_filename(upload, name)
    try:
        upload.file.save(name, ContentFile(data), save=False)
        upload.save()
    except OSError:  # a full disk: what was written of it before that goes too
        upload.file.storage.delete(at)
        raise Unreadable(
            _NO_ROOM,
            "The server has no room to keep your file; nothing of it was kept.",
            "Your own copy is as it was: send it again later.",
        ) from None
    except Exception:
        upload.file.storage.delete(at)
        raise
    return upload


@login_required
@require_http_methods(["GET", "POST"])
def upload(request: SomebodysRequest, pk: uuid.UUID) -> HttpResponse:
    """What was read from a sent file and what looks wrong; handing it in, where nothing does."""
    record = get_object_or_404(Upload.objects.select_related("study", "changes"), pk=pk, user=request.user)
    done = record.changes if record.revision else record.study
    if done is not None:
        return redirect(done)
    examination = _examined(record)
    why, status, error = request.POST.get("why", ""), 200, ""
    if request.method == "POST":
        status, blank = 422, record.changes is not None and bool(without_why(record.changes, why))
        if examination.may_be_saved and not blank:
            try:
                return _handed_in(request, record, examination, why)
            except Stale as stale:
                status, error = 409, str(stale)
            except ReviewError as refused:
                error = str(refused)
        elif blank:
            error = "Why you change it is blank; say it in a few words, such as: the arm was measured wrongly."
    context = _context(record, examination) | {"why": why, "error": error}
    return render(request, "submit/upload.html", context, status=status)


def _handed_in(request: SomebodysRequest, record: Upload, examination: Examination, why: str) -> HttpResponse:
    with transaction.atomic():
        study = record.changes
        if study is None:
            study = record.study = hand_in(examination.to_save, request.user, examination.noticed, record.pk)
            told = told_new(study)
        else:
            seen = number(request.POST.get("based_on")) or 0
            made = change(study, examination.to_save, request.user, examination.noticed, why=why, based_on=seen)
            record.revision, told = made.number, told_change(study)
        record.counts = counts(examination.noticed)
        record.save(update_fields=["study", "revision", "counts"])
    messages.success(request, told)
    return redirect(study)


def _context(record: Upload, examination: Examination) -> dict[str, object]:
    noticed, study = examination.noticed, record.changes
    before = Upload.objects.filter(user=record.user, sha256=record.sha256).exclude(study=None).first()
    seen = newest_number(study) if study is not None else 0
    differs = compared(study, seen, examination.draft, noticed) if study is not None and examination.draft else None
    return {
        "section": "submit",
        "upload": record,
        "may_be_saved": examination.may_be_saved and not (differs and differs.nothing),
        "counts": counts(noticed),
        "findings": [(one, where(one.place)) for one in islice(noticed, FINDINGS_MOST)],
        "not_shown": max(len(noticed) - FINDINGS_MOST, 0),
        "read": _counted(examination.rows),
        "preview": preview(examination.draft) if examination.draft else None,
        "before": before if study is None else None,
        "changes": study,
        "needs_why": study is not None and needs_why(study),
        "based_on": seen,
        "compared": differs,
    }


def _examined(record: Upload) -> Examination:
    try:
        return examine(read_rows(_bytes(record), record.kind), by=record.user)
    except Unreadable as refused:
        told = Noticed(refused.code, ERROR, refused.message, refused.remedy, record="study")
        return Examination(Rows(Row("study", Place("", 0))), (told,), None)


def _bytes(record: Upload) -> bytes:
    with record.file.open("rb") as file:
        return file.read()


def _counted(rows: Rows) -> dict[str, int]:
    return {
        "setup": len(rows.setups),
        "series": len(rows.series),
        "specimen": len(rows.specimens),
    }


@login_required
@require_GET
def findings(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """The sent file with its findings in a last column."""
    record = get_object_or_404(Upload, pk=pk, user=request.user)
    examination = _examined(record)
    try:
        data = annotated(_bytes(record), record.kind, examination.noticed)
    except Unreadable as refused:
        messages.error(request, str(refused))
        return redirect("submit:upload", record.pk)
    content_type = XLSX if record.kind == "xlsx" else "text/csv; charset=utf-8"
    return download(data, content_type, f"{PurePath(record.name).stem}-findings.{record.kind}")


@login_required
@require_GET
def change_sheet(request: SomebodysRequest, pk: int) -> HttpResponse:
    """A study of one's own as a spreadsheet to edit, and where to send it afterwards."""
    study = own_study(request.user, str(pk))
    if study.status == Study.Status.WITHDRAWN:
        messages.error(request, gettext("A withdrawn study can't be changed; start a new one from it."))
        return redirect(study)
    return _change_page(request, study)


def _change_page(
    request: SomebodysRequest, study: Study, refused: Exception | None = None, status: int = 200
) -> HttpResponse:
    unsaved = Upload.objects.filter(user=request.user, changes=study, revision=None)[:5]
    context = {"section": "submit", "study": study, "refused": refused, "unsaved": unsaved}
    context["fits_form"] = form_holds(study)
    return render(request, "submit/change_sheet.html", context, status=status)


@login_required
@require_GET
def study_sheet(request: SomebodysRequest, pk: int, kind: str) -> HttpResponse:
    """A study of one's own in the template's columns, as it was typed."""
    study = own_study(request.user, str(pk))
    draft, seen = begun_from(study)
    name = f"study-{study.pk}-revision-{seen}.{kind}" if seen else f"study-{study.pk}.{kind}"
    if kind == "xlsx":
        return download(study_xlsx(draft), XLSX, name)
    return download(study_csv(draft).encode("utf-8-sig"), "text/csv; charset=utf-8", name)
