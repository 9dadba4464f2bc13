"""Words for a number that nobody noted: it is missing here, whatever is said for all, and the word is kept."""

from __future__ import annotations

from collections.abc import Iterable

from .columns import Column
from .rows import same_label

WORDS = frozenset({"not known", "unknown", "not noted", "?", "-", "\u2013", "\u2014"})
# Results themselves are not among them: a lost reading is a void specimen, with its reason.
_RECORDS = ("setup", "series")
_KINDS = frozenset({"length", "count", "angle", "percent", "density", "hours", "number", "rate"})
REMEDY = "Or write not known, if nobody noted it."


def may_be_not_known(column: Column) -> bool:
    """Whether it is a size of the rig or the joint, or a number of the wood, that a submission can do without."""
    return column.record in _RECORDS and column.kind in _KINDS and not column.required and column.field != "n"


def is_not_known(column: Column, text: str) -> bool:
    """Whether a text says of a number that nobody noted it."""
    return may_be_not_known(column) and same_label(text) in WORDS


def said(texts: Iterable[tuple[Column, str]]) -> dict[str, str]:
    """The word for each number that nobody noted, by its field."""
    return {column.field: text for column, text in texts if is_not_known(column, text)}
