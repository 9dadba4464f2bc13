"""Tables as Parquet, in row groups, sent while they are made; unit and meaning travel with each column."""

from __future__ import annotations

import io
import json
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Any

from ..columns import BOOLEAN, INTEGER, NESTED, NUMBER, TEXT, TIME
from .table import Heading, Table

if TYPE_CHECKING:
    import pyarrow as pa

PARQUET_TYPE = "application/vnd.apache.parquet"
# Rows of a group are in memory together, as Parquet has them; only so many at a time as Python has them.
GROUP_ROWS, BATCH_ROWS = 5_000, 250


class _Sink(io.RawIOBase):
    """Collects what is written until it is taken away."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.size = 0

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        part = bytes(data)
        self.parts.append(part)
        self.size += len(part)
        return len(part)

    def tell(self) -> int:
        return self.size

    def taken(self) -> bytes:
        parts, self.parts = self.parts, []
        return b"".join(parts)


def schema(headings: Sequence[Heading]) -> pa.Schema:
    """Types, units and meanings of the columns; a nested column is JSON text."""
    import pyarrow as pa

    types = {
        TEXT: pa.string(),
        NUMBER: pa.float64(),
        INTEGER: pa.int64(),
        BOOLEAN: pa.bool_(),
        TIME: pa.timestamp("us", tz="UTC"),
        NESTED: pa.string(),
    }
    return pa.schema(
        pa.field(
            one.name,
            types[one.kind],
            metadata={"unit": one.unit, "meaning": one.meaning, **({"json": "true"} if one.kind == NESTED else {})},
        )
        for one in headings
    )


def parquet_blocks(table: Table, about: dict[str, str] | None = None) -> Iterator[bytes]:
    """The table as one Parquet file, a row group at a time.

    Parameters
    ----------
    table : Table
        Its rows may be an iterator; `GROUP_ROWS` of them are in memory at a time.
    about : dict of str to str, optional
        What the file says of itself.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    fields = schema(table.headings).with_metadata(about or {})
    sink = _Sink()
    rows = iter(table.rows)
    waiting: list[pa.RecordBatch] = []
    with pq.ParquetWriter(sink, fields, compression="zstd") as writer:
        while block := list(islice(rows, BATCH_ROWS)):
            columns = zip(*block, strict=True)
            cells = [
                pa.array(_cells(one.kind, column), field.type)
                for one, column, field in zip(table.headings, columns, fields, strict=True)
            ]
            waiting.append(pa.RecordBatch.from_arrays(cells, schema=fields))
            if sum(map(len, waiting)) >= GROUP_ROWS:
                writer.write_table(pa.Table.from_batches(waiting), row_group_size=GROUP_ROWS)
                waiting.clear()
                yield sink.taken()
        if waiting:
            writer.write_table(pa.Table.from_batches(waiting), row_group_size=GROUP_ROWS)
    yield sink.taken()


def _cells(kind: str, cells: Iterable[Any]) -> Sequence[Any]:
    if kind == TEXT:
        return [cell or None for cell in cells]
    if kind == NESTED:
        return [None if cell is None else json.dumps(cell, ensure_ascii=False) for cell in cells]
    return list(cells)
