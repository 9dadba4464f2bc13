"""``manage.py seal_studies``: accepted studies from before the chain get their revision and their link in it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from results.review.chain import seal


class Command(BaseCommand):
    help = "Give accepted and withdrawn studies that have none a first revision and an entry in the chain. Idempotent."

    def handle(self, *args: Any, **options: Any) -> None:
        sealed = seal()
        self.stdout.write(f"{sealed} studies sealed." if sealed != 1 else "1 study sealed.")
