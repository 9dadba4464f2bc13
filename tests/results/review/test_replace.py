"""A change goes into the records in place: what stays keeps its key and what points at it."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from results.evidence import Draft
from results.models import Photo, Question, Series, SeriesFooting, Setup, Specimen, Study, Summary
from results.review.document import document, examined, written
from results.review.replace import replace
from tests.factories import make_user

from .made import handed_in, heavier, mended, sent

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _put(study, mend):
    """Change a study's records."""
    now = written(study)
    mend(now)
    draft, noticed = examined(now, study)
    replace(study, draft, noticed)
    return now


def _keys(study):
    specimens = Specimen.objects.filter(series__study=study)
    return (
        dict(study.setups.values_list("label", "pk")),
        dict(study.series.values_list("label", "pk")),
        {(series, label): pk for series, label, pk in specimens.values_list("series__label", "label", "pk")},
    )


def test_what_stays_keeps_its_key():
    study = handed_in()
    before = _keys(study)

    def mend(now):
        heavier(now)
        now["setups"][0]["arm_mm"] = 305.0
        now["series"][1]["timber"] = "ash_white"

    now = _put(study, mend)

    assert _keys(study) == before
    assert document(Draft.of(study)) == now
    assert study.setups.get().arm_mm == 305.0


def test_records_are_those_that_handing_in_the_same_would_have_made():
    study, other = handed_in(), handed_in("other")
    numbers = ("code", "n", "sum_log", "sum_sq_log", "kept_n", "factor", "missing")

    def mend(now):
        heavier(now, 300)
        now["series"][0]["specimens"].pop()

    def like_mended(sheets):
        sheets["specimens"][5][2] = 418.5
        sheets["specimens"].pop(4)

    _put(study, mend)
    found = sent(like_mended)
    replace(other, found.draft, found.noticed)

    for one in (study, other):
        assert one.series.get(label="tenon").footings.get(code="stress").n == 4
    tell = [
        (
            list(SeriesFooting.objects.filter(series__study=one).order_by("series", "code").values_list(*numbers)),
            list(
                Specimen.objects.filter(series__study=one)
                .order_by("series", "label")
                .values_list("stress_mpa", "flagged")
            ),
            sorted(one.findings.values_list("code", "message", "specimen__label")),
        )
        for one in (study, other)
    ]
    assert tell[0] == tell[1]
    assert tell[0][2]  # the reading of three hundred kilograms more is doubted


def test_renamed_and_added_and_removed_records():
    study = handed_in()
    before = _keys(study)

    def mend(now):
        now["series"][0]["label"] = "plain"
        now["series"][1] |= {"control": "plain", "setup": "long arm"}
        now["series"][0]["setup"] = "long arm"
        now["setups"][0]["label"] = "long arm"
        now["series"][1]["specimens"][0]["label"] = "first"
        del now["series"][1]["specimens"][3]

    now = _put(study, mend)

    setups, series, specimens = _keys(study)
    assert list(setups) == ["long arm"] and set(series) == {"plain", "tenon"}
    assert series["tenon"] == before[1]["tenon"] and series["plain"] not in before[1].values()
    assert specimens["tenon", "t1"] == before[2]["tenon", "t1"]
    assert {label for of, label in specimens if of == "tenon"} == {"first", "t1", "t2"}
    assert document(Draft.of(study))["series"][0] == now["series"][1]
    assert study.series.get(label="tenon").control.label == "plain"
    assert list(study.series.get(label="tenon").specimens.values_list("label", "position")) == [
        *(("first", 0), ("t1", 1), ("t2", 2))
    ]


def test_controls_may_change_places():
    study = handed_in()

    def mend(now):
        now["series"][0]["control"] = "tenon"
        del now["series"][1]["control"]

    _put(study, mend)

    assert dict(study.series.values_list("label", "control__label")) == {"butt": "tenon", "tenon": None}


def test_specimens_may_change_names_with_each_other():
    study = handed_in()

    def mend(now):
        first, second = now["series"][1]["specimens"][:2]
        first["label"], second["label"] = second["label"], first["label"]

    _put(study, mend)

    found = dict(Specimen.objects.filter(series__label="tenon").values_list("label", "reading_typed"))
    assert (found["t0"], found["t1"]) == ("119.5", "118.5")


def test_specimens_make_way_for_a_mean_and_back():
    study = handed_in()
    before = written(study)
    summary = {"quantity": "force", "mean_typed": "400 N", "mean_si": 400.0, "n": 4}

    _put(study, lambda now: now["series"][0].update(specimens=[], summary=summary))
    assert Summary.objects.get().mean_si == 400.0
    assert not Specimen.objects.filter(series__label="butt").exists()

    _put(study, lambda now: now.update(before))
    assert not Summary.objects.exists()
    assert written(study) == before


def _pointing(study, **at):
    owner = make_user()
    photo = Photo(
        study=study, caption="torn", width=1, height=1, size_bytes=1, sha256=str(len(Photo.objects.all())), **at
    )
    photo.file, photo.thumbnail, photo.sent_by = "a.jpg", "b.jpg", owner
    photo.save()
    return photo, Question.objects.create(study=study, kind="doubt", text="Really?", asked_by=owner, **at)


def test_photos_and_questions_stay_on_what_stays_and_fall_back_to_the_study_from_what_goes():
    study = handed_in()
    butt, tenon = study.series.get(label="butt"), study.series.get(label="tenon")
    gone, kept = tenon.specimens.get(label="t0"), tenon.specimens.get(label="t1")
    on = {
        "gone": _pointing(study, series=tenon, specimen=gone),
        "kept": _pointing(study, series=tenon, specimen=kept),
        "of gone series": _pointing(study, series=butt, specimen=butt.specimens.first()),
    }

    def mend(now):
        now["series"] = now["series"][1:]
        del now["series"][0]["control"], now["series"][0]["specimens"][0]

    _put(study, mend)

    for one in (record for pair in on.values() for record in pair):
        one.refresh_from_db()
    assert {name: (pair[0].series, pair[0].specimen) for name, pair in on.items()} == {
        "gone": (tenon, None),
        "kept": (tenon, kept),
        "of gone series": (None, None),
    }
    assert all(
        photo.series == question.series and photo.specimen == question.specimen for photo, question in on.values()
    )


def test_only_what_changed_of_many_specimens_is_written():
    study = handed_in()
    draft = mended(study, lambda now: now["series"][1]["specimens"][2].update(notes="oak"))

    with CaptureQueriesContext(connection) as asked:
        replace(study, draft, [])

    # Many rows written by one statement are told once, with how many they were.
    told = [one["sql"] for one in asked if 'UPDATE "results_specimen"' in one["sql"]]
    assert [sql.split(":")[0] for sql in told] == ["1 times"]


def test_nothing_else_points_at_records_that_may_go():
    """Rows are deleted past the framework, so whatever points at them has to be known here."""
    known = {
        Setup: {"Series"},
        Series: {"Series", "Summary", "Specimen", "SeriesFooting", "Finding", "Photo", "Question"},
        Specimen: {"Finding", "Photo", "Question"},
    }

    for model, names in known.items():
        assert {one.related_model.__name__ for one in model._meta.related_objects} == names, model


def test_failed_replacing_leaves_everything_as_it_was():
    study = handed_in()
    before = written(study)
    draft = mended(study, heavier)
    draft.specimens["tenon"][-1].moisture_pct = 900  # the database takes 0 to 200

    with pytest.raises(Exception, match="specimen_moisture_pct_range"):
        replace(study, draft, [])

    assert written(Study.objects.get(pk=study.pk)) == before
