"""Many reads of one moment: what is saved meanwhile is not seen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection as default_connection
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

# SQLite's measure of its page cache: negative numbers are kibibytes.
_WHOLE_READ = -2_000


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
        with _few_pages_kept(connection), _deferred(connection):
            yield


@contextmanager
def _deferred(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """A transaction that only reads: Django's would take the lock for writing at once, which SQLite's log spares."""
    with connection.cursor() as cursor:
        cursor.execute("BEGIN DEFERRED")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("ROLLBACK")


@contextmanager
def _few_pages_kept(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Whole tables are read from end to end: pages kept for a second look would only take memory, in every thread."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA cache_size")
        (usual,) = cursor.fetchone()
        cursor.execute(f"PRAGMA cache_size = {_WHOLE_READ}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA cache_size = {usual}")
            cursor.execute("PRAGMA shrink_memory")
