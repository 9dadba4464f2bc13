"""Who is told of what, and who isn't."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group, Permission

from results.accounts.leave import leave
from results.models import Notice
from results.review import ask, decide, notify
from tests.factories import make_reviewer, make_study, make_user
from tests.results.pages.handed_in import accepted, changed, the_waiting, waits

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture(autouse=True)
def cast():
    """Two reviewers and one whose account is closed; nobody else may review."""
    for name in ("judge", "second"):
        make_reviewer(name)
    make_reviewer("left", is_active=False)
    make_user("stranger")


def told(what: str | None = None) -> dict[str, list[str]]:
    """The texts that each person was told, by name."""
    found: dict[str, list[str]] = {}
    rows = Notice.objects.filter(what=what) if what else Notice.objects.all()
    for row in rows.select_related("user").order_by("id"):
        found.setdefault(row.user.username, []).append(row.text)
    return found


def test_reviewers_are_told_what_waits_but_not_who_handed_it_in():
    make_reviewer("owner")  # a reviewer who contributes, too

    revision = waits()

    text = "“Rails into posts” was handed in for review by owner."
    assert told() == {"judge": [text], "second": [text]}
    assert set(Notice.objects.values_list("address", flat=True)) == {f"/review/{revision.pk}/"}


def test_somebody_with_all_permissions_is_a_reviewer():
    get_user_model().objects.create_superuser("staff", password="sawdust")

    waits()

    assert set(told()) == {"judge", "second", "staff"}


def test_member_of_the_reviewers_group_is_a_reviewer():
    group = Group.objects.create(name="who reviews")
    group.permissions.add(Permission.objects.get(codename="review_study"))
    make_user("member").groups.add(group)

    waits()

    assert set(told()) == {"judge", "second", "member"}


def test_what_was_replaced_or_decided_waits_for_nobody_any_more():
    study = waits().study
    Notice.objects.filter(user__username="second").update(sent_at="2025-01-01T00:00Z")

    changed(study)  # replaces what waited

    waiting = Notice.objects.filter(seen_at=None)
    assert sorted(waiting.values_list("user__username", flat=True)) == ["judge", "second"]
    assert set(waiting.values_list("address", flat=True)) == {f"/review/{the_waiting(study).pk}/"}
    decide.accept(the_waiting(study), make_user("judge"))
    assert not Notice.objects.filter(seen_at=None, what="submitted").exists()
    assert told("submitted") == {"second": ["“Rails into posts” was handed in for review by owner."]}


def test_contributor_is_told_what_was_decided_in_the_reviewer_s_words():
    study = waits().study

    decide.send_back(the_waiting(study), make_user("judge"), "Which arm?\nMeasure it.")
    changed(study)
    decide.accept(the_waiting(study), make_user("second"))

    assert told("returned") == {
        "owner": ["“Rails into posts” was returned with remarks by judge: Which arm?\nMeasure it."]
    }
    assert told("accepted") == {"owner": ["Revision 2 of “Rails into posts” was accepted by second."]}


def test_change_of_an_accepted_study_is_told_as_a_change():
    study = accepted()
    Notice.objects.all().delete()

    changed(study)

    assert told()["judge"] == ["A change to “Rails into posts” was handed in for review by owner."]


def test_withdrawing_is_told_to_the_contributor_unless_they_did_it():
    one, other = accepted("One"), accepted("Other")
    Notice.objects.all().delete()

    decide.withdraw(one, one.contributor, "the arm was wrong")
    decide.withdraw(other, make_user("judge"), "made up")

    assert told() == {"owner": ["“Other” was withdrawn by judge: made up"]}


def test_questions_answers_and_resolving_are_told_to_those_they_concern():
    study = make_study(contributor=make_user("owner"))
    stranger, judge = make_user("stranger"), make_user("judge")

    doubt = ask.ask(study, stranger, "doubt", "Is it oak?", ask.Target())
    assert told() == {"owner": ["A doubt about “Rails into posts” was raised by stranger: Is it oak?"]}
    ask.answer(doubt, study.contributor, "It is.")
    assert told("answer") == {"stranger": ["A doubt about “Rails into posts” was answered by the contributor: It is."]}
    ask.answer(doubt, judge, "Looks so.")
    assert set(told("answer")) == {"stranger", "owner"}
    ask.resolve(doubt, judge, "Seen on a photo.")

    text = "A doubt about “Rails into posts” was resolved by judge: Seen on a photo."
    assert told("resolved") == {"stranger": [text], "owner": [text]}
    assert set(Notice.objects.values_list("address", flat=True)) == {f"/studies/{study.pk}/#question-{doubt.pk}"}


def test_name_of_somebody_who_leaves_is_taken_out_of_what_others_were_told():
    study = accepted()
    changed(study)
    Notice.objects.exclude(what="submitted").delete()
    ask.ask(study, make_user("stranger"), "doubt", "Is it by stranger. Or by stranger: who?", ask.Target())
    ask.ask(study, make_user("strange"), "doubt", "So?", ask.Target())

    leave(make_user("stranger"))

    assert told("doubt")["owner"] == [
        "A doubt about “Rails into posts” was raised by somebody who has left: Is it by stranger. Or by stranger: who?",
        "A doubt about “Rails into posts” was raised by strange: So?",
    ]


@pytest.mark.parametrize("name", ["sam", "sam.smith", "sam.", "sam.smith.jr"])
def test_name_that_another_one_begins_with_stays_when_the_other_leaves(name):
    names = ("sam", "sam.smith", "sam.", "sam.smith.jr")
    study = make_study(contributor=make_user("owner"))
    for one in names:
        ask.ask(study, make_user(one), "question", "Which glue?", ask.Target())
        notify.tell([study.contributor], study, "withdrawn", f"“{study}” was withdrawn by {one}.", "/")

    leave(make_user(name))

    called = {one: "somebody who has left" if one == name else one for one in names}
    assert told("question")["owner"] == [
        f"A question about “Rails into posts” was asked by {called[one]}: Which glue?" for one in names
    ]
    assert told("withdrawn")["owner"] == [f"“Rails into posts” was withdrawn by {called[one]}." for one in names]


@pytest.mark.parametrize(
    "title",
    ["Joints by sam: a test", "Tests by sam.", "Rails", "A” was raised by sam: and “B", "Of “C” was asked by x: it"],
)
def test_name_of_somebody_who_leaves_goes_from_where_they_did_something_and_nowhere_else(title):
    study = make_study(title, contributor=make_user("owner"))
    sam, other, words = make_user("sam"), make_user("other"), f"Made by sam: “{title}” was raised by sam: so."
    ask.ask(study, sam, "doubt", words, ask.Target())
    doubt = ask.ask(study, other, "doubt", words, ask.Target())
    ask.answer(doubt, study.contributor, words)

    leave(sam)

    assert told("doubt")["owner"] == [
        f"A doubt about “{title}” was raised by somebody who has left: {words}",
        f"A doubt about “{title}” was raised by other: {words}",
    ]
    assert told("answer")["other"] == [f"A doubt about “{title}” was answered by the contributor: {words}"]


def test_name_of_somebody_who_leaves_goes_though_the_title_was_changed_since():
    study = make_study("Rails", contributor=make_user("owner"))
    ask.ask(study, make_user("sam"), "doubt", "“Posts” was asked by sam: no.", ask.Target())
    study.title = "Posts"
    study.save()

    leave(make_user("sam"))

    said = "was raised by somebody who has left: “Posts” was asked by sam: no."
    assert told("doubt")["owner"] == [f"A doubt about “Rails” {said}"]


def test_what_waited_of_somebody_who_leaves_waits_for_nobody():
    changed(accepted())
    assert set(told("submitted")) == {"judge", "second"}

    leave(make_user("owner"))

    assert told() == {}


def test_nobody_is_told_of_what_they_did_and_nobody_who_left():
    study = make_study(contributor=None)
    stranger = make_user("stranger")

    question = ask.ask(study, stranger, "question", "Which glue?", ask.Target())
    ask.answer(question, stranger, "I mean the first series.")
    ask.resolve(question, stranger, "Found it.")
    notify.tell([stranger, stranger, None, make_user("left")], study, "answer", "once", "/")

    assert told() == {"stranger": ["once"]}
