"""``manage.py release``: write a dated snapshot of all accepted studies that is never changed."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from results.releases import ReleaseError, make, shelf


class Command(BaseCommand):
    help = "Write a release of all accepted studies, unless the last one holds the same data."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = make()
        except ReleaseError as error:
            raise CommandError(str(error)) from None
        release = made.release
        if not made.new:
            self.stdout.write(f"Nothing has changed since release {release.name}; none was written.")
            return
        counts, changes = release.counts, release.changes
        self.stdout.write(
            f"Release {release.name} in {shelf.place().shown(release.name)}: {counts['studies']} studies, "
            f"{counts['series']} series, {counts['specimens']} specimens; {len(changes['added'])} studies added, "
            f"{len(changes['changed'])} changed, {len(changes['withdrawn'])} no longer there."
        )
