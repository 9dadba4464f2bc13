"""What a study said at each time, who may read it, and going back to it."""

from __future__ import annotations

import html

import pytest
from django.urls import reverse

from results.models import Revision, Study
from results.pages import revisions as page_code
from results.pages import revisions_shown
from results.review.decide import send_back, withdraw
from results.review.document import packed, read, written
from results.review.hand_in import change, discard, newest_number, waiting
from tests.factories import accept, make_reviewer, make_user

from .handed_in import accepted, changed, waits
from .shops import table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _at(name, study, *more):
    return reverse(f"revisions:{name}", args=[study.pk, *more])


@pytest.fixture
def study() -> Study:
    """Accepted as revision 1 and again as revision 3; a change waits as revision 4."""
    study = accepted()
    changed(study, load_n=150, why="a guess")
    accept_of = changed(study, load_n=160, why="the scale was read wrongly")
    accept(study, remarks="clear now")
    assert accept_of.number == 3
    changed(study, load_n=170, why="once more")
    return study


def _numbers(client, study):
    shown = client.get(_at("revisions", study))
    assert shown.status_code == 200
    return [one.number for one in shown.context["page"]]


def test_everybody_reads_the_accepted_revisions_and_who_is_concerned_reads_all(client, study):
    assert _numbers(client, study) == [3, 1]
    client.force_login(make_user("stranger"))
    assert _numbers(client, study) == [3, 1]
    for user in (make_user("owner"), make_reviewer()):
        client.force_login(user)
        assert _numbers(client, study) == [4, 3, 2, 1]


def test_list_says_who_when_why_and_what_became_of_it(client, study):
    shown = text(client.get(_at("revisions", study)))

    assert "Revision 3 accepted what the study says now Made by the contributor" in shown
    assert "the scale was read wrongly Accepted by judge" in shown and ": clear now" in shown
    assert "owner" not in shown and "a guess" not in shown
    client.force_login(make_user("owner"))
    assert "Revision 2 replaced before it was reviewed Made by the contributor" in text(
        client.get(_at("revisions", study))
    )


@pytest.mark.parametrize("status", ["draft", "submitted", "returned"])
def test_revisions_of_what_is_not_public_are_read_by_whoever_reads_the_study(client, status):
    study = waits().study
    Study.objects.filter(pk=study.pk).update(status=status)
    addresses = [_at("revisions", study), _at("revision", study, 1), _at("compare", study, 1, 1)]

    for user, may in ((None, False), ("stranger", False), ("owner", True)):
        if user:
            client.force_login(make_user(user))
        assert {client.get(address).status_code for address in addresses} == {200 if may else 404}
    client.force_login(make_reviewer())
    assert {client.get(one).status_code for one in addresses} == ({404} if status == "draft" else {200})


def test_hidden_revisions_of_a_public_study_are_not_there_for_others(client, study):
    for number in (2, 4, 5):
        assert client.get(_at("revision", study, number)).status_code == 404
        assert client.get(_at("compare", study, 1, number)).status_code == 404
        assert client.get(_at("compare", study, number, 3)).status_code == 404


def test_revision_says_all_it_holds_and_what_it_changed(client, study):
    answer = client.get(_at("revision", study, 3))

    assert "no-store" in answer.headers["Cache-Control"]
    assert table(answer, "The study")[:2] == [["title", "Rails into posts"], ["question", "Which joint takes more?"]]
    assert ["arm", "300 mm"] in table(answer, "Setup jack and arm")
    assert ["joint", "Glued butt"] in table(answer, "Series butt")
    specimens = table(answer, "Specimens of series butt")
    assert specimens[0] == ["Specimen", "Reading", "Outcome", "Failure place"]
    assert specimens[1][1:] == ["160 N", "broke", "Bond line"]
    # Against the accepted one before; what was replaced in between is not for everybody.
    (row,) = table(answer, "Differences from the revision before")[1:]
    assert row[1:] == ["reading", "133.333 N", "160 N"]
    assert "Revision 1" in table(answer, "Differences from the revision before")[0]
    revision = study.revisions.get(number=3)
    assert revision.document_sha256 in text(answer)


def test_every_page_of_an_invented_study_says_so(client):
    study = accepted(invented=True)

    for address in (_at("revisions", study), _at("revision", study, 1), _at("compare", study, 1, 1)):
        assert '<span class="tag invented">' in client.get(address).content.decode()


def test_first_revision_changed_nothing(client, study):
    answer = client.get(_at("revision", study, 1))

    assert answer.context["changed"] is None
    assert "What it changed" not in text(answer)


def test_compare_shows_every_difference_a_page_at_a_time(client, study, monkeypatch):
    client.force_login(make_user("owner"))
    monkeypatch.setattr(page_code, "PER_PAGE", 2)
    now = written(study)
    for one in now["series"][1]["specimens"]:
        one["notes"] = "oak <b>"
    data, mark = packed(now)
    Revision.objects.filter(study=study, number=4).update(document=data, document_sha256=mark)

    answer = client.get(_at("compare", study, 3, 4))

    assert answer.context["changed"].sums == [("specimens: notes changed", 3)]
    assert len(table(answer, "Each difference")) == 3
    assert "oak <b>" in html.unescape(answer.content.decode()) and "oak <b>" not in answer.content.decode()
    assert len(table(client.get(_at("compare", study, 3, 4) + "?page=2"), "Each difference")) == 2
    assert client.get(_at("compare", study, 3, 4) + "?page=3").status_code == 400
    back = client.get(_at("compare", study, 4, 3)).context["changed"].first[0]
    assert (back.before, back.after) == ("oak <b>", "")
    assert "They say the same." in text(client.get(_at("compare", study, 3, 3)))


def test_choosing_two_revisions_leads_to_their_comparison(client, study):
    answer = client.get(_at("revisions", study) + "?before=1&after=3")

    assert answer.headers["Location"] == _at("compare", study, 1, 3)
    assert client.get(_at("revisions", study) + "?before=x&after=3").status_code == 200
    assert client.get(_at("revisions", study) + "?page=9").status_code == 400


def test_many_specimens_are_read_a_page_at_a_time(client, study, monkeypatch):
    monkeypatch.setattr(revisions_shown, "SPECIMENS", 4)

    first, second = (client.get(f"{_at('revision', study, 1)}?page={page}") for page in (1, 2))

    assert (len(table(first, "Specimens of series butt")), len(table(first, "Specimens of series mt_blind"))) == (4, 2)
    assert len(table(second, "Specimens of series mt_blind")) == 3
    assert "Specimens of series butt" not in text(second) and "Setup jack and arm" not in text(second)


def test_going_back_makes_a_revision_that_waits(client, study):
    client.force_login(make_user("owner"))
    page = client.get(_at("revision", study, 1))
    seen = page.context["form"]["based_on"].value()

    answer = client.post(_at("restore", study, 1), {"why": "the first was right", "based_on": seen}, follow=True)

    made = study.revisions.get(number=5)
    assert (made.state, made.restores, made.why) == ("submitted", 1, "the first was right")
    assert read(made) == read(study.revisions.get(number=1)) != written(study)
    assert study.revisions.get(number=4).state == "replaced"
    assert "Your change waits for review" in text(answer) and "goes back to revision 1" in text(answer)
    accept(study)
    assert written(study) == read(made)


def test_going_back_before_acceptance_changes_the_study_at_once(client):
    study = waits().study
    first = written(study)
    changed(study)
    client.force_login(make_user("owner"))

    client.post(_at("restore", study, 1), {"why": "", "based_on": 2})
    assert newest_number(study) == 2
    client.post(_at("restore", study, 1), {"why": "right after all", "based_on": 2})

    assert written(study) == first and waiting(study).number == 3


def test_going_back_wants_a_reason_and_keeps_what_was_typed(client, study):
    client.force_login(make_user("owner"))

    answer = client.post(_at("restore", study, 1), {"why": " ", "based_on": 4})
    assert answer.status_code == 422 and "say why the study goes back" in text(answer)
    answer = client.post(_at("restore", study, 1), {"why": "w" * 1001, "based_on": 4})
    assert answer.status_code == 422 and "the most is 1000" in text(answer) and "w" * 1001 in answer.content.decode()
    answer = client.post(_at("restore", study, 1), {"why": "x"})
    assert answer.status_code == 422
    assert newest_number(study) == 4


def test_going_back_from_what_is_no_longer_the_newest_says_what_to_do(client, study):
    client.force_login(make_user("owner"))
    changed(study, load_n=180, why="from another tab")

    answer = client.post(_at("restore", study, 1), {"why": "the first", "based_on": 4})

    assert answer.status_code == 409
    shown = text(answer)
    assert "Not changed." in shown and "handed in revision 5" in shown and "all revisions" in shown
    assert "the first" in answer.content.decode()
    assert newest_number(study) == 5
    # Having seen that, its contributor may still want it.
    assert 'name="based_on" value="5"' in answer.content.decode()
    client.post(_at("restore", study, 1), {"why": "the first", "based_on": 5})
    assert newest_number(study) == 6


def test_going_back_twice_is_going_back_once(client, study):
    client.force_login(make_user("owner"))

    for _ in range(2):
        client.post(_at("restore", study, 1), {"why": "the first", "based_on": 4})

    assert newest_number(study) == 5


def test_going_back_to_what_it_says_adds_nothing(client):
    study = accepted()
    client.force_login(make_user("owner"))

    answer = client.post(_at("restore", study, 1), {"why": "again", "based_on": 1}, follow=True)

    assert "says that already: it is revision 1" in text(answer) and newest_number(study) == 1


def test_going_back_of_a_study_that_is_withdrawn_meanwhile_says_so_and_keeps_what_was_typed(client, study):
    withdraw(study, make_user("owner"), "wrong arm")
    client.force_login(make_user("owner"))

    answer = client.post(_at("restore", study, 1), {"why": "the <first>", "based_on": 4})

    shown = text(answer)
    assert answer.status_code == 422
    assert "A withdrawn study can't be changed; hand in a new one." in shown and "the <first>" in shown
    assert "can't be shown" not in shown and "manage.py verify" not in shown


def test_going_back_of_a_study_that_is_gone_meanwhile_says_so_and_keeps_what_was_typed(client, monkeypatch):
    study = waits().study
    owner = make_user("owner")
    client.force_login(owner)

    def taken_back_first(*args, **kwargs):
        discard(study, owner)
        return change(*args, **kwargs)

    monkeypatch.setattr(page_code, "change", taken_back_first)

    answer = client.post(_at("restore", study, 1), {"why": "the first", "based_on": 1})

    shown = text(answer)
    assert answer.status_code == 422
    assert "This study is not there any more: its contributor took it back." in shown and "the first" in shown
    assert not Study.objects.exists()


def test_going_back_to_what_has_a_word_that_left_says_so_and_keeps_what_was_typed(client, study):
    now = written(study)
    now["series"][0]["joint"] = "no_such_joint"
    data, mark = packed(now)
    Revision.objects.filter(study=study, number=2).update(document=data, document_sha256=mark)
    client.force_login(make_user("owner"))

    answer = client.post(_at("restore", study, 2), {"why": "the second", "based_on": 4})

    assert answer.status_code == 422
    assert "'no_such_joint' is no longer in the vocabulary" in text(answer) and "the second" in text(answer)


def test_reason_of_several_lines_is_kept_as_typed_and_counted_so(client, study):
    client.force_login(make_user("owner"))
    why = "x" * 500 + "\r\n" + "y" * 499  # 1000 characters as they were typed

    assert client.post(_at("restore", study, 1), {"why": why, "based_on": 4}).status_code == 302

    assert study.revisions.get(number=5).why == why.replace("\r\n", "\n")


def test_only_the_contributor_goes_back(client, study):
    data = {"why": "mine", "based_on": 4}

    answer = client.post(_at("restore", study, 1), data)
    assert (answer.status_code, answer.headers["Location"].startswith(reverse("login"))) == (302, True)
    for user in (make_user("stranger"), make_reviewer()):
        client.force_login(user)
        assert client.post(_at("restore", study, 1), data).status_code == 403
        assert client.get(_at("revision", study, 1)).context["form"] is None
    withdraw(study, make_user("owner"), "wrong arm")
    client.force_login(make_user("owner"))
    answer = client.post(_at("restore", study, 1), data)
    assert answer.status_code == 422 and "A withdrawn study can't be changed" in text(answer)
    assert newest_number(study) == 4


def test_reason_typed_before_the_session_ended_is_given_back(client, study):
    client.post(_at("restore", study, 1), {"why": "the first was right", "based_on": 4})
    client.force_login(make_user("owner"))

    answer = client.get(_at("restore", study, 1), follow=True)

    assert "the first was right" in answer.content.decode()
    assert newest_number(study) == 4


def test_revision_that_cannot_be_read_says_so(client, study):
    Revision.objects.filter(study=study, number=3).update(document=b"spoilt")

    answer = client.get(_at("revision", study, 3))

    assert answer.status_code == 422 and "can't be read" in text(answer)


def test_study_without_a_revision_says_so(client):
    study = accepted()
    Study.objects.filter(pk=study.pk).update(status="withdrawn", withdrawn_reason="x")
    study.entries.all().delete()
    study.revisions.all().delete()

    assert "it was accepted before revisions were kept" in text(client.get(_at("revisions", study)))


def test_returned_remarks_are_shown_with_their_revision(client):
    study = waits().study
    send_back(waiting(study), make_reviewer(), "Which scale?\nhttps://example.org/scales <script>")
    client.force_login(make_user("owner"))

    page = client.get(_at("revision", study, 1)).content.decode()

    assert 'Which scale?<br><a href="https://example.org/scales"' in page and "&lt;script&gt;" in page
