"""What a release holds, for people and programs: the data dictionary and the Data Package descriptor."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

from .columns import BOOLEAN, INTEGER, LIST, NUMBER, OBJECT, TEXT, TIME, Column
from .shelf import Kept
from .tables import Foreign, Table

DEEDS = {
    "CC0-1.0": ("CC0 1.0 (public domain)", "https://creativecommons.org/publicdomain/zero/1.0/"),
    "CC-BY-4.0": ("CC BY 4.0 (use with credit)", "https://creativecommons.org/licenses/by/4.0/"),
}
# Kinds of column as the Table Schema standard names them.
TYPES = {
    TEXT: "string",
    NUMBER: "number",
    INTEGER: "integer",
    BOOLEAN: "boolean",
    TIME: "datetime",
    OBJECT: "object",
    LIST: "array",
}
HEADINGS = ["table", "column", "kind", "unit", "meaning", "required", "values", "points_at"]


def dictionary(tables: Iterable[Table]) -> list[list[str]]:
    """Every column of every table, one a row, in the order of `HEADINGS`."""
    return [
        [
            table.name,
            column.name,
            column.kind,
            column.unit,
            column.meaning,
            "yes" if column.required else "no",
            " ".join(column.words),
            " ".join(_points_at(table, column)),
        ]
        for table in tables
        for column in table.columns
    ]


def dictionary_csv(tables: Iterable[Table]) -> str:
    """The data dictionary as CSV."""
    out = io.StringIO(newline="")
    sheet = csv.writer(out)
    sheet.writerow(HEADINGS)
    sheet.writerows(dictionary(tables))
    return out.getvalue()


def _points_at(table: Table, column: Column) -> list[str]:
    return [
        f"{foreign.table or table.name}.{foreign.reference[0]}"
        for foreign in table.foreign
        if foreign.columns == (column.name,)
    ]


def package(
    tables: Iterable[Table],
    files: Mapping[str, Kept],
    *,
    name: str,
    as_of: str,
    description: str,
    licences: Iterable[str],
    rows: Mapping[str, int],
) -> dict[str, Any]:
    """The descriptor of the release as a Frictionless Data Package.

    Parameters
    ----------
    tables : iterable of Table
        In their order.
    files : mapping of str to Kept
        Sizes and sums, by file name.
    name, as_of, description : str
        Of the release.
    licences : iterable of str
        Codes of the licences that occur among its studies.
    rows : mapping of str to int
        Rows by table.

    References
    ----------
    Data Package and Table Schema, https://specs.frictionlessdata.io/
    """
    tables = list(tables)
    return {
        "profile": "data-package",
        "name": "breakbook",
        "title": "Breakbook: an open book of break tests on woodworking joints",
        "description": description,
        "version": name,
        "created": as_of,
        "keywords": ["woodworking", "joints", "strength", "break tests"],
        # A package has one list for all; which study is under which stands in the column licence.
        "licenses": [{"name": code, "title": DEEDS[code][0], "path": DEEDS[code][1]} for code in licences],
        "resources": [
            *(_as_table(table, files[f"{table.name}.csv"], rows[table.name]) for table in tables),
            *(_as_parquet(table, files[f"{table.name}.parquet"]) for table in tables),
        ],
    }


def _file(file: Kept) -> dict[str, Any]:
    return {"path": file.name, "bytes": file.size, "hash": f"sha256:{file.sha256}"}


def _as_table(table: Table, file: Kept, rows: int) -> dict[str, Any]:
    return {
        "name": table.name,
        "title": table.about[0].upper() + table.about[1:],
        "profile": "tabular-data-resource",
        **_file(file),
        "rows": rows,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\r\n", "header": True},
        "schema": _schema(table),
    }


def _as_parquet(table: Table, file: Kept) -> dict[str, Any]:
    return {
        "name": f"{table.name}-parquet",
        "title": f"The table {table.name} as Parquet",
        "type": "file",
        **_file(file),
        "format": "parquet",
        "mediatype": "application/vnd.apache.parquet",
    }


def _schema(table: Table) -> dict[str, Any]:
    schema: dict[str, Any] = {"fields": [_field(table, column) for column in table.columns], "missingValues": [""]}
    if table.key:
        schema["primaryKey"] = list(table.key)
    if table.foreign:
        schema["foreignKeys"] = [_foreign(foreign) for foreign in table.foreign]
    return schema


def _foreign(foreign: Foreign) -> dict[str, Any]:
    reference = {"resource": foreign.table, "fields": list(foreign.reference)}
    return {"fields": list(foreign.columns), "reference": reference}


def _field(table: Table, column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": TYPES[column.kind], "description": column.meaning}
    if column.unit:
        field["unit"] = column.unit
    if column.kind == BOOLEAN:
        field |= {"trueValues": ["true"], "falseValues": ["false"]}
    constraints: dict[str, Any] = {}
    if column.required:
        constraints["required"] = True
    if table.key == (column.name,):
        constraints["unique"] = True
    if column.words:
        constraints["enum"] = list(column.words)
    if column.low is not None:
        constraints["minimum"] = column.low
    if column.high is not None:
        constraints["maximum"] = column.high
    return field | ({"constraints": constraints} if constraints else {})
