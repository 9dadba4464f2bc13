"""Files of records: they go when their row is gone for good, each for itself."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction
from django.db.models.fields.files import FieldFile


def drop_with_row(*files: FieldFile) -> None:
    """Take files away once the transaction that deletes their row has ended well.

    A row without a file would be a hole in a page, a file without a row is not: so nothing goes before. A file that
    can't be taken away is told to whoever runs the site, and keeps no other file from going.
    """
    for file in files:
        if file.name:
            transaction.on_commit(_dropping(file), robust=True)


def _dropping(file: FieldFile) -> Callable[[], None]:
    name, storage = file.name, file.storage

    # A function of its own, since what is told of a failure tells its name, which a partial one lacks.
    def drop_file() -> None:
        storage.delete(str(name))

    return drop_file
