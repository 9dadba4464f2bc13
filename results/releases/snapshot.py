"""Many reads of one moment: what is saved meanwhile is not seen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connections, router, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from results.models import Study

# SQLite's measure of its page cache: negative numbers are kibibytes.
_WHOLE_READ = -2_000


@contextmanager
def one_moment(connection: BaseDatabaseWrapper | None = None) -> Iterator[None]:
    """Read everything inside from one state of the database, without holding up anybody who writes.

    It is the database that studies are read from here, unless another is given. Inside a transaction that is open
    already, that transaction decides what is seen.
    """
    if connection is None:
        connection = connections[router.db_for_read(Study)]
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
    """Whole tables are read from end to end: pages kept for a second look would only take memory, in every thread.

    So would a file that is mapped into it.
    """
    meanwhile = {"cache_size": _WHOLE_READ, "mmap_size": 0}
    usual = {}
    with connection.cursor() as cursor:
        for name, value in meanwhile.items():
            cursor.execute(f"PRAGMA {name}")
            # A database in memory has no file to be mapped, and says nothing.
            usual[name] = (cursor.fetchone() or (0,))[0]
            cursor.execute(f"PRAGMA {name} = {value}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            for name, value in usual.items():
                cursor.execute(f"PRAGMA {name} = {value}")
            cursor.execute("PRAGMA shrink_memory")
