"""My rigs: kept, drawn, changed, deleted, and seen by nobody else."""

from __future__ import annotations

import pytest
from django.test import Client

from results.intake.rigs import rig_cells
from results.models import Calibration, Rig, Setup, data_version
from results.pages.rigs import RIGS_MOST
from tests.factories import make_user

from .rig_pages import ARM, MINE, POINTS, a_calibration, a_rig, as_, seen, typed
from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


# adding and changing


def test_rig_is_added_and_shown_with_its_drawing_and_lengths():
    client = as_("owner")

    response = client.post(f"{MINE}new/", typed(arm="11 3/4 in", notes="of scrap"), follow=True)

    rig = Rig.objects.get()
    assert response.redirect_chain == [(f"{MINE}{rig.pk}/", 302)]
    assert (rig.label, rig.typed["arm_mm"], rig.user.username) == ("bench arm", "11 3/4 in", "owner")
    page = response.content.decode()
    assert "arm 298.45 mm" in page and "<svg" in page
    shown = text(response)
    assert "Saved: bench arm." in shown and "11 3/4 in" in shown and "of scrap" in shown and "None yet." in shown
    listed = text(client.get(MINE))
    assert "bench arm Cantilever arm, read on: luggage scale · not calibrated" in listed


def test_form_shows_the_fields_that_loading_and_instrument_need_and_loses_nothing():
    client = as_("owner")
    start = client.get(f"{MINE}new/").content.decode()
    assert 'name="setup-leg"' in start and start.index("More about the rig") < start.index('name="setup-leg"')

    changed = typed(loading="corner_closing", instrument="jack_gauge", notes="kept", do="refresh")
    response = client.post(f"{MINE}new/", changed | {"do": "refresh"})

    page = response.content.decode()
    assert response.status_code == 200 and not Rig.objects.exists()
    for name in ("setup-leg", "setup-ram_diameter"):
        assert page.index(f'name="{name}"') < page.index("More about the rig")
    assert "kept" in page and 'value="300 mm"' in page  # an arm that isn't needed any more is not thrown away


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"setup": ""}, "Setup is blank; it is needed"),
        ({"loading": ""}, "Loading is blank"),
        ({"loading": "nonsense"}, "is not in the vocabulary"),
        ({"arm": "-3 mm"}, "must be above 0 mm"),
        ({"arm": "3 kg"}, "kg is a mass. A length needs mm"),
        ({"arm": "<b>300"}, "Arm '&lt;b&gt;300'"),
        ({"instrument": "jack_gauge"}, "Ram diameter is blank"),
        ({"setup": "x" * 81}, "81 characters; 80 fit"),
        ({"notes": "a\0b"}, "can't be kept"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(change, words):
    response = as_("owner").post(f"{MINE}new/", typed(**change))

    page = response.content.decode().replace("&#x27;", "'")
    assert response.status_code == 422 and not Rig.objects.exists()
    assert words in page and 'aria-invalid="true"' in page and "Nothing is saved yet" in page
    assert "<b>300" not in page


def test_missing_length_is_missed_but_the_rig_is_saved():
    response = as_("owner").post(f"{MINE}new/", typed(arm=""), follow=True)

    assert "Arm is blank; without it readings on this rig can be compared with no other's." in text(response)
    assert "arm: not given" in response.content.decode()
    assert Rig.objects.count() == 1


def test_name_is_once_a_user_and_the_same_form_twice_is_one_rig():
    client = as_("owner")
    first, again = (client.post(f"{MINE}new/", typed()) for _ in range(2))
    assert first.url == again.url and Rig.objects.count() == 1

    other = client.post(f"{MINE}new/", typed(setup=" Bench  ARM ", arm="400 mm"))
    assert other.status_code == 422 and "You have a rig called 'bench arm' already." in text(other).replace(
        "&#x27;", "'"
    )
    assert as_("other").post(f"{MINE}new/", typed()).status_code == 302


def test_number_of_rigs_is_bounded():
    owner = make_user("owner")
    Rig.objects.bulk_create(Rig(user=owner, label=f"rig {at}", loading_id="torsion") for at in range(RIGS_MOST))

    response = as_("owner").post(f"{MINE}new/", typed())

    assert response.status_code == 422 and "You have 100 rigs. Delete one" in text(response)


def test_rig_is_changed_and_studies_keep_what_they_say():
    rig = a_rig()
    study = a_shop(contributor=rig.user)
    Setup.objects.update(rig=rig)
    client = as_("owner")
    assert 'value="300 mm"' in client.get(f"{MINE}{rig.pk}/edit/").content.decode()

    response = client.post(f"{MINE}{rig.pk}/edit/", typed(arm="450 mm") | {"seen": seen(rig)}, follow=True)

    assert "Saved: bench arm." in text(response) and Rig.objects.get().typed["arm_mm"] == "450 mm"
    assert study.setups.get().arm_mm == 300.0
    assert "Rails into posts" in text(response)  # used in


def test_change_from_a_second_tab_overwrites_nothing_unseen():
    rig = a_rig()
    client = as_("owner")
    url, first_seen = f"{MINE}{rig.pk}/edit/", seen(rig)
    client.post(url, typed(arm="450 mm") | {"seen": first_seen})

    second = client.post(url, typed(arm="500 mm") | {"seen": first_seen})

    page = second.content.decode()
    assert second.status_code == 409 and Rig.objects.get().typed["arm_mm"] == "450 mm"
    assert "arm 450 mm" in page and 'value="500 mm"' in page
    # Something wrong in between doesn't make it seen.
    wrong = client.post(url, typed(arm="x") | {"seen": first_seen})
    assert wrong.status_code == 422 and f'name="seen" value="{first_seen}"' in wrong.content.decode()
    for bad in ("", "nonsense", "2025-13-45T99:00", first_seen):
        assert client.post(url, typed(arm="500 mm") | {"seen": bad}).status_code == 409
    for _ in range(2):  # with what is there seen; and sent twice
        assert client.post(url, typed(arm="500 mm") | {"seen": seen(rig)}).status_code == 302
    assert Rig.objects.get().typed["arm_mm"] == "500 mm"


def test_instrument_of_a_calibrated_rig_stays():
    rig = a_rig()
    a_calibration(rig)
    client = as_("owner")

    response = client.post(f"{MINE}{rig.pk}/edit/", typed(instrument="force_gauge") | {"seen": seen(rig)})

    assert response.status_code == 422
    assert "1 calibration was made with what this was before, and would not hold." in text(response)
    moved = typed(arm="450 mm") | {"seen": seen(rig)}
    assert client.post(f"{MINE}{rig.pk}/edit/", moved).status_code == 302


def test_deleting_asks_first_says_what_goes_and_leaves_the_studies():
    rig = a_rig()
    a_calibration(rig)
    study = a_shop("Made on it", contributor=rig.user)
    Setup.objects.update(rig=rig)
    client = as_("owner")

    asked = text(client.get(f"{MINE}{rig.pk}/delete/"))
    assert "and so is its calibration" in asked and "would show none: Made on it" in asked and Rig.objects.exists()
    before = data_version().number
    response = client.post(f"{MINE}{rig.pk}/delete/", follow=True)

    assert "Deleted: bench arm." in text(response) and not Rig.objects.exists() and not Calibration.objects.exists()
    assert (study.setups.get().rig, study.setups.get().arm_mm) == (None, 300.0)
    assert data_version().number > before
    assert client.post(f"{MINE}{rig.pk}/delete/").url == MINE
    assert client.get(f"{MINE}{rig.pk}/delete/").status_code == 404


# who may what


@pytest.mark.parametrize("who", [None, "other", "reviewer"])
def test_rigs_are_their_owners_alone(who, django_user_model):
    rig = a_rig()
    calibration = a_calibration(rig)
    client = as_(who)
    if who == "reviewer":
        django_user_model.objects.filter(username=who).update(is_superuser=True)
    own = f"{MINE}{rig.pk}/"

    for url in (own, f"{own}edit/", f"{own}delete/", f"{own}calibrations/new/",
                f"{own}calibrations/{calibration.pk}/delete/"):  # fmt: skip
        got, posted = client.get(url), client.post(url, typed() | {"made_on": "2025-01-01", "pasted": POINTS})
        if who is None:
            assert (got.url, posted.status_code) == (f"/login/?next={url}", 302), url
        else:
            assert got.status_code == 404, url
            assert posted.status_code in ((302, 404) if "delete" in url else (404, 405)), url
    if who is None:
        assert client.get(MINE).url == f"/login/?next={MINE}"
        assert client.post(f"{MINE}new/", typed()).url == f"/login/?next={MINE}new/"
    else:
        assert "bench arm" not in client.get(MINE).content.decode()
    assert Rig.objects.get() == rig and Calibration.objects.get() == calibration


def test_methods_are_those_that_a_page_has():
    rig = a_rig()
    client = as_("owner")

    for url in (MINE, f"{MINE}{rig.pk}/"):
        assert client.post(url).status_code == 405
    for url in (f"{MINE}new/", f"{MINE}{rig.pk}/edit/", f"{MINE}{rig.pk}/calibrations/new/"):
        assert client.put(url).status_code == client.delete(url).status_code == 405
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(rig.user)
    assert strict.post(f"{MINE}{rig.pk}/delete/").status_code == 403


def test_calibration_of_another_rig_is_not_found_under_this_one():
    rig, other = a_rig(), a_rig(setup="other rig")
    calibration = a_calibration(other)

    url = f"{MINE}{rig.pk}/calibrations/{calibration.pk}/delete/"
    client = as_("owner")
    assert client.get(url).status_code == 404
    client.post(url)
    assert Calibration.objects.exists()


def test_cells_for_the_form_are_what_was_typed():
    assert rig_cells(a_rig(notes="n")) == {**ARM, "notes": "n"}
