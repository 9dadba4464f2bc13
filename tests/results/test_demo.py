"""The demonstration is handed in and reviewed, once, and shows what the checks catch."""

from __future__ import annotations

from io import StringIO

import pytest
from django.contrib.auth import get_user_model
from django.core.management import CommandError, call_command

from results.demo import FOLDER, MAKER, PASSWORD, REVIEWER, DemoError, load_demo
from results.models import Entry, Finding, Notice, Revision, Series, Specimen, Study
from results.review.chain import verify
from results.review.notify import tell
from results.vocabulary import load_vocabulary
from tests.factories import make_study

pytestmark = pytest.mark.django_db


@pytest.fixture
def vocabulary() -> None:
    load_vocabulary()


def test_load_hands_in_every_file_and_has_all_but_one_accepted(vocabulary):
    loaded = load_demo()

    files = [path for path in FOLDER.iterdir() if path.suffix in (".csv", ".xlsx")]
    assert (loaded.added, loaded.kept) == (len(files), 0)
    studies = Study.objects.filter(invented=True, contributor__username=MAKER)
    assert studies.filter(status="accepted").count() == len(files) - 1
    assert [study.title for study in studies.filter(status="submitted")] == ["Bench stretchers in ash"]
    accepted = Revision.objects.filter(state="accepted", decided_by__username=REVIEWER)
    assert accepted.count() == Entry.objects.count() == len(files) - 1
    assert verify() == []
    # Nobody is told of what was there before they were.
    assert not Notice.objects.filter(user__username=MAKER, seen_at=None).exists()
    assert Notice.objects.get(user__username=REVIEWER, seen_at=None).study.status == "submitted"
    assert loaded.series == Series.objects.count() >= 60
    assert loaded.specimens == Specimen.objects.count() >= 500
    assert not Finding.objects.filter(severity="error").exists()
    # Void specimens aside, every reading became a number, and in all but the study without arm, a footing.
    told = Specimen.objects.told()
    assert not told.filter(peak_load_n=None, moment_nm=None).exists()
    lacking = told.filter(moment_nm=None, force_n=None)
    assert set(lacking.values_list("series__study__title", flat=True)) == {"Quick joints for shop furniture"}


def test_load_twice_changes_nothing(vocabulary):
    load_demo()
    before = list(Study.objects.values()), list(Specimen.objects.values()), list(Finding.objects.values())

    again = load_demo()

    assert (again.added, again.kept) == (0, len(before[0]))
    assert (
        list(Study.objects.values()),
        list(Specimen.objects.values()),
        list(Finding.objects.values()),
    ) == before


def test_load_marks_only_what_it_told_itself_as_seen(vocabulary):
    maker = get_user_model().objects.create_user(MAKER)
    own = make_study(contributor=maker)
    tell([maker], own, "question", "A question about it was asked by reader.", "/")

    load_demo()

    (unseen,) = Notice.objects.filter(user=maker, seen_at=None)
    assert (unseen.study, unseen.sent_at) == (own, None)
    known = Study.objects.exclude(pk=own.pk).filter(status="accepted").first()
    tell([maker], known, "question", "A question about it was asked by reader.", "/")
    load_demo()  # once more, which loads nothing
    assert Notice.objects.filter(user=maker, seen_at=None, sent_at=None).count() == 2


def test_load_refuses_a_file_with_errors_and_saves_none(vocabulary, tmp_path):
    for path in FOLDER.glob("0[1-3]_*"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    broken = next(tmp_path.glob("03_*"))
    broken.write_text(broken.read_text().replace("maple_sugar", "unobtainium"))

    with pytest.raises(DemoError, match=rf"^{broken.name}, cell O2: .*unobtainium"):
        load_demo(tmp_path)

    assert not Study.objects.exists()


def test_command_refuses_to_make_known_passwords_on_a_real_site(vocabulary, settings):
    settings.DEMO = settings.DEBUG = False

    with pytest.raises(CommandError, match="known password"):
        call_command("load_demo")
    with pytest.raises(CommandError, match="DEMO is off"):
        call_command("demo", no_serve=True)

    assert not Study.objects.exists()


def test_demo_command_loads_all_and_prints_address_and_login(settings):
    settings.DEMO = True
    out = StringIO()

    call_command("demo", no_serve=True, port=8123, stdout=out)

    assert Study.objects.accepted().count() == len(list(FOLDER.glob("[0-9]*"))) - 1
    assert f"Open http://127.0.0.1:8123/ and log in as {MAKER} with {PASSWORD}." in out.getvalue()
    assert f"To review what waits, log in as {REVIEWER} with the same password." in out.getvalue()
