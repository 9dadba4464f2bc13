"""A reviewer's pages: the queue, one revision with what the book says of it, and the decision."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from results.evidence.beside import beside
from results.evidence.study import study_view
from results.models import Entry, Photo, Revision, Study
from results.review import ask as asking
from results.review import decide
from results.review.chain import seal
from results.review.hand_in import hand_in_draft, newest_number
from tests.factories import make_finding, make_reviewer, make_study, make_user

from .handed_in import accepted, changed, the_waiting, waits
from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def judge(client):
    user = make_reviewer("judge")
    client.force_login(user)
    return user


def at(revision):
    return f"/review/{revision.pk}/"


def a_photo(study, number=1, **fields):
    photo = Photo(study=study, caption=f"Break {number}", width=4, height=3, size_bytes=3, sha256=f"{number}", **fields)
    photo.file.save("", ContentFile(b"jpg"), save=False)
    photo.thumbnail.save("", ContentFile(b"jpg"), save=False)
    photo.save()
    return photo


def an_empty_one(title):
    """A study without series, which takes less time to make, that waits for review."""
    study = make_study(title, status="draft", contributor=make_user("owner"))
    return hand_in_draft(study, study.contributor)


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def with_a_doubt(title="Rails into posts", **fields):
    """A new study with a doubt about what was typed, that waits for review."""
    study = a_shop(title, status="draft", contributor=make_user("owner"), **fields)
    make_finding(study, series=study.series.get(label="butt"), code="typed-oddly", message="It looks like pounds.")
    return hand_in_draft(study, study.contributor)


def test_queue_tells_what_waits_the_oldest_first(client, judge):
    new = with_a_doubt("New one")
    change = changed(accepted("Known one"))
    for number in (1, 2):
        a_photo(new.study, number)
    Revision.objects.filter(pk=change.pk).update(made_at=timezone.now() - timedelta(days=3))

    shown = text(client.get("/review/"))

    waiting, lately = shown.split("Decided lately")
    assert "2 revisions, the longest waiting first." in waiting
    first, second = waiting.index("Known one"), waiting.index("New one")
    assert first < second
    assert "change of an accepted study" in waiting[first:second] and "no photos" in waiting[first:second]
    assert "waiting for 3 days" in waiting[first:second].replace("\xa0", " ")
    assert "new study 1 doubt" in waiting[second:] and "2 photos" in waiting[second:]
    assert "contributed by owner" in waiting[second:]
    assert "Known one, revision 1 : accepted by judge" in lately


def test_queue_counts_the_findings_of_a_change_not_of_what_it_changes(client, judge):
    study = accepted()
    load = study.series.get(label="butt").specimens.first().peak_load_n
    changed(study, load_n=load * 9.80665)  # kilograms typed as newtons
    for _ in range(3):
        make_finding(study)  # of the study as it is accepted

    shown = text(client.get("/review/"))

    assert "1 doubt" in shown and "3 doubts" not in shown
    assert "A slip would explain it" in text(client.get(at(the_waiting(study))))


def test_queue_shows_one_s_own_but_leaves_it_to_others(client, judge):
    revision = waits(owner="judge")

    assert "your own: somebody else decides" in text(client.get("/review/"))
    page = client.get(at(revision))
    assert "You had a part in it, so that somebody else decides." in text(page)
    assert "<textarea" not in page.content.decode()
    for do in ("accept", "return"):
        response = client.post(at(revision), {"do": do, "remarks": "Fine."})
        assert response.status_code == 403
        assert "Nobody reviews what they contributed" in text(response)
    revision.refresh_from_db()
    assert revision.state == "submitted"


def test_empty_queue_says_so(client, judge):
    shown = text(client.get("/review/"))

    assert "Nothing waits." in shown and "Nothing yet." in shown


def test_queue_has_pages(client, judge):
    for number in range(26):
        an_empty_one(f"Study {number}")

    assert "Study 25" in text(client.get("/review/?page=2"))
    assert client.get("/review/?page=3").status_code == 400


def test_queue_costs_no_more_queries_for_more_rows(client, judge):
    def cost():
        client.get("/review/")
        with CaptureQueriesContext(connection) as queries:
            client.get("/review/")
        return len(queries)

    an_empty_one("One")
    few = cost()
    for number in range(5):
        an_empty_one(f"Study {number}")

    assert cost() == few


def test_revision_sets_each_series_against_the_book(client, judge):
    for rig in (1.0, 1.1, 0.9):
        a_shop(f"Shop {rig}", workshop=f"Shop {rig}", rig=rig)
    revision = waits("One more", workshop="One more", rig=1.2)
    row = beside(study_view(revision.study), invented=False).rows.set_index("series").loc["butt"]

    shown = text(client.get(at(revision)))

    butt = shown[shown.index("Series butt") : shown.index("Series mt_blind")]
    numbers = [float(number) for number in re.findall(r"(?<![\w.])\d+\.\d+", butt)]
    wanted = [
        *("mean", "low", "high", "others_mean", "others_low", "others_high"),
        *("ratio", "ratio_low", "ratio_high", "others_prediction_low", "others_prediction_high"),
    ]
    assert numbers[: len(wanted)] == pytest.approx([row[name] for name in wanted], rel=0.006)
    assert "3 studies, 9 specimens" in butt and "within" in butt
    assert "Ratio to solid wood expected" in butt and "from Glued butt in other studies" in butt
    assert "More than wood can take none of 3" in butt
    assert "Glued butt, bending moment, Oak, northern red" in butt


def test_revision_shows_findings_and_photos_beside_the_series_they_are_of(client, judge):
    revision = with_a_doubt()
    study = revision.study
    butt = study.series.get(label="butt")
    specimen = butt.specimens.first()
    a_photo(study, 1, series=butt, specimen=specimen)
    a_photo(study, 2)

    response = client.get(at(revision))

    shown = text(response)
    whole, butt_part, rest = re.split("Series butt|Series mt_blind", shown[shown.index("The study as a whole") :])
    assert "Break 2" in whole and "Break 1" not in whole
    assert "doubt : It looks like pounds." in butt_part
    assert f"{specimen.label} Break 1" in butt_part
    assert "Photos None." in rest
    assert "To look at first: series butt" in shown
    page = response.content.decode()
    assert page.count("<svg") >= 1 and "jack and arm" in shown  # the setup, drawn


def test_revision_tells_the_first_findings_of_very_many(client, judge):
    study = a_shop(status="draft", contributor=make_user("owner"))
    for number in range(23):
        make_finding(study, severity="remark", message=f"Remark {number}.")
    revision = hand_in_draft(study, study.contributor)

    shown = text(client.get(at(revision)))

    assert "Remark 19." in shown and "Remark 20." not in shown and "And 4 more." in shown  # one is its own


def test_change_of_an_accepted_study_tells_first_what_it_changes_and_why(client, judge):
    study = accepted()
    revision = changed(study, load_n=200, why="misread <b>it</b>")

    shown = text(client.get(at(revision)))

    assert "change of an accepted study" in shown and "misread <b>it</b>" in shown
    assert shown.index("What it changes") < shown.index("Findings, numbers and photos")
    changes = shown[shown.index("What it changes") : shown.index("Findings, numbers and photos")]
    assert f"Against revision 1, accepted on {timezone.now():%Y-%m-%d}" in changes
    assert "specimens: reading changed" in changes
    assert "200 N" in changes and "of series butt" in changes


def called_in_the_queue_and_on_its_page(client, revision):
    """Whether pages call a revision a change: its own page, and the list if it waits."""
    own = "change of an accepted study" in text(client.get(at(revision)))
    if revision.state == "submitted":
        assert own == ("change of an accepted study" in text(client.get("/review/")).split("Decided lately")[0])
    return own


def test_new_study_stays_a_new_one_however_often_it_was_handed_in_before_it_was_accepted(client, judge):
    first = waits()
    study = first.study
    decide.send_back(first, judge, "Which arm?")
    again = changed(study, load_n=150)
    newest = changed(study, load_n=160)

    assert not called_in_the_queue_and_on_its_page(client, newest)
    decide.accept(newest, judge)

    change = changed(study, load_n=170)
    for one, is_change in ((first, False), (again, False), (newest, False), (change, True)):
        one.refresh_from_db()
        assert called_in_the_queue_and_on_its_page(client, one) == is_change, one.number
    # What came after it is nothing that the first one changed.
    assert "What it changes" not in text(client.get(at(first)))


@pytest.mark.parametrize("sealed", [False, True])
def test_change_of_a_study_accepted_before_revisions_were_kept_is_a_change(client, judge, sealed):
    study = a_shop(contributor=make_user("owner"))
    if sealed:
        seal()
        assert not called_in_the_queue_and_on_its_page(client, study.revisions.get(number=1))
    returned = changed(study, load_n=150)

    assert called_in_the_queue_and_on_its_page(client, returned)
    decide.send_back(returned, judge, "Which scale?")
    again = changed(study, load_n=160)
    assert called_in_the_queue_and_on_its_page(client, again)
    decide.withdraw(study, judge, "the arm was wrong")

    for one in (returned, again):
        one.refresh_from_db()
        assert called_in_the_queue_and_on_its_page(client, one)


def test_new_study_has_no_changes_but_its_second_try_tells_them_with_the_remarks(client, judge):
    revision = waits()
    assert "What it changes" not in text(client.get(at(revision)))

    decide.send_back(revision, judge, "Which arm?")
    again = changed(revision.study, load_n=200)

    shown = text(client.get(at(again)))
    assert "Against revision 1, returned with remarks" in shown and "The remarks were: Which arm?" in shown


def test_change_that_says_the_same_is_told_as_that(client, judge):
    study = waits().study
    decide.send_back(the_waiting(study), judge, "Which arm?")
    again = hand_in_draft(study, study.contributor)

    assert "Nothing: it says the same." in text(client.get(at(again)))


def test_open_questions_stand_on_the_reviewer_s_page(client, judge):
    study = accepted()
    asking.ask(study, make_user("stranger"), "doubt", "Is it oak?", asking.find_target(study, "butt"))

    assert "Is it oak?" in text(client.get(at(changed(study))))


def test_accepting_makes_the_study_count_and_keeps_who_and_why(client, judge):
    revision = waits()

    response = client.post(at(revision), {"do": "accept", "remarks": " Well made. "})

    assert (response.status_code, response.url) == (302, "/review/")
    revision.refresh_from_db()
    assert (revision.state, revision.decided_by, revision.remarks) == ("accepted", judge, "Well made.")
    assert Study.objects.get().status == "accepted"
    assert Entry.objects.get().revision == revision
    shown = text(client.get("/review/"))
    assert "Accepted: Rails into posts." in shown and "Well made." in shown
    assert "It doesn't wait: accepted by judge" in text(client.get(at(revision)))


def test_accepting_needs_no_remarks_where_nothing_is_doubted(client, judge):
    assert client.post(at(waits()), {"do": "accept", "remarks": ""}).status_code == 302


def test_accepting_with_doubts_standing_needs_a_reason(client, judge):
    revision = with_a_doubt()

    response = client.post(at(revision), {"do": "accept", "remarks": "  "})

    assert response.status_code == 422
    assert "The remarks are blank, and 1 error or doubt stands; say why it is accepted all the same." in text(response)
    assert 'aria-invalid="true"' in response.content.decode()
    assert client.post(at(revision), {"do": "accept", "remarks": "Seen on a photo: kilograms."}).status_code == 302


def test_returning_needs_remarks_and_leaves_an_accepted_study_as_it_is(client, judge):
    study = accepted()
    revision = changed(study, load_n=200)

    refused = client.post(at(revision), {"do": "return", "remarks": ""})
    returned = client.post(at(revision), {"do": "return", "remarks": "Which scale?"})

    assert (refused.status_code, returned.status_code) == (422, 302)
    assert "The remarks are blank; say what is to be mended before it can be accepted." in text(refused)
    study.refresh_from_db()
    assert study.status == "accepted"
    assert 200 not in study.series.get(label="butt").specimens.values_list("peak_load_n", flat=True)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"do": "burn", "remarks": "My words"}, "“burn” is neither accept nor return."),
        ({"remarks": "My words"}, "Say what becomes of it: press one of the two buttons."),
        ({"do": "accept", "remarks": "My words" + "x" * 4000}, "This is 4008 characters long; the most is 4,000."),
    ],
)
def test_decision_that_can_t_be_taken_says_why_and_loses_nothing(client, judge, said, why):
    response = client.post(at(waits()), said)

    assert response.status_code == 422
    assert why in text(response) and said["remarks"] in text(response)


def test_what_was_decided_meanwhile_is_not_decided_again(client, judge):
    revision = waits()
    decide.send_back(revision, make_reviewer("second"), "Which arm?")

    response = client.post(at(revision), {"do": "accept", "remarks": "My long <words>"})

    assert response.status_code == 409
    shown = text(response)
    assert "Revision 1 of “Rails into posts” was returned with remarks by second" in shown
    assert "Which arm?" in shown and "My long <words>" in shown
    revision.refresh_from_db()
    assert revision.state == "returned"


def test_what_was_replaced_meanwhile_leads_to_what_waits_now(client, judge):
    revision = waits()
    newer = changed(revision.study)

    response = client.post(at(revision), {"do": "accept", "remarks": ""})

    assert response.status_code == 409
    assert "was replaced before it was reviewed" in text(response)
    assert f'href="{at(newer)}"' in response.content.decode()
    assert "replaced before it was reviewed" in text(client.get(at(revision)))
    assert newest_number(revision.study) == 2


def test_button_pressed_twice_decides_once(client, judge):
    revision = waits()
    said = {"do": "accept", "remarks": ""}

    assert [client.post(at(revision), said).status_code for _ in range(2)] == [302, 302]
    assert client.post(at(revision), {"do": "return", "remarks": "No."}).status_code == 409
    assert Entry.objects.count() == 1


def test_remarks_typed_after_the_session_had_ended_are_there_again_after_logging_in(client, judge):
    revision = waits()
    client.logout()

    sent = client.post(at(revision), {"do": "return", "remarks": "A long afternoon's remarks"})
    client.force_login(judge)

    assert sent.url.endswith(f"?next={at(revision)}")
    assert "A long afternoon&#x27;s remarks" in client.get(at(revision)).content.decode()
    revision.refresh_from_db()
    assert revision.state == "submitted"


def test_document_that_can_t_be_read_is_told_and_can_be_returned(client, judge):
    revision = changed(accepted())
    Revision.objects.filter(pk=revision.pk).update(document=b"not packed")

    assert client.get("/review/").status_code == 200
    page = client.get(at(revision))
    refused = client.post(at(revision), {"do": "accept", "remarks": "Looks fine."})
    returned = client.post(at(revision), {"do": "return", "remarks": "Hand it in again, please."})

    assert page.status_code == 200 and "can't be read" in text(page)
    assert refused.status_code == 422 and "can't be read" in html.unescape(refused.content.decode())
    assert returned.status_code == 302


def test_revision_that_is_not_there(client, judge):
    assert client.get("/review/999999/").status_code == 404
    assert client.post("/review/999999/", {"do": "accept"}).status_code == 404
