"""Joints set side by side, as the comparison page shows them, in numbers."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

import pandas as pd
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from results.evidence import Choices, Comparison, Verdict, compare, verdicts
from results.evidence.choices import PARAMETERS

from ..formats import Table
from ..frames import about, alternatives, beside, one_of, plain, refusal, table_of
from ..pagination import whole
from ..renderers import JSONRenderer
from .open import OpenView

TABLES = ("groups", "groups_other", "series", "ratios", "ratios_other", "failures", "points", "left_out")
# Tables the other way about flagged specimens, and the tables they are the other way of.
OTHER_WAY = {"groups_other": "groups", "ratios_other": "ratios"}
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


class Statistic(OpenView):
    """Numbers for a choice: all of them as JSON, or one table of them in any format.

    What is worked out is kept for as long as neither data nor program changes, and only one works it out however
    many ask at once.
    """

    about: ClassVar[str]
    name: ClassVar[str]
    # The tables that it consists of; the first is meant where a format of tables is asked for and none is named.
    tables: ClassVar[tuple[str, ...]]
    # Parameters beside those of a comparison.
    own: ClassVar[tuple[str, ...]] = ()

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        cls.parameters = (*PARAMETERS, *cls.own, "table", "format")

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        """All of it as JSON, or the one ``table`` asked for; in the other formats always one."""
        self.check_names()
        asked = request.query_params
        table = one_of("table", asked.get("table", ""), self.tables)
        choices = Choices.from_query(asked, ignore=(*self.own, "table", "format"))
        more = self.more()
        key = f"{self.name} {choices.query()} {more!r}"
        if self.as_table or table:
            table = table or self.tables[0]
            found = self.once(f"{key} table={table}", lambda: self.table_of(table, choices, more))
            return self.in_memory(found) if self.as_table else Response(whole(_rows(found)))
        # Kept as it is sent: to write a network's thousands of numbers anew takes longer than all else.
        body = self.once(key, lambda: JSONRenderer().render(self.answer(choices, more)))
        return HttpResponse(body, content_type=JSONRenderer.media_type)

    def more(self) -> dict[str, Any]:
        """The values of this view's own parameters."""
        return {}

    def answer(self, choices: Choices, more: dict[str, Any]) -> dict[str, Any]:
        """All of it as JSON has it."""
        raise NotImplementedError

    def table_of(self, table: str, choices: Choices, more: dict[str, Any]) -> Table:
        """One table; raises what refuses it."""
        raise NotImplementedError


def _rows(table: Table) -> list[dict[str, Any]]:
    names = [heading.name for heading in table.headings]
    return [dict(zip(names, row, strict=True)) for row in table.rows]


def named(comparison: Comparison, name: str) -> pd.DataFrame:
    """One frame of a comparison.

    Where no specimen is flagged the numbers are the same with and without, and are given as both.
    """
    frame = getattr(comparison, name)
    if name == "series" and not comparison.empty:
        return frame[SERIES]
    if name in OTHER_WAY and frame.empty and not comparison.empty:
        none_flagged = not comparison.choices.flagged or not comparison.groups["flagged"].any()
        this_way = getattr(comparison, OTHER_WAY[name])
        return this_way if none_flagged else this_way.head(0)
    return frame


def spoken(verdict: Verdict) -> dict[str, Any]:
    """A verdict with its five reasons."""
    graded = verdict.certainty
    return {
        "joint": verdict.joint,
        "sentence": verdict.sentence,
        "thin": verdict.thin,
        "not_said": verdict.not_said,
        "certainty": graded.level if graded else None,
        "reasons": [asdict(domain) for domain in graded.domains] if graded else [],
    }


class Compare(Statistic):
    """The comparison for an address, with the same parameters as the page."""

    about = "Joints set side by side on one footing, with intervals, failure places and what was left out."
    name = "compare"
    tables = TABLES

    def answer(self, choices: Choices, more: dict[str, Any]) -> dict[str, Any]:
        comparison = compare(choices)
        return {
            **about(comparison),
            "verdicts": [spoken(one) for one in verdicts(comparison)],
            "alternatives": alternatives(comparison),
            **{name: plain(named(comparison, name)) for name in TABLES if name != "points"},
        }

    def table_of(self, table: str, choices: Choices, more: dict[str, Any]) -> Table:
        comparison = compare(choices)
        if table == "left_out":
            return table_of(comparison.left_out)
        if comparison.empty:
            raise refusal(comparison)
        return table_of(beside(comparison, named(comparison, table)))
