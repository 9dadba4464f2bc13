"""``manage.py backup``: the whole book in one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from results.backup import BackupError, take
from results.backup.write import usual_path


class Command(BaseCommand):
    help = "Write all records, accounts and files, as they are at one moment, into one file."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="The file to write; by default under DATA_DIR/backups.")

    def handle(self, *args: Any, file: Path | None, **options: Any) -> None:
        try:
            taken = take(file or usual_path())
        except BackupError as error:
            raise CommandError(str(error)) from None
        for name in taken.missing:
            self.stderr.write(f"Not there, though a record names it: {name}")
        self.stdout.write(
            f"{taken.path}: {sum(taken.rows.values())} rows of {len(taken.rows)} tables, {taken.files} files, "
            f"{taken.size / 1e6:.1f} MB."
        )
        self.stdout.write(
            "Only you may read it. Sessions are not in it; password hashes, API tokens and keys of second factors are, "
            "so keep it as safe as the database. SECRET_KEY is not in it: keep that too."
        )
