"""Tables as bytes: CSV that any program reads and no spreadsheet runs, a JSON object a line, Parquet."""

from .lines import BLOCK_ROWS, CSV, NDJSON, LineFormat, line_blocks
from .parquet import BATCH_ROWS, PARQUET_TYPE, parquet_blocks
from .table import Heading, Table

__all__ = [
    "BATCH_ROWS",
    "BLOCK_ROWS",
    "CSV",
    "NDJSON",
    "PARQUET_TYPE",
    "Heading",
    "LineFormat",
    "Table",
    "line_blocks",
    "parquet_blocks",
]
