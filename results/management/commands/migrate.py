"""``manage.py migrate``: Django's, which gives up instead of letting readers queue behind it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.core.management.commands import migrate
from django.db import OperationalError, connections

# PostgreSQL's name for a lock that could not be had in time.
_LOCK_NOT_AVAILABLE = "55P03"


class Command(migrate.Command):
    help = f"{migrate.Command.help} On PostgreSQL a table that is in use is waited for a few seconds only."

    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--lock-timeout",
            type=int,
            default=5,
            metavar="SECONDS",
            help="How long to wait for a table on PostgreSQL: everybody who asks for it meanwhile waits too. "
            "0 waits for good.",
        )

    def handle(self, *args: Any, lock_timeout: int = 5, **options: Any) -> None:
        connection = connections[options["database"]]
        if connection.vendor != "postgresql":
            super().handle(*args, **options)
            return
        if lock_timeout < 0:
            raise CommandError(f"--lock-timeout {lock_timeout} can't be: it is a number of seconds, 0 or more.")
        with connection.cursor() as cursor:
            cursor.execute("SHOW lock_timeout")
            (usual,) = cursor.fetchone()
            cursor.execute(f"SET lock_timeout = '{lock_timeout}s'")
        try:
            super().handle(*args, **options)
        except OperationalError as error:
            if getattr(error.__cause__, "sqlstate", "") != _LOCK_NOT_AVAILABLE:
                raise
            raise CommandError(
                f"A table was in use for longer than {lock_timeout} s, so this migration was given up and nothing of "
                "it is left, unless it makes an index: then drop the one that is marked INVALID. Run migrate again."
            ) from error
        finally:
            with connection.cursor() as cursor:
                cursor.execute(f"SET lock_timeout = '{usual}'")
