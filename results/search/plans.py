"""Lodged plans that have the words asked for, read through: they are few beside the studies."""

from __future__ import annotations

from collections.abc import Callable

from results.models import Plan

from .words import Sought, spaced

FIELDS = ("title", "question", "planned__workshop")
"""What of a plan is searched."""
Some = Callable[[int, int], list[Plan]]


def found_plans(asked: Sought) -> tuple[int, Some]:
    """How many lodged plans have all the words, and any stretch of them.

    Parameters
    ----------
    asked : Sought
        What is looked for.

    Returns
    -------
    count : int
        How many; withdrawn ones too, which stay readable.
    some : callable
        From the first to before the last, those with all words in the title before the others, newest first.

    Notes
    -----
    What somebody asks of the page of a plan is in its address only, until they lodge it: so nothing else can be found.
    """
    found = []
    for pk, *texts in Plan.objects.order_by("-lodged_at", "-pk").values_list("pk", *FIELDS).iterator():
        if asked.is_in(spaced(*(str(text or "") for text in texts))):
            found.append((0 if asked.is_in(spaced(texts[0])) else 1, pk))
    # Sorting keeps the newest first among equals.
    keys = [pk for _, pk in sorted(found, key=lambda pair: pair[0])]

    def some(start: int, stop: int) -> list[Plan]:
        page = keys[start:stop]
        by_key = Plan.objects.select_related("contributor").in_bulk(page) if page else {}
        return [by_key[pk] for pk in page if pk in by_key]

    return len(keys), some
