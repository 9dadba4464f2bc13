"""A study changed by its contributor: in the form and by its spreadsheet, differences shown before they are saved."""

from __future__ import annotations

import html
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from results.models import FormDraft, Revision, Rig, Study, Upload
from results.review.decide import withdraw
from tests.factories import accept, make_user

from .forms import form, post, save, values_of
from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
FORM = "/submit/form/"


@pytest.fixture(autouse=True)
def _kept_apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


@pytest.fixture
def study(client, owner):
    save(client, form(shared__cure="200", setup__arm="11 3/4 in"))
    return Study.objects.get()


def opened(client, study):
    return values_of(client.get(FORM, {"change": study.pk}))


def differing(page):
    return [(one.where, one.field, one.before, one.after) for one in page.context["compared"].first]


WHY = {"why": "the arm was measured wrongly"}


# in the form


def test_change_opens_filled_in_with_what_was_typed(client, study):
    page = client.get(FORM, {"change": study.pk})

    kept = values_of(page)
    assert (kept["setup-arm"], kept["series-1-tenon_length"], kept["specimen-1-2-reading"]) == (
        "11 3/4 in",
        "30 mm",
        "125",
    )
    assert (kept["change"], kept["based_on"], kept["version"]) == (str(study.pk), "1", "0")
    assert "Why do you change it?" in text(page)
    assert f"Change “{study.title}”" in text(page)


def test_change_shows_what_differs_and_then_changes_a_waiting_study_at_once(client, study):
    before = dict(study.series.get(label="Tenon").specimens.values_list("label", "pk"))
    data = opened(client, study) | WHY | {"setup-arm": "12 in", "specimen-1-2-reading": "126"}

    page = post(client, data)

    assert page.status_code == 200
    told = differing(page)
    assert [(where, field) for where, field, *_ in told] == [
        ("setup the rig", "arm"),
        ("specimen 3 of series Tenon", "reading"),
    ]
    assert told[0][2].startswith("11 3/4 in") and told[0][3].startswith("12 in")
    assert study.setups.get().arm_mm == pytest.approx(298.45)
    assert ">Hand in the change</button>" in page.content.decode()

    answer = post(client, values_of(page), "save")

    assert answer.headers["Location"] == study.get_absolute_url()
    assert study.setups.get().arm_mm == pytest.approx(304.8)
    assert dict(study.series.get(label="Tenon").specimens.values_list("label", "pk")) == before
    newest = study.revisions.get(number=2)
    assert (newest.state, newest.why) == ("submitted", WHY["why"])
    assert not FormDraft.objects.exists()
    assert Study.objects.count() == 1


def test_change_of_an_accepted_study_waits_and_the_study_stays_as_it_is(client, study):
    accept(study)
    data = opened(client, study) | WHY | {"setup-arm": "12 in"}

    answer = post(client, values_of(post(client, data)), "save")

    assert "waits for review; until then the study stays as it is" in text(client.get(answer.headers["Location"]))
    study.refresh_from_db()
    assert study.status == "accepted"
    assert study.setups.get().arm_mm == pytest.approx(298.45)
    # A change to the change begins from what waits.
    again = opened(client, study)
    assert (again["setup-arm"], again["based_on"]) == ("12 in", "2")


@pytest.mark.parametrize("why", ["", "  "])
def test_change_wants_a_reason(client, study, why):
    page = post(client, opened(client, study) | {"setup-arm": "12 in", "why": why})

    assert page.status_code == 422
    assert [(one.code, where) for one, where in page.context["findings"] if one.severity == "error"] == [
        ("missing", "why")
    ]
    assert 'id="why-found"' in page.content.decode()


def test_change_that_says_the_same_is_not_offered_to_be_saved(client, study):
    page = post(client, opened(client, study) | WHY)

    assert page.context["compared"].nothing
    assert "No differences: this says what the study says already" in text(page)
    assert 'value="save"' not in page.content.decode()


def test_change_saved_twice_is_one_revision(client, study):
    data = values_of(post(client, opened(client, study) | WHY | {"setup-arm": "12 in"}))

    first, second = post(client, data, "save"), post(client, data, "save")

    assert first.status_code == second.status_code == 302
    assert Revision.objects.count() == 2


def test_change_based_on_what_was_changed_since_shows_both_and_overwrites_nothing(client, study):
    mine = values_of(post(client, opened(client, study) | WHY | {"setup-arm": "12 in", "key": "1" * 32}))
    theirs = values_of(post(client, mine | {"setup-arm": "310 mm", "key": "2" * 32, "version": "0"}))
    assert post(client, theirs, "save").status_code == 302

    page = post(client, mine, "save")

    assert page.status_code == 409
    assert "The study was changed since you began; nothing was overwritten" in text(page)
    since, of_mine = page.context["since"], page.context["of_mine"]
    assert [(one.field, one.after) for one in since.first] == [("arm", "310 mm")]
    assert [one.before for one in of_mine.first] == ["310 mm"]
    kept = values_of(page)
    assert kept["setup-arm"] == "12 in"
    assert study.setups.get().arm_mm == 310

    rebased = post(client, kept, "rebase")
    assert rebased.status_code == 200
    assert [one[:2] for one in differing(rebased)] == [("setup the rig", "arm")]
    assert post(client, values_of(rebased), "save").status_code == 302
    assert study.setups.get().arm_mm == pytest.approx(304.8)


def test_change_that_was_begun_is_gone_on_with(client, study):
    data = opened(client, study) | {"setup-arm": "12 in"}
    post(client, data, "refresh")

    answer = client.get(FORM, {"change": study.pk})

    assert answer.headers["Location"] == f"{FORM}?draft={data['key']}"
    assert values_of(client.get(answer.headers["Location"]))["setup-arm"] == "12 in"
    assert f"Change of {study.title}" in text(client.get("/submit/"))


def test_change_is_for_its_contributor(client, study):
    client.force_login(make_user("stranger"))

    for name, args in (
        ("form", []),
        ("change-sheet", [study.pk]),
        ("study-xlsx", [study.pk]),
        ("study-csv", [study.pk]),
    ):
        query = {"change": study.pk} if name == "form" else {}
        assert client.get(reverse(f"submit:{name}", args=args), query).status_code == 404
    assert post(client, form() | {"change": str(study.pk), "based_on": "1"} | WHY, "save").status_code == 404
    assert client.get(FORM, {"change": "x"}).status_code == 404


def test_change_of_a_withdrawn_study_is_refused_with_a_word(client, study, owner):
    withdraw(accept(study), owner, "the arm was measured wrongly")

    for url in (f"{FORM}?change={study.pk}", reverse("submit:change-sheet", args=[study.pk])):
        assert "A withdrawn study can't be changed" in text(client.get(url, follow=True))


def test_change_of_a_study_too_large_for_the_form_leads_to_its_spreadsheet(client, owner):
    study = a_shop(contributor=owner)
    for at in range(101):
        study.series.first().specimens.create(
            label=f"more {at}", reading_typed="300", reading_unit="N", peak_load_n=300.0
        )

    answer = client.get(FORM, {"change": study.pk}, follow=True)

    assert answer.redirect_chain[0][0] == reverse("submit:change-sheet", args=[study.pk])
    assert "this study is changed by its spreadsheet" in text(answer)


def test_form_handed_in_before_can_become_a_change_of_that_study(client, owner):
    data = form(shared__cure="200")
    save(client, data)
    refused = values_of(post(client, data | {"setup-arm": "310"}))

    page = post(client, refused, "rechange")

    assert page.status_code == 422  # it wants a reason
    again = values_of(page)
    assert again["change"] == str(Study.objects.get().pk)
    page = post(client, again | WHY)
    assert [one[:2] for one in differing(page)] == [("setup the rig", "arm")]
    post(client, values_of(page), "save")
    assert Study.objects.get().setups.get().arm_mm == 310


# by its spreadsheet


def sheet(client, study, kind="xlsx"):
    answer = client.get(reverse(f"submit:study-{kind}", args=[study.pk]))
    assert answer.status_code == 200
    return answer


def send_back(client, study, data, name="study.xlsx"):
    sent = {"file": SimpleUploadedFile(name, data), "change": study.pk}
    return client.post(reverse("submit:send"), sent, follow=True)


def changed_arm(data: bytes, arm: str) -> bytes:
    book = load_workbook(io.BytesIO(data))
    names = [cell.value for cell in book["setups"][1]]
    book["setups"].cell(2, names.index("arm") + 1).value = arm
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_spreadsheet_sent_back_as_it_was_makes_no_difference(client, study, kind):
    answer = sheet(client, study, kind)
    assert f'filename="study-{study.pk}-revision-1.{kind}"' in answer.headers["Content-Disposition"]

    page = send_back(client, study, answer.content, f"study.{kind}")

    assert page.context["compared"].nothing, page.context["compared"].first
    assert "No differences: this says what the study says already" in text(page)
    assert "Hand in the change" not in text(page)


def test_spreadsheet_shows_its_differences_and_changes_the_study_only_then(client, study):
    page = send_back(client, study, changed_arm(sheet(client, study).content, "12 in"))

    assert [one[:2] for one in differing(page)] == [("setup the rig", "arm")]
    assert study.setups.get().arm_mm == pytest.approx(298.45)
    upload = Upload.objects.get()
    assert (upload.changes, upload.study, upload.revision) == (study, None, None)
    url = page.redirect_chain[-1][0]

    refused = client.post(url, {"based_on": "1", "why": " "})
    assert refused.status_code == 422
    assert "Why you change it is blank" in text(refused)
    answer = client.post(url, {"based_on": "1", **WHY})

    assert answer.headers["Location"] == study.get_absolute_url()
    assert study.setups.get().arm_mm == pytest.approx(304.8)
    upload.refresh_from_db()
    assert upload.revision == 2
    assert client.get(url).headers["Location"] == study.get_absolute_url()
    assert Study.objects.count() == 1


def test_spreadsheet_against_a_newer_study_overwrites_nothing(client, study):
    page = send_back(client, study, changed_arm(sheet(client, study).content, "12 in"))
    url = page.redirect_chain[-1][0]
    other = values_of(post(client, opened(client, study) | WHY | {"setup-arm": "310 mm"}))
    post(client, other, "save")

    late = client.post(url, {"based_on": "1", **WHY})

    assert late.status_code == 409
    assert "after you began; nothing of yours was saved over it" in text(late)
    assert study.setups.get().arm_mm == 310
    assert [one[2:] for one in differing(late)][0][0] == "310 mm"
    assert WHY["why"] in html.unescape(late.content.decode())


def test_spreadsheet_with_faults_names_their_cells_and_changes_nothing(client, study):
    page = send_back(client, study, changed_arm(sheet(client, study).content, "far"))

    assert "sheet setups, cell H2" in text(page) or "cell" in text(page)
    assert "Arm 'far'" in text(page)
    assert page.context["compared"] is None
    assert "Hand in the change" not in text(page)


def test_spreadsheet_as_a_change_of_the_study_of_another_is_refused(client, study):
    data = sheet(client, study).content
    client.force_login(make_user("stranger"))

    assert (
        client.post(
            reverse("submit:send"), {"file": SimpleUploadedFile("a.xlsx", data), "change": study.pk}
        ).status_code
        == 404
    )
    assert not Upload.objects.exists()


def test_spreadsheet_that_can_not_be_read_is_refused_where_it_was_sent(client, study):
    page = send_back(client, study, b"x", "a.pdf")

    assert page.status_code == 422
    assert "Files ending in '.pdf' aren't taken" in text(page)
    assert "Change “" in text(page)


# one's own rigs


def make_rig(user):
    typed = {"arm_mm": "11 3/4 in"}
    return Rig.objects.create(
        user=user, label="the old jack", loading_id="cantilever_arm", instrument_id="luggage_scale", typed=typed
    )


def test_rig_fills_the_setup_in_and_goes_along(client, owner):
    rig = make_rig(user=owner)

    assert f'<option value="{rig.pk}">{rig.label}</option>' in client.get("/submit/").content.decode()
    page = client.get(f"{FORM}?rig={rig.pk}&joint=butt&loading=torsion")

    kept = values_of(page)
    assert (kept["setup-loading"], kept["setup-arm"], kept["rig"]) == ("cantilever_arm", "11 3/4 in", str(rig.pk))
    save(client, form(shared__cure="200") | {"rig": str(rig.pk)})
    assert Study.objects.get().setups.get().rig == rig


def test_rig_of_another_is_nobodys(client, owner):
    rig = make_rig(user=make_user("somebody else"))

    assert values_of(client.get(f"{FORM}?rig={rig.pk}")).get("rig") is None
    save(client, form(shared__cure="200") | {"rig": str(rig.pk)})
    assert Study.objects.get().setups.get().rig is None
