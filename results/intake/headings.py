"""Headings as people write them, matched with the registry of columns."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from functools import cache

from .columns import RECORDS, Column, normal, unit_in

FLAT = "flat"
# A column that a returned file carries; it is ours, so it is passed over in silence.
FINDINGS = "findings"
_SUFFIX_UNITS = {"_mm_min": "mm/min", "_mm": "mm", "_pct": "%", "_kgm3": "kg/m³", "_hours": "h", "_deg": "°"}
_SEARCHED = 20


def is_ours(text: str) -> bool:
    """Whether a heading is that of the findings we put into a file that was given back."""
    return normal(text.split("\n")[0]) == FINDINGS


def _unit_of(name: str) -> str:
    return next((unit for suffix, unit in _SUFFIX_UNITS.items() if name.endswith(suffix)), "")


@cache
def known(where: str) -> dict[str, tuple[Column, str]]:
    """Every heading a sheet may have, with the unit that a field's own name carries (``arm_mm``).

    Parameters
    ----------
    where : str
        A record, for a sheet of its own, or `FLAT`.

    Returns
    -------
    dict
        Normalised heading to column and unit.
    """
    names: dict[str, tuple[Column, str]] = {}
    records = RECORDS if where == FLAT else [where]
    # Specimens first: in a table with a row a specimen, a bare "moisture" is the specimen's.
    for record in sorted(records, key=lambda one: one != "specimen"):
        for column in RECORDS[record]:
            bare = [] if where == FLAT and column.name in RECORDS else [normal(column.name)]
            for name in [normal(column.key), *bare]:
                names.setdefault(name, (column, ""))
            if column.field:
                unit = _unit_of(column.field)
                for name in (normal(f"{record} {column.field}"), normal(column.field)):
                    names.setdefault(name, (column, unit))
    if where == FLAT:
        # "series" alone is the series' label; these two say the same again.
        for record in ("setup", "series"):
            label = next(column for column in RECORDS[record] if column.name == record)
            names[record] = (label, "")
    return names


@dataclass
class Headings:
    """The row of headings of a table.

    Parameters
    ----------
    number : int
        Its row.
    columns : dict of int to Column
        By the column's index, 0 the first.
    units : dict of int to str
        The unit a heading names.
    unknown : dict of int to str
        Headings that are not the book's, as typed.
    """

    number: int
    columns: dict[int, Column] = field(default_factory=dict)
    units: dict[int, str] = field(default_factory=dict)
    unknown: dict[int, str] = field(default_factory=dict)
    repeated: dict[int, str] = field(default_factory=dict)


def recognise(number: int, texts: list[str], where: str) -> Headings:
    """Match one row of texts with the headings of a sheet."""
    names = known(where)
    found = Headings(number)
    seen: set[Column] = set()
    for index, text in enumerate(texts):
        if not text or is_ours(text):
            continue
        column, unit = names.get(normal(text), (None, ""))
        if column is None:
            found.unknown[index] = text
        elif column in seen:
            found.repeated[index] = text
        else:
            seen.add(column)
            found.columns[index] = column
            found.units[index] = unit_in(text) or unit
    return found


def find(rows: list[tuple[int, list[str]]], where: str) -> Headings | None:
    """The row of headings: the one among the first rows with most of the book's names in it.

    Returns None if no row has two of them (or one, in a row that has nothing else).
    """
    best = None
    for number, texts in rows[:_SEARCHED]:
        found = recognise(number, texts, where)
        if best is None or len(found.columns) > len(best.columns):
            best = found
    if best is None or len(best.columns) < (2 if best.unknown or best.repeated else 1):
        return None
    return best


def row_of_headings(rows: list[tuple[int, list[str]]]) -> int:
    """The row of headings of any sheet of ours; the first row where there is none."""
    found = [one for where in (FLAT, *RECORDS) if (one := find(rows, where))]
    best = max(found, key=lambda one: len(one.columns), default=None)
    # One known name in a row is that of a field in a list, not a heading.
    return best.number if best and len(best.columns) > 1 else 1


def nearest(text: str, where: str) -> str:
    """The book's heading that looks most like this one, as the template writes it; empty if none does."""
    names = known(where)
    close = difflib.get_close_matches(normal(text), names, n=1, cutoff=0.75)
    column = names[close[0]][0] if close else None
    return "" if column is None else column.key if where == FLAT else column.name
