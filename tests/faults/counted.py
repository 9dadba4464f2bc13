"""Whether a book holds what people were told it holds: run as a program on the site's data by `Ledger.check`.

Reads as JSON what was tried, acknowledged and accepted, and prints as JSON what is not so. It ends with
``manage.py verify``, whose findings are among it. It also says for how many seconds more something is counted
against somebody at the most.
"""

from __future__ import annotations

import io
import json
import sys
import time
from datetime import UTC, datetime
from typing import Any


def wrong(said: dict[str, Any]) -> list[str]:
    """Everything that is missing, there twice, or there in part."""
    from django.core.management import call_command
    from django.db.models import Count

    from results.models import Entry, Revision, Study

    titles = list(said["tried"])
    held: dict[str, list[int]] = {title: [] for title in titles}
    found = Study.objects.filter(title__startswith="By ").annotate(n=Count("series__specimens"))
    for title, n in found.values_list("title", "n"):
        if title in held:
            held[title].append(n)
    told = [f"{title!r} was acknowledged and is missing" for title in said["acknowledged"] if not held[title]]
    told += [f"{title!r} is there {len(ns)} times" for title, ns in held.items() if len(ns) > 1]
    for title, ns in held.items():
        whole = said["tried"].get(title)
        told += [f"{title!r} has {n} of {whole} specimens" for n in ns if n != whole]
    for number in said["accepted"]:
        links = Entry.objects.filter(revision_id=number, what=Entry.What.ACCEPTED).count()
        state = Revision.objects.filter(pk=number).values_list("state", flat=True).first()
        if (links, state) != (1, Revision.State.ACCEPTED):
            told.append(f"revision {number} was said to be accepted; it is {state}, with {links} links in the chain")
    errors = io.StringIO()
    try:
        call_command("verify", stdout=io.StringIO(), stderr=errors)
    except SystemExit:
        told.append(f"manage.py verify: {errors.getvalue()}")
    return told


def longest_limit_s() -> float:
    """When the last of what is counted in the shared cache is forgotten, from now [s]."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT max(expires) FROM shared_cache")
        until = cursor.fetchone()[0]
    until = datetime.fromisoformat(until) if isinstance(until, str) else until
    return 0.0 if until is None else until.replace(tzinfo=UTC).timestamp() - time.time()


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps({"wrong": wrong(json.load(sys.stdin)), "longest_limit_s": longest_limit_s()}))
