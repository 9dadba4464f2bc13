"""What was noticed in something that was sent, as answers show it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from results.evidence import Noticed


def shown(noticed: Iterable[Noticed]) -> list[dict[str, Any]]:
    """Findings of a table, each with its row and column, both from 1; None where it has no place."""
    return [
        {
            **plain(one),
            "row": one.place.row or None if one.place else None,
            "column": one.place.column or None if one.place else None,
        }
        for one in noticed
    ]


def plain(one: Noticed) -> dict[str, Any]:
    """What a finding says, without its place."""
    return {
        "code": one.code,
        "severity": one.severity,
        "message": one.message,
        "remedy": one.remedy,
        "record": one.record,
        "series": one.series,
        "specimen": one.specimen,
        "field": one.field,
        "value": one.value,
    }
