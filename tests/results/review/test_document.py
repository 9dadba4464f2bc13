"""A document says all that records say, and gives them back."""

from __future__ import annotations

import copy

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from results import models
from results.demo import FOLDER
from results.intake.examine import examine_file
from results.models.dimensions import DIMS
from results.review import document as doc
from results.review.document import alike, canonical, document, draft_of, examined, read, written
from results.review.errors import ReviewError
from results.review.hand_in import hand_in
from tests.factories import make_user

from .made import handed_in, said, sent

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.mark.parametrize("path", sorted(FOLDER.glob("[0-9]*")), ids=lambda path: path.stem)
def test_document_comes_back_from_drafts_and_from_the_database(path):
    found = examine_file(path.read_bytes(), path.name)
    before = document(found.draft, found.noticed)

    draft, noticed = examined(before)

    assert canonical(document(draft, noticed)) == canonical(before)
    assert document(draft_of(before)) == document(found.draft)
    assert sorted((one.code, one.message) for one in noticed) == sorted(
        (one.code, one.message) for one in found.noticed
    )
    study = hand_in(found.draft, make_user(), found.noticed)
    assert canonical(written(study)) == canonical(before)
    assert read(study.revisions.get()) == before


def test_draft_of_a_document_has_the_footings_of_the_one_it_was_written_from():
    found = sent()

    draft = draft_of(document(found.draft))

    assert [(one.code, one.n, one.sum_log) for one in draft.footings] == [
        (one.code, one.n, one.sum_log) for one in found.draft.footings
    ]


_WORDS = st.text(st.characters(blacklist_categories=["Cs", "Cc"]), min_size=1, max_size=20)
_SIZES = st.floats(0.1, 1e6, allow_nan=False)
_SPECIMENS = st.lists(
    st.fixed_dictionaries(
        {"label": _WORDS, "outcome": st.just("broke"), "reading_typed": _WORDS, "peak_load_n": _SIZES},
        optional={"notes": _WORDS, "moisture_pct": st.floats(0, 200), "failure_place": st.just("bond_line")},
    ),
    max_size=4,
    unique_by=lambda one: one["label"],
)
_ALWAYS = {"tests": st.just("joint"), "conditioning": st.just("unknown"), "joint": st.just("mt_blind")}
_SERIES = st.lists(
    st.fixed_dictionaries(
        {"label": _WORDS, "setup": st.just("arm"), "specimens": _SPECIMENS, **_ALWAYS},
        optional={
            "notes": _WORDS,
            "timber": st.just("ash_white"),
            "typed": st.dictionaries(st.sampled_from(DIMS), _WORDS, min_size=1),
        }
        | dict.fromkeys(("tenon_length_mm", "member_depth_mm"), _SIZES)
        | {"tenon_count": st.integers(1, 9)},
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda one: one["label"],
)
_STUDY = st.fixed_dictionaries(
    {"title": _WORDS, "origin": st.just("own"), "licence": st.just("CC0-1.0"), "invented": st.booleans()},
    optional={"notes": _WORDS, "tested_on": st.just("2025-03"), "question": _WORDS},
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
@given(study=_STUDY, series=_SERIES)
def test_any_document_comes_back_from_its_draft(study, series):
    setup = {"label": "arm", "loading": "cantilever_arm", "reads": "force", "arm_reference": "face", "arm_mm": 300.0}
    before = {"form": 1, "study": study, "setups": [setup], "series": series}

    assert canonical(document(draft_of(before))) == canonical(before)


def test_document_holds_every_field_of_the_records_or_says_why_not():
    worked_out = {
        "moment_nm",
        "force_n",
        "stress_mpa",
        "ratio_solid",
        "ratio_solid_matched",
        "ratio_control",
        "flagged",
    }
    life = {"contributor", "status", "withdrawn_reason", "submission_key", "created_at", "changed_at", "accepted_at"}
    held = {
        models.Study: ({*doc.STUDY}, life),
        models.Setup: ({*doc.SETUP, "rig"}, {"study"}),
        models.Series: ({*doc.SERIES, "setup", "control"}, {"study"}),
        models.Specimen: ({*doc.SPECIMEN, "peak_load_n"}, {"series", "position", *worked_out}),
        models.Summary: ({*doc.SUMMARY}, {"series"}),
    }

    for model, (kept, otherwise) in held.items():
        assert {field.name for field in model._meta.fields} - {"id"} == kept | otherwise, model


def test_document_has_no_keys_and_leaves_blanks_out():
    before = said()

    assert set(before) == {"form", "study", "setups", "series"}
    assert before["study"] == {
        "title": "Rails into posts",
        "question": "Which joint takes more?",
        "workshop": "Shop by the river",
        "origin": "own",
        "licence": "CC0-1.0",
        "invented": False,
    }
    assert before["series"][1]["control"] == "butt"
    assert before["series"][1]["specimens"][0] == {
        "label": "t0",
        "outcome": "broke",
        "reading_typed": "118.5",
        "reading_unit": "kg",
        "peak_load_n": pytest.approx(118.5 * 9.80665),
    }


def test_documents_are_alike_in_another_order_and_without_the_rig():
    one, other = said(), said()
    other["series"].reverse()
    other["setups"][0]["rig"] = "my arm"
    other["noticed"] = [{"code": "unusual", "severity": "doubt", "message": "It is long."}]

    assert alike(one, other)
    other["series"][0]["specimens"][0]["label"] = "x"
    assert not alike(one, other)


def test_rig_is_found_again_by_its_label_among_the_contributors_own():
    study = handed_in()
    arm = models.Loading.objects.get(pk="cantilever_arm")
    rig = models.Rig.objects.create(user=study.contributor, label="my arm", loading=arm)
    models.Rig.objects.create(user=make_user("other"), label="my arm", loading=arm)
    study.setups.update(rig=rig)

    before = written(study)

    assert before["setups"][0]["rig"] == "my arm"
    assert draft_of(before, study).setups[0].rig == rig
    assert draft_of(before).setups[0].rig is None


def test_draft_of_leaves_the_study_it_is_given_as_it_is():
    study = handed_in()
    before = written(study)
    before["study"]["title"] = "Another"

    draft = draft_of(before, study)

    assert (study.title, draft.study.title) == ("Rails into posts", "Another")
    assert (draft.study.pk, draft.study.contributor) == (study.pk, study.contributor)


def test_draft_of_names_a_word_that_is_gone():
    before = copy.deepcopy(said())
    before["series"][0]["timber"] = "unobtainium"

    with pytest.raises(ReviewError, match="Timber 'unobtainium' is no longer in the vocabulary"):
        draft_of(before)


@pytest.mark.parametrize("spoilt", [b"", b"nothing packed", "later"])
def test_read_refuses_what_is_no_document(spoilt):
    revision = handed_in().revisions.get()
    revision.document = spoilt if isinstance(spoilt, bytes) else doc.packed({"form": 99})[0]

    with pytest.raises(ReviewError, match="The document of revision 1 of Rails into posts"):
        read(revision)
