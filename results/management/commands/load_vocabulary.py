"""``manage.py load_vocabulary``: bring vocabulary and timbers up to the files in ``fixtures/``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from results.vocabulary import FIXTURES, VocabularyError, load_vocabulary


class Command(BaseCommand):
    help = "Load joints, loadings, instruments, glues, failure places and timbers.."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--folder", type=Path, default=FIXTURES, help="Holds vocabulary/ and wood/.")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        try:
            counts = load_vocabulary(folder)
        except VocabularyError as error:
            raise CommandError(str(error)) from None
        for name, count in counts.items():
            self.stdout.write(f"{count:5d}  {name}")
