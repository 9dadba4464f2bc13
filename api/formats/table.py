"""Named columns and their rows, whatever they are written as."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from ..columns import Column


class Heading(NamedTuple):
    """What a format needs to know of a column.

    Parameters
    ----------
    name, kind : str
        Name, and what its cells hold, see `api.columns`.
    unit, meaning : str
        For formats that can carry them.
    """

    name: str
    kind: str
    unit: str = ""
    meaning: str = ""


@dataclass(frozen=True)
class Table:
    """Headings and rows, which may be an iterator that is read once.

    Parameters
    ----------
    headings : sequence of Heading or (name, kind)
        The columns.
    rows : iterable of sequences
        Cells in the columns' order; None is missing.
    """

    headings: Sequence[Heading]
    rows: Iterable[Sequence[Any]]

    def __post_init__(self) -> None:
        object.__setattr__(self, "headings", [Heading(*one) for one in self.headings])

    @classmethod
    def of(cls, columns: Iterable[Column], rows: Iterable[Sequence[Any]]) -> Table:
        return cls(headings_of(columns), rows)


def headings_of(columns: Iterable[Column]) -> list[Heading]:
    """Columns of a record as headings."""
    return [Heading(column.name, column.kind, column.unit, column.meaning) for column in columns]
