"""A size that nobody noted is missing, whatever word says so, and the word is kept."""

from __future__ import annotations

import pytest

from results.intake import written
from results.intake.rigs import read_rig, rig_cells
from results.models import Rig

from .made import flat, sent, told

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.mark.parametrize("word", ["not known", "Unknown", "not  noted", "?", "-", "\N{EN DASH}"])
@pytest.mark.parametrize("key", ["series tenon thickness", "series fasteners", "series moisture", "setup arm"])
def test_number_nobody_noted_is_missing_and_its_word_is_kept(word, key):
    examination = sent(flat(**{key.replace(" ", "_"): word}))

    assert examination.may_be_saved, [one.message for one in examination.noticed]
    record, _, name = key.partition(" ")
    draft = examination.draft
    if record == "setup":
        assert draft.setups[0].arm_mm is None
        assert written.setup_cells(draft, draft.setups[0])[name] == word
    else:
        assert written.series_cells(draft, draft.series[0])[name] == word


def test_arm_nobody_noted_leaves_the_footing_without_it():
    assert "(arm_mm)" in told(sent(flat(setup_arm="not known")), "footing-missing")


@pytest.mark.parametrize("key", ["specimen reading", "series mean"])
def test_result_nobody_noted_is_no_number(key):
    examination = sent(flat(**{key.replace(" ", "_"): "not known"}))

    assert not examination.may_be_saved


def test_number_the_instrument_needs_is_still_needed():
    examination = sent(flat(setup_instrument="jack_gauge", setup_ram_diameter="?", specimen_reading="12 bar"))

    assert "Ram diameter is '?'; " in told(examination, "missing")


def test_remedy_of_a_text_that_is_no_number_says_what_to_write_if_nobody_noted_it():
    said = told(sent(flat(series_tenon_length="about thirty")), "not-a-number")

    assert said.endswith("Write a number such as 12.5. Or write not known, if nobody noted it.")
    assert "not known" not in told(sent(flat(specimen_reading="about 120")), "not-a-number")


def test_rig_keeps_the_word_for_a_length_nobody_noted():
    cells = {"setup": "arm", "loading": "cantilever_arm", "arm": "300 mm", "angle": "not known"}
    rig = read_rig(cells, "mm").fill(Rig())

    assert rig_cells(rig) == cells
