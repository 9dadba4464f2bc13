"""Public studies that have the words asked for: by PostgreSQL's full text, or read through in Python."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.postgres.search import SearchQuery, SearchVectorExact, SearchVectorField
from django.db.models import Case, Value, When
from django.db.models.expressions import RawSQL

from results.models import Study

from .words import Sought, spaced

FIELDS = ("title", "workshop", "question", "citation", "notes")
"""What of a study is searched."""
TITLE = "A"
"""How PostgreSQL marks what stands in the title."""
NEWEST = ("-accepted_at", "-id")
Some = Callable[[int, int], list[Study]]


def found_studies(asked: Sought, *, postgresql: bool) -> tuple[int, Some]:
    """How many public studies have all the words, and any stretch of them.

    Parameters
    ----------
    asked : Sought
        What is looked for.
    postgresql : bool
        Whether the database is PostgreSQL; any other has its texts read here.

    Returns
    -------
    count : int
        How many.
    some : callable
        From the first to before the last, those with all words in the title before the others, newest first.
    """
    return _by_full_text(asked) if postgresql else _read_through(asked)


# A column that PostgreSQL keeps by itself (migration 0006); Django's models don't know it.
WORDS = RawSQL('"results_study"."search_words"', [], output_field=SearchVectorField())


def _has(asked: Sought, within: str = "") -> SearchVectorExact:
    return SearchVectorExact(WORDS, SearchQuery(asked.tsquery(within), search_type="raw", config="simple"))


def _by_full_text(asked: Sought) -> tuple[int, Some]:
    rows = Study.objects.public().filter(_has(asked))
    in_title = Case(When(_has(asked, TITLE), then=Value(0)), default=Value(1))
    return rows.count(), lambda start, stop: list(rows.order_by(in_title, *NEWEST)[start:stop])


def _read_through(asked: Sought) -> tuple[int, Some]:
    """The same by reading every public study: a book on SQLite is a small one."""
    rows = Study.objects.public().order_by(*NEWEST).values_list("pk", *FIELDS)
    found = []
    for pk, *texts in rows.iterator():
        if asked.is_in(spaced(*texts)):
            found.append((0 if asked.is_in(spaced(texts[0])) else 1, pk))
    # Sorting keeps the newest first among equals.
    keys = [pk for _, pk in sorted(found, key=lambda pair: pair[0])]

    def some(start: int, stop: int) -> list[Study]:
        page = keys[start:stop]
        by_key = Study.objects.in_bulk(page) if page else {}
        return [by_key[pk] for pk in page if pk in by_key]

    return len(keys), some
