"""Plans lodged and withdrawn: once, by whom, and never changed."""

from __future__ import annotations

import uuid

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from results.accounts.leave import leave
from results.models import Plan, data_version
from results.models.plan import validate_planned
from results.practice import lodge as lodging
from results.practice.lodge import AlreadyLodged, PlanError, TooMany, lodge, withdraw
from results.practice.plan_document import document
from tests.factories import make_user

from .plans import followed_up, lodged, planned

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_plan_is_kept_as_it_was_worked_out():
    before = data_version().number
    made = lodge(planned(), make_user(), uuid.uuid4())
    made.refresh_from_db()

    assert made.planned == document(planned())
    assert (made.status, made.contributor) == ("lodged", make_user())
    assert made.title == "Blind mortise and tenon against dowel, in bending"
    assert data_version().number > before


def test_lodged_twice_from_one_page_it_is_lodged_once():
    key = uuid.uuid4()

    first, again = (lodge(planned(), make_user(), key) for _ in range(2))

    assert first.pk == again.pk
    assert Plan.objects.count() == 1


@pytest.mark.parametrize("changes", [{}, {"arm_mm": "304.8 mm"}, {"member_depth_mm": "4 cm"}])
def test_the_same_plan_from_another_page_is_refused_and_leads_to_the_first(changes):
    """However its lengths are typed."""
    first = lodge(planned(), make_user(), uuid.uuid4())

    with pytest.raises(AlreadyLodged, match=f"before, as plan {first.pk} on") as refused:
        lodge(planned(**changes), make_user(), uuid.uuid4())

    assert refused.value.first == first
    assert Plan.objects.count() == 1


def test_the_same_plan_is_refused_though_the_book_tells_otherwise_by_now():
    first = lodge(planned(), make_user(), uuid.uuid4())
    told = first.planned | {"cv_source": "another", "cv": 0.3, "form": 1}
    Plan.objects.filter(pk=first.pk).update(planned=told)

    with pytest.raises(AlreadyLodged):
        lodge(planned(), make_user(), uuid.uuid4())


@pytest.mark.parametrize("changes", [{"arm_mm": "13 in"}, {"seed": 2}, {"title": "Again"}, {"afford": "4"}])
def test_another_plan_of_the_same_person_is_lodged(changes):
    for one in ({}, changes):
        lodge(planned(**one), make_user(), uuid.uuid4())

    assert Plan.objects.count() == 2


def test_the_same_plan_of_somebody_else_and_one_withdrawn_before_are_lodged():
    withdraw(lodge(planned(), make_user(), uuid.uuid4()), make_user(), "No oak.")

    lodge(planned(), make_user("other"), uuid.uuid4())
    lodge(planned(), make_user(), uuid.uuid4())

    assert Plan.objects.count() == 3


def test_the_key_of_somebody_elses_page_lodges_nothing():
    key = uuid.uuid4()
    lodge(planned(), make_user(), key)

    with pytest.raises(PlanError, match="Somebody else"):
        lodge(planned(), make_user("other"), key)


def test_plans_of_a_day_have_an_end(monkeypatch):
    monkeypatch.setattr(lodging, "MOST_A_DAY", 2)
    for seed in (1, 2):
        lodge(planned(seed=seed), make_user(), uuid.uuid4())

    with pytest.raises(TooMany, match="2 plans in a day"):
        lodge(planned(seed=3), make_user(), uuid.uuid4())
    lodge(planned(), make_user("other"), uuid.uuid4())


def test_nothing_of_a_lodged_plan_can_be_saved_again():
    made = lodged()
    made.title = "Another"

    with pytest.raises(ValueError, match="can't be changed"):
        made.save()
    with pytest.raises(ValueError, match="can't be changed"):
        made.save(update_fields=["title"])
    made.refresh_from_db()
    assert made.title != "Another"


def test_withdrawn_it_stays_with_its_reason_and_twice_is_once():
    made = withdraw(lodged(), make_user(), "The oak has gone.")
    again = withdraw(made, make_user(), "Another reason.")

    assert again.withdrawn_reason == "The oak has gone."
    assert again.is_withdrawn and again.withdrawn_at == made.withdrawn_at


@pytest.mark.parametrize("reason", ["", "  \n", "\0"])
def test_withdrawing_wants_a_reason(reason):
    with pytest.raises(PlanError, match="blank"):
        withdraw(lodged(), make_user(), reason)


def test_nobody_else_withdraws_it():
    with pytest.raises(PermissionDenied):
        withdraw(lodged(), make_user("other"), "no")


def test_plan_that_a_study_follows_is_neither_withdrawn_nor_deleted():
    made = lodged()
    followed_up(made)

    with pytest.raises(PlanError, match="A study follows"):
        withdraw(made, make_user(), "no")
    with pytest.raises(ProtectedError):
        made.delete()


def test_plan_outlives_its_makers_account():
    made = lodged("leaver")

    leave(make_user("leaver"))

    made.refresh_from_db()
    assert made.contributor is None
    with pytest.raises(PermissionDenied):
        withdraw(made, make_user("other"), "no")


@pytest.mark.parametrize(
    "changes",
    [
        {"status": "withdrawn"},
        {"status": "nonsense"},
        {"withdrawn_reason": "why"},
        {"title": ""},
        {"question": ""},
    ],
)
def test_database_refuses_what_no_plan_can_be(changes):
    made = lodged()

    with pytest.raises(IntegrityError), transaction.atomic():
        Plan.objects.filter(pk=made.pk).update(**changes)


@pytest.mark.parametrize(
    ("part", "value", "words"),
    [
        ("loading", 3, "'loading' of a plan is 3; it must be a text"),
        ("n", True, "'n' of a plan is True; it must be a whole number"),
        ("ratio", "1.2", "must be a number"),
        ("series", [], "0 series; it must have 2 to 12"),
        ("series", ["A", "B"], "must be an object"),
        ("order", [[1, "A", 1]], "every specimen"),
        ("order", [1], "block, series and number"),
    ],
)
def test_what_is_no_plan_is_refused_by_its_part(part, value, words):
    with pytest.raises(ValidationError, match=words):
        validate_planned({**document(planned()), part: value})


def test_a_plan_that_is_none_is_refused():
    with pytest.raises(ValidationError, match="object"):
        validate_planned([])
