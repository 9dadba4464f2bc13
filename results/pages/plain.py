"""How the numbers are made: a page that follows the code it describes."""

from __future__ import annotations

import csv
from functools import cache

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from results.evidence import notice
from results.models import Timber
from stats.footing import adjustment
from stats.footing.fields import words
from stats.footing.footings import FOOTINGS
from stats.footing.loading import LOADINGS
from stats.footing.reading import INSTRUMENTS
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.inference import slips

from .wording import footing_symbol
from .worked_example import worked_example


@cache
def checked_methods() -> tuple[dict[str, str], ...]:
    """What each method rests on and how far it is from what it was checked against."""
    with (settings.BASE_DIR / "fixtures" / "methods" / "checked.csv").open(newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


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
        "checked": checked_methods(),
        "notice": notice,
        "slips": slips,
        "slip_factors": sorted({factor.value for factor in slips.FACTORS["force"]}),
    }
    return render(request, "browse/methods.html", context)
