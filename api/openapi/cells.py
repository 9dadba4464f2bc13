"""Columns as JSON Schema: type, unit, meaning, words it may hold."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..columns import BOOLEAN, INTEGER, NESTED, NUMBER, TEXT, TIME, Column

Schema = dict[str, Any]
_TYPES: dict[str, Schema] = {
    TEXT: {"type": ["string", "null"]},
    NUMBER: {"type": ["number", "null"]},
    INTEGER: {"type": ["integer", "null"]},
    BOOLEAN: {"type": ["boolean", "null"]},
    TIME: {"type": ["string", "null"], "format": "date-time"},
    NESTED: {"type": ["array", "object", "null"]},
}
TEXTS: Schema = {"type": "string"}
ANY_OBJECT: Schema = {"type": "object", "additionalProperties": True}


def cell(column: Column) -> Schema:
    """One column."""
    found = {**_TYPES[column.kind], "description": column.meaning}
    if column.unit:
        found["description"] += f" [{column.unit}]"
        found["x-unit"] = column.unit
    if column.values:
        found["enum"] = [*column.values, None]
    return found


def row(columns: Iterable[Column], *, more: dict[str, Schema] | None = None) -> Schema:
    """A row; with ``fields`` it has only the columns asked for, so that none is required."""
    properties = {column.name: cell(column) for column in columns} | (more or {})
    return {"type": "object", "properties": properties, "additionalProperties": False}


def listed(items: Schema, *, more: dict[str, Schema] | None = None) -> Schema:
    """The envelope of a list."""
    link = {"type": ["string", "null"], "format": "uri"}
    return {
        "type": "object",
        "required": ["count", "next", "previous", "results", *(more or {})],
        "properties": {
            "count": {
                "type": ["integer", "null"],
                "description": "Rows in all, not only on this page; null with a cursor, which counts nothing.",
            },
            "next": {**link, "description": "Address of the next page."},
            "previous": {**link, "description": "Address of the page before."},
            "results": {"type": "array", "items": items},
            **(more or {}),
        },
        "additionalProperties": False,
    }


def ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def strict(required: dict[str, Schema], optional: dict[str, Schema] | None = None, about: str = "") -> Schema:
    """An object with these members and no others."""
    found: Schema = {
        "type": "object",
        "required": list(required),
        "properties": {**required, **(optional or {})},
        "additionalProperties": False,
    }
    return {**found, "description": about} if about else found


PROBLEM = {
    "type": "object",
    "description": "What went wrong (RFC 9457).",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference", "description": "Address that says what this kind means."},
        "title": TEXTS,
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "What was found in this request and what would be right."},
        "parameter": {"type": "string", "description": "The first parameter that can't be used."},
        "value": {"type": "string", "description": "What it held."},
        "errors": {
            "type": "array",
            "items": strict({"parameter": TEXTS, "value": TEXTS, "detail": TEXTS}),
            "description": "Every parameter that can't be used.",
        },
        "findings": {"type": "array", "items": ANY_OBJECT, "description": "What the checks found in what was sent."},
        "alternatives": {
            "type": "array",
            "items": strict({"label": TEXTS, "query": TEXTS}),
            "description": "Comparisons near this one that have something in them.",
        },
        "request_id": {"type": "string", "description": "Names this request, as its header X-Request-ID does."},
    },
}
PROBLEM_EXAMPLE = {
    "type": "/api/v1/problems/bad-value",
    "title": "Value not usable",
    "status": 400,
    "detail": "joint='mt_blnd' is not known. Did you mean mt_blind?",
    "parameter": "joint",
    "value": "mt_blnd",
    "errors": [
        {"parameter": "joint", "value": "mt_blnd", "detail": "joint='mt_blnd' is not known. Did you mean mt_blind?"}
    ],
}
FINDING: Schema = {
    "code": {"type": "string", "description": "Stable name of the check."},
    "severity": {"type": "string", "enum": ["error", "doubt", "remark"]},
    "message": TEXTS,
    "remedy": TEXTS,
    "record": TEXTS,
    "series": TEXTS,
    "specimen": TEXTS,
    "field": TEXTS,
    "value": {"type": "string", "description": "What was typed."},
}
