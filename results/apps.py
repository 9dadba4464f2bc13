from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate

# What each group may do; groups are given to people by staff.
GROUPS = {
    "reviewers": ["review_study"],
    "staff": [
        *(f"{may}_user" for may in ("view", "add", "change", "delete")),
        *(f"view_{record}" for record in ("study", "revision", "entry", "question", "answer")),
        *(f"delete_{said}" for said in ("question", "answer")),
        *(
            f"{may}_{word}"
            for may in ("view", "change")
            for word in ("jointfamily", "joint", "loading", "instrument", "adhesiveclass", "failureplace", "timber")
        ),
        *(f"add_{word}" for word in ("adhesiveclass", "failureplace", "timber")),
    ],
}


class ResultsConfig(AppConfig):
    name = "results"
    verbose_name = "Break-test records"

    def ready(self) -> None:
        post_migrate.connect(_after_migrating, sender=self)
        from .accounts.tries import forget_later_tries
        from .pages import anew

        anew.listen()
        forget_later_tries()


def _after_migrating(using: str, **kwargs: Any) -> None:
    """Make what every book needs beside its tables: the groups, and the table of the shared cache."""
    from django.contrib.auth.models import Group, Permission
    from django.core.management import call_command

    for name, may in GROUPS.items():
        group, _ = Group.objects.using(using).get_or_create(name=name)
        group.permissions.add(
            *Permission.objects.using(using).filter(content_type__app_label__in=["results", "auth"], codename__in=may)
        )
    call_command("createcachetable", database=using, verbosity=0)
