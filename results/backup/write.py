"""Writing a backup: one moment of the whole book, all of it or no file."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, cast

from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from results.evidence import packing
from results.models import DataVersion, Entry
from results.releases.snapshot import one_moment
from results.stored import StoreAway

from . import files, keys
from .archive import Writer
from .errors import BackupError
from .rows import lines_of
from .tables import tables


@dataclass(frozen=True)
class Taken:
    """A backup that was written.

    Parameters
    ----------
    path : Path
    rows : dict of str to int
        Rows by table.
    files : int
    missing : list of str
        Files that records name and that are not there.
    size : int
        Bytes of the file.
    """

    path: Path
    rows: dict[str, int]
    files: int
    missing: list[str]
    size: int


def usual_path(now: datetime | None = None) -> Path:
    """Where a backup is written that was given no name."""
    return Path(settings.DATA_DIR) / "backups" / f"breakbook-{now or datetime.now(UTC):%Y%m%d-%H%M%S}.zip"


def take(path: Path) -> Taken:
    """Write a backup of the book as it is at one moment.

    Parameters
    ----------
    path : Path
        The file to write, readable by its owner only; one that is there is never overwritten.

    Raises
    ------
    BackupError
        If the file is there already or can't be written, or the database isn't migrated.
    """
    if path.exists():
        raise BackupError(f"{path} is there already, and a backup is never overwritten.")
    _check_migrated()
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Nobody else may read it from its first byte on: that is how such files are made.
        number, name = tempfile.mkstemp(prefix=".making-", dir=path.parent)
    except OSError as error:
        raise BackupError(f"{path} can't be written: {error.strerror}.") from None
    making = Path(name)
    try:
        with os.fdopen(number, "wb") as out:
            rows, kept = _write(out)
            out.flush()
            os.fsync(out.fileno())
        size = making.stat().st_size
        _give_name(making, path)
    except FileExistsError:
        raise BackupError(f"{path} is there already, and a backup is never overwritten.") from None
    except OSError as error:
        raise BackupError(f"{path} can't be written: {error.strerror or error}.") from None
    except StoreAway as error:
        raise BackupError(f"The store of files can't be reached: {error}") from None
    finally:
        making.unlink(missing_ok=True)
    return Taken(path, rows, kept.count, kept.missing, size)


def _give_name(making: Path, path: Path) -> None:
    """Give a finished file its name, unless there is one of that name by now."""
    try:
        os.link(making, path)  # unlike a new name, a link never takes the place of a file
    except FileExistsError:
        raise
    except OSError:  # a disk that knows no links
        if path.exists():
            raise FileExistsError from None
        making.rename(path)


def _check_migrated() -> None:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise BackupError("The database isn't as this program needs it: run manage.py migrate first.")


def _write(out: IO[bytes]) -> tuple[dict[str, int], files.Kept]:
    writer = Writer(out)
    rows = {}
    with one_moment(connection):
        manifest = _about()
        for table in tables():
            told = {
                "table": table.name,
                "columns": [[column.name, column.kind] for column in table.columns],
                "key": table.key,
                "last_key": keys.last_given(table),
            }
            rows[table.name] = writer.add(f"tables/{table.name}.tsv", lines_of(table), **told)
        with writer.open(files.NAME, packed=False) as (part, told):
            kept = files.take(cast(IO[bytes], part))  # all that is asked of it is to write
            told["files"] = kept.count
    writer.close({**manifest, "files_missing": kept.missing})
    return rows, kept


def state() -> dict[str, Any]:
    """The data version and the end of the chain, by which two books can be told apart."""
    # By name: where there are replicas to read from, one may lag behind.
    version = DataVersion.objects.using(connection.alias).first()
    last = Entry.objects.using(connection.alias).order_by("-number").first()
    return {
        "data_version": {"number": version.number, "mark": str(version.mark)} if version else None,
        "chain": {"number": last.number, "hash": last.hash} if last else None,
    }


def _about() -> dict[str, Any]:
    return {
        "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "database": connection.vendor,
        **state(),
        "packing_form": packing.FORM,
        "migrations": sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()),
        "without": "Sessions are not in here. Password hashes, tokens of the API and keys of second factors are.",
    }
