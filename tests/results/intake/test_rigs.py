"""A rig of one's own as it is typed: the checks of a setup, kept as typed, and back as cells for the form."""

from __future__ import annotations

import pytest

from results.intake.rigs import read_rig, reads_alike, rig_cells, setup_of
from results.models import Rig
from tests.factories import make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

ARM = {"setup": "bench arm", "loading": "cantilever_arm", "instrument": "luggage_scale", "arm": "300"}
JACK = {
    "setup": "jack",
    "loading": "corner_closing",
    "instrument": "jack_gauge",
    "leg": "10 in",
    "ram diameter": "43 mm",
}


def made(cells: dict[str, str], unit: str = "mm") -> Rig:
    rig = read_rig(cells, unit).fill(Rig(user=make_user()))
    rig.save()
    return Rig.objects.get(pk=rig.pk)


def test_lengths_are_kept_as_typed_with_the_unit_they_were_typed_in():
    rig = made({**ARM, "arm": " 11 3/4 ", "rate": "12", "reading unit": "kg", "notes": "of scrap"}, "in")

    assert rig.typed == {"arm_mm": "11 3/4 in", "rate_mm_min": "12 mm/min", "reading unit": "kg"}
    assert (rig.label, rig.loading_id, rig.instrument_id, rig.notes) == (
        "bench arm", "cantilever_arm", "luggage_scale", "of scrap",
    )  # fmt: skip


@pytest.mark.parametrize("cells", [ARM, JACK, {**ARM, "reads": "force", "arm reference": "centre", "angle": "5"}])
def test_cells_are_read_again_as_the_same_rig(cells):
    rig = made(cells)

    again = made({**rig_cells(rig), "setup": "again"})

    assert again.typed == rig.typed
    assert rig_cells(again) == {**rig_cells(rig), "setup": "again"}
    assert set(rig_cells(rig)) == set(cells)


def test_setup_of_a_rig_has_its_lengths_in_si_and_what_it_reads():
    jack, wrench = made(JACK), made({"setup": "w", "loading": "torsion", "instrument": "torque_wrench"})

    assert (setup_of(jack).leg_mm, setup_of(jack).ram_diameter_mm, setup_of(jack).reads) == (254.0, 43.0, "force")
    assert setup_of(jack).typed == {"leg_mm": "10 in", "ram_diameter_mm": "43 mm"}
    assert setup_of(wrench).reads == "moment"


@pytest.mark.parametrize(
    ("change", "alike"),
    [
        ({"leg": "300 mm", "rate": "9", "setup": "other"}, True),
        ({"ram diameter": "40 mm"}, False),
        ({"lever ratio": "2"}, False),
        ({"instrument": "force_gauge", "ram diameter": ""}, False),
    ],
)
def test_readings_are_alike_where_nothing_stands_between_that_differs(change, alike):
    assert reads_alike(setup_of(made(JACK)), setup_of(made({**JACK, "setup": "b", **change}))) == alike


@pytest.mark.parametrize(
    ("change", "column", "words"),
    [
        ({"setup": ""}, "setup", "Setup is blank; it is needed"),
        ({"setup": "x" * 81}, "setup", "81 characters; 80 fit"),
        ({"loading": ""}, "loading", "Loading is blank"),
        ({"loading": "cantilevr arm"}, "loading", "Did you mean Cantilever arm"),
        ({"instrument": "kitchen scale"}, "instrument", "is not in the vocabulary"),
        ({"instrument": "jack_gauge"}, "ram diameter", "Ram diameter is blank"),
        ({"instrument": "torque_wrench", "reads": "force"}, "reads", "does not fit the instrument"),
        ({"arm": "-3"}, "arm", "must be above 0 mm"),
        ({"arm": "3 kg"}, "arm", "kg is a mass. A length needs mm"),
        ({"arm": "1e99"}, "arm", "beyond anything in a workshop"),
        ({"arm": "30\u202e0"}, "arm", "can't be kept"),
        ({"reading unit": "mm"}, "reading unit", "Reading unit 'mm'"),
        ({"angle": "95"}, "angle", "-89 to 89"),
    ],
)
def test_what_is_wrong_is_told_at_its_input(change, column, words):
    read = read_rig({**ARM, **change}, "mm")

    assert not read.may_be_saved
    told = {one.place.sheet: f"{one.message} {one.remedy}" for one in read.noticed if one.severity == "error"}
    assert words in told[f"setup-{column.replace(' ', '_')}"], told


def test_length_that_the_loading_needs_may_be_measured_later_but_is_missed():
    read = read_rig({**ARM, "arm": ""})

    assert read.may_be_saved
    assert [(one.severity, one.field) for one in read.noticed] == [("doubt", "arm")]
    # A torque wrench reads the moment itself.
    wrench = read_rig({**ARM, "arm": "", "instrument": "torque_wrench"})
    assert wrench.may_be_saved and not wrench.noticed
