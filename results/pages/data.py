"""Taking the data: what there is, how to take it, how it may be used; and the releases."""

from __future__ import annotations

from typing import Any

from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from results.evidence.stock import held
from results.models import Release, Study
from results.releases import shelf
from results.releases.descriptor import DEEDS
from results.releases.words import ALL

from . import errors, recipes

PER_PAGE = 25
SECTION = "data"
TABLES = (
    "specimens",
    "series",
    "studies",
    "footings",
    "findings",
    "joints",
    "loadings",
    "timbers",
    "adhesives",
    "failure-places",
)
FORMS = (("CSV", "csv"), ("Parquet", "parquet"), ("NDJSON", "ndjson"), ("JSON", "json"))
WHOLE = "Breakbook, an open book of break tests on woodworking joints"


def data(request: HttpRequest) -> HttpResponse:
    specimens_csv = request.build_absolute_uri(_api("specimens", "csv"))
    latest = Release.objects.first()
    context = {
        "section": SECTION,
        "counts": {**held(), "invented": Study.objects.accepted().filter(invented=True).count()},
        "tables": [(name, [(form, _api(name, suffix)) for form, suffix in FORMS]) for name in TABLES],
        "recipes": recipes.of_api(specimens_csv, request.build_absolute_uri(_api("compare", "json"))),
        "latest": latest,
        "release_recipes": _of_release(request, latest) if latest else [],
        "dictionary": ALL,
        "dictionary_csv": _api("columns", "csv"),
        "licences": _licences(),
        "whole": WHOLE,
        "feed": reverse("data:changes"),
    }
    return render(request, "browse/data.html", context)


def _api(name: str, suffix: str) -> str:
    return reverse(f"api:{name}", args=[suffix])


def _licences() -> list[tuple[str, str, int]]:
    """Name, deed and accepted studies of each licence."""
    rows = Study.objects.accepted().order_by().values_list("licence").annotate(n=Count("pk"))
    counts = dict(rows)
    return [(name, deed, counts.get(code, 0)) for code, (name, deed) in DEEDS.items()]


def _of_release(request: HttpRequest, release: Release) -> list[recipes.Recipe]:
    addresses = [
        request.build_absolute_uri(reverse("data:release-file", args=[release.name, name]))
        for name in ("specimens.parquet", shelf.SUMS)
    ]
    return recipes.of_release(*addresses)


def releases(request: HttpRequest) -> HttpResponse:
    try:
        page = errors.page_of(request, Release.objects.all(), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    return render(request, "browse/releases.html", {"section": SECTION, "page": page})


def release(request: HttpRequest, name: str) -> HttpResponse:
    record = shelf.find(name)
    if record is None:
        raise Http404(f"There is no release {name}.")
    kept = shelf.files(record)
    tables = [(table, _named(kept, f"{table.name}.csv"), _named(kept, f"{table.name}.parquet")) for table in ALL]
    in_tables = {file.name for _, *both in tables for file in both if file}
    context: dict[str, Any] = {
        "section": SECTION,
        "release": record,
        "there": bool(kept),
        "files": kept,
        "tables": [(table, record.counts.get(table.name), sheet, parquet) for table, sheet, parquet in tables],
        "others": [file for file in kept if file.name not in in_tables],
        "citation": f"{shelf.text(record, 'CITATION.txt').strip()} {request.build_absolute_uri(request.path)}",
        "changes": record.changes,
    }
    return render(request, "browse/release.html", context)


def _named(kept: list[shelf.Kept], name: str) -> shelf.Kept | None:
    return next((file for file in kept if file.name == name), None)
