"""Studies sent by a program: the same checks as a form or a spreadsheet, saved as a draft."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.models import User
from django.urls import reverse
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response

from results.intake.examine import Examination, examine
from results.intake.findings import ERROR, Noticed, Unreadable, counts
from results.intake.read import read_rows
from results.intake.read_records import read_records
from results.intake.save import save
from results.models import Study

from ..errors import BadParameters, Fault, Findings, KeyTaken
from ..sent import shown

KEY = "Idempotency-Key"


def create(request: Request) -> Response:
    """Save what was sent as a draft of who sends it.

    Raises
    ------
    NotAuthenticated
        If nobody is signed in.
    Findings
        If the checks found errors; nothing is saved then.
    """
    if not request.user.is_authenticated:
        raise NotAuthenticated("A draft belongs to somebody: send a token, as Authorization: Bearer <token>.")
    key = _key(request)
    found = _examined(request.data, request.user)
    told = shown(found.noticed)
    if found.draft is None or not found.may_be_saved:
        errors = counts(found.noticed)[ERROR]
        first = next(one["message"] for one in told if one["severity"] == ERROR)
        more = f" There are {errors - 1} more errors." if errors > 1 else ""
        raise Findings(f"Nothing was saved: {first}{more}", told)
    study = save(found.draft, request.user, found.noticed, key, status=Study.Status.DRAFT)
    if study.contributor_id != request.user.pk:
        raise KeyTaken
    address = request.build_absolute_uri(reverse("api:studies-one", args=[study.pk]))
    answer = {"study_id": study.pk, "study_status": study.status, "address": address, "findings": told}
    return Response(answer, status=201, headers={"Location": address})


def _examined(data: Any, by: User) -> Examination:
    try:
        if isinstance(data, bytes):
            rows = read_rows(data, "csv")
        else:
            rows = read_records(data.get("rows") if isinstance(data, dict) and list(data) == ["rows"] else data)
    except Unreadable as refused:
        one = Noticed(refused.code, ERROR, refused.message, refused.remedy)
        raise Findings(str(refused), shown([one])) from None
    return examine(rows, by=by)


def _key(request: Request) -> uuid.UUID | None:
    """The sender's own key of this study: sending it twice saves it once."""
    given = request.headers.get(KEY)
    if given is None:
        return None
    try:
        return uuid.UUID(given)
    except ValueError:
        detail = f"{KEY} is no UUID; make one for each study, such as {uuid.UUID(int=0)} with other digits."
        raise BadParameters([Fault(KEY, given, detail)]) from None
