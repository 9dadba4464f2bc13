"""A study is handed in once, and changed by nobody unseen."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.base import ContentFile
from django.utils import timezone

from results.intake.save import save
from results.models import Finding, Photo, Revision, Series, Setup, Specimen, Study, Upload
from results.review import hand_in as room
from results.review.document import draft_of, read, written
from results.review.errors import ReviewError, Stale
from results.review.hand_in import change, discard, hand_in, hand_in_draft, newest_number, waiting
from tests.factories import accept, make_reviewer, make_user
from tests.results.intake.made import flat
from tests.results.intake.made import sent as sent_rows

from .made import changed, handed_in, heavier, mended, sent

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _lighter(now):
    heavier(now, -1)


def _states(study):
    return list(study.revisions.values_list("number", "state"))


def test_handing_in_saves_a_submitted_study_with_its_first_revision():
    study = handed_in(why=" my first ")

    revision = study.revisions.get()
    study.refresh_from_db()
    assert (study.status, study.accepted_at) == ("submitted", None)
    assert (revision.number, revision.state, revision.made_by, revision.why) == (
        1,
        "submitted",
        make_user(),
        "my first",
    )
    assert read(revision) == written(study)
    assert waiting(study) == revision


def test_what_is_handed_in_is_read_by_its_contributor_and_reviewers_only():
    study = handed_in()

    readers = {"maker": make_user(), "stranger": make_user("stranger"), "judge": make_reviewer()}
    assert {name for name, user in readers.items() if study in Study.objects.visible_to(user)} == {"maker", "judge"}
    assert study not in Study.objects.public()
    assert not Series.objects.counting().exists()


def test_handing_in_one_key_twice_saves_once():
    key = uuid.uuid4()

    assert handed_in(key=key) == handed_in(key=key)
    assert (Study.objects.count(), Revision.objects.count()) == (1, 1)


def test_handing_in_refuses_errors():
    with pytest.raises(ValueError, match="with errors can't be saved"):
        hand_in(sent().draft, make_user(), sent_rows(flat({"specimen reading": "far"})).noticed)
    with pytest.raises(ValueError, match="with errors can't be handed in"):
        study = handed_in()
        change(
            study, sent().draft, make_user(), sent_rows(flat({"specimen reading": "far"})).noticed, why="", based_on=1
        )


def test_change_before_acceptance_changes_the_records_at_once():
    study = handed_in()

    revision = changed(study, heavier, why="")

    study.refresh_from_db()
    assert _states(study) == [(1, "replaced"), (2, "submitted")]
    assert Specimen.objects.get(series__study=study, label="t0").reading_typed == "119.5"
    assert read(revision) == written(study)


def test_change_makes_a_returned_study_submitted_again():
    study = handed_in()
    study.revisions.update(state="returned", remarks="Which scale?")
    Study.objects.filter(pk=study.pk).update(status="returned")

    changed(study, heavier)

    study.refresh_from_db()
    assert (study.status, _states(study)) == ("submitted", [(1, "returned"), (2, "submitted")])


def test_change_to_an_accepted_study_waits_and_leaves_it_as_it_is():
    study = accept(handed_in())
    before = written(study)

    first = changed(study, heavier)
    second = changed(study, _lighter)

    study.refresh_from_db()
    assert study.status == "accepted"
    assert written(study) == before != read(second)
    first.refresh_from_db()
    assert _states(study) == [(1, "accepted"), (2, "replaced"), (3, "submitted")]
    assert first.decided_at is not None


def test_change_sent_twice_is_made_once():
    study = handed_in()
    draft = mended(study, heavier)

    first = change(study, draft, make_user(), [], why="", based_on=1)
    again = change(study, mended(study, lambda now: None), make_user(), [], why="", based_on=1)

    assert first == again
    assert newest_number(study) == 2


def test_change_that_changes_nothing_of_an_accepted_study_adds_nothing():
    study = accept(handed_in())

    assert changed(study, lambda now: None).state == "accepted"
    assert newest_number(study) == 1


def test_returned_study_may_be_handed_in_again_as_it_was():
    study = handed_in()
    study.revisions.update(state="returned", remarks="Sure?")
    Study.objects.filter(pk=study.pk).update(status="returned")

    revision = changed(study, lambda now: None, why="I am sure.")

    assert (revision.number, revision.state) == (2, "submitted")


def test_change_from_what_was_there_before_somebodys_newer_one_is_stale():
    study = handed_in()
    mine, theirs = mended(study, heavier), mended(study, _lighter)
    change(study, theirs, make_user(), [], why="", based_on=1)

    with pytest.raises(
        Stale, match=r"^maker handed in revision 2 on \d+ \w+ \d{4}, \d\d:\d\d \(UTC\), after you began"
    ):
        change(study, mine, make_user(), [], why="", based_on=1)
    with pytest.raises(Stale):
        change(study, mine, make_user(), [], why="", based_on=7)
    assert Specimen.objects.get(series__study=study, label="t0").reading_typed == "117.5"


def test_change_is_refused_to_others_and_to_what_is_withdrawn():
    study = accept(handed_in())
    draft = mended(study, heavier)

    for other in (make_user("stranger"), make_reviewer()):
        with pytest.raises(PermissionDenied, match="Only who contributed"):
            change(study, draft, other, [], why="x", based_on=1)
    with pytest.raises(ReviewError, match="The reason is blank"):
        change(study, draft, make_user(), [], why=" ", based_on=1)
    Study.objects.filter(pk=study.pk).update(status="withdrawn", withdrawn_reason="x")
    with pytest.raises(ReviewError, match="A withdrawn study can't be changed"):
        change(study, draft, make_user(), [], why="x", based_on=1)
    assert newest_number(study) == 1


def test_study_whose_contributor_left_is_changed_by_nobody():
    study = accept(handed_in())
    Study.objects.filter(pk=study.pk).update(contributor=None)

    with pytest.raises(PermissionDenied):
        change(study, mended(study, heavier), make_user(), [], why="x", based_on=1)


def test_draft_is_handed_in_once_as_it_is():
    found = sent_rows(flat({"specimen reading": "20 kg"}))
    study = save(found.draft, make_user(), found.noticed, status="draft")
    assert newest_number(study) == 0

    first, again = hand_in_draft(study, make_user()), hand_in_draft(study, make_user())

    study.refresh_from_db()
    assert (study.status, first, first.number) == ("submitted", again, 1)
    assert read(first) == written(study)
    with pytest.raises(PermissionDenied):
        hand_in_draft(study, make_user("stranger"))
    with pytest.raises(ReviewError, match="accepted already"):
        hand_in_draft(accept(study), make_user())


def test_what_the_checks_said_of_the_typing_goes_along_with_a_change():
    study = accept(handed_in())
    found = sent_rows(flat(setup_arm="9000 mm"))
    assert any(one.code == "unusual" for one in found.noticed)

    revision = change(study, found.draft, make_user(), found.noticed, why="wrong file", based_on=1)
    accept(study)

    assert [one["code"] for one in read(revision)["noticed"]] == ["unusual"]
    assert study.findings.filter(code="unusual").count() == 1


def test_discarded_study_leaves_nothing_behind():
    study = handed_in()
    changed(study, heavier)

    with pytest.raises(PermissionDenied):
        discard(study, make_reviewer())
    discard(study, make_user())

    for model in (Study, Setup, Series, Specimen, Finding, Revision):
        assert not model.objects.exists()
    with pytest.raises(ReviewError, match="its contributor took it back"):
        discard(study, make_user())


def test_discarded_study_takes_its_photos_and_spreadsheets_along(
    settings, tmp_path, django_capture_on_commit_callbacks
):
    settings.MEDIA_ROOT = tmp_path
    study, other = handed_in(), handed_in()
    for name, fields in (
        ("its own", {"study": study}),
        ("a change of it", {"changes": study, "revision": 2}),
        ("a change of it that was not handed in", {"changes": study}),
        ("of another", {"study": other}),
    ):
        upload = Upload(user=make_user(), kind="csv", name=name, size_bytes=3, sha256="0" * 64, **fields)
        upload.file.save("x", ContentFile(b"a,b"), save=False)
        upload.save()
    photo = Photo(study=study, caption="Break", width=4, height=3, size_bytes=3, sha256="1")
    photo.file.save("x", ContentFile(b"jpg"), save=False)
    photo.thumbnail.save("x", ContentFile(b"small"), save=False)
    photo.save()
    assert sum(path.is_file() for path in tmp_path.rglob("*")) == 6

    with django_capture_on_commit_callbacks(execute=True):
        discard(study, make_user())

    left = Upload.objects.get()
    assert left.name == "of another"
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [Path(left.file.path)]


def test_accepted_study_is_not_discarded():
    study = accept(handed_in())

    with pytest.raises(ReviewError, match="withdraw it instead"):
        discard(study, make_user())
    assert Study.objects.get() == study


def test_stale_says_who_left_and_what_has_no_revision():
    revision = Revision(number=3, made_at=timezone.now())

    assert room._newer(revision).startswith("somebody who has left handed in revision 3")
    assert "no revisions yet" in room._newer(None)
    with pytest.raises(Stale, match="no revisions yet"):
        found = sent()
        study = save(found.draft, make_user(), found.noticed, status="draft")
        change(study, draft_of(written(study), study), make_user(), [], why="", based_on=1)
