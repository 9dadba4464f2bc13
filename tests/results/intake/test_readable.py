"""The part of an unfinished form that numbers can be worked out from."""

from __future__ import annotations

import uuid

import pytest

from results.intake.check import check
from results.intake.examine import examine, examine_so_far
from results.intake.readable import readable_part
from results.intake.words import Words
from results.pages.submit_form import rows_of
from results.pages.submit_typed import Typed
from tests.results.pages.forms import form

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _rows(**changes):
    data = form(**changes) | {"key": str(uuid.UUID(int=1))}
    return rows_of(Typed.posted(data), Words())


def _kept(**changes):
    part = readable_part(check(_rows(**changes), sheet=False))
    return None if part is None else {one.label: len(one.specimens) for one in part.series}


def test_whole_form_is_examined_as_for_saving():
    so_far, whole = examine_so_far(_rows()), examine(_rows(), sheet=False)

    assert so_far.noticed == whole.noticed
    assert so_far.may_be_saved and whole.may_be_saved


@pytest.mark.parametrize(
    ("changes", "kept"),
    [
        ({}, {"Butt": 4, "Tenon": 4}),
        ({"study__title": "", "study__question": ""}, {"Butt": 4, "Tenon": 4}),
        ({"series__0__joint": ""}, {"Tenon": 4}),
        ({"series__0__joint": "nonsense"}, {"Tenon": 4}),
        ({"specimen__0__1__reading": "far"}, {"Butt": 3, "Tenon": 4}),
        ({"specimen__0__1__outcome": "exploded"}, {"Butt": 3, "Tenon": 4}),
        ({"specimen__0__1__specimen": "x", "specimen__0__2__specimen": "x"}, {"Butt": 3, "Tenon": 4}),
        ({"series__1__series": "butt"}, {"butt": 4}),
        ({"series__0__mean": "40"}, {"Butt": 4, "Tenon": 4}),
        ({"setup__loading": ""}, None),
        ({"setup__instrument": "jack_gauge"}, None),  # without the ram's diameter no force
        ({"setup__reading_unit": "mm"}, {"Butt": 0, "Tenon": 0}),
    ],
)
def test_what_can_be_read_is_kept(changes, kept):
    assert _kept(**changes) == kept


def test_findings_of_the_numbers_come_beside_errors_and_nothing_may_be_saved():
    found = examine_so_far(_rows(study__title="", setup__arm=""))

    assert {"missing", "footing-missing"} <= {one.code for one in found.noticed}
    assert not found.may_be_saved


def test_control_that_can_not_be_read_is_left_out():
    part = readable_part(check(_rows(series__0__joint=""), sheet=False))

    assert [one.control for one in part.series] == [None]


def test_lengths_that_the_statics_refuse_leave_nothing_to_look_at():
    data = {"setup__loading": "two_point_bending", "setup__span": "300", "setup__load_offset": "200"}

    assert _kept(**data) is None
    assert "geometry" in {one.code for one in examine_so_far(_rows(**data)).noticed}
