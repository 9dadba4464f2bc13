"""Whole tables as downloads: one moment of the database, sent while it is read, in memory that doesn't grow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.db.models import QuerySet

from results.releases.snapshot import one_moment

from .columns import Column, values_of
from .copied import Copied, can_copy
from .formats import BATCH_ROWS, CSV, LineFormat, Table, line_blocks, parquet_blocks
from .spliced import READ_ROWS, Shared, Spliced


def lines(form: LineFormat, found: QuerySet, columns: Sequence[Column], shared: Shared | None) -> Iterator[bytes]:
    """All rows in a format of lines.

    Parameters
    ----------
    form : LineFormat
        CSV or NDJSON.
    found : QuerySet
        The rows.
    columns : sequence of Column
        Which columns, in their order.
    shared : Shared, optional
        What rows have in common: read and written once and not once a row, which is most of the work for a table
        that says everything about its series in every row.
    """
    with one_moment():
        if shared is None or len({shared.holds(column) for column in columns}) == 1:
            yield from line_blocks(form, Table.of(columns, values_of(found, columns).iterator(READ_ROWS)))
        elif form is CSV and can_copy(found, shared, columns):
            yield from Copied(form, found, columns, shared)
        else:
            yield from Spliced(form, found, columns, shared)


def parquet(found: QuerySet, columns: Sequence[Column], about: dict[str, str]) -> Iterator[bytes]:
    """All rows as one Parquet file."""
    with one_moment():
        yield from parquet_blocks(Table.of(columns, values_of(found, columns).iterator(BATCH_ROWS)), about)
