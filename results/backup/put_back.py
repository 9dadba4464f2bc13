"""Putting a book back from a backup: into an empty database, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import DatabaseError, OperationalError, connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from results.evidence import packing
from results.stored import StoreAway

from . import files, keys
from .archive import Reader
from .errors import BackupError
from .rows import load
from .tables import Column, Table, columns_there, left_behind, made_by_migrating
from .write import state

LOCK_TIMEOUT = "10s"
_CACHE_KIB = 65_536
NAMED = 5


@dataclass(frozen=True)
class Restored:
    """What was put back.

    Parameters
    ----------
    rows : dict of str to int
        Rows by table.
    files : int
    repack : bool
        Whether studies have to be packed anew by `manage.py restate_footings`: this program packs otherwise.
    """

    rows: dict[str, int]
    files: int
    repack: bool


def restore(path: Path, *, replace: bool = False, tell: Callable[[str], None] = lambda said: None) -> Restored:
    """Put a book back.

    Parameters
    ----------
    path : Path
        A backup; it is read and checked whole before anything is written.
    replace : bool
        Whether what the database holds may go; else it must be empty.
    tell : callable, optional
        Told what is going on.

    Raises
    ------
    BackupError
        If the file isn't whole or isn't ours, or the database isn't empty or is of another shape. Nothing was changed.
    """
    with Reader(path) as reader:
        parts = _tables(reader)
        _check_shape(reader, parts)
        if not replace:
            _check_empty(parts)
        try:
            tell("Checking the file ...")
            reader.check()
            files.check(reader.blocks(_files_part(reader)))
            restored = _put_back(reader, parts, replace, tell)
        except OperationalError as error:
            raise BackupError(f"The database is in use or away: {error}. Stop the site, then restore again.") from error
        except (StoreAway, OSError) as error:
            raise BackupError(f"Files can't be written or read, and no record was changed: {error}") from error
        except (DatabaseError, ValueError, KeyError) as error:
            raise BackupError(f"{path} doesn't fit the database, and nothing was changed: {error}") from error
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    return restored


def _tables(reader: Reader) -> list[tuple[Table, dict[str, Any]]]:
    try:
        found = [
            (Table(part["table"], tuple(Column(*column) for column in part["columns"]), part["key"]), part)
            for part in reader.parts
            if "table" in part
        ]
        _files_part(reader)
    except (KeyError, TypeError, StopIteration):
        raise BackupError(f"{reader.path}: the manifest doesn't tell the tables and their columns.") from None
    return found


def _files_part(reader: Reader) -> dict[str, Any]:
    return next(part for part in reader.parts if part["name"] == files.NAME)


def _check_shape(reader: Reader, parts: list[tuple[Table, dict[str, Any]]]) -> None:
    """Refuse a backup of another shape than the database's; the tables' names come from a file, so none is trusted."""
    there = {f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()}
    if not there:
        raise BackupError("The database has no tables yet: run manage.py migrate first.")
    needed = set(reader.manifest.get("migrations", ()))
    if there != needed:
        lacks, more = sorted(needed - there), sorted(there - needed)
        told = [f"{words} {_some(names)}" for words, names in (("it lacks", lacks), ("it has beside", more)) if names]
        raise BackupError(
            f"The database is not as the backup's was: {'; '.join(told)}. Bring it to that state with "
            "manage.py migrate APP NAME (or with the program of that time), restore, then migrate on."
        )
    columns = columns_there()
    for table, _ in parts:
        if set(table.names) != columns.get(table.name):
            raise BackupError(f"The backup's table {table.name} has other columns than the database's.")


def _some(names: list[str]) -> str:
    return ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")


def _check_empty(parts: list[tuple[Table, dict[str, Any]]]) -> None:
    filled = []
    with connection.cursor() as cursor:
        for table, _ in parts:
            cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table.name)} LIMIT 1")
            if cursor.fetchone() and table.name not in made_by_migrating():
                filled.append(table.name)
    if filled:
        raise BackupError(
            f"The database is not empty: there are rows in {_some(filled)}. Restore into a new database after "
            "manage.py migrate, or say --replace to have all that goes for what the backup holds."
        )


def _put_back(
    reader: Reader, parts: list[tuple[Table, dict[str, Any]]], replace: bool, tell: Callable[[str], None]
) -> Restored:
    rows = {}
    with _unchecked(), transaction.atomic(durable=True):
        _lock(parts, replace)
        if not replace:
            _check_empty(parts)
        before = set(files.named()) if replace else set()
        _clear([table.name for table, _ in parts] + left_behind())
        for table, part in parts:
            try:
                rows[table.name] = load(table, reader.blocks(part))
            except (DatabaseError, ValueError) as error:
                raise BackupError(f"{part['name']} can't be put back, and nothing was changed: {error}") from error
            if rows[table.name]:
                tell(f"{table.name}: {rows[table.name]} rows")
        for table, part in parts:
            keys.go_on_from(table, part.get("last_key"))
        _check_references()
        _check_ends(reader)
        tell("Files ...")
        # Before the records are there for good: a file without a record is nothing to anybody, a record without is.
        count = files.put_back(reader.blocks(_files_part(reader)))
        gone = before - set(files.named())
        transaction.on_commit(lambda: files.drop(gone), robust=True)
    return Restored(rows, count, reader.manifest.get("packing_form") != packing.FORM)


@contextmanager
def _unchecked() -> Iterator[None]:
    """On SQLite: references are not looked up row by row, but all at once in the end; and pages get more memory."""
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA cache_size")
        (usual,) = cursor.fetchone()
        cursor.execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
    connection.disable_constraint_checking()
    try:
        yield
    finally:
        connection.enable_constraint_checking()
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA cache_size = {usual}")
            cursor.execute("PRAGMA shrink_memory")


def _lock(parts: list[tuple[Table, dict[str, Any]]], replace: bool) -> None:
    """Nobody may write meanwhile; on SQLite the transaction has seen to that."""
    if connection.vendor == "postgresql":
        names = ", ".join(connection.ops.quote_name(table.name) for table, _ in parts)
        mode = "ACCESS EXCLUSIVE" if replace else "SHARE ROW EXCLUSIVE"
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{LOCK_TIMEOUT}'")
            cursor.execute("SET LOCAL TIME ZONE 'UTC'")
            cursor.execute(f"LOCK TABLE {names} IN {mode} MODE")


def _clear(names: list[str]) -> None:
    quoted = [connection.ops.quote_name(name) for name in names]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"TRUNCATE {', '.join(quoted)}")
        else:
            for name in quoted:
                cursor.execute(f"DELETE FROM {name}")


def _check_references() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    else:
        connection.check_constraints()


def _check_ends(reader: Reader) -> None:
    """The data version and the end of the chain must be those of the manifest."""
    for name, value in state().items():
        if value != reader.manifest.get(name):
            raise BackupError(f"{reader.path}: the records end with {name} {value}, the manifest says otherwise.")
