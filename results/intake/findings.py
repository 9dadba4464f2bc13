"""What the checks noticed, sorted, counted and placed; what can't be read at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from openpyxl.utils import get_column_letter

from results.evidence import Noticed, Place

__all__ = ["Noticed", "Place", "Unreadable", "by_severity", "counts", "has_errors", "where"]

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


def where(place: Place | None) -> str:
    """A place as a spreadsheet shows it: ``sheet series, cell C4``; nothing for a form or no place."""
    if place is None or not place.row:
        return ""
    cell = f"cell {get_column_letter(place.column)}{place.row}" if place.column else f"row {place.row}"
    return f"sheet {place.sheet}, {cell}" if place.sheet else cell
