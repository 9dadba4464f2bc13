"""Accepting a study touches that study alone: queries, rows and the database's own steps, at two sizes of a book."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from results.evidence import expect
from results.invented import make
from results.models import Entry, Finding, Packed, Revision, Series, SeriesFooting, Setup, Specimen, Study
from results.review import decide
from results.review.hand_in import waiting
from tests.factories import make_reviewer

from .made import changed, handed_in, heavier

pytestmark = [pytest.mark.story, pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
# In both each joint of the families that are handed in has been tested.
FEW, MANY = 20, 80


@dataclass
class Cost:
    """What a step took."""

    queries: int
    written: Counter
    steps: int


def cost(step) -> Cost:
    """Count a step's queries, the rows it adds by table, and on SQLite what the database had to do for it."""
    before, steps = rows(), Counter()
    if connection.vendor == "sqlite":
        connection.connection.set_progress_handler(lambda: steps.update(["hundred"]), 100)
    with CaptureQueriesContext(connection) as queries:
        step()
    if connection.vendor == "sqlite":
        connection.connection.set_progress_handler(None, 0)
    return Cost(len(queries), rows() - before, steps["hundred"])


def rows() -> Counter:
    models = apps.get_app_config("results").get_models()
    return Counter({model._meta.label: model._default_manager.count() for model in models})


def written_by_accepting() -> tuple[Cost, Cost, Cost]:
    """What it takes to hand a study in, to accept it, and to accept a change of it."""
    study = None

    def hand() -> None:
        nonlocal study
        study = handed_in(f"maker {Study.objects.count()}")

    first = cost(hand)
    reviewer = make_reviewer()
    accepting = cost(lambda: decide.accept(waiting(study), reviewer))
    study.refresh_from_db()
    revision = changed(study, heavier)
    return first, accepting, cost(lambda: decide.accept(revision, reviewer))


def stocked(studies: int, seed: int) -> None:
    """More studies, which count for real ones: those are judged by each other alone."""
    make(studies, 20, 2, seed=seed, beside_real=True)
    Study.objects.update(invented=False)


def test_accepting_costs_as_much_in_a_large_book_as_in_a_small_one(monkeypatch):
    # Of each joint the newest few are looked at; both books have more than that.
    monkeypatch.setattr(expect, "NEWEST", 3)
    make_reviewer()  # who is told of each
    handed_in("first")  # what a process asks but once
    stocked(FEW, 8)
    few = written_by_accepting()
    stocked(MANY, 9)

    many = written_by_accepting()

    assert Study.objects.count() > FEW + MANY
    for small, large in zip(few, many, strict=True):
        assert large.queries <= small.queries
        assert large.written == small.written
        # B-trees get a level deeper here and there.
        assert large.steps <= 1.2 * small.steps + 5


def test_accepting_writes_rows_of_its_own_study_alone():
    make(6, 4, 2, seed=8)
    study = handed_in()
    others = told(study)

    decide.accept(waiting(study), make_reviewer())

    assert told(study) == others


def told(study: Study) -> dict[str, list]:
    """All that the book holds of other studies."""
    found = {}
    for path, model in (
        ("pk", Study),
        ("study", Setup),
        ("study", Series),
        ("series__study", Specimen),
        ("series__study", SeriesFooting),
        ("study", Packed),
        ("study", Finding),
        ("study", Revision),
        ("study", Entry),
    ):
        found[model.__name__] = list(model.objects.exclude(**{path: study.pk}).order_by("pk").values())
    return found


def test_no_more_than_the_newest_series_of_a_joint_are_looked_at(monkeypatch):
    make(6, 20, 2, seed=8)
    whole = expect.Book.of(list(Series.objects.filter(joint="solid"))[:1])
    monkeypatch.setattr(expect, "NEWEST", 2)
    few = expect.Book.of(list(Series.objects.filter(joint="solid"))[:1])
    assert len(whole.series) > 2 >= len(few.series)
    assert set(few.series["study"]) <= set(whole.series["study"])
    assert few.series["study"].min() >= whole.series["study"].median()
