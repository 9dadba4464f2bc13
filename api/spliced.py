"""Lines put together from what a row says itself and what it shares with others."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, islice
from typing import Any

from django.db.models import Model, QuerySet

from .columns import Column
from .formats import BLOCK_ROWS, LineFormat
from .formats.table import headings_of

READ_ROWS = 500  # rows fetched from the database at a time
# Records whose pieces of a line are kept; rows mostly come by the series, so that each is made once.
KEPT = 500


@dataclass(frozen=True)
class Shared:
    """What many rows of a table have in common, because they point at the same record.

    Parameters
    ----------
    name : str
        The field that points at it; a column that comes through it has a source ``<name>__...``.
    model : type of Model
        The record's model.
    """

    name: str
    model: type[Model]

    def holds(self, column: Column) -> bool:
        return isinstance(column.source, str) and column.source.startswith(f"{self.name}__")

    def values(self, keys: Sequence[int], columns: Sequence[Column]) -> Iterator[tuple[Any, ...]]:
        """The record's key and the columns' cells, for each of these records."""
        sources = [str(column.source).removeprefix(f"{self.name}__") for column in columns]
        return self.model._default_manager.filter(pk__in=keys).values_list("pk", *sources).iterator(READ_ROWS)


class Spliced:
    """All rows as lines, what is shared made once for each record it belongs to."""

    def __init__(self, form: LineFormat, found: QuerySet, columns: Sequence[Column], shared: Shared) -> None:
        self.form, self.found, self.shared = form, found, shared
        self.head = form.head(headings_of(columns))
        # Neighbours of one sort, in the line's order.
        self.runs = [(common, tuple(run)) for common, run in groupby(columns, key=shared.holds)]
        self.own = [column for common, run in self.runs if not common for column in run]
        self.common = [column for common, run in self.runs if common for column in run]
        self.kept: OrderedDict[int, tuple[str, ...]] = OrderedDict()

    def __iter__(self) -> Iterator[bytes]:
        if self.head:
            yield self.head.encode()
        own = (column.source for column in self.own)
        rows = self.found.values_list(f"{self.shared.name}_id", *own).iterator(READ_ROWS)
        while block := list(islice(rows, BLOCK_ROWS)):
            yield self.form.lines(self._pieces(block)).encode()

    def _pieces(self, block: list[tuple[Any, ...]]) -> list[Sequence[str]]:
        keys = [row[0] for row in block]
        common = self.common_pieces(keys)
        pieces: list[Sequence[str]] = []
        taken_own, taken_common = 1, 0
        for is_common, run in self.runs:
            if is_common:
                pieces.append([common[key][taken_common] for key in keys])
                taken_common += 1
            else:
                part = slice(taken_own, taken_own + len(run))
                pieces.append(self.form.pieces(headings_of(run), [row[part] for row in block]))
                taken_own = part.stop
        return pieces

    def common_pieces(self, keys: Sequence[int]) -> dict[int, tuple[str, ...]]:
        """The pieces of each record of a block, made if they aren't kept from the block before."""
        wanted = list(dict.fromkeys(keys))
        lacking = [key for key in wanted if key not in self.kept]
        if lacking:
            found = list(self.shared.values(lacking, self.common))
            runs, start = [], 1
            for is_common, run in self.runs:
                if is_common:
                    part = slice(start, start + len(run))
                    runs.append(self.form.pieces(headings_of(run), [row[part] for row in found]))
                    start = part.stop
            self.kept.update(zip((row[0] for row in found), zip(*runs, strict=True), strict=True))
        pieces = {key: self.kept[key] for key in wanted}
        while len(self.kept) > KEPT:
            self.kept.popitem(last=False)
        return pieces
