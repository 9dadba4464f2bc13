"""``manage.py demo``: a book with invented studies in it, from nothing to an address to open."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from results.demo import MAKER, PASSWORD, REVIEWER


class Command(BaseCommand):
    help = "Make the database, load the vocabulary and the invented studies, and serve the book."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="Stop once everything is loaded.")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, no_serve: bool, port: int, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("DEMO is off: leave it unset or set DEMO=True to run the demonstration.")
        call_command("migrate", verbosity=0)
        call_command("load_vocabulary", stdout=self.stdout)
        call_command("load_demo", stdout=self.stdout)
        call_command("seal_studies", stdout=self.stdout)  # a demonstration may be older than the chain
        try:
            call_command("release", stdout=self.stdout)
        except CommandError as why:  # files of a demonstration whose database has gone
            self.stdout.write(f"No release was made: {why}")
        self.stdout.write(f"Open http://127.0.0.1:{port}/ and log in as {MAKER} with {PASSWORD}.")
        self.stdout.write(f"To review what waits, log in as {REVIEWER} with the same password.")
        if not no_serve:
            settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # nothing is collected, but it is looked for
            self.stdout.flush()
            call_command("runserver", f"127.0.0.1:{port}", use_reloader=False)
