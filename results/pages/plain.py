"""How the numbers are made, and how to take the data: pages that follow the code they describe."""

from __future__ import annotations

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from results.models import Specimen, Study, Timber
from stats.footing import adjustment
from stats.footing.fields import words
from stats.footing.footings import FOOTINGS
from stats.footing.loading import LOADINGS
from stats.footing.reading import INSTRUMENTS
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.inference import outliers, slips

from .wording import footing_symbol
from .worked_example import worked_example

# The columns that most questions need; the data dictionary has them all.
MAIN_COLUMNS = (
    ("study_id, study_title, workshop", "whose test it is"),
    ("invented", "true for made-up data: leave those rows out of any real use"),
    ("licence", "how the row may be used"),
    ("joint, timber, adhesive", "codes of the vocabulary"),
    ("action, loading, arm_mm", "how it was loaded; other lengths of the rig beside it"),
    ("tests", "joint (as used) or bond (a glue bond by itself); never pool the two"),
    ("outcome", "broke, held (stopped first: at least this strong) or void"),
    ("failure_place", "where it broke"),
    ("reading_typed, reading_unit", "the reading as typed"),
    ("peak_load_n", "the same as a force"),
    ("moment_nm, force_n", "the moment or the force at the joint"),
    ("stress_mpa", "nominal stress"),
    ("ratio_solid, ratio_solid_matched, ratio_control", "the ratios; empty where they can't be had"),
    ("flagged", "true if a check doubts the specimen; it is kept all the same"),
)


def methods(request: HttpRequest) -> HttpResponse:
    # The rules of torsion faces and the like have needs of their own; here the plain ones are enough.
    context = {
        "section": "methods",
        "example": worked_example(Timber.objects.filter(pk="oak_northern_red").first()),
        "footings": [(one, footing_symbol(one, one.unit)) for one in FOOTINGS.values()],
        "loadings": [(one, [words(name) for name in one.needs]) for one in LOADINGS.values()],
        "areas": AREA_RULES.values(),
        "sections": SECTION_RULES.values(),
        "instruments": INSTRUMENTS.values(),
        "adjustment": adjustment,
        "outliers": outliers,
        "slips": slips,
        "slip_factors": sorted({factor.value for factor in slips.FACTORS["force"]}),
    }
    return render(request, "browse/methods.html", context)


def data(request: HttpRequest) -> HttpResponse:
    accepted = Study.objects.accepted()
    tables = ["specimens", "series", "studies", "findings", "joints", "loadings", "timbers", "adhesives"]
    tables.append("failure-places")
    base = request.build_absolute_uri("/").rstrip("/")
    context = {
        "section": "data",
        "tables": [(name, _address(name, "csv"), _address(name, "json")) for name in tables],
        "specimens_csv": base + _address("specimens", "csv"),
        "compare_json": base + _address("compare", "json"),
        "dictionary_csv": _address("columns", "csv"),
        "main_columns": MAIN_COLUMNS,
        "counts": {
            "studies": accepted.count(),
            "series": accepted.aggregate(n=Count("series"))["n"],
            "specimens": Specimen.objects.filter(series__study__in=accepted).count(),
            "invented": accepted.filter(invented=True).count(),
        },
    }
    return render(request, "browse/data.html", context)


def _address(name: str, suffix: str) -> str:
    return reverse(f"api:{name}", args=[suffix])
