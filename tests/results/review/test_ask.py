"""Questions and doubts: what they are about, who may do what, sent twice, too many, resolved meanwhile."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.utils import timezone

from results.models import Answer, Notice, Question
from results.review import ask as asking
from results.review.ask import Target, answer, ask, find_target, resolve
from tests.factories import make_reviewer, make_series, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def study():
    return make_study(contributor=make_user("owner"))


@pytest.fixture
def stranger():
    return make_user("stranger")


def a_series(study, label, *specimens):
    series = make_series(study, label=label)
    for one in specimens:
        make_specimen(series, label=one)
    return series


@pytest.mark.parametrize(
    ("typed", "means"),
    [
        ("", ""),
        ("  ", ""),
        ("A", "series A"),
        (" a ", "series A"),
        ("A/1", "specimen A/1"),
        ("a / x1", "specimen A/X1"),
        ("5/8 dowel", "series 5/8 dowel"),
        ("5/8 dowel/1", "specimen 5/8 dowel/1"),
        ("series A", "series A"),
        ("Specimen A/1", "specimen A/1"),
    ],
)
def test_label_finds_its_series_or_specimen(study, typed, means):
    a_series(study, "A", "1", "X1")
    a_series(study, "5/8 dowel", "1")

    assert str(find_target(study, typed)) == means


@pytest.mark.parametrize("typed", ["B", "A/9", "A/", "/1", "/", "1", "series B", "specimen A", "A/1/2"])
def test_label_of_nothing_is_refused_with_those_there_are(study, typed):
    a_series(study, "A", "1")
    make_series(label="B")  # of another study

    with pytest.raises(
        asking.NoSuchRecord, match=rf"“{typed}” is no series or specimen of this study. Its series: A\."
    ):
        find_target(study, typed)


def test_label_of_two_records_is_asked_back_and_can_be_told_apart(study):
    a_series(study, "A", "1")
    a_series(study, "A/1")

    with pytest.raises(asking.NoSuchRecord, match="may be series A/1 or specimen A/1; write the one you mean"):
        find_target(study, "A/1")

    assert find_target(study, "series A/1").specimen is None
    assert find_target(study, "specimen A/1").series.label == "A"


def test_label_in_capitals_finds_one_only_if_there_is_one(study):
    a_series(study, "a")
    a_series(study, "A")

    assert [find_target(study, label).series.label for label in ("a", "A")] == ["a", "A"]
    a_series(study, "ply")
    a_series(study, "PLY")
    with pytest.raises(asking.NoSuchRecord, match="may be series ply or series PLY"):
        find_target(study, "Ply")


def test_question_keeps_what_it_is_about_in_words(study, stranger):
    series = a_series(study, "A", "1")

    asked = ask(study, stranger, "doubt", "Too strong?", find_target(study, "A/1"))
    series.delete()

    asked.refresh_from_db()
    assert (asked.series, asked.specimen, asked.about) == (None, None, "specimen A/1")


def test_sent_twice_asks_once_and_tells_once(study, stranger):
    first = ask(study, stranger, "question", "Which glue?", Target())
    again = ask(study, stranger, "question", "Which glue?", Target())

    assert first == again
    assert (Question.objects.count(), Notice.objects.count()) == (1, 1)


def test_same_words_about_something_else_or_later_are_another_question(study, stranger):
    series = a_series(study, "A")
    first = ask(study, stranger, "question", "Which glue?", Target())

    ask(study, stranger, "doubt", "Which glue?", Target())
    ask(study, stranger, "question", "Which glue?", Target(series))
    ask(study, make_user("other"), "question", "Which glue?", Target())
    Question.objects.filter(pk=first.pk).update(asked_at=timezone.now() - timedelta(seconds=61))
    ask(study, stranger, "question", "Which glue?", Target())

    assert Question.objects.count() == 5


def test_too_many_in_an_hour_are_refused_until_it_is_over(study, stranger):
    for number in range(asking.MOST_QUESTIONS):
        ask(study, stranger, "question", f"Question {number}", Target())

    with pytest.raises(asking.TooMany, match="You wrote 20 questions within the last hour"):
        ask(study, stranger, "question", "One more", Target())
    ask(study, make_user("other"), "question", "Of somebody else", Target())

    Question.objects.filter(text="Question 0").update(asked_at=timezone.now() - timedelta(minutes=61))
    assert ask(study, stranger, "question", "One more", Target()).pk


def test_too_many_answers_are_refused(study, stranger):
    asked = ask(study, stranger, "question", "Which glue?", Target())
    Answer.objects.bulk_create(
        Answer(question=asked, by=study.contributor, text=f"{number}") for number in range(asking.MOST_ANSWERS)
    )

    with pytest.raises(asking.TooMany, match="You wrote 60 answers"):
        answer(asked, study.contributor, "One more")


def test_who_may_ask_answer_and_resolve():
    owner, stranger, other = (make_user(name) for name in ("owner", "stranger", "other"))
    judge, own_judge = make_reviewer("judge"), make_reviewer("own_judge")
    study, theirs = make_study(contributor=owner), make_study(contributor=own_judge)
    draft = make_study(contributor=owner, status="draft")
    asked, of_theirs = (ask(one, stranger, "doubt", "Is it?", Target()) for one in (study, theirs))

    assert [asking.may_ask(study, one) for one in (owner, stranger, other, judge)] == [False, True, True, True]
    assert not asking.may_ask(draft, stranger)
    assert [asking.may_answer(asked, one) for one in (owner, stranger, other, judge)] == [True, True, False, True]
    assert [asking.may_resolve(asked, one) for one in (owner, stranger, other, judge)] == [False, True, False, True]
    assert [asking.may_resolve(of_theirs, one) for one in (own_judge, judge)] == [False, True]
    for refused in (
        lambda: ask(study, owner, "question", "Mine?", Target()),
        lambda: ask(draft, stranger, "question", "Not public", Target()),
        lambda: answer(asked, other, "I know"),
        lambda: resolve(asked, owner, "All well"),
        lambda: resolve(of_theirs, own_judge, "All well"),
    ):
        with pytest.raises(PermissionDenied):
            refused()


def test_question_of_a_study_whose_contributor_left_is_nobody_s_own(stranger):
    study = make_study(contributor=None)

    asked = ask(study, stranger, "question", "Which glue?", Target())
    Question.objects.filter(pk=asked.pk).update(asked_by=None)
    asked.refresh_from_db()

    assert not asking.may_answer(asked, stranger)
    assert not asking.may_resolve(asked, stranger)


def test_resolved_question_takes_no_answer_and_stays(study, stranger):
    asked = ask(study, stranger, "doubt", "Is it oak?", Target())
    judge = make_reviewer()
    answer(asked, study.contributor, "Yes.")
    answer(asked, study.contributor, "Yes.")

    resolve(asked, judge, "It is.")
    again = resolve(asked, judge, "It is.")  # the button pressed twice

    assert (again.state, again.resolution, again.resolved_by) == ("resolved", "It is.", judge)
    assert Notice.objects.filter(what="resolved").count() == 2
    with pytest.raises(asking.Closed, match="resolved meanwhile, by judge"):
        answer(asked, study.contributor, "But")
    with pytest.raises(asking.Closed):
        resolve(asked, stranger, "It is.")
    assert Answer.objects.count() == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    connection.vendor != "postgresql", reason="two windows at once: SQLite's test database has one writer"
)
def test_two_windows_at_once_ask_once():
    study, stranger = make_study(contributor=make_user("owner")), make_user("stranger")
    start, found = threading.Barrier(4), []

    def send():
        start.wait()
        try:
            found.append(ask(study, stranger, "question", "Which glue?", Target()).pk)
        finally:
            connection.close()

    windows = [threading.Thread(target=send) for _ in range(4)]
    for one in windows:
        one.start()
    for one in windows:
        one.join()

    assert len(found) == 4 and len(set(found)) == 1
    assert Notice.objects.count() == 1
