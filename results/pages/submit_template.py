"""Blank spreadsheets, and files to be kept."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from results.intake.template import blank_csv, blank_xlsx
from results.intake.words import Words
from results.models import Joint

from .submit_begin import specimens_asked
from .submit_typed import SERIES_MOST

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@login_required
@require_GET
def template(request: HttpRequest, kind: str) -> HttpResponse:
    """A blank spreadsheet; with joints or a family of them in the address, with the sizes that these have."""
    words = Words()
    joints: list[Joint] = []
    for text in request.GET.getlist("joint")[:SERIES_MOST]:
        joints += words.find("Joint", text)[:1]
    family = request.GET.get("family", "")
    kin = [one for one in words.rows("Joint") if family and one.family_id == family]
    # The usual controls belong to a sheet of any family: without one, nothing compares.
    kin += [one for one in words.rows("Joint") if kin and one.is_control_kind and one not in kin]
    asked = request.GET.get("specimens", "")
    rows = specimens_asked(asked) if asked else 0
    name = f"breakbook-{family.replace('_', '-')}" if kin else "breakbook-template"
    if kind == "xlsx":
        return download(blank_xlsx(joints, rows, sizes_of=[*joints, *kin]), XLSX, f"{name}.xlsx")
    return download(blank_csv([*joints, *kin]).encode("utf-8-sig"), "text/csv; charset=utf-8", f"{name}.csv")


def download(data: bytes, content_type: str, name: str) -> HttpResponse:
    """A file to be kept."""
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(data, content_type=content_type, headers=headers)
