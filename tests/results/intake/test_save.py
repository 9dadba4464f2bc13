"""A draft is saved whole or not at all, and once."""

from __future__ import annotations

import uuid

import pytest
from django.db import IntegrityError

from results.intake.save import save
from results.models import Finding, Series, SeriesFooting, Setup, Specimen, Study, Summary
from tests.factories import make_user

from .made import examine_file, flat, four_sheets, sent, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _four():
    return examine_file(workbook(four_sheets()), "a.xlsx")


def test_save_keeps_what_was_typed_beside_what_it_came_to():
    user, examination = make_user(), _four()

    study = save(examination.draft, user, examination.noticed, status="submitted")

    study.refresh_from_db()
    assert (study.status, study.contributor, study.invented) == ("submitted", user, False)
    assert study.accepted_at is None
    setup = study.setups.get()
    assert (setup.arm_mm, setup.typed) == (300.0, {"arm_mm": "300 mm"})
    tenon = study.series.get(label="tenon")
    assert tenon.control.label == "butt"
    assert tenon.typed["tenon_length_mm"] == "30 mm"
    first = tenon.specimens.first()
    assert (first.reading_typed, first.reading_unit, first.outcome) == ("118.5", "kg", "broke")
    assert first.peak_load_n == pytest.approx(118.5 * 9.80665)
    assert first.moment_nm == pytest.approx(first.peak_load_n * 0.3)
    assert tenon.footings.get(code="ratio_control").n == 4


def test_save_stores_exactly_what_was_shown():
    examination = _four()
    shown = [
        (one.label, one.peak_load_n, one.stress_mpa, one.ratio_solid, one.ratio_control)
        for found in examination.draft.specimens.values()
        for one in found
    ]

    save(examination.draft, make_user(), examination.noticed, status="draft")

    assert [
        (one.label, one.peak_load_n, one.stress_mpa, one.ratio_solid, one.ratio_control)
        for one in Specimen.objects.order_by("id")
    ] == shown


def test_save_keeps_findings_with_their_series_and_specimen():
    examination = sent(flat({"specimen reading": "20 kg"}))
    doubted = next(one for one in examination.noticed if one.severity == "doubt")

    study = save(examination.draft, make_user(), examination.noticed, status="draft")

    finding = study.findings.get(code=doubted.code)
    assert (finding.series.label, finding.specimen.label, finding.message) == ("A", "1", doubted.message)
    assert Specimen.objects.get(series__study=study, label="1").flagged


def test_save_keeps_a_mean():
    rows = [*flat(), {"series": "B", "series joint": "butt", "series mean": "40 kg", "series n": "6"}]
    examination = sent(rows)

    save(examination.draft, make_user(), examination.noticed, status="draft")

    assert Summary.objects.get().mean_si == pytest.approx(392.266)
    assert SeriesFooting.objects.get(series__label="B", code="peak_load").n == 6


def test_save_twice_with_one_key_saves_once():
    key, user = uuid.uuid4(), make_user()

    first = save(_four().draft, user, [], key, status="draft")
    second = save(_four().draft, user, [], key, status="draft")

    assert first == second
    assert Study.objects.count() == 1


class _Late:
    """A draft in whose place another with the same key is saved, just after the look whether it is there."""

    def __init__(self, draft, quicker):
        self.draft, self.quicker = draft, quicker

    def __getattr__(self, name):
        if name == "study" and self.quicker:
            self.quicker.pop()()
        return getattr(self.draft, name)


def test_save_returns_the_quicker_of_two_with_one_key():
    key, user = uuid.uuid4(), make_user()
    late = _Late(_four().draft, [lambda: save(_four().draft, user, [], key, status="draft")])

    study = save(late, user, [], key, status="draft")

    assert study == Study.objects.get()
    assert study is not late.draft.study


def test_save_leaves_nothing_behind_when_one_record_is_refused():
    draft = _four().draft
    draft.specimens["tenon"][-1].moisture_pct = 900  # the database takes 0 to 200

    with pytest.raises(IntegrityError):
        save(draft, make_user(), [], uuid.uuid4(), status="draft")

    for model in (Study, Setup, Series, Specimen, SeriesFooting, Finding):
        assert not model.objects.exists()


def test_save_refuses_a_draft_with_errors():
    examination = sent(flat({"specimen reading": "far"}))

    with pytest.raises(ValueError, match="with errors can't be saved; mend them first"):
        save(_four().draft, make_user(), examination.noticed, status="draft")
