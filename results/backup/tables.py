"""Which tables a backup has, and what its columns hold, the same on every database."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import connection, models

INTEGER, REAL, BOOLEAN, TEXT, JSON, TIME, DATE, UUID, BYTES = (
    "integer",
    "real",
    "boolean",
    "text",
    "json",
    "time",
    "date",
    "uuid",
    "bytes",
)
# Kinds of fields as Django names them; one that isn't here stops the backup, so that nothing is written wrongly.
KINDS = {
    **dict.fromkeys(("AutoField", "BigAutoField", "SmallAutoField", "IntegerField", "BigIntegerField"), INTEGER),
    **dict.fromkeys(("SmallIntegerField", "PositiveIntegerField", "PositiveBigIntegerField"), INTEGER),
    "PositiveSmallIntegerField": INTEGER,
    "FloatField": REAL,
    "BooleanField": BOOLEAN,
    **dict.fromkeys(("CharField", "TextField", "SlugField", "EmailField", "URLField", "FileField"), TEXT),
    "JSONField": JSON,
    "DateTimeField": TIME,
    "DateField": DATE,
    "UUIDField": UUID,
    "BinaryField": BYTES,
}
# Models whose rows stay behind, and why. With `--replace` they go, for they are about the book that goes.
NOT_TAKEN = {
    "sessions.Session": "Whoever holds a copy could go on as the people who were logged in.",
    "django_tasks_database.DBTaskResult": "Work that waits is its servers' own, and would be done twice.",
}
# What `migrate` makes by itself. A database that holds nothing else is empty; what the backup has takes its place.
MADE_BY_MIGRATING = {
    "contenttypes.ContentType",
    "auth.Permission",
    "auth.Group",
    "auth.Group_permissions",
}


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    name : str
    kind : str
        One of the kinds above.
    """

    name: str
    kind: str


@dataclass(frozen=True)
class Table:
    """A table as a backup has it.

    Parameters
    ----------
    name : str
    columns : tuple of Column
        In the order of the lines.
    key : str
        The column that tells rows apart, by which they are put in order.
    """

    name: str
    columns: tuple[Column, ...]
    key: str

    @property
    def names(self) -> list[str]:
        return [column.name for column in self.columns]


def taken_models() -> list[type[models.Model]]:
    """All models whose rows a backup takes, those between two others (many to many) among them."""
    return [model for model in all_models() if model._meta.label not in NOT_TAKEN]


def all_models() -> list[type[models.Model]]:
    """All models that have a table of their own."""
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and not model._meta.proxy and not model._meta.swapped]


def tables() -> list[Table]:
    """The tables that a backup takes."""
    return [table_of(model) for model in taken_models()]


def table_of(model: type[models.Model]) -> Table:
    """A model's table."""
    columns = tuple(Column(str(field.column), kind_of(field)) for field in model._meta.local_concrete_fields)
    return Table(model._meta.db_table, columns, str(model._meta.pk.column))


def kind_of(field: models.Field[Any, Any]) -> str:
    """What a field's column holds.

    Raises
    ------
    LookupError
        If backups don't know such fields; a new one needs an entry in `KINDS` and its way through `rows`.
    """
    while field.remote_field and isinstance(field, models.ForeignKey):
        field = field.target_field
    kind = field.get_internal_type()
    if kind not in KINDS:
        raise LookupError(f"{field.model._meta.label}.{field.name} is a {kind}, which backups don't know yet.")
    return KINDS[kind]


def made_by_migrating() -> set[str]:
    """Names of the tables that are filled in an empty book."""
    return {model._meta.db_table for model in all_models() if model._meta.label in MADE_BY_MIGRATING}


def left_behind() -> list[str]:
    """Names of the tables that are not taken."""
    return [model._meta.db_table for model in all_models() if model._meta.label in NOT_TAKEN]


def columns_there() -> dict[str, set[str]]:
    """Columns that can be written, by table, as this database has them; none that it works out itself."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT table_name, column_name FROM information_schema.columns "
                "WHERE table_schema = current_schema() AND is_generated = 'NEVER'"
            )
        else:
            cursor.execute(
                "SELECT m.name, c.name FROM sqlite_master m JOIN pragma_table_xinfo(m.name) c "
                "WHERE m.type = 'table' AND c.hidden = 0"
            )
        found: dict[str, set[str]] = {}
        for table, column in cursor.fetchall():
            found.setdefault(table, set()).add(column)
    return found
