"""``manage.py send_digest``: what is new for people, by e-mail; to be run once a day or more often."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from results.review.digest import send_digests


class Command(BaseCommand):
    help = (
        "Send everybody who is due, daily or weekly as they chose, what is new for them. Run it once an hour or a day."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        sent = send_digests()
        self.stdout.write(f"Wrote to {sent.people}, about {sent.notices} notices.")
        if sent.troubles:
            raise CommandError("\n".join(["Not sent, and tried again next time:", *sent.troubles]))
