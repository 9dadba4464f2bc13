"""The data version: it rises with whatever readers may see, and with nothing else."""

from __future__ import annotations

import pytest
from django.db import transaction

from results.evidence import restate
from results.models import DataVersion, Upload, bump, data_version
from results.review.decide import withdraw
from results.vocabulary import load_vocabulary
from tests.factories import make_finding, make_joint, make_series, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db


def rises(action) -> bool:
    before = data_version()
    action()
    after = data_version()
    assert (after.number > before.number) == (after.mark != before.mark)
    return after.number > before.number


def test_version_rises_with_every_kind_of_change():
    study = make_study()
    specimen = make_specimen(make_series(study))

    for action in (
        lambda: make_study("Another"),
        lambda: make_finding(study),
        lambda: make_joint("dowel"),
        lambda: restate(study),
        lambda: withdraw(study, study.contributor, "the arm was measured wrongly"),
        specimen.delete,
        load_vocabulary,
        bump,
    ):
        assert rises(action), action


def test_version_stays_where_readers_see_nothing():
    assert not rises(lambda: make_user("somebody"))
    upload = Upload(user=make_user(), kind="csv", name="a.csv", file="a.csv", size_bytes=1, sha256="0" * 64)
    assert not rises(upload.save)


def test_change_that_is_rolled_back_leaves_the_version():
    before = data_version()

    with pytest.raises(ZeroDivisionError), transaction.atomic():
        make_study()
        raise ZeroDivisionError

    assert str(data_version()) == str(before)


def test_book_without_a_change_is_at_nought_and_keeps_one_row():
    DataVersion.objects.all().delete()  # what loading the vocabulary for other tests has counted
    assert data_version().number == 0
    bump()
    bump()

    assert data_version().number == 2
    assert DataVersion.objects.count() == 1
