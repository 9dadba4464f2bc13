"""Joints set side by side, as the comparison page shows them, in numbers."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rest_framework.request import Request
from rest_framework.response import Response

from results.evidence import Choices, Comparison, compare

from ..columns import BOOLEAN, NUMBER, TEXT
from ..errors import BadParameters, Fault, NotComparable, nearest, shorten
from ..pagination import whole
from ..renderers import Table
from .open import OpenView

TABLES = ("groups", "groups_other", "series", "ratios", "failures", "points", "left_out")
# What a series is known by and what was computed of it; the rest of its frame is working.
SERIES = [
    "series_id",
    "series",
    "study_id",
    "study",
    "workshop",
    "invented",
    "joint",
    "joint_name",
    "timber",
    "adhesive",
    "n",
    "held",
    "mean_log",
    "sd_log",
    "geometric_mean",
    "low",
    "high",
    "imputed",
    "summary_only",
    "n_assumed",
]


def plain(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A frame's rows in Python's own types; what is missing is None."""
    whole = frame.astype(object)
    return whole.where(whole.notna(), None).to_dict("records")


def table_of(frame: pd.DataFrame) -> Table:
    """A frame as a table for CSV, each column written as what it holds."""
    columns = [(str(name), _kind(frame[name])) for name in frame.columns]
    return Table(columns, (list(row.values()) for row in plain(frame)))


def _kind(cells: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(cells):
        return BOOLEAN
    return NUMBER if pd.api.types.is_numeric_dtype(cells) else TEXT


def named(comparison: Comparison, name: str) -> pd.DataFrame:
    """One frame of a comparison.

    Where no specimen is flagged the groups are the same with and without, and are given as both.
    """
    frame = getattr(comparison, name)
    if name == "series" and not comparison.empty:
        return frame[SERIES]
    if name == "groups_other" and frame.empty and not comparison.empty:
        none_flagged = not comparison.choices.flagged or not comparison.groups["flagged"].any()
        return comparison.groups if none_flagged else comparison.groups.head(0)
    return frame


def on_its_footing(name: str, comparison: Comparison) -> pd.DataFrame:
    """One frame; each row says on which footing and in what unit its numbers are."""
    frame = named(comparison, name)
    if name == "left_out":
        return frame
    if comparison.empty:
        reasons = "; ".join(dict.fromkeys(comparison.left_out["reason"]))
        nothing = f"No series is left to show{': ' + reasons if reasons else ''}."
        raise NotComparable(comparison.refused or nothing, alternatives(comparison))
    about = {"action": comparison.action, "footing": comparison.footing.code, "unit": comparison.unit}
    return frame.assign(**about)[[*about, *(column for column in frame.columns if column not in about)]]


def alternatives(comparison: Comparison) -> list[dict[str, str]]:
    """Comparisons near this one that have something in them."""
    return [{"label": label, "query": query} for label, query in comparison.alternatives]


class Compare(OpenView):
    """The comparison for an address, with the same parameters as the page."""

    about = "Joints set side by side on one footing, with intervals, failure places and what was left out."

    def get(self, request: Request, **kwargs: Any) -> Response:
        """All of it as JSON, or the one ``table`` asked for; as CSV always one, ``groups`` if none is."""
        table = request.query_params.get("table", "")
        if table and table not in TABLES:
            detail = f"table={shorten(table)!r} is not known. {nearest(table, TABLES)}"
            raise BadParameters([Fault("table", table, detail)])
        comparison = compare(Choices.from_query(request.query_params, ignore=("format", "table")))
        if self.as_csv:
            return Response(table_of(on_its_footing(table or TABLES[0], comparison)))
        if table:
            return Response(whole(plain(on_its_footing(table, comparison))))
        return Response(answer(comparison))


def answer(comparison: Comparison) -> dict[str, Any]:
    """A comparison as JSON has it."""
    choices, footing = comparison.choices, comparison.footing
    return {
        "query": choices.query(),
        "action": comparison.action,
        "footing": {
            "code": footing.code,
            "name": footing.name,
            "symbol": footing.symbol,
            "unit": comparison.unit,
        },
        "level": choices.level,
        "flagged": "with" if choices.flagged else "without",
        "reference": comparison.reference,
        "invented": comparison.invented,
        "refused": comparison.refused,
        "verdicts": list(comparison.verdicts),
        "alternatives": alternatives(comparison),
        **{name: plain(named(comparison, name)) for name in TABLES if name != "points"},
    }
