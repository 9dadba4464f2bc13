"""What the demonstration shows, once it is loaded."""

from __future__ import annotations

import pytest
from django.contrib.auth import authenticate, get_user_model

from results.demo import MAKER, PASSWORD, READER, REVIEWER
from results.models import Finding, Plan, reviews
from results.practice.followed import followed

pytestmark = pytest.mark.django_db


def _findings(code: str) -> set[tuple[str, str, str]]:
    """Study, series and specimen of each finding of a kind; blanks where it concerns the whole."""
    found = Finding.objects.filter(code=code)
    return set(found.values_list("study__title", "series__label", "specimen__label"))


def test_users_can_log_in_with_the_password_that_is_printed(demo_book):
    assert authenticate(username=MAKER, password=PASSWORD)
    assert authenticate(username=READER, password=PASSWORD)
    assert [reviews(authenticate(username=name, password=PASSWORD)) for name in (MAKER, READER, REVIEWER)] == [
        *(False, False, True)
    ]


def test_reviewer_is_one_by_the_group_as_staff_make_people_reviewers(demo_book):
    reviewer = get_user_model().objects.get(username=REVIEWER)
    assert [group.name for group in reviewer.groups.all()] == ["reviewers"]
    assert not reviewer.user_permissions.exists()


def test_one_plan_was_followed_and_one_is_missing_evidence(demo_book):
    missing, kept = Plan.objects.order_by("lodged_at")
    assert (missing.title, missing.invented, kept.invented) == ("Open joints after a wet summer", True, True)
    assert not missing.studies.exists()
    found = followed(kept.studies.get())
    assert found.study.title == "Evening class breaks its joints"
    assert found.before
    assert {one.about for one in found.deviations} == {"specimens of solid member", "glue"}


def test_checks_find_what_went_wrong(demo_book):
    assert _findings("unit-slip") == {
        ("Open joints in ash", "half-lap", "3"),
        ("Bench stretchers in ash", "tenon", "4"),
    }
    assert _findings("unit-slip-series") == {("Evening class breaks its joints", "dowels", None)}
    assert _findings("impossible") == {("Evening class breaks its joints", "solid", "5")}
    assert ("Rails into posts", "loose tenon", "6") in _findings("outlier") | _findings("unit-slip")
    assert {title for title, _, _ in _findings("no-control")} == {"Open joints in ash"}
    assert ("Quick joints for shop furniture", "dowels", None) in _findings("footing-missing")
    assert {title for title, _, _ in _findings("no-spread")} == {"Means from a handbook chapter"}
