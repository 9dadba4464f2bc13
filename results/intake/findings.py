"""What the checks noticed, sorted, counted and placed; what can't be read at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from openpyxl.utils import get_column_letter

from results.evidence import Noticed, Place

__all__ = [
    "Noticed",
    "Place",
    "Unreadable",
    "by_severity",
    "counts",
    "has_errors",
    "together",
    "where",
    "without_series",
]

ERROR, DOUBT, REMARK = "error", "doubt", "remark"
_ORDER = {ERROR: 0, DOUBT: 1, REMARK: 2}


class Unreadable(ValueError):
    """A file in which nothing can be pointed at, so it is refused whole.

    Parameters
    ----------
    code : str
        A stable name for this kind of refusal.
    message : str
        What was found.
    remedy : str
        What to do.
    """

    def __init__(self, code: str, message: str, remedy: str) -> None:
        self.code = code
        self.message = message
        self.remedy = remedy
        super().__init__(f"{message} {remedy}")


def has_errors(noticed: Iterable[Noticed]) -> bool:
    """Whether anything stands in the way of saving."""
    return any(one.severity == ERROR for one in noticed)


def counts(noticed: Iterable[Noticed]) -> dict[str, int]:
    """How many findings of each severity, gravest first; those that did not occur are left out."""
    found = Counter(one.severity for one in noticed)
    return {severity: found[severity] for severity in _ORDER if found[severity]}


def by_severity(noticed: Iterable[Noticed]) -> list[Noticed]:
    """The gravest first, otherwise in the order they were found."""
    return sorted(noticed, key=lambda one: _ORDER[one.severity])


NAMED = 4
"""Series that a finding they share names; the others are counted."""


def without_series(message: str, series: str) -> str:
    """What a finding says of a series, for where its name stands already."""
    rest = message.removeprefix(f"Series {series}: ")
    return rest if rest == message else rest[:1].upper() + rest[1:]


def together(noticed: Iterable[Noticed]) -> list[Noticed]:
    """Findings as a form shows them: what is the same of several series, at one and the same field, is said once."""
    found: dict[object, list[Noticed]] = {}
    for one in noticed:
        said = one.message.removeprefix(f"Series {one.series}: ")
        alone = said == one.message
        key = (one.code, one.severity, one.remedy, one.place, said, one.series if alone else "", one.specimen)
        found.setdefault(key, []).append(one)
    return [_of_all(like) if len(like) > 1 else like[0] for like in found.values()]


def _of_all(like: list[Noticed]) -> Noticed:
    labels = list(dict.fromkeys(one.series for one in like))
    first = like[0]
    if len(labels) == 1:
        return first
    *named, last = labels if len(labels) <= NAMED else [*labels[: NAMED - 1], f"{len(labels) - NAMED + 1} more"]
    said = first.message.removeprefix(f"Series {first.series}: ")
    return replace(first, message=f"Series {', '.join(named)} and {last}: {said}", series="")


def where(place: Place | None) -> str:
    """A place as a spreadsheet shows it: ``sheet series, cell C4``; nothing for a form or no place."""
    if place is None or not place.row:
        return ""
    cell = f"cell {get_column_letter(place.column)}{place.row}" if place.column else f"row {place.row}"
    return f"sheet {place.sheet}, {cell}" if place.sheet else cell
