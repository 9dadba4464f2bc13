"""Names in the order of the alphabet, alike in every database."""

from __future__ import annotations

from typing import Any

from django.db.models.functions import Lower


class Alphabetical(Lower):
    """To order by: names without their case, letter by letter.

    Left to itself PostgreSQL sorts by the language it was set up in, and SQLite all capitals first.
    """

    def __init__(self, field: str = "name") -> None:
        super().__init__(field)

    def as_postgresql(self, compiler: Any, connection: Any, **more: Any) -> tuple[str, Any]:
        sql, params = self.as_sql(compiler, connection, **more)
        return f'{sql} COLLATE "C"', params
