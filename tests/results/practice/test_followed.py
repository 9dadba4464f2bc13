"""A study beside the plan it follows: planned before tested or not, and what was done otherwise."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from results.intake.check import check
from results.intake.examine import examine
from results.intake.read import read_rows
from results.models import Study
from results.practice.followed import deviations, followed, followers, planned_before, waiting_for
from results.practice.lodge import withdraw
from results.practice.plan_book import plan_xlsx
from results.review.document import draft_of, written
from tests.factories import accept, make_study, make_user

from .plans import LODGED_AT, filled, followed_up, lodged, looked_at, planned

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_spreadsheet_of_a_plan_lacks_nothing_but_the_loads():
    for changes in ({}, {"loading": "withdrawal", "blocks": "3"}, {"loading": "torsion"}, {"tests": "bond"}):
        made = lodged(**changes)

        found = looked_at(plan_xlsx(made.planned, made.pk))

        assert {(one.code, one.record, one.field) for one in found.noticed} == {("missing", "specimen", "reading")}
        assert len(found.noticed) == len(made.planned["order"])


def test_filled_in_it_is_a_study_that_follows_the_plan():
    made = lodged()
    study = followed_up(made)

    assert study.plan == made
    assert written(study)["study"]["plan"] == made.pk
    assert draft_of(written(study), study).study.plan_id == made.pk
    assert [one.joint_id for one in study.series.order_by("label")] == ["mt_blind", "dowel", "solid", "butt"]
    assert study.series.get(label="A").control.joint_id == "butt"
    assert deviations(made, study) == []


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("no. 7 or so", "not-a-plan", "no number of a plan"),
        ("999999", "unknown-plan", "There is no plan 999999"),
        ("12345678901234567890", "not-a-plan", "no number"),
    ],
)
def test_what_is_no_plan_is_refused_at_its_cell(text, code, words):
    def say(book):
        for row in book["study"].iter_rows(min_row=2):
            if row[0].value == "plan":
                row[1].value = text

    (found,) = (one for one in looked_at(filled(lodged(), change=say)).noticed if one.field == "plan")

    assert (found.code, found.severity, found.record) == (code, "error", "study")
    assert words in found.message


@pytest.mark.parametrize("text", ["{0}", "plan {0}", "Plan no. {0}", "#{0}", "https://book.example/plans/{0}/"])
def test_plan_is_read_as_people_write_it(text):
    made = lodged()

    def say(book):
        for row in book["study"].iter_rows(min_row=2):
            if row[0].value == "plan":
                row[1].value = text.format(made.pk)

    assert looked_at(filled(made, change=say)).draft.study.plan == made


def test_plan_of_somebody_else_can_not_be_followed_up():
    found = looked_at(filled(lodged("other")))

    assert [one.code for one in found.noticed if one.field == "plan"] == ["plan-of-another"]
    assert not found.may_be_saved


def test_withdrawn_plan_can_not_be_followed_up():
    made = withdraw(lodged(), make_user(), "The oak has gone.")

    assert [one.code for one in looked_at(filled(made)).noticed if one.field == "plan"] == ["plan-withdrawn"]


def test_demonstration_and_checks_without_a_sender_look_at_no_owner():
    made = lodged("other")
    rows = read_rows(filled(made), "xlsx")

    assert check(rows).study.values["plan"] == examine(rows).draft.study.plan == made


@pytest.mark.parametrize(
    ("tested_on", "before", "words"),
    [
        ("2026-04-02", True, "Lodged on 10 March 2026, tested 2026-04-02."),
        ("2026-03-10", True, "tested 2026-03-10"),
        ("2026-03-09", False, "from before the plan was lodged"),
        ("2026-04", True, "tested 2026-04"),
        ("2026-03", False, "which came first can't be told"),
        ("2026", False, "which came first can't be told"),
        ("2025", False, "from before the plan was lodged"),
        ("2027", True, ""),
        ("", False, "doesn't say when it was tested"),
    ],
)
def test_planned_before_tested_goes_by_the_day_of_testing(tested_on, before, words):
    study = make_study(tested_on=tested_on)

    found, why = planned_before(lodged(), study)

    assert found is before
    assert words in why


def test_evening_before_utc_midnight_is_still_the_day_of_lodging_to_the_west():
    made = lodged(at=datetime(2026, 3, 10, 2, tzinfo=UTC))

    assert planned_before(made, make_study(tested_on="2026-03-09"))[0]
    assert not planned_before(made, make_study(tested_on="2026-03-08"))[0]


def test_study_that_was_in_the_book_before_is_not_marked():
    study = make_study(tested_on="2026-04-02")
    Study.objects.filter(pk=study.pk).update(created_at=LODGED_AT - timedelta(days=1))
    study.refresh_from_db()

    before, why = planned_before(lodged(), study)

    assert not before
    assert "in the book before the plan was lodged" in why


def otherwise(change, **more) -> dict[str, tuple[str, str]]:
    """What a study did otherwise, after a change of its workbook."""
    made = lodged(title=f"Otherwise: {change.__name__}")
    study = followed_up(made, change=change, **more)
    return {one.about: (one.planned, one.tested) for one in followed(study).deviations}


def _cell(sheet, heading: str, row: int):
    return sheet.cell(row, [cell.value for cell in sheet[1]].index(heading) + 1)


def test_specimens_left_out_and_void_are_shown():
    def change(book):
        sheet = book["specimens"]
        assert _cell(sheet, "specimen", 4).value == "A3"
        sheet.delete_rows(4)
        row = next(at for at in range(2, sheet.max_row) if _cell(sheet, "specimen", at).value == "B2")
        _cell(sheet, "outcome", row).value, _cell(sheet, "reading", row).value = "void", None
        _cell(sheet, "void reason", row).value = "the clamp slipped"

    assert otherwise(change) == {
        "specimens of blind mortise and tenon": ("3", "2"),
        "void, dowel": ("none", "1 of 3: the rig failed"),
    }


def test_a_joint_left_out_and_another_are_shown():
    def change(book):
        series = book["series"]
        _cell(series, "joint", 3).value = "Box joint"

    assert otherwise(change) == {
        "specimens of dowel": ("3 specimens", "none"),
        "another joint": ("not planned", "Box joint, 3 specimens"),
    }


def test_timber_glue_and_sizes_are_shown():
    def change(book):
        series = book["series"]
        _cell(series, "timber", 2).value = "Ash, white"
        _cell(series, "adhesive", 3).value = "hide_hot"
        _cell(series, "member depth", 2).value = "60 mm"
        _cell(series, "member thickness", 2).value = "20.3 mm"  # measured, not changed

    found = otherwise(change)

    assert found["timber"] == ("Oak, northern red", "Ash, white (series A)")
    assert found["member depth"] == ("40 mm", "60 mm (series A)")
    assert found["glue"] == ("PVA, general purpose", "Hide glue, hot (series B)") and "member thickness" not in found


def test_arm_instrument_and_loading_are_shown():
    def arm(book):
        _cell(book["setups"], "arm", 2).value = "400 mm"
        _cell(book["setups"], "instrument", 2).value = "Bathroom scale"

    def loading(book):
        _cell(book["setups"], "loading", 2).value = "Withdrawal"

    assert otherwise(arm) == {
        "arm": ("12 in", "400 mm (all series)"),
        "read on": ("luggage scale", "bathroom scale (all series)"),
    }
    assert otherwise(loading)["loading"] == ("Cantilever arm", "Withdrawal (all series)")


def test_followers_are_those_that_a_reader_may_see():
    made = lodged()
    study = followed_up(made)

    assert followers(made, Study.objects.public()) == []
    assert waiting_for([made]) == {made.pk: []}
    accept(study)
    assert [one.study for one in followers(made, Study.objects.public())] == [study]
    assert waiting_for([made]) == {made.pk: [study]}


def test_study_without_a_plan_follows_none():
    assert followed(make_study()) is None


def test_spreadsheet_of_a_plan_that_is_not_lodged_names_none():
    from results.practice.plan_document import document

    found = examine(read_rows(plan_xlsx(document(planned())), "xlsx"))

    assert "plan" not in found.checked.study.values
