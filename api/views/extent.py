"""The map of the evidence: how much there is of what, and what nothing links."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from results.evidence import BY, extent
from results.models import Series

from ..errors import BadParameters
from ..filters import EvidenceFilters, misnamed
from ..frames import one_of, plain, table_of
from ..pagination import whole
from .open import OpenView

TABLES = ("cells", "parts")
MEANINGS = {
    "joint": "code of the joint",
    "action": "what the joint feels",
    "tests": "joint (a joint as used) or bond (a glue bond by itself)",
    "timber": "code of the timber",
    "adhesive": "code of the class of glue",
    "studies": "studies that tested it",
    "series": "series in them",
    "specimens": "specimens that broke or held, and those a published mean is of",
    "part": "the part it is in: studies link the joints of one part; 1 has most joints",
    "joints": "codes of the joints in the part",
}


class Evidence(OpenView):
    """Cells of the map, filtered like the table of series."""

    about = "The map of the evidence: studies, series and specimens by joint and action, and what nothing links."
    filterset_class = EvidenceFilters
    parameters = (*EvidenceFilters.base_filters, "by", "table", "format")

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        asked = request.query_params
        faults = misnamed(asked, self.parameters)
        filters = EvidenceFilters(asked, Series.objects.counting(), request=request)
        if faults := faults + filters.faults():
            raise BadParameters(faults)
        by = one_of("by", asked.get("by", ""), tuple(BY))
        table = one_of("table", asked.get("table", ""), TABLES)
        rows = filters.qs
        if not any(asked.getlist("invented")) and not settings.DEMO:  # as in a comparison
            rows = rows.filter(study__invented=False)
        chosen = sorted((name, value) for name, values in asked.lists() for value in values if name not in _NOT_ROWS)
        found = self.once(f"evidence {by} {chosen!r}", lambda: _answer(extent(rows, by)))
        if self.as_table:
            return self.in_memory(found[f"{table or TABLES[0]}_table"])
        if table:
            return Response(whole(found[table]))
        return Response({"by": by, **whole(found["cells"]), "parts": found["parts"], "apart": found["apart"]})


_NOT_ROWS = ("by", "table", "format")


def _answer(found: Any) -> dict[str, Any]:
    parts = plain(found.parts)
    return {
        "cells": plain(found.cells),
        "parts": parts,
        "apart": [_apart(part) for part in parts if part["part"] > 1],
        "cells_table": table_of(found.cells, MEANINGS),
        "parts_table": table_of(found.parts, MEANINGS),
    }


def _apart(part: dict[str, Any]) -> dict[str, Any]:
    joints = part["joints"]
    tests = "joint tests" if part["tests"] == "joint" else "bond tests"
    return {
        **part,
        "reason": f"No study links {', '.join(joints)} to the joints of part 1 ({part['action']}, {tests}); one that "
        "tested one of each, or both with a common control, would.",
    }
