"""The chain has no gaps, and whatever is changed behind its back is named."""

from __future__ import annotations

import threading
import zlib
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection, connections

from results.models import Entry, Revision, Series, Specimen, Study
from results.review import chain
from results.review.decide import accept, withdraw
from results.review.hand_in import waiting
from results.vocabulary import load_vocabulary
from tests import factories
from tests.factories import make_reviewer, make_series, make_specimen, make_study, make_user

from .made import changed, handed_in, heavier

pytestmark = [pytest.mark.django_db]


@pytest.fixture
def book(vocabulary) -> Study:
    """A study accepted twice, one withdrawn, one that waits; all is well."""
    study = factories.accept(handed_in(), remarks="sound")
    withdraw(factories.accept(handed_in("other")), make_user("other"), "wrong arm")
    changed(study, heavier)
    factories.accept(study, remarks="better")
    changed(study, heavier)
    handed_in("third")
    assert chain.verify() == []
    return study


def _named(code: str) -> str:
    """What is told of the one thing that is wrong."""
    (wrong,) = chain.verify()
    assert wrong.code == code
    return wrong.message


def test_links_follow_each_other_from_one_on(book):
    links = list(Entry.objects.values_list("number", "what", "before", "hash"))

    assert [(number, what) for number, what, _, _ in links] == [
        *((1, "accepted"), (2, "accepted"), (3, "withdrawn"), (4, "accepted"))
    ]
    assert [before for _, _, before, _ in links] == ["0" * 64, *(link[3] for link in links[:-1])]


def test_changed_load_is_named(book):
    Specimen.objects.filter(series__study=book, label="t1").update(peak_load_n=9999)

    assert _named("records") == (
        f"Study {book.pk} “Rails into posts” does not say what was accepted as its revision 2: reading of "
        "specimen t1 of series tenon was '119.5 kg = 1171.89 N', now is '119.5 kg = 9999 N'."
    )


def test_removed_specimens_are_named_and_many_are_counted(book):
    for label in ("t0", "t1", "t2", "t3", "b0"):
        specimen = Specimen.objects.get(series__study=book, label=label)
        specimen.findings.all().delete()
        specimen.delete()

    told = _named("records")

    assert "specimen b0 of series butt was removed; specimen t0 of series tenon was removed" in told
    assert told.endswith("; and 2 more differences.")


def test_changed_title_and_series_are_named(book):
    Study.objects.filter(pk=book.pk).update(title="Posts into rails")
    Series.objects.filter(study=book, label="tenon").update(joint="butt")

    told = _named("records")

    assert "title of the study was 'Rails into posts', now is 'Posts into rails'" in told
    assert "joint of series tenon was 'Blind mortise and tenon', now is 'Glued butt'" in told


@pytest.mark.parametrize(
    ("field", "value"), [("why", "fine"), ("by", 77), ("document_sha256", "0" * 64), ("at", "2020-01-01T00:00:00Z")]
)
def test_changed_link_is_named(book, field, value):
    Entry.objects.filter(number=1).update(**{field: value})

    told = [one.message for one in chain.verify()]

    assert "Link 1 of the chain does not say what its hash was taken over." in told


def test_link_made_anew_does_not_fit_the_next(book):
    entry = Entry.objects.get(number=1)
    entry.why = "fine"
    entry.hash = chain.hash_of(entry)
    entry.save()

    assert _named("order") == "Link 2 of the chain does not follow from the one before it."


def test_changed_document_is_named(book):
    revision = book.revisions.get(number=1)
    said = zlib.decompress(bytes(revision.document)).replace(b"118.5", b"218.5")
    Revision.objects.filter(pk=revision.pk).update(document=zlib.compress(said))

    assert _named("document") == "The document of revision 1 of Rails into posts is not what its hash was taken over."


def test_changed_document_with_its_hash_is_named_by_the_link(book):
    revision = book.revisions.get(number=1)
    Revision.objects.filter(pk=revision.pk).update(document_sha256="0" * 64)

    told = [one.message for one in chain.verify()]

    assert "The document of revision 1 of Rails into posts is not the one that link 1 seals." in told


def test_document_that_is_none_is_named(book):
    Revision.objects.filter(study=book, number=2).update(document=b"spoilt")

    assert "The document of revision 2 of Rails into posts can't be read" in _named("document")


@pytest.mark.parametrize("gone", [(2,), (2, 3)])
def test_removed_link_is_named(book, gone):
    Entry.objects.filter(number__in=gone).delete()

    told = {one.code: one.message for one in chain.verify()}

    assert told["gap"] == f"Of the chain, link {'2 is' if gone == (2,) else '2 to 3 are'} missing."


def test_link_cut_off_the_end_shows_by_the_revision_it_sealed(book):
    Entry.objects.filter(number=4).delete()

    told = {one.code: one.message for one in chain.verify()}

    assert told["no-entry"] == "Revision 2 of Rails into posts is accepted, and no link of the chain says so."


def test_link_to_another_studys_revision_is_named(book):
    other = Entry.objects.get(number=2)
    Entry.objects.filter(number=1).update(revision=other.revision)

    assert "Link 1 of the chain points at another study's revision." in [one.message for one in chain.verify()]


def test_study_accepted_past_review_is_named(book):
    past = Study.objects.get(contributor__username="third")
    Study.objects.filter(pk=past.pk).update(status="accepted", accepted_at=past.created_at)

    assert _named("no-entry").startswith(f"Study {past.pk} “Rails into posts” is accepted, and no link")


def test_study_that_is_no_longer_withdrawn_is_named(book):
    gone = Study.objects.get(status="withdrawn")
    Study.objects.filter(pk=gone.pk).update(withdrawn_reason="no reason")
    assert "does not give the reason of its withdrawal that link 3 gives" in _named("status")

    Study.objects.filter(pk=gone.pk).update(status="accepted")
    assert _named("status") == f"Study {gone.pk} “Rails into posts” is accepted, but was last withdrawn by the chain."


def test_hidden_accepted_study_is_named(book):
    Study.objects.filter(pk=book.pk).update(status="draft")

    assert "is draft, but was last accepted by the chain" in _named("status")


def test_verify_command_says_what_is_wrong_and_fails(book):
    out, err = StringIO(), StringIO()
    call_command("verify", stdout=out, stderr=err)
    assert out.getvalue().endswith("Everything agrees with it.\n") and not err.getvalue()
    assert f"The chain ends with link 4, hash {Entry.objects.get(number=4).hash}." in out.getvalue()

    Entry.objects.filter(number=1).update(why="fine")
    with pytest.raises(SystemExit) as left:
        call_command("verify", stdout=out, stderr=err)
    assert left.value.code == 1
    assert err.getvalue().startswith("entry: Link 1 of the chain") and "1 thing is wrong." in err.getvalue()


def test_empty_book_is_in_order():
    out = StringIO()

    call_command("verify", stdout=out)

    assert out.getvalue() == "The chain ends with no link yet.\nEverything agrees with it.\n"


def test_sealing_gives_what_was_accepted_before_its_link_once(vocabulary):
    for status in ("accepted", "withdrawn", "draft", "submitted"):
        make_specimen(make_series(make_study(status, status=status)), label="1")
    assert {one.code for one in chain.verify()} == {"no-entry"}
    out = StringIO()

    call_command("seal_studies", stdout=out)
    call_command("seal_studies", stdout=out)

    assert out.getvalue() == "2 studies sealed.\n0 studies sealed.\n"
    assert list(Entry.objects.values_list("number", "study__title", "what", "why")) == [
        (1, "accepted", "accepted", chain.SEALED),
        (2, "withdrawn", "accepted", chain.SEALED),
        (3, "withdrawn", "withdrawn", "the arm was measured wrongly"),
    ]
    revision = Revision.objects.get(study__title="accepted")
    assert (revision.state, revision.made_at) == ("accepted", revision.study.created_at)
    assert chain.verify() == []


@pytest.mark.django_db(transaction=True)
def test_accepting_at_once_leaves_no_gap_and_no_fork():
    """Two reviewers at a time: numbers follow each other, and all studies are in the chain."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one write at a time anyway; PostgreSQL is where links could collide")
    load_vocabulary()
    revisions = [waiting(handed_in(f"maker {number}")) for number in range(6)]
    judges = [make_reviewer(f"judge {number}") for number in range(2)]
    ready, failed = threading.Barrier(2), []

    def review(judge, own):
        try:
            ready.wait()
            for revision in own:
                accept(revision, judge)
        except Exception as error:
            failed.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=review, args=(judge, revisions[at::2])) for at, judge in enumerate(judges)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failed == []
    assert list(Entry.objects.values_list("number", flat=True)) == [1, 2, 3, 4, 5, 6]
    assert chain.verify() == []


@pytest.mark.django_db(transaction=True)
def test_one_revision_accepted_by_two_at_once_is_accepted_once():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one write at a time anyway; PostgreSQL is where two could decide at once")
    load_vocabulary()
    revision = waiting(handed_in())
    judges = [make_reviewer(f"judge {number}") for number in range(2)]
    ready, failed = threading.Barrier(2), []

    def review(judge):
        try:
            ready.wait()
            accept(revision, judge)
        except Exception as error:
            failed.append(type(error).__name__)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=review, args=(judge,)) for judge in judges]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failed == ["Decided"]
    assert Entry.objects.count() == 1
