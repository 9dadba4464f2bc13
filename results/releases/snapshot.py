"""Many reads of one moment: what is saved meanwhile is not seen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection as default_connection
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper


@contextmanager
def one_moment(connection: BaseDatabaseWrapper = default_connection) -> Iterator[None]:
    """Read everything inside from one state of the database, without holding up anybody who writes.

    Inside a transaction that is open already, that transaction decides what is seen.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(using=connection.alias):
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        # Django would take the lock for writing at once; a reader of SQLite's log needs none.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
