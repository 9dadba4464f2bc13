"""Questions and doubts on a study's page: shown, asked, answered, resolved, marked where they belong."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from results.models import Answer, Question
from results.review import ask as asking
from tests.factories import make_reviewer, make_study, make_user

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def study():
    return a_shop(contributor=make_user("owner"))


@pytest.fixture
def stranger(client):
    user = make_user("stranger")
    client.force_login(user)
    return user


def ask(study, about="", words="Is it oak?", kind="doubt", who="stranger"):
    return asking.ask(study, make_user(who), kind, words, asking.find_target(study, about))


def section(response):
    page = response.content.decode()
    return page[page.index('id="questions"') : page.index("<h2>Use and citing")]


def test_study_tells_what_was_asked_answered_and_resolved_the_open_first(client, study):
    done = ask(study, words="Which glue?", kind="question")
    asking.answer(done, study.contributor, "See the notes.")
    asking.resolve(done, make_user("stranger"), "Read it there.")
    ask(study, "butt", "All from one board?")

    shown = text(client.get(study.get_absolute_url()))

    shown = shown[shown.index("Questions and doubts") :]
    day = timezone.now().strftime("%Y-%m-%d")
    assert (
        f"2 entries, 1 open. What was resolved stays here to be read. doubt series butt · stranger, {day} All" in shown
    )
    assert (
        f"question, resolved the study · stranger, {day} Which glue? the contributor, {day} See the notes. "
        f"Resolved by stranger, {day} Read it there." in shown
    )


def test_study_keeps_its_contributor_s_name_to_itself(client, study):
    asking.answer(ask(study), study.contributor, "It is.")

    assert "owner" not in section(client.get(study.get_absolute_url()))


def test_markup_is_text_and_addresses_are_links_that_search_engines_don_t_follow(client, study):
    ask(study, words="<script>alert(1)</script> <b>see</b> https://example.org/a?b=1&c=2. javascript:alert(1)")

    page = section(client.get(study.get_absolute_url()))

    assert "&lt;script&gt;alert(1)&lt;/script&gt; &lt;b&gt;see&lt;/b&gt; " in page
    address = "https://example.org/a?b=1&amp;c=2"
    assert f'<a href="{address}" rel="nofollow noopener ugc">{address}</a>. javascript:alert(1)' in page


def test_reader_who_is_not_signed_in_is_shown_where(client, study):
    page = section(client.get(study.get_absolute_url()))

    assert f"?next=/studies/{study.pk}/ask/" in page and "<form" not in page
    assert "Nobody has asked anything yet." in page


@pytest.mark.parametrize(
    ("who", "form", "actions"),
    [("owner", False, 1), ("stranger", True, 2), ("other", True, 0), ("judge", True, 2)],
)
def test_study_offers_each_person_what_they_may_do(client, study, who, form, actions):
    ask(study)
    make_reviewer("judge")
    client.force_login(make_user(who))

    page = section(client.get(study.get_absolute_url()))

    assert (f'action="/studies/{study.pk}/ask/"' in page) == form
    assert len(re.findall(r'href="/questions/\d+/(?:answer|resolve)/"', page)) == actions


def test_doubts_are_marked_beside_their_series_and_specimen(client, study):
    butt = study.series.get(label="butt")
    specimen = butt.specimens.first()
    before = client.get(study.get_absolute_url()).content
    of_specimen = ask(study, f"butt/{specimen.label}")
    ask(study, "mt_blind", "Just asking", kind="question")
    solved = ask(study, "mt_blind", "Was it dry?")
    asking.resolve(solved, make_user("stranger"), "It was.")

    response = client.get(study.get_absolute_url())

    page = response.content.decode()
    assert b"doubt raised" not in before
    link = f'<a class="tag doubt" href="#question-{of_specimen.pk}">doubt raised: specimen {specimen.label}</a>'
    _, of_butt, of_tenon = page.split('<section class="sheet" id="series-')
    assert link in of_butt
    assert f'<a class="tag" href="#question-{solved.pk}">doubt resolved</a>' in of_tenon
    assert page.count('class="tag doubt" href="#question') == 1
    assert f'id="question-{of_specimen.pk}"' in page and f'id="question-{solved.pk}"' in page
    heading, first, *others = table(response, "Specimens of series butt")
    assert (heading[-1], first[-1], [row[-1] for row in others]) == ("By readers", "doubt raised", ["", ""])
    assert f'<td class="brief"><a href="#question-{of_specimen.pk}">doubt raised</a></td>' in page
    assert "By readers" not in table(response, "Specimens of series mt_blind")[0]


def test_doubt_about_what_is_no_longer_there_says_so(client, study):
    specimen = study.series.get(label="butt").specimens.first()
    ask(study, f"butt/{specimen.label}")
    specimen.delete()

    assert f"specimen butt/{specimen.label} (no longer in the study)" in text(client.get(study.get_absolute_url()))


def test_question_is_asked_and_the_reader_is_back_at_it(client, study, stranger):
    response = client.post(
        f"/studies/{study.pk}/ask/", {"kind": "doubt", "about": "butt", "text": " Too strong?\r\nOr not? "}
    )

    question = Question.objects.get()
    assert (response.status_code, response.url) == (302, f"/studies/{study.pk}/#question-{question.pk}")
    assert (question.kind, question.about, question.text) == ("doubt", "series butt", "Too strong?\nOr not?")
    assert question.asked_by == stranger
    assert "the contributor is told" in text(client.get(response.url))


def test_form_sent_twice_asks_once(client, study, stranger):
    said = {"kind": "question", "about": "", "text": "Which glue?"}
    addresses = {client.post(f"/studies/{study.pk}/ask/", said).url for _ in range(2)}

    assert len(addresses) == 1 and Question.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"text": "   "}, "text", "This is blank; say it in a sentence or two."),
        ({"text": "x" * 2001}, "text", "This is 2001 characters long; the most is 2,000. Nothing was cut"),
        ({"about": "shelf"}, "about", "“shelf” is no series or specimen of this study. Its series: butt, mt_blind."),
        ({"about": "butt/99"}, "about", "“butt/99” is no series or specimen"),
        ({"kind": "praise"}, "kind", "“praise” is neither a question nor a doubt; choose one."),
        ({"kind": ""}, "kind", "This field is required."),
        ({"text": "a\0b"}, "text", "Null characters are not allowed."),
    ],
)
def test_question_that_can_t_be_taken_says_why_at_the_field_and_loses_nothing(
    client, study, stranger, wrong, field, says
):
    said = {"kind": "doubt", "about": "butt", "text": "Too strong?", **wrong}

    response = client.post(f"/studies/{study.pk}/ask/", said)

    page = html.unescape(response.content.decode())
    assert response.status_code == 422 and not Question.objects.exists()
    assert says in text(response)
    assert f'id="ask-{field}_error"' in page and 'aria-invalid="true"' in page
    for name, value in said.items():
        if name != "kind" and "\0" not in value:
            assert value in page
    assert ('<option value="doubt" selected>' in page) == (said["kind"] == "doubt")


def test_text_as_long_as_it_may_be_is_taken_however_its_lines_end(client, study, stranger):
    longest = "\r\n".join(["x" * 999, "y" * 1000])

    assert client.post(f"/studies/{study.pk}/ask/", {"kind": "doubt", "text": longest}).status_code == 302


def test_too_many_questions_are_refused_and_the_words_kept(client, study, stranger):
    Question.objects.bulk_create(
        Question(study=study, asked_by=stranger, kind="question", text=f"{number}") for number in range(20)
    )
    Question.objects.update(asked_at=timezone.now() - timedelta(minutes=5))

    response = client.post(f"/studies/{study.pk}/ask/", {"kind": "question", "text": "One more?"})

    assert response.status_code == 429
    assert "You wrote 20 questions within the last hour" in text(response) and "One more?" in text(response)


def test_what_was_typed_after_the_session_had_ended_is_there_again_after_logging_in(client, study):
    user = make_user("stranger")
    address = f"/studies/{study.pk}/ask/"

    sent = client.post(address, {"kind": "doubt", "about": "butt", "text": "A long afternoon's words"})

    assert sent.status_code == 302 and sent.url.endswith(f"?next={address}")
    assert not Question.objects.exists()
    client.force_login(user)
    page = client.get(address).content.decode()
    assert "A long afternoon&#x27;s words" in page and '<option value="doubt" selected>' in page
    assert 'value="butt"' in page
    assert "afternoon" not in client.get(address).content.decode()


def test_asking_page_takes_its_target_from_the_address(client, study, stranger):
    page = client.get(f"/studies/{study.pk}/ask/?kind=doubt&about=butt").content.decode()

    assert '<option value="doubt" selected>' in page and 'value="butt"' in page
    assert '<option value="mt_blind"></option>' in page


def test_contributor_answers_and_a_reviewer_resolves(client, study):
    question = ask(study)
    client.force_login(study.contributor)

    response = client.post(f"/questions/{question.pk}/answer/", {"text": "It is."})
    client.force_login(make_reviewer())
    resolved = client.post(f"/questions/{question.pk}/resolve/", {"text": "Seen on a photo."})

    assert response.url == resolved.url == f"/studies/{study.pk}/#question-{question.pk}"
    question.refresh_from_db()
    assert (question.answers.get().text, question.state, question.resolution) == (
        "It is.",
        "resolved",
        "Seen on a photo.",
    )


@pytest.mark.parametrize(("what", "who"), [("answer", "owner"), ("resolve", "stranger")])
def test_reply_that_is_blank_is_refused(client, study, what, who):
    question = ask(study)
    client.force_login(make_user(who))

    response = client.post(f"/questions/{question.pk}/{what}/", {"text": " "})

    assert response.status_code == 422 and "This is blank" in text(response)
    assert 'id="id_text_error"' in response.content.decode()
    assert not Answer.objects.exists()


@pytest.mark.parametrize(("what", "who"), [("answer", "owner"), ("resolve", "stranger")])
def test_reply_to_what_was_resolved_meanwhile_is_kept_to_be_copied(client, study, what, who):
    question = ask(study)
    client.force_login(make_user(who))
    asking.resolve(question, make_reviewer(), "Settled.")

    response = client.post(f"/questions/{question.pk}/{what}/", {"text": "My long words"})

    assert response.status_code == 409
    shown = text(response)
    assert "It was resolved meanwhile, by judge. What you typed is still below, to be copied." in shown
    assert "Resolved by judge" in shown and "Settled." in shown and "My long words" in shown
    assert client.get(f"/questions/{question.pk}/{what}/").status_code == 302  # nothing is left to be done there


def test_question_of_a_study_that_isn_t_public_is_not_there(client):
    study = a_shop(contributor=make_user("owner"))
    question = ask(study)
    study.status = "returned"
    study.save()
    client.force_login(make_user("stranger"))

    assert client.get(f"/questions/{question.pk}/answer/").status_code == 404
    assert client.get("/questions/999999/answer/").status_code == 404
    assert client.get("/studies/999999/ask/").status_code == 404


def test_withdrawn_study_can_be_asked_about(client, stranger):
    study = a_shop(status="withdrawn", contributor=make_user("owner"))

    assert client.post(f"/studies/{study.pk}/ask/", {"kind": "question", "text": "Why?"}).status_code == 302


def test_many_questions_cost_no_more_queries_than_few(client, study):
    def cost():
        client.get(study.get_absolute_url())
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(study.get_absolute_url())
        return len(queries)

    asking.answer(ask(study, "butt", "0"), study.contributor, "Yes.")
    few = cost()
    for number in range(1, 15):
        asking.answer(ask(study, "butt", f"{number}"), study.contributor, "Yes.")

    assert cost() == few


def test_question_on_a_study_without_a_contributor_is_answered_by_reviewers(client, stranger):
    study = make_study(contributor=None)
    client.post(f"/studies/{study.pk}/ask/", {"kind": "question", "text": "Which glue?"})
    client.force_login(make_reviewer())

    assert client.post(f"/questions/{Question.objects.get().pk}/answer/", {"text": "PVA."}).status_code == 302
