"""A form sent again after it was saved, and a saved study taken back into the form."""

from __future__ import annotations

import html
import re
import uuid

import pytest
from django.urls import reverse

from results.intake.examine import examine
from results.intake.same import same
from results.models import Study
from results.review.decide import withdraw
from results.review.hand_in import hand_in
from tests.factories import accept, make_setup, make_user
from tests.results.intake.made import examine_file, flat, four_sheets, sent, workbook

from .forms import form, post, save, values_of
from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

FORM = "/submit/form/"


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


# the same form, sent again


def test_form_sent_again_with_other_content_changes_nothing_and_says_so(client, owner):
    data = form()
    save(client, data)
    study = Study.objects.get()
    client.get(study.get_absolute_url())  # where the first save is told
    corrected = data | {"setup-arm": "310", "specimen-1-0-reading": "181"}

    page = post(client, corrected)

    assert page.status_code == 409
    assert "Nothing was changed: this form was handed in before" in text(page)
    assert "Handed in:" not in text(page)
    assert f'href="{study.get_absolute_url()}"' in page.content.decode()
    kept = values_of(page)
    assert {name: kept.get(name, "") for name in data} == corrected
    study.refresh_from_db()
    assert study.setups.get().arm_mm == 300.0
    assert Study.objects.count() == 1


def test_form_sent_again_goes_on_as_a_new_study_under_a_fresh_key(client, owner):
    data = form()
    save(client, data)
    refused = values_of(post(client, data | {"setup-arm": "310"}))

    page = post(client, refused, "anew")

    assert page.status_code == 200
    assert Study.objects.count() == 1  # it is shown first
    again = values_of(page)
    assert again["key"] != data["key"]
    assert post(client, again, "save").status_code == 302
    assert [one.setups.get().arm_mm for one in Study.objects.order_by("id")] == [300.0, 310.0]


@pytest.mark.parametrize(
    "change",
    [
        {"study-title": "Rails into legs"},
        {"study-notes": "The arm was 310."},
        {"setup-friction": "0.1"},
        {"shared-timber": "Ash, white"},
        {"series-1-control": ""},
        {"series-1-series": "Tenons"},
        {"specimen-1-3-reading": "132"},
        {"specimen-1-3-reading": "131.0"},
        {"specimen-1-3-failure_place": "bond_line"},
        {"specimen-1-4-reading": "131"},
        {"specimen-1-3-reading": ""},
        {"specimen-1-3-reading": "far"},
    ],
)
def test_form_sent_again_with_any_change_is_not_called_saved(client, owner, change):
    data = form()
    save(client, data)

    assert post(client, data | change).status_code == 409


@pytest.mark.parametrize("change", [{}, {"study-title": " Rails into  posts "}, {"shared-timber": "oak_northern_red"}])
def test_form_sent_again_saying_the_same_leads_to_the_study(client, owner, change):
    data = form() | {"series-0-results": "single"}
    save(client, data)

    answer = post(client, data | change)

    assert answer.headers["Location"] == Study.objects.get().get_absolute_url()


def test_form_with_a_mean_sent_again_leads_to_the_study_only_if_it_says_the_same(client, owner):
    data = {name: value for name, value in form().items() if not name.startswith("specimen-0-")}
    data |= {"series-0-mean": "40", "series-0-sd": "2", "series-0-n": "6", "series-0-results": "mean"}
    save(client, data)

    assert post(client, data).status_code == 302
    assert post(client, data | {"series-0-n": "7"}).status_code == 409


def test_form_sent_again_after_its_study_was_withdrawn_does_not_say_saved(client, owner):
    data = form()
    save(client, data)
    withdraw(accept(Study.objects.get()), owner, "the arm was measured wrongly")

    page = post(client, data)

    assert page.status_code == 409
    assert "which was withdrawn since" in text(page)
    assert "as a change of that study" not in text(page)


# a saved study, back in the form


def _saved(examination, user) -> Study:
    return hand_in(examination.draft, user, examination.noticed, uuid.uuid4())


def _comes_back_the_same(client, study: Study) -> None:
    """The form filled in from a study, sent as it is, would save that study once more."""
    page = client.get(FORM, {"from": study.pk})
    assert page.status_code == 200
    again = post(client, values_of(page))
    assert again.status_code == 200, [one.message for one, _ in again.context["findings"]]
    post(client, values_of(again), "save")
    new = Study.objects.exclude(pk=study.pk).get()
    assert new.submission_key != study.submission_key
    assert _plain(new) == _plain(study)


def _plain(study: Study) -> list:
    """What a study says, without what depends on where a unit was typed."""
    skip = {"id", "study_id", "setup_id", "series_id", "control_id", "typed", "submission_key", "reading_typed"}
    skip |= {"created_at", "changed_at", "accepted_at", "_state", "mean_typed", "sd_typed"}

    def of(record) -> dict:
        return {name: value for name, value in vars(record).items() if name not in skip and "cache" not in name}

    found = [of(study), *(of(one) for one in study.setups.all())]
    for one in study.series.all():
        found += [of(one), one.control.label if one.control else None, *(of(each) for each in one.specimens.all())]
        found += [of(one.summary)] if one.is_summary else []
    return found


def test_new_form_from_a_study_holds_what_was_typed(client, owner):
    data = form(specimen__0__1__notes="cracked <i>first</i>", setup__arm="11 3/4 in", shared__density="680")
    save(client, data)
    study = Study.objects.get()

    page = client.get(FORM, {"from": study.pk})

    kept = values_of(page)
    assert kept["key"] != data["key"]
    assert kept["setup-arm"] == "11 3/4 in"
    assert kept["setup-reading_unit"] == "kg"
    assert kept["shared-timber"] == "Oak, northern red"
    assert kept["series-1-control"] == "0"
    assert kept["series-1-tenon_length"] == "30 mm"
    assert [kept[f"specimen-1-{row}-reading"] for row in range(4)] == ["118", "120", "125", "131"]
    assert kept["specimen-0-1-notes"] == "cracked <i>first</i>"
    assert kept["series-1-timber"] == ""  # said once for all
    assert "This will be a new study" in text(page)


def test_new_form_from_a_study_saves_the_same_again(client, owner):
    save(client, form(shared__density="42 lb/ft3", shared__cure="200", setup__rate="10", study__tested_on="2025-03"))

    _comes_back_the_same(client, Study.objects.get())


def test_new_form_from_a_mean_and_a_jack_gauge_saves_the_same_again(client, owner):
    changed = {"setup instrument": "jack_gauge", "setup ram diameter": "25 mm", "setup reading unit": "bar"}
    rows = [{**row, **changed, "specimen reading": "20"} for row in flat()]
    rows[1]["specimen reading"] = "290 psi"
    rows[2] |= {"specimen reading": "", "specimen outcome": "void", "specimen void reason": "slipped"}
    rows.append({"series": "B", "series joint": "butt", "series mean": "9 bar", "series sd": "1", "series n": "8"})

    _comes_back_the_same(client, _saved(sent(rows), owner))


def test_new_form_from_a_file_with_decimal_commas_reads_as_the_file_did(client, owner):
    rows = flat({"specimen reading": "1.240 N"}, {"specimen reading": "1240,5 N"}, setup_arm="312,25 mm")
    rows[2] |= {"specimen reading": "1.300,5 N"}
    rows[3] |= {"specimen reading": "1250,25 N"}
    rows[4] |= {"specimen reading": "1260 N"}
    study = _saved(sent(rows, ";"), owner)
    assert study.series.get().specimens.first().peak_load_n == 1240.0

    _comes_back_the_same(client, study)


def test_new_form_from_a_shear_test_saves_the_same_again(client, owner):
    data = form(setup__loading="block_shear", shared__tests="bond", setup__arm="")
    data |= {"series-0-joint": "lap_plain", "series-1-joint": "lap_plain", "shared-bond_length": "40"}
    data |= {"shared-bond_width": "20", "series-1-adhesive": "epoxy"}
    save(client, data)

    _comes_back_the_same(client, Study.objects.get())


def test_new_form_from_a_study_is_for_its_owner(client, owner):
    study = a_shop(contributor=make_user("somebody else"))

    assert client.get(FORM, {"from": study.pk}).status_code == 404
    for asked in ("", "x", "0", "-1", "٣", "9" * 30):
        assert client.get(FORM, {"from": asked}).status_code == 404


def test_new_form_from_a_study_of_two_rigs_leads_back_and_says_why(client, owner):
    study = a_shop(contributor=owner)
    make_setup(study)

    answer = client.get(FORM, {"from": study.pk}, follow=True)

    assert answer.redirect_chain == [(study.get_absolute_url(), 302)]
    assert "The form holds one rig and a few series" in text(answer)
    assert "download it as a spreadsheet to edit" in text(answer)
    assert "?from=" not in answer.content.decode()


def test_study_offers_its_owner_to_change_it_and_a_new_one_from_it(client, owner):
    mine, other = a_shop(contributor=owner), a_shop(contributor=make_user("somebody else"))

    page = client.get(mine.get_absolute_url())
    assert f'href="{FORM}?change={mine.pk}"' in page.content.decode()
    assert f'href="{reverse("submit:change-sheet", args=[mine.pk])}"' in page.content.decode()
    assert f'href="{FORM}?from={mine.pk}"' in page.content.decode()
    assert f"{FORM}?change={mine.pk}" in client.get(reverse("submit:withdraw", args=[mine.pk])).content.decode()
    assert "Put it right" not in text(client.get(other.get_absolute_url()))
    withdraw(mine, owner, "the arm was measured wrongly")
    page = client.get(mine.get_absolute_url())
    assert "Start a new one from this" in text(page)
    assert "?change=" not in page.content.decode()


def test_same_looks_at_every_record(client, owner):
    first = examine_file(workbook(four_sheets()), "a.xlsx")
    study = _saved(first, owner)

    assert same(examine(first.rows).draft, study)
    sheets = four_sheets()
    sheets["setups"][1][-1] = 301
    assert not same(examine_file(workbook(sheets), "a.xlsx").draft, study)


# pages that say where the fault is


def test_form_tells_one_wrong_unit_once(client, owner):
    page = post(client, form(setup__instrument="jack_gauge", setup__ram_diameter="25", setup__reading_unit="lbf"))

    assert [(one.code, anchor) for one, anchor in page.context["findings"]] == [
        ("wrong-unit-kind", "setup-reading_unit")
    ]


def test_form_tells_a_blank_unit_once_where_all_readings_want_it(client, owner):
    page = post(client, form(setup__reading_unit=""))

    assert "Reading unit is blank, and 8 readings have no unit of their own." in text(page)
    assert [anchor for _, anchor in page.context["findings"]] == ["setup-reading_unit"]


@pytest.mark.parametrize("name", ["", "Butt"])
def test_form_tells_a_series_without_a_name_of_its_own_once(client, owner, name):
    page = post(client, form(series__1__series=name))

    assert [anchor for _, anchor in page.context["findings"]] == ["series-1-series"]


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("setup-loading", "Loading 'qqqqq' is not in the vocabulary. Choose a word from the form's list 'loading'."),
        ("series-1-joint", "Joint 'qqqqq' is not in the vocabulary. Choose a word from the form's list 'joint'."),
    ],
)
def test_form_names_the_list_that_holds_the_words(client, owner, field, said):
    page = post(client, form() | {field: "qqqqq"})

    beside = re.search(rf'<div id="{field}-found">(.*?)</div>', html.unescape(page.content.decode()), re.DOTALL)
    assert said in beside[1]


def test_form_offers_no_decimal_sign_to_be_said(client, owner):
    page = post(client, form(setup__arm="1,250"))

    assert "may mean 1250 or 1.250. Write 1250 or 1.250." in text(page)
    assert "decimal sign" not in text(page)


@pytest.mark.parametrize("typed", ["11 3/4 in", "298.45 mm"])
def test_study_shows_lengths_in_the_figures_of_the_preview(client, owner, typed):
    data = form(setup__arm=typed)
    assert "298.45 mm" in text(post(client, data))
    save(client, data)

    shown = text(client.get(Study.objects.get().get_absolute_url()))

    assert f"arm {typed} 298.45 mm" in shown
    assert "a = 298.45 mm" in shown
