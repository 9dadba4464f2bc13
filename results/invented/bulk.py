"""Many new records at once, by the quickest way that each database has: COPY on PostgreSQL."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection, models

from results.models.fields import writer_of


def add(records: Sequence[models.Model]) -> None:
    """Save new records and give them their keys; every check of the database holds as for any other row.

    Parameters
    ----------
    records : sequence of Model
        All of one model; what they point at has its key already, or is among them. Call it in a transaction.

    Notes
    -----
    No signals are sent: whoever calls this raises the data version, and packs.
    """
    if not records:
        return
    model = type(records[0])
    if model._meta.pk.get_internal_type() in ("AutoField", "BigAutoField"):
        for record, key in zip(records, _keys(model, len(records)), strict=True):
            record.pk = key
    fields = model._meta.concrete_fields
    columns = ", ".join(connection.ops.quote_name(str(field.column)) for field in fields)
    table = connection.ops.quote_name(model._meta.db_table)
    rows = zip(*(_column(field, records) for field in fields), strict=True)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({columns}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            marks = ", ".join(["%s"] * len(fields))
            cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", list(rows))
    for record in records:
        record._state.adding = False


def _keys(model: type[models.Model], count: int) -> list[int]:
    """Keys that nobody else gets."""
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            sequence = "pg_get_serial_sequence(%s, %s)"
            cursor.execute(f"SELECT nextval({sequence}) FROM generate_series(1, %s)", [table, "id", count])
            return [key for (key,) in cursor.fetchall()]
        # Transactions begin with the lock for writing, so that nobody else takes keys until this one ends.
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        last = cursor.fetchone()
    first = (last[0] if last else 0) + 1
    return list(range(first, first + count))


def _column(field: models.Field, records: Sequence[models.Model]) -> list[Any]:
    """A column as the database takes it."""
    if isinstance(field, models.ForeignKey):
        # A record that was tied to another before that was saved doesn't know its key yet.
        for record in records:
            if field.is_cached(record):
                setattr(record, field.name, field.get_cached_value(record))
    values = [field.pre_save(record, True) for record in records]
    write = writer_of(field, connection)
    return values if write is None else [write(value) for value in values]
