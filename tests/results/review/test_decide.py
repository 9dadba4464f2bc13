"""Reviewers decide, nobody on what is their own, and it is kept who did and why."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied

from results.models import Entry, Series, Specimen, Study, data_version
from results.review.decide import accept, may_decide, send_back, withdraw
from results.review.document import written
from results.review.errors import Decided, ReviewError
from results.review.hand_in import waiting
from tests import factories
from tests.factories import make_reviewer, make_user

from .made import changed, handed_in, heavier

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_accepting_lets_a_study_count_and_seals_it():
    study, version = handed_in(), data_version().number

    revision = accept(waiting(study), make_reviewer(), " sound ")

    study.refresh_from_db()
    assert (study.status, study.accepted_at is not None) == ("accepted", True)
    assert (revision.state, revision.decided_by, revision.remarks) == ("accepted", make_reviewer(), "sound")
    entry = Entry.objects.get()
    assert (entry.number, entry.study, entry.revision, entry.what) == (1, study, revision, "accepted")
    assert (entry.by, entry.why, entry.document_sha256) == (make_reviewer().pk, "sound", revision.document_sha256)
    assert Series.objects.counting().count() == 2
    assert data_version().number > version


def test_accepting_a_change_makes_the_study_say_it():
    study = factories.accept(handed_in())
    first = study.accepted_at
    keys = set(Specimen.objects.values_list("pk", flat=True))
    revision = changed(study, heavier)

    accept(revision, make_reviewer())

    study.refresh_from_db()
    specimen = Specimen.objects.get(series__study=study, label="t0")
    assert (specimen.reading_typed, specimen.moment_nm) == ("119.5", pytest.approx(119.5 * 9.80665 * 0.3))
    assert set(Specimen.objects.values_list("pk", flat=True)) == keys
    # It counts since it counted first; its record tells when it changed.
    assert (study.accepted_at, study.changed_at > first) == (first, True)
    assert list(Entry.objects.values_list("number", "revision__number")) == [(1, 1), (2, 2)]
    packed = {one.code for one in study.packed.all()}
    assert "at_joint" in packed


def test_accepting_twice_is_accepting_once():
    study = handed_in()
    revision = waiting(study)

    accept(revision, make_reviewer())
    accept(revision, make_reviewer())

    assert Entry.objects.count() == 1
    with pytest.raises(Decided, match="no longer waits: it was accepted by judge"):
        accept(revision, make_reviewer("second"))
    with pytest.raises(Decided):
        send_back(revision, make_reviewer(), "on second thoughts")


def test_returning_needs_remarks_and_keeps_them():
    study = handed_in()

    with pytest.raises(ReviewError, match="The remarks are blank"):
        send_back(waiting(study), make_reviewer(), " \0 ")
    revision = send_back(waiting(study), make_reviewer(), "Which scale?")

    study.refresh_from_db()
    assert (study.status, revision.state, revision.remarks) == ("returned", "returned", "Which scale?")
    assert not Entry.objects.exists() and waiting(study) is None


def test_returning_a_change_leaves_the_accepted_study_as_it_is():
    study = factories.accept(handed_in())
    before = written(study)

    send_back(changed(study, heavier), make_reviewer(), "Why?")

    study.refresh_from_db()
    assert (study.status, written(study)) == ("accepted", before)


def test_replaced_revision_is_not_decided_on():
    study = handed_in()
    first = waiting(study)
    changed(study, heavier)

    with pytest.raises(Decided, match="Revision 1 no longer waits: it was replaced before it was reviewed"):
        accept(first, make_reviewer())


def test_nobody_decides_on_their_own_and_only_reviewers_do():
    both = make_reviewer("both")
    own, others = handed_in("both"), handed_in()

    for decide in (
        lambda revision, user: accept(revision, user),
        lambda revision, user: send_back(revision, user, "x"),
    ):
        with pytest.raises(PermissionDenied, match="Nobody reviews what they contributed"):
            decide(waiting(own), both)
        for user in (make_user(), make_user("stranger")):
            with pytest.raises(PermissionDenied, match="Only reviewers decide"):
                decide(waiting(others), user)
    assert not may_decide(waiting(own), both) and may_decide(waiting(others), both)
    # A revision's maker is barred too, whoever the study belongs to by now.
    revision = waiting(own)
    Study.objects.filter(pk=own.pk).update(contributor=make_user())
    revision.refresh_from_db()
    with pytest.raises(PermissionDenied):
        accept(revision, both)


def test_reviewer_who_may_no_longer_log_in_decides_nothing():
    judge = make_reviewer()
    judge.is_active = False
    judge.save()

    with pytest.raises(PermissionDenied):
        accept(waiting(handed_in()), judge)


def test_study_whose_contributor_left_may_be_accepted():
    study = handed_in()
    study.contributor.delete()

    accept(waiting(study), make_reviewer())

    assert Study.objects.accepted().get() == study


@pytest.mark.parametrize("who", ["maker", "judge"])
def test_withdrawing_keeps_the_study_readable_with_its_reason(who):
    study = factories.accept(handed_in())
    waits = changed(study, heavier)

    withdraw(study, make_reviewer() if who == "judge" else make_user(), " the arm was measured wrongly ")

    study.refresh_from_db()
    assert (study.status, study.withdrawn_reason) == ("withdrawn", "the arm was measured wrongly")
    assert study in Study.objects.public() and study not in Study.objects.accepted()
    entry = Entry.objects.last()
    assert (entry.number, entry.what, entry.revision, entry.why) == (2, "withdrawn", None, study.withdrawn_reason)
    assert entry.by == make_user(who).pk
    waits.refresh_from_db()
    assert waits.state == "returned" and waits.remarks.startswith("The study was withdrawn")


def test_withdrawing_wants_a_reason_somebody_who_may_and_an_accepted_study():
    study = factories.accept(handed_in())

    with pytest.raises(ReviewError, match="The reason is blank; say why"):
        withdraw(study, make_user(), "  ")
    with pytest.raises(PermissionDenied, match="Only who contributed"):
        withdraw(study, make_user("stranger"), "mine")
    withdraw(study, make_user(), "wrong arm")
    with pytest.raises(ReviewError, match="withdrawn already"):
        withdraw(study, make_user(), "again")
    # What was never accepted has been read by nobody; withdrawn it would be.
    with pytest.raises(ReviewError, match="never accepted"):
        withdraw(handed_in(), make_user(), "x")
    assert Entry.objects.count() == 2
