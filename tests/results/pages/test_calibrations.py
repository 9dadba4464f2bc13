"""Calibrations of a rig: weights and readings as typed, and what readers see of them."""

from __future__ import annotations

import re

import numpy as np
import pytest

from results.evidence import restate
from results.models import Calibration, Rig, Setup, Specimen, data_version
from results.pages.workshop_address import workshop_url
from tests.factories import make_study

from .rig_pages import MINE, POINTS, a_calibration, a_rig, as_
from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


# calibrating


def calibrating(rig: Rig, **said: str) -> dict[str, str]:
    return {"made_on": "2025-03-14", "hung_unit": "kg", "read_unit": "N", "pasted": POINTS, "rows": "8"} | said


def test_weights_and_readings_become_a_correction_that_is_shown():
    rig = a_rig(reading_unit="N")
    client = as_("owner")
    url = f"{MINE}{rig.pk}/calibrations/new/"
    assert 'value="N"' in client.get(url).content.decode()

    said = {"hung-0": "15", "read-0": "146", "weights_from": "water, <weighed>", "within": "0.5 %"}
    response = client.post(url, calibrating(rig, **said), follow=True)

    made = Calibration.objects.get()
    assert made.points == [
        ["15 kg", "146 N"],
        ["0", "0.2 N"],
        ["10 kg", "97 N"],
        ["20 kg", "194.5 N"],
        ["30 kg", "291 N"],
    ]
    assert (made.weights_from, made.weights_within, str(made.made_on)) == ("water, <weighed>", "0.5 %", "2025-03-14")
    assert made.known_u_n[4] == pytest.approx(0.005 * 294.1995 / 3**0.5)
    gain, zero = np.polyfit([146, 0.2, 97, 194.5, 291], made.hung_n, 1)
    shown = text(response)
    assert "5 points of 5 weights from 0 N to 294 N" in shown and f"+ {gain:.4f} × the reading" in shown
    told = re.search(r"Correction: (\S+) N at a reading of 291 N, with a standard uncertainty of (\S+) N", shown)
    assert float(told[1]) == pytest.approx(zero + (gain - 1) * 291, abs=0.006)
    # The weights' own part is 0.85 N; what the points scatter comes to that.
    assert 0.85 < float(told[2]) < 1.2
    assert "water, <weighed>, within 0.5 %" in shown and "<weighed>" not in response.content.decode()
    assert "never applied to them" in shown
    rows = table(response, "Points of 2025-03-14")
    assert rows[0][:2] == ["Hung", "Read"] and rows[1][:2] == ["15 kg", "146 N"] and len(rows) == 6
    assert len(table(response, "What has to be added")) == 5
    # The next one begins with what was said of the weights.
    assert 'value="water, &lt;weighed&gt;"' in client.get(url).content.decode()


def test_form_sent_twice_is_one_calibration_and_more_rows_lose_nothing():
    rig = a_rig()
    client = as_("owner")
    url = f"{MINE}{rig.pk}/calibrations/new/"
    for _ in range(2):
        assert client.post(url, calibrating(rig)).status_code == 302
    assert Calibration.objects.count() == 1
    assert client.post(url, calibrating(rig, made_on="2025-03-15")).status_code == 302
    assert Calibration.objects.count() == 2

    more = client.post(url, calibrating(rig, **{"do": "rows", "hung-7": "typed", "rows": "8"})).content.decode()
    assert 'id="hung-11"' in more and 'id="hung-12"' not in more and 'value="typed"' in more and "20 kg, 194.5" in more
    for rows in ("", "-1", "9999", "x"):
        assert client.post(url, {"rows": rows, "do": "rows"}).status_code == 200


@pytest.mark.parametrize("said", [{"weights_from": "weighed at the mill"}, {"read_unit": "N"}, {"within": "1 %"}])
def test_calibration_of_which_something_else_is_said_is_another_one(said):
    rig = a_rig()
    client = as_("owner")
    before = {"read_unit": "", "pasted": "0, 0\n10 kg, 97 N\n20 kg, 194.5 N\n30 kg, 291 N"}
    client.post(f"{MINE}{rig.pk}/calibrations/new/", calibrating(rig, **before))

    for _ in range(2):
        response = client.post(f"{MINE}{rig.pk}/calibrations/new/", calibrating(rig, **before | said))
        assert response.status_code == 302

    assert Calibration.objects.count() == 2
    assert Calibration.objects.filter(unit="N").count() == ("read_unit" in said)


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"pasted": ""}, "", "3 different weights are needed, and there are none yet"),
        ({"pasted": "0,0\n10,97"}, "pasted", "and there are 2"),
        ({"pasted": "0,0\n10,10\n20,20"}, "pasted", "read as newtons but looks like kilograms-force"),
        ({"pasted": "0,0\n10,200\n20,100\n30,300"}, "pasted", "readings must rise with the weights"),
        ({"pasted": "", "hung-3": "10"}, "read-3", "The reading that goes with '10' is blank"),
        ({"hung-3": "ten", "read-3": "1"}, "hung-3", "Weight 'ten'"),
        ({"made_on": "yesterday"}, "made_on", "'yesterday' is no date"),
        ({"made_on": "2999-01-01"}, "made_on", "lies in the future"),
        ({"within": "a lot"}, "within", "Write a share, such as 1 %"),
        ({"weights_from": "x" * 201}, "weights_from", "This has 201 characters; 200 fit."),
        ({"read_unit": "N", "weights_from": "a\u202eb"}, "weights_from", "a character that can't be kept"),
        ({"pasted": "\n".join(f"{at},{at}" for at in range(201))}, "pasted", "There are 201 pairs; 200 are taken."),
    ],
)  # fmt: skip
def test_what_gives_no_calibration_is_said_at_its_field_and_kept(said, field, words):
    rig = a_rig()

    response = as_("owner").post(f"{MINE}{rig.pk}/calibrations/new/", calibrating(rig, **said))

    page = response.content.decode().replace("&#x27;", "'")
    assert response.status_code == 422 and not Calibration.objects.exists()
    assert words in page
    assert not field or f'id="{field}-found"' in page
    for name, value in said.items():
        assert value.splitlines()[0:1] == [] or value.splitlines()[0][:50] in page, name


def test_calibration_is_deleted_once_that_is_said_twice():
    rig = a_rig()
    calibration = a_calibration(rig)
    client = as_("owner")
    url = f"{MINE}{rig.pk}/calibrations/{calibration.pk}/delete/"

    assert "Delete this calibration?" in text(client.get(url)) and Calibration.objects.exists()
    assert "Deleted: the calibration of 2025-03-14." in text(client.post(url, follow=True))
    assert not Calibration.objects.exists()
    assert client.post(url).url == f"{MINE}{rig.pk}/"


# what readers see


def a_calibrated_study(**fields) -> tuple[Rig, Setup]:
    rig = a_rig()
    study = a_shop(contributor=rig.user, **fields)
    study.setups.update(rig=rig, instrument="luggage_scale", typed={"arm_mm": "300 mm"})
    restate(study)
    return rig, study.setups.get()


def test_readers_see_the_calibration_at_the_setup_and_that_it_is_not_applied():
    rig, setup = a_calibrated_study()
    client = as_(None)
    url = f"/studies/{setup.study_id}/"
    assert "Calibrated on" not in text(client.get(url))
    before = data_version().number
    loads = list(Specimen.objects.values_list("peak_load_n", flat=True))

    as_("owner").post(f"{MINE}{rig.pk}/calibrations/new/", calibrating(rig, weights_from="weighed at the mill"))

    shown = text(client.get(url))
    assert data_version().number > before
    assert "Calibrated on 14 March 2025: 4 points of 4 weights from 0 N to 294 N." in shown
    assert "× the reading" in shown and "with a standard uncertainty of" in shown
    assert "The weights: weighed at the mill, taken as exact." in shown
    assert "Shown, not applied: readings and forces here are as they were read." in shown
    assert list(Specimen.objects.values_list("peak_load_n", flat=True)) == loads


def test_calibration_is_not_shown_for_a_setup_that_was_read_otherwise():
    rig, setup = a_calibrated_study()
    a_calibration(rig)
    Setup.objects.filter(pk=setup.pk).update(instrument="force_gauge")
    restate(setup.study)

    assert "Calibrated on" not in text(as_(None).get(f"/studies/{setup.study_id}/"))


def test_workshop_shows_what_is_recorded_and_says_where_nothing_is():
    rig, _ = a_calibrated_study(workshop="Calibrated Yard")
    a_shop("Elsewhere", workshop="Other Yard")
    a_calibration(rig)

    response = as_(None).get(workshop_url("Calibrated Yard"))
    (heading, row) = table(response, "Calibrations of its rigs against known weights")
    told = dict(zip(heading, row, strict=True))
    assert (told["Setup"], told["Calibrated on"], told["Points"]) == ("jack and arm", "2025-03-14", "4")
    gain, zero = np.polyfit([0.2, 97, 194.5, 291], [0, 98.0665, 196.133, 294.1995], 1)
    assert told["Correction there"] == f"+{zero + (gain - 1) * 291:.2f} N"
    assert told["The weights"] == "weighed at the mill, taken as exact"
    assert "What is recorded is shown, and not applied" in text(response)
    assert "None is recorded." in text(as_(None).get(workshop_url("Other Yard")))


def test_workshop_whose_first_study_came_before_its_rig_shows_the_calibration_all_the_same():
    a_shop("Before", workshop="Calibrated Yard")
    earlier = Setup.objects.get()
    rig, setup = a_calibrated_study(workshop="Calibrated Yard")
    Setup.objects.filter(pk=earlier.pk).update(instrument="luggage_scale", typed=setup.typed)
    a_calibration(rig)

    response = as_(None).get(workshop_url("Calibrated Yard"))
    heading, row = table(response, "What is recorded of how the load was read")
    assert dict(zip(heading, row, strict=True))["Calibrated"] == "see below"
    assert "Calibrated on 14 March 2025" in text(response)


def test_calibrations_of_what_does_not_count_are_on_no_workshops_page():
    rig, setup = a_calibrated_study(workshop="Calibrated Yard")
    a_calibration(rig)
    for status in ("draft", "withdrawn"):
        study = setup.study
        study.status, study.withdrawn_reason = status, "wrong" if status == "withdrawn" else ""
        study.save()
        make_study("Another", workshop="Calibrated Yard")

        assert "None is recorded." in text(as_(None).get(workshop_url("Calibrated Yard")))
