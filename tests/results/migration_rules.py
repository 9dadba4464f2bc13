"""Which operations of a migration stop a site that goes on answering while it is migrated.

Two things do: a lock that readers or writers wait for while a table is read or written through, and a change that the
program of before can't live with, which still runs then. See DEVELOPERS.md, "Migrations".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import migrations, models
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState

from results.site import migrating

# Operations that neither lock for long nor disturb the program of before, whatever they hold.
HARMLESS = (
    migrations.CreateModel,
    migrations.AlterModelOptions,
    migrations.AlterModelManagers,
    migrations.AlterModelTableComment,
    migrations.RemoveConstraint,
    migrating.AddIndexConcurrently,
    migrating.RemoveIndexConcurrently,
    migrating.AddConstraintNotValid,
    migrating.ValidateConstraint,
)
WHY = {
    "AddIndex": "writers wait while it is made; use results.site.migrating.AddIndexConcurrently",
    "RemoveIndex": "readers wait for its lock; use results.site.migrating.RemoveIndexConcurrently",
    "AddConstraint": "everybody waits while all rows are looked at; use results.site.migrating.AddConstraintNotValid, "
    "then ValidateConstraint in a migration of its own",
    "RenameField": "the program of before asks for the old name; add a new one, fill it, drop the old one later",
    "RenameModel": "the program of before asks for the old name; make a new one, fill it, drop the old one later",
    "RenameIndex": "the program of before doesn't mind, but nobody gains by it",
    "AlterModelTable": "the program of before asks for the old name",
    "RemoveField": "the program of before still reads it; take it out of the program first, a release earlier",
    "DeleteModel": "the program of before still reads it; take it out of the program first, a release earlier",
    "RunPython": "nobody can tell from outside what it does; fill in parts, in a migration of its own",
    "RunSQL": "nobody can tell from outside what it does",
}


@dataclass(frozen=True)
class Locking:
    """An operation that may not stand without a reason.

    Parameters
    ----------
    migration : str
    told : str
        What it does, in short: the kind of operation, the model and what of it.
    why : str
        What is wrong with it, and what would be right.
    """

    migration: str
    told: str
    why: str

    @property
    def key(self) -> tuple[str, str]:
        return self.migration, self.told


def locking(migration: migrations.Migration, state: ProjectState) -> Iterator[Locking]:
    """Operations of one migration that lock or disturb; `state` is as before it, and as after it in the end."""
    new: set[str] = set()
    for operation in migration.operations:
        for one in _database_operations(operation):
            if isinstance(one, migrations.CreateModel):
                new.add(one.name_lower)
            why = None if _of(one) in new else _why(one, state, migration.app_label)
            if why:
                yield Locking(f"{migration.app_label}.{migration.name}", _told(one), why)
        operation.state_forwards(migration.app_label, state)


def _database_operations(operation: Operation) -> list[Operation]:
    if isinstance(operation, migrations.SeparateDatabaseAndState):
        return [one for inner in operation.database_operations for one in _database_operations(inner)]
    return [operation]


def _of(operation: Operation) -> str:
    """The model that an operation is about."""
    return getattr(operation, "model_name_lower", None) or getattr(operation, "name_lower", "")


def _told(operation: Operation) -> str:
    named = getattr(operation, "name", None) or getattr(getattr(operation, "constraint", None), "name", None)
    named = named or getattr(getattr(operation, "index", None), "name", None)
    return " ".join([type(operation).__name__, *dict.fromkeys(part for part in (_of(operation), named) if part)])


def _why(operation: Operation, state: ProjectState, app: str) -> str | None:
    if isinstance(operation, HARMLESS):
        return None
    if isinstance(operation, migrations.AddField):
        return _why_not_add(operation.field)
    if isinstance(operation, migrations.AlterField):
        before = state.models[app, operation.model_name_lower].get_field(operation.name)
        return _why_not_alter(before, operation.field)
    kind = type(operation).__name__
    return WHY.get(kind, f"no rule says that {kind} is harmless")


def _why_not_add(field: models.Field) -> str | None:
    if field.many_to_many:
        return None
    if not field.null and field.db_default is models.NOT_PROVIDED:
        return "the program of before leaves it out; add it with null=True or db_default, fill it, tighten it later"
    if field.unique or field.db_index:
        return "writers wait while its index is made; add it with db_index=False, then the index concurrently"
    return None


def _why_not_alter(before: models.Field, after: models.Field) -> str | None:
    was, now = _in_database(before), _in_database(after)
    if was[0] == now[0]:
        differs = {name for name in was[1] | now[1] if was[1].get(name) != now[1].get(name)}
        if differs == {"max_length"} and (now[1]["max_length"] or 0) >= (was[1]["max_length"] or 0):
            return None  # a longer text takes no look at those that are there
        if differs == {"null"} and after.null:
            return None
        if not differs:
            return None
    return "everybody waits while all rows are written anew or looked at; add a new field, fill it, drop the old one"


def _in_database(field: models.Field) -> tuple[str, dict]:
    """A field as far as the database knows it."""
    _, path, _, options = field.deconstruct()
    return path, {name: value for name, value in options.items() if name not in field.non_db_attrs}
