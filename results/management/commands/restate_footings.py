"""Compute stored footings and findings anew, after a formula or the vocabulary has changed."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from results.evidence import restate
from results.models import Study


class Command(BaseCommand):
    help = "Compute the stored footings and the findings of the numbers anew, for all studies or those named."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("study", nargs="*", type=int, help="Numbers of studies; all if none is given.")

    def handle(self, *args: object, **options: Any) -> None:
        studies = Study.objects.order_by("id")
        if options["study"]:
            studies = studies.filter(pk__in=options["study"])
        changed = sum(restate(study) for study in studies)
        self.stdout.write(f"{studies.count()} studies restated, {changed} of them changed.")
