"""``manage.py restore``: a book put back from a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from results.backup import BackupError, restore


class Command(BaseCommand):
    help = "Put a book back from a backup: checked first, into an empty migrated database, whole or not at all."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--replace", action="store_true", help="Let all that the database holds go; asks first.")
        parser.add_argument("--yes", action="store_true", help="With --replace: don't ask.")

    def handle(self, *args: Any, file: Path, replace: bool, yes: bool, **options: Any) -> None:
        if replace and not yes:
            said = input(f"All that {connection.settings_dict['NAME']} holds goes. Type yes to go on: ")
            if said.strip().lower() != "yes":
                raise CommandError("Nothing was changed.")
        try:
            restored = restore(file, replace=replace, tell=self.stdout.write)
        except BackupError as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            f"{sum(restored.rows.values())} rows of {len(restored.rows)} tables and {restored.files} files are back. "
            "Everybody has to log in again."
        )
        if restored.repack:
            self.stdout.write("This program packs studies otherwise: run manage.py restate_footings.")
        self.stdout.write("Now run manage.py verify.")
