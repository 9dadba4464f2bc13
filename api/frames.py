"""Frames as rows of JSON and as tables; what a comparison says of itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from rest_framework.exceptions import APIException

from results.evidence import Comparison

from .columns import BOOLEAN, INTEGER, NESTED, NUMBER, TEXT
from .errors import BadParameters, Fault, NotComparable, nearest, shorten
from .formats import Heading, Table


def plain(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A frame's rows in Python's own types; what is missing or endless is None."""
    whole = frame.replace([np.inf, -np.inf], np.nan).astype(object)
    return whole.where(whole.notna(), None).to_dict("records")


def headings(frame: pd.DataFrame, meanings: Mapping[str, str] | None = None) -> list[Heading]:
    """A frame's columns, each as what it holds."""
    told = meanings or {}
    return [Heading(str(name), _kind(frame[name]), "", told.get(str(name), "")) for name in frame.columns]


def table_of(frame: pd.DataFrame, meanings: Mapping[str, str] | None = None) -> Table:
    """A frame as a table."""
    return Table(headings(frame, meanings), [list(row.values()) for row in plain(frame)])


def _kind(cells: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(cells):
        return BOOLEAN
    if pd.api.types.is_integer_dtype(cells):
        return INTEGER
    if pd.api.types.is_numeric_dtype(cells):
        return NUMBER
    given = cells.dropna()
    if len(given) and given.map(lambda cell: isinstance(cell, list)).all():
        return NESTED
    if len(given) and given.map(lambda cell: isinstance(cell, (int, float))).all():
        return NUMBER
    return TEXT


def about(comparison: Comparison) -> dict[str, Any]:
    """What was compared, on which footing and in which unit."""
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
    }


def beside(comparison: Comparison, frame: pd.DataFrame) -> pd.DataFrame:
    """A frame in which each row says on which footing and in what unit its numbers are."""
    told = {"action": comparison.action, "footing": comparison.footing.code, "unit": comparison.unit}
    return frame.assign(**told)[[*told, *(column for column in frame.columns if column not in told)]]


def alternatives(comparison: Comparison) -> list[dict[str, str]]:
    """Comparisons near this one that have something in them."""
    return [{"label": label, "query": query} for label, query in comparison.alternatives]


def refusal(comparison: Comparison, otherwise: str = "") -> APIException:
    """Why there is nothing to give as a table."""
    reasons = "; ".join(dict.fromkeys(comparison.left_out["reason"])) if len(comparison.left_out) else ""
    nothing = f"No series is left to show{': ' + reasons if reasons else ''}."
    return NotComparable(comparison.refused or otherwise or nothing, alternatives(comparison))


def one_of(name: str, value: str, known: tuple[str, ...]) -> str:
    """The value of a parameter that names one of a few things; empty if none was given."""
    if value and value not in known:
        detail = f"{name}={shorten(value)!r} is not known. {nearest(value, known)}"
        raise BadParameters([Fault(name, value, detail)])
    return value
