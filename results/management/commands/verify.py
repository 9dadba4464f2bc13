"""``manage.py verify``: whether anything was changed behind the back of review."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from results.models import Entry
from results.review.chain import verify


class Command(BaseCommand):
    help = "Check the chain of accepted revisions, their documents and the records; exit with 1 if anything is wrong."

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = verify()
        for one in wrong:
            self.stderr.write(f"{one.code}: {one.message}")
        last = Entry.objects.order_by("-number").first()
        end = f"link {last.number}, hash {last.hash}" if last else "no link yet"
        self.stdout.write(f"The chain ends with {end}.")
        if wrong:
            self.stderr.write(f"{len(wrong)} {'thing is' if len(wrong) == 1 else 'things are'} wrong.")
            raise SystemExit(1)
        self.stdout.write("Everything agrees with it.")
