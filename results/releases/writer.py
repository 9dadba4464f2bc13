"""One table as CSV and as Parquet, read once and by the block, the same bytes for the same rows."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from .columns import AS_CSV, BOOLEAN, INTEGER, LIST, NUMBER, OBJECT, PLAIN, TEXT, TIME, Column
from .tables import Table

# Rows held at a time; also the rows of a row group, so that a reader of one column fetches few of them.
BLOCK_ROWS = 20_000

TYPES = {
    TEXT: pa.string(),
    OBJECT: pa.string(),
    LIST: pa.string(),
    NUMBER: pa.float64(),
    INTEGER: pa.int64(),
    BOOLEAN: pa.bool_(),
    TIME: pa.timestamp("ms", tz="UTC"),
}


@dataclass
class StudyHashes:
    """A running hash for each study over all of its rows in all tables."""

    running: dict[int, Any] = field(default_factory=dict)

    def add(self, table: str, study: int, cells: Sequence[Any]) -> None:
        if study not in self.running:
            self.running[study] = hashlib.sha256()
        self.running[study].update(repr((table, *cells)).encode())

    def found(self) -> dict[int, str]:
        """The hash of each study, by number."""
        return {study: self.running[study].hexdigest() for study in sorted(self.running)}


def schema(columns: Sequence[Column]) -> pa.Schema:
    """The columns as Parquet has them; meaning and unit travel with each."""
    return pa.schema(
        [
            pa.field(
                column.name,
                TYPES[column.kind],
                nullable=not column.required,
                metadata={"meaning": column.meaning, **({"unit": column.unit} if column.unit else {})},
            )
            for column in columns
        ]
    )


def write(table: Table, folder: Path, release: str, hashes: StudyHashes) -> int:
    """Write ``<name>.csv`` and ``<name>.parquet``.

    Parameters
    ----------
    table : Table
        What to write.
    folder : Path
        Where.
    release : str
        Name of the release, kept in the Parquet file.
    hashes : StudyHashes
        Told every row that belongs to a study.

    Returns
    -------
    int
        Rows written.
    """
    rows = table.rows().iterator(chunk_size=2_000)
    study = [column.name for column in table.columns].index("study_id") if table.study else None
    count = 0
    about = {"table": table.name, "about": table.about, "release": release}
    fields = schema(table.columns).with_metadata(about)
    with (
        (folder / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as lines,
        pq.ParquetWriter(folder / f"{table.name}.parquet", fields, compression="zstd", version="2.6") as parquet,
    ):
        # RFC 4180: commas, CRLF.
        sheet = csv.writer(lines)
        sheet.writerow([column.name for column in table.columns])
        for block in _blocks(rows, table.columns):
            if study is not None:
                for cells in block:
                    hashes.add(table.name, cells[study], cells)
            sheet.writerows(_as_csv(block, table.columns))
            by_column = zip(*block, strict=True)
            arrays = [pa.array(cells, type=kind.type) for cells, kind in zip(by_column, fields, strict=True)]
            parquet.write_table(pa.Table.from_arrays(arrays, schema=fields), row_group_size=BLOCK_ROWS)
            count += len(block)
    return count


def _blocks(rows: Iterable[Sequence[Any]], columns: Sequence[Column]) -> Iterator[list[list[Any]]]:
    """Some rows at a time, each cell as Parquet keeps it."""
    makers = [(place, PLAIN[column.kind]) for place, column in enumerate(columns) if column.kind in PLAIN]
    left = iter(rows)
    while taken := list(islice(left, BLOCK_ROWS)):
        block = [list(row) for row in taken]
        for cells in block:
            for place, make in makers:
                cells[place] = make(cells[place])
        yield block


def cells(rows: Iterable[Sequence[Any]], columns: Sequence[Column]) -> Iterator[list[Any]]:
    """Rows as a CSV file has them, some at a time."""
    for block in _blocks(rows, columns):
        yield from _as_csv(block, columns)


def _as_csv(block: list[list[Any]], columns: Sequence[Column]) -> Iterator[list[Any]]:
    makers = [(place, AS_CSV[column.kind]) for place, column in enumerate(columns) if column.kind in AS_CSV]
    for row in block:
        cells = list(row)
        for place, make in makers:
            cells[place] = make(cells[place])
        yield cells
