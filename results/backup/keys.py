"""The last key that each table has given out: a key is never given twice, even where its row is gone."""

from __future__ import annotations

from django.db import connection

from .tables import INTEGER, Table


def _sequence(table: Table) -> str | None:
    """The sequence behind a table's key on PostgreSQL."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_get_serial_sequence(%s, %s)", [connection.ops.quote_name(table.name), table.key]
        )  # fmt: skip
        return cursor.fetchone()[0]


def _is_counted(table: Table) -> bool:
    return next(column.kind for column in table.columns if column.name == table.key) == INTEGER


def last_given(table: Table) -> int | None:
    """The last key that the database gave to a row of a table by itself; None where it gives none."""
    if not _is_counted(table):
        return None
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            sequence = _sequence(table)
            if sequence is None:
                return None
            cursor.execute(f"SELECT last_value, is_called FROM {sequence}")
            last, called = cursor.fetchone()
            return last if called else last - 1
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table.name])
        found = cursor.fetchone()
        return found[0] if found else 0


def go_on_from(table: Table, last: int | None) -> None:
    """Let the next key come after `last` and after all keys that are there; all undone if the transaction is."""
    if not _is_counted(table):
        return
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT coalesce(max({quote(table.key)}), 0) FROM {quote(table.name)}")
        last = max(last or 0, cursor.fetchone()[0])
        if connection.vendor == "postgresql":
            sequence = _sequence(table)
            if sequence:
                # `setval` would stay where a transaction fails, and give keys again that the book before has.
                cursor.execute(f"ALTER SEQUENCE {sequence} RESTART WITH {last + 1}")
        else:
            cursor.execute("SELECT sql LIKE '%%AUTOINCREMENT%%' FROM sqlite_master WHERE name = %s", [table.name])
            if cursor.fetchone()[0]:
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table.name])
                cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table.name, last])
