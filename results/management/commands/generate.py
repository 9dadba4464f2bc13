"""``manage.py generate``: an invented book of any size, to try a site or to measure it."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from results.invented import RealStudies, make


class Command(BaseCommand):
    help = (
        "Add invented studies, accepted and sealed, as many and as large as asked for. Stopped half-way, the same "
        "command goes on where it stopped; whatever was begun then isn't there."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--studies", type=int, required=True, metavar="N")
        parser.add_argument("--series-per-study", type=int, required=True, metavar="K")
        parser.add_argument("--specimens-per-series", type=int, required=True, metavar="M")
        parser.add_argument("--seed", type=int, default=1, help="Another one makes another book. Default: 1.")
        parser.add_argument(
            "--beside-real",
            action="store_true",
            help="Do it in a book that holds real studies. Invented ones can't be taken out again, only withdrawn.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        begun = time.monotonic()

        def tell(done: int, of: int) -> None:
            took = time.monotonic() - begun
            self.stdout.write(f"{done} of {of} studies, {took:.0f} s; about {took * (of - done) / done:.0f} s to go")
            self.stdout.flush()

        sizes = (options["studies"], options["series_per_study"], options["specimens_per_series"])
        try:
            made = make(*sizes, options["seed"], beside_real=options["beside_real"], tell=tell)
        except ValueError as error:
            raise CommandError(f"--{error}") from None
        except RealStudies as error:
            raise CommandError(f"{error} Use a database of its own, or say --beside-real.") from None
        except KeyboardInterrupt:
            raise CommandError("Stopped. The same command again goes on where this one stopped.") from None
        self.stdout.write(
            f"{made.added} studies added, {made.kept} there already: {made.series} series, {made.specimens} specimens. "
            "They count where invented studies are asked for, or everywhere with DEMO=True."
        )
