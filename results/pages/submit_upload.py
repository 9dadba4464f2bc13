"""Handing in a study as a spreadsheet: send, look at what was read, mend or save."""

from __future__ import annotations

import hashlib
import uuid
from itertools import islice
from pathlib import PurePath

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.files.base import ContentFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from results.intake.annotate import annotated
from results.intake.examine import Examination, examine
from results.intake.findings import ERROR, Noticed, Unreadable, counts, where
from results.intake.read import kind_of, read_rows, too_large
from results.intake.rows import Row, Rows
from results.intake.save import save
from results.models import Upload

from .submit import XLSX, download, start_page
from .submit_preview import preview

FINDINGS_MOST = 200


@login_required
@require_http_methods(["GET", "POST"])
def send(request: HttpRequest) -> HttpResponse:
    """Keep a file that can be looked at, and go and look at it."""
    if request.method == "GET":  # back from logging in, without the file
        return redirect("submit:start")
    try:
        data, kind, name = _received(request)
    except Unreadable as refused:
        return start_page(request, refused, status=422)
    upload = Upload(
        user=request.user,
        kind=kind,
        name=name,
        size_bytes=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
    )
    upload.file.save(name, ContentFile(data), save=False)
    upload.save()
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


@login_required
@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """What was read from a sent file and what looks wrong; saving, where nothing does."""
    record = get_object_or_404(Upload.objects.select_related("study"), pk=pk, user=request.user)
    if record.study is not None:
        return redirect(record.study)
    examination = _examined(record)
    if request.method == "POST" and examination.may_be_saved:
        study = save(examination.draft, request.user, examination.noticed, record.pk)
        record.study = study
        record.counts = counts(examination.noticed)
        record.save(update_fields=["study", "counts"])
        messages.success(request, f"Saved: {study.title}. Everybody can read it now.")
        return redirect(study)
    noticed = examination.noticed
    before = Upload.objects.filter(user=request.user, sha256=record.sha256).exclude(study=None).first()
    context = {
        "section": "submit",
        "upload": record,
        "may_be_saved": examination.may_be_saved,
        "counts": counts(noticed),
        "findings": [(one, where(one.place)) for one in islice(noticed, FINDINGS_MOST)],
        "not_shown": max(len(noticed) - FINDINGS_MOST, 0),
        "read": _counted(examination.rows),
        "preview": preview(examination.draft) if examination.draft else None,
        "before": before,
    }
    return render(request, "submit/upload.html", context, status=422 if request.method == "POST" else 200)


def _examined(record: Upload) -> Examination:
    try:
        return examine(read_rows(_bytes(record), record.kind))
    except Unreadable as refused:
        told = Noticed(refused.code, ERROR, refused.message, refused.remedy, record="study")
        return Examination(Rows(Row("study", None)), (told,), None)


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
