"""Operations of migrations that let a site go on answering: without long locks on PostgreSQL, and as usual elsewhere.

Django's own of these names know PostgreSQL only; on SQLite, which has one writer anyhow, the plain ones are meant.
"""

from __future__ import annotations

from typing import Any

from django.contrib.postgres import operations
from django.db.migrations import AddConstraint, AddIndex, RemoveIndex

__all__ = ["AddConstraintNotValid", "AddIndexConcurrently", "RemoveIndexConcurrently", "ValidateConstraint"]


class AddIndexConcurrently(operations.AddIndexConcurrently):
    """Make an index while others write; the migration says ``atomic = False`` and has nothing else in it."""

    def database_forwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        kind = operations.AddIndexConcurrently if _on_postgresql(schema_editor) else AddIndex
        kind.database_forwards(self, app_label, schema_editor, *states)

    def database_backwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        kind = operations.AddIndexConcurrently if _on_postgresql(schema_editor) else AddIndex
        kind.database_backwards(self, app_label, schema_editor, *states)


class RemoveIndexConcurrently(operations.RemoveIndexConcurrently):
    """Drop an index while others write; the migration says ``atomic = False`` and has nothing else in it."""

    def database_forwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        kind = operations.RemoveIndexConcurrently if _on_postgresql(schema_editor) else RemoveIndex
        kind.database_forwards(self, app_label, schema_editor, *states)

    def database_backwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        kind = operations.RemoveIndexConcurrently if _on_postgresql(schema_editor) else RemoveIndex
        kind.database_backwards(self, app_label, schema_editor, *states)


class AddConstraintNotValid(operations.AddConstraintNotValid):
    """Hold new rows to a check at once; those that are there are looked at by `ValidateConstraint` afterwards."""

    def database_forwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        kind = operations.AddConstraintNotValid if _on_postgresql(schema_editor) else AddConstraint
        kind.database_forwards(self, app_label, schema_editor, *states)


class ValidateConstraint(operations.ValidateConstraint):
    """Look at the rows that are there, in a migration of its own: nobody waits for it."""

    def database_forwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        if _on_postgresql(schema_editor):
            super().database_forwards(app_label, schema_editor, *states)


def _on_postgresql(schema_editor: Any) -> bool:
    return schema_editor.connection.vendor == "postgresql"
