"""The form: exactly the fields needed, every fault beside its field, nothing typed ever lost, saved once."""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from results.intake.columns import RECORDS
from results.models import Study
from tests.factories import make_study, make_user

from .forms import form as _form
from .forms import post as _post
from .forms import readings as _readings
from .forms import save as _save
from .forms import values_of as _values

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


def test_start_offers_form_and_spreadsheet(client, owner):
    page = client.get(reverse("submit:start")).content.decode()

    assert "Cantilever arm (bending moment)" in page
    assert reverse("submit:template-xlsx") in page
    assert reverse("submit:send") in page


@pytest.mark.parametrize("name", ["start", "form", "template-xlsx", "template-csv"])
def test_pages_send_strangers_to_log_in_and_back(client, name):
    url = reverse(f"submit:{name}")

    assert client.get(url).headers["Location"] == f"{reverse('login')}?next={url}"


def test_posts_of_strangers_save_nothing(client):
    for name in ("form", "send"):
        assert client.post(reverse(f"submit:{name}"), _form()).status_code == 302
    assert not Study.objects.exists()


def test_form_asks_for_just_what_joints_and_loading_need(client, owner):
    query = "?loading=cantilever_arm&instrument=jack_gauge&joint=butt&joint=mt_blind&joint=dowel&specimens=3"
    page = client.get(reverse("submit:form") + query)

    first = [f.column for f in page.context["shown"].setup.fields]
    assert first == ["loading", "instrument", "length unit", "reading unit", "ram diameter", "arm", "arm reference"]
    series = page.context["shown"].series
    assert [f.column for f in series[0].fields] == ["series", "joint", "control"]
    assert [f.column for f in series[1].fields][3:] == ["tenon length", "tenon depth"]
    assert [f.column for f in series[2].fields][3:] == ["fastener diameter", "fastener depth", "fasteners"]
    shared = [f.column for f in page.context["shown"].shared.fields]
    assert {"member thickness", "member depth", "timber", "adhesive"} <= set(shared)
    assert [len(one.specimens) for one in series] == [3, 3, 3]
    values = _values(page)
    assert values["series-1-control"] == "0"  # the butt joint is offered as the control
    assert values["series-2-series"] == "Dowel"
    assert values["study-licence"] == "CC-BY-4.0"


def test_form_for_corner_asks_for_legs_and_not_for_an_arm(client, owner):
    page = client.get(reverse("submit:form") + "?loading=corner_closing&joint=mitre")

    columns = [f.column for f in page.context["shown"].setup.fields]
    assert "leg" in columns
    assert "arm" not in columns
    assert "arm" in [f.column for f in page.context["shown"].setup.more]


def test_form_remembers_workshop_and_licence_of_the_last_study(client, owner):
    make_study(contributor=owner, workshop="My shed", licence="CC0-1.0")

    values = _values(client.get(reverse("submit:form")))

    assert (values["study-workshop"], values["study-licence"]) == ("My shed", "CC0-1.0")


def test_form_laid_out_by_a_hand_written_address_still_opens(client, owner):
    page = client.get(reverse("submit:form") + "?loading=nope&joint=nope&specimens=99999999&joint=butt")

    assert page.status_code == 200
    assert len(page.context["shown"].series[0].specimens) == 5


def test_form_shows_what_would_be_saved_then_saves_it(client, owner):
    data = _form(shared__cure="12")  # so soon after glue-up that it is worth a remark
    page = _post(client, data)
    assert page.status_code == 200
    text = page.content.decode()
    assert "Hand in as typed" in text
    assert "118 kg" in text and "1 160" in text
    assert not Study.objects.exists()

    saved = _post(client, data | {"seen": page.context["seen"]}, "save")

    study = Study.objects.get()
    assert saved.headers["Location"] == study.get_absolute_url()
    assert study.contributor == owner
    tenon = study.series.get(label="Tenon")
    assert (tenon.control.label, tenon.timber_id, tenon.adhesive_id) == ("Butt", "oak_northern_red", "pva")
    assert (tenon.member_depth_mm, tenon.tenon_length_mm) == (40.0, 30.0)
    assert [one.reading_typed for one in tenon.specimens.all()] == ["118", "120", "125", "131"]
    assert study.series.get(label="Butt").footings.get(code="ratio_solid").n == 4


@pytest.mark.parametrize("do", ["check", "save"])
def test_form_without_anything_to_remark_is_shown_before_it_is_saved(client, owner, do):
    data = _form(shared__cure="200")

    page = _post(client, data, do)

    assert page.status_code == 200
    assert not Study.objects.exists()
    text = page.content.decode()
    assert "Nothing looks wrong; it is not handed in yet" in text
    assert "1 160" in text  # 118 kg in newtons
    assert re.search(r'value="save">(.*?)</button>', text)[1] == "Hand in"
    assert _post(client, data | {"seen": page.context["seen"]}, "save").status_code == 302
    assert Study.objects.count() == 1


def test_form_changed_below_a_clean_preview_is_shown_again(client, owner):
    data = _form(shared__cure="200")
    seen = _post(client, data).context["seen"]

    page = _post(client, data | {"seen": seen, "setup-arm": "310"}, "save")

    assert page.status_code == 200
    assert not Study.objects.exists()


def test_form_sent_twice_is_saved_once(client, owner):
    data = _form(shared__cure="200")

    first, second = _save(client, data), _post(client, data)

    assert first.headers["Location"] == second.headers["Location"]
    assert Study.objects.count() == 1


def test_form_of_another_with_the_same_key_is_saved_as_theirs(client, owner):
    data = _form(shared__cure="200")
    _save(client, data)
    stranger = make_user("stranger")
    client.force_login(stranger)

    _save(client, data)

    assert [one.contributor.username for one in Study.objects.order_by("id")] == ["owner", "stranger"]


def test_form_with_doubts_is_shown_before_it_is_saved(client, owner):
    data = _form(setup__arm="6")

    page = _post(client, data, "save")

    assert page.status_code == 200
    assert "Arm &#x27;6&#x27; is 6.00 mm; 20 to 4000 mm is usual" in page.content.decode()
    assert "Hand in as typed" in page.content.decode()
    assert not Study.objects.exists()
    _post(client, data | {"seen": page.context["seen"]}, "save")
    assert Study.objects.count() == 1


def test_form_changed_after_its_doubts_were_shown_is_shown_again(client, owner):
    seen = _post(client, _form(setup__arm="6")).context["seen"]

    page = _post(client, _form(setup__arm="7") | {"seen": seen}, "save")

    assert page.status_code == 200
    assert not Study.objects.exists()


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("study-title", "", "Title is blank; it is needed."),
        ("setup-arm", "300 kg", "Arm '300 kg': kg is a mass. A length needs mm"),
        ("shared-timber", "nothern red oak", "Did you mean Oak, northern red"),
        ("shared-member_depth", "-4", "Member depth '-4' must be above 0 mm."),
        ("series-1-tenon_length", "1,240", "Tenon length '1,240' may mean 1240 or 1.240."),
        ("series-1-joint", "", "Joint is blank; it is needed."),
        ("specimen-1-2-reading", "12 mm", "Reading '12 mm': mm is a length. A load needs N"),
        ("specimen-0-1-wood_failure", "140", "Wood failure '140' must be 0 to 100 %."),
        ("specimen-0-1-notes", "a\x00b", "holds a character that can't be kept (U+0000)"),
        ("specimen-0-5-failure_place", "bond_line", "Reading is blank, but the specimen broke."),
    ],
)
def test_form_shows_each_fault_beside_its_field_and_keeps_all_that_was_typed(client, owner, name, value, message):
    data = _form() | {name: value}

    page = _post(client, data)

    assert page.status_code == 422
    assert not Study.objects.exists()
    text = html.unescape(page.content.decode())
    at = "specimen-0-5-reading" if name == "specimen-0-5-failure_place" else name
    beside = re.search(rf'<div id="{at}-found">(.*?)</div>', text, re.DOTALL)
    assert beside and message in beside[1]
    tag = re.search(rf'<(?:input|select|textarea) id="{at}"[^>]*>', text)[0]
    assert 'aria-invalid="true"' in tag
    assert f"{at}-found" in re.search(r'aria-describedby="([^"]*)"', tag)[1].split()
    assert f'href="#{at}"' in text  # and from the list on top one gets there
    kept = _values(page)
    assert {key: kept.get(key, "") for key in data if key not in ("seen",)} == data


def test_form_tells_a_shared_fault_once(client, owner):
    page = _post(client, _form(shared__timber="nothern red oak"))

    assert [one.code for one, _ in page.context["findings"]] == ["unknown-word"]


def test_form_keeps_everything_when_rows_and_series_are_added(client, owner):
    data = _form(specimen__0__1__notes="cracked <i>first</i>", study__title="half-typed")

    page = _post(client, data, "rows-0")

    assert page.status_code == 200
    kept = _values(page)
    assert len(page.context["shown"].series[0].specimens) == 11
    assert {key: kept.get(key) for key in data if key != "series-0-rows"} == {
        key: value for key, value in data.items() if key != "series-0-rows"
    }

    page = _post(client, data | {"add-joint": "dowel"}, "add-series")
    kept = _values(page)
    assert (kept["series-count"], kept["series-2-series"], kept["series-2-joint"]) == ("3", "Dowel", "dowel")
    assert kept["specimen-0-1-notes"] == "cracked <i>first</i>"
    assert not page.context["findings"]


def test_form_takes_out_a_series_and_keeps_the_others(client, owner):
    page = _post(client, _form(), "drop-0")

    kept = _values(page)
    assert (kept["series-count"], kept["series-0-series"], kept["series-0-control"]) == ("1", "Tenon", "")
    assert kept["specimen-0-0-reading"] == "118"


def test_form_keeps_a_word_it_does_not_offer(client, owner):
    page = _post(client, _form(setup__instrument="my own gauge"), "refresh")

    assert _values(page)["setup-instrument"] == "my own gauge"


def test_form_keeps_sizes_that_another_joint_would_need(client, owner):
    page = _post(client, _form(series__1__joint="butt"), "refresh")

    assert _values(page)["series-1-tenon_length"] == "30"


def test_form_takes_a_mean_alone(client, owner):
    data = {k: v for k, v in _form(shared__cure="200").items() if not k.startswith("specimen-0-")}
    data |= {"series-0-mean": "40", "series-0-sd": "2", "series-0-n": "6", "series-0-results": "mean"}

    answer = _save(client, data)

    assert answer.status_code == 302, [one.message for one, _ in answer.context["findings"]]
    summary = Study.objects.get().series.get(label="Butt").summary
    assert (summary.mean_typed, summary.sd_typed, summary.n) == ("40 kg", "2 kg", 6)


def test_form_refuses_a_mean_beside_single_results_and_shows_both(client, owner):
    page = _post(client, _form(series__0__mean="40", series__0__results="mean"))

    assert page.status_code == 422
    assert page.context["shown"].series[0].both
    assert "Mean '40' was given, and 4 single results too." in html.unescape(page.content.decode())


def test_form_points_a_series_without_results_at_its_first_reading(client, owner):
    data = {k: v for k, v in _form().items() if not re.match(r"specimen-0-\d-reading", k)}

    page = _post(client, data)

    assert [anchor for one, anchor in page.context["findings"] if one.code == "no-results"] == ["specimen-0-0-reading"]


def test_form_numbers_specimens_as_its_lines_do(client, owner):
    data = _form(shared__cure="200", specimen__0__1__reading="", specimen__0__4__specimen="last")
    data["specimen-0-4-reading"] = "40"

    _save(client, data)

    labels = Study.objects.get().series.get(label="Butt").specimens.values_list("label", flat=True)
    assert list(labels) == ["1", "3", "4", "last"]


def test_form_gives_what_is_shared_only_to_the_joints_it_concerns(client, owner):
    data = _form(series__0__joint="solid", series__0__series="Solid bar", shared__cure="200")
    data |= _readings(0, ["205", "212", "198", "207"])

    answer = _save(client, data)

    assert answer.status_code == 302, [one.message for one, _ in answer.context["findings"]]
    solid = Study.objects.get().series.get(label="Solid bar")
    assert (solid.adhesive, solid.timber_id, solid.member_depth_mm) == (None, "oak_northern_red", 40.0)


def test_form_lets_one_series_differ_from_the_rest(client, owner):
    answer = _save(client, _form(shared__cure="200", series__1__timber="Ash, white"))

    assert answer.status_code == 302, [one.message for one, _ in answer.context["findings"]]
    assert Study.objects.get().series.get(label="Tenon").timber_id == "ash_white"


def test_form_shows_markup_as_text(client, owner):
    page = _post(client, _form(study__title="<script>alert(1)</script>", study__workshop=""))

    text = page.content.decode()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text


def test_form_has_every_column_of_the_registry_somewhere(client, owner):
    page = client.get(reverse("submit:form") + "?loading=torsion&joint=mt_haunched")

    names = set(_values(page))
    for record, prefix in (("study", "study"), ("specimen", "specimen-0-0")):
        for column in RECORDS[record]:
            if column.name != "series":
                assert f"{prefix}-{column.name.replace(' ', '_')}" in names
    for column in RECORDS["setup"]:
        if column.name not in ("setup",):
            assert f"setup-{column.name.replace(' ', '_')}" in names


def test_form_labels_every_input(client, owner):
    text = client.get(reverse("submit:form") + "?loading=cantilever_arm&joint=butt").content.decode()

    inputs = re.findall(r'<(?:input|select|textarea) id="([^"]*)"', text)
    assert len(inputs) > 40
    assert set(inputs) <= set(re.findall(r'<label for="([^"]*)"', text))
    assert len(inputs) == len(set(inputs))


def test_form_sent_with_nonsense_in_its_own_fields_is_answered(client, owner):
    data = _form() | {"series-count": "999999999999", "series-0-rows": "-4", "key": "nope", "seen": "x"}

    assert _post(client, data).status_code == 422
    assert _post(client, data, "drop-77").status_code == 200
    assert _post(client, {}, "save").status_code == 422


def test_templates_are_files_to_keep(client, owner):
    answer = client.get(reverse("submit:template-xlsx") + "?joint=butt&specimens=3")
    assert answer.content.startswith(b"PK")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="breakbook-template.xlsx"'
    answer = client.get(reverse("submit:template-csv"))
    assert answer.content.decode("utf-8-sig").startswith("study title,study question")


def test_withdraw_is_for_the_owner_with_a_reason(client, owner):
    study = make_study(contributor=owner)
    url = reverse("submit:withdraw", args=[study.pk])

    page = client.post(url, {"reason": " "})
    assert page.status_code == 422
    assert "The reason is blank; say why" in page.content.decode()
    assert client.get(url).status_code == 200

    assert client.post(url, {"reason": "the arm was measured wrongly"}).status_code == 302
    study.refresh_from_db()
    assert (study.status, study.withdrawn_reason) == ("withdrawn", "the arm was measured wrongly")


def test_withdraw_is_refused_to_strangers(client):
    study = make_study(contributor=make_user("owner"))
    url = reverse("submit:withdraw", args=[study.pk])

    assert client.post(url, {"reason": "x"}).headers["Location"].startswith(reverse("login"))
    client.force_login(make_user("stranger"))
    assert client.post(url, {"reason": "x"}).status_code == 403
    study.refresh_from_db()
    assert study.status == "accepted"
    draft = make_study(contributor=make_user("owner"), status="draft")
    assert client.post(reverse("submit:withdraw", args=[draft.pk]), {"reason": "x"}).status_code == 404
