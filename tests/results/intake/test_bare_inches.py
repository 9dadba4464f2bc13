"""Several bare lengths that would be usual in inches are told of once, where their unit is said."""

from __future__ import annotations

import pytest

from results.intake.findings import where

from .made import examine_file, four_sheets, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _inches(thickness: object = 0.75, unit: str = "mm") -> dict[str, list[list[object]]]:
    """The four sheets with their lengths in inches: 12 is the arm, 1.5 the depth."""
    sheets = four_sheets()
    sheets["study"][5][1] = unit
    sheets["setups"][1][4] = 12
    for row in sheets["series"][1:]:
        row[3:5] = [thickness, 1.5]
    sheets["series"][2][5:7] = [1.25, 1.25]
    return sheets


def _found(sheets, code):
    examination = examine_file(workbook(sheets), "tests.xlsx")
    return [one for one in examination.noticed if one.code == code]


def test_bare_inches_are_doubted_once_at_the_cell_of_the_length_unit():
    (found,) = _found(_inches(), "maybe-inches")

    assert found.severity == "doubt"
    assert where(found.place) == "sheet study, cell B6"
    assert found.message.startswith("7 lengths have no unit and are read in mm, which makes each of them unusual: ")
    assert "unusual: arm '12', member thickness '0.75', " in found.message
    assert found.message.endswith(" …. In inches they would be usual.")
    assert 'set "length unit" of the study (sheet study, cell B6) to in;' in found.remedy
    assert _found(_inches(), "unusual") == []


def test_length_that_is_unusual_in_inches_too_keeps_its_own_doubt():
    sheets = _inches(thickness=0.01)

    assert len(_found(sheets, "maybe-inches")) == 1
    assert {one.field for one in _found(sheets, "unusual")} == {"member thickness"}


@pytest.mark.parametrize("sheets", [_inches(unit="in"), four_sheets()])
def test_lengths_in_their_own_unit_are_not_called_inches(sheets):
    assert _found(sheets, "maybe-inches") == []


def test_one_unusual_length_is_doubted_by_itself():
    sheets = four_sheets()
    sheets["setups"][1][4] = 12

    assert _found(sheets, "maybe-inches") == []
    assert [one.field for one in _found(sheets, "unusual")] == ["arm"]
