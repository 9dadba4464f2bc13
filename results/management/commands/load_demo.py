"""``manage.py load_demo``: save the invented studies of ``fixtures/demo/``, and users to try."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from results.demo import DemoError, load_demo


class Command(BaseCommand):
    help = "Load the invented studies and the demonstration's users. Running it twice changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        if not (settings.DEMO or settings.DEBUG):
            # The password of these users is printed in the open.
            raise CommandError("The demonstration's users have a known password: set DEMO=True or DEBUG=True.")
        try:
            loaded = load_demo()
        except DemoError as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            f"{loaded.added} studies added, {loaded.kept} there already: "
            f"{loaded.series} series, {loaded.specimens} specimens; "
            f"of the studies {loaded.waiting} waits for review and isn't counted yet"
        )
