"""A study's page and its contributor's list say where it stands and what to do next."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from results.intake.save import save
from results.models import Entry, Release, Study
from results.releases import make
from results.review.decide import send_back
from results.review.hand_in import waiting
from tests.factories import accept, make_reviewer, make_user
from tests.results.intake.made import flat, sent

from .handed_in import accepted, changed, waits
from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _draft():
    found = sent(flat())
    return save(found.draft, make_user("owner"), found.noticed, status="draft")


def _page(client, study, user=None):
    client.force_login(user or make_user("owner"))
    return text(client.get(study.get_absolute_url()))


def test_study_page_says_where_it_stands(client):
    draft, submitted, returned = _draft(), waits("S").study, waits("R").study
    send_back(waiting(returned), make_reviewer(), "Which scale?")

    assert "A draft. Only you can see it" in _page(client, draft)
    shown = _page(client, submitted)
    assert "Handed in on" in shown and "only you and reviewers can read it" in shown and "Review it" not in shown
    shown = _page(client, submitted, make_reviewer())
    assert "It waits for review" in shown and "Review it" in shown and "Take it back" not in shown
    shown = _page(client, returned)
    assert "Returned with remarks by judge on" in shown and "Which scale?" in shown and "hand it in as it is" in shown


def test_study_page_says_that_it_was_accepted_and_links_its_revision(client):
    study = accepted()

    page = client.get(study.get_absolute_url())

    assert "Accepted by a reviewer on" in text(page) and "as revision 1" in text(page)
    assert reverse("revisions:revision", args=[study.pk, 1]) in page.content.decode()
    assert f"Breakbook, study {study.pk}, revision 1." in text(page)


def test_study_is_cited_with_a_release_that_holds_its_newest_revision(client):
    study = accepted()
    first = make().release
    assert f"revision 1, release {first.name}." in text(client.get(study.get_absolute_url()))
    Release.objects.update(as_of=first.as_of - timedelta(days=1))
    changed(study)
    accept(study)

    assert f"study {study.pk}, revision 2. " in text(client.get(study.get_absolute_url()))


def test_change_that_waits_shows_to_who_is_concerned_only(client):
    study = accepted()
    changed(study)

    assert "waits for review" not in text(client.get(study.get_absolute_url()))
    assert "waits for review" not in _page(client, study, make_user("stranger"))
    assert "A change waits for review" in _page(client, study)
    assert "Review it" in _page(client, study, make_reviewer())
    send_back(waiting(study), make_reviewer(), "Why so?")
    assert "Your change was returned with remarks by judge" in _page(client, study)
    client.logout()
    assert "Why so?" not in text(client.get(study.get_absolute_url()))


def test_own_list_says_what_to_do_next(client):
    client.force_login(make_user("owner"))
    assert "None yet." in text(client.get(reverse("browse:mine")))
    _draft()
    waits("S")
    send_back(waiting(waits("R").study), make_reviewer(), "Which scale?")
    accepted("A")
    changed(accepted("C"))
    send_back(changed(accepted("D")), make_reviewer(), "Why so?")

    shown = text(client.get(reverse("browse:mine")))

    for words in (
        "Look it over and hand it in.",
        "A reviewer looks at it next",
        "It was returned with remarks: mend it and hand it in again. Which scale?",
        "It counts. Nothing is left to do.",
        "Your change waits for a reviewer",
        "Your change was returned with remarks: mend it and hand it in again. Why so?",
    ):
        assert words in shown, words


def test_own_list_asks_as_much_for_many_studies_as_for_few(client, django_assert_max_num_queries):
    client.force_login(make_user("owner"))
    for number in range(4):
        waits(f"{number}")

    with django_assert_max_num_queries(9):
        client.get(reverse("browse:mine"))


def test_draft_is_handed_in_from_its_page(client):
    study = _draft()
    client.force_login(make_user("owner"))
    address = reverse("revisions:hand-in", args=[study.pk])
    assert address in client.get(study.get_absolute_url()).content.decode()

    assert client.get(address).headers["Location"] == study.get_absolute_url()
    answer = [client.post(address, follow=True) for _ in range(2)]

    study.refresh_from_db()
    assert study.status == "submitted" and study.revisions.count() == 1
    assert "A reviewer looks at it next" in text(answer[0])
    accept(study)
    assert "is accepted already" in text(client.post(address, follow=True))


def test_study_is_taken_back_after_asking_unless_it_was_accepted(client):
    study = waits().study
    client.force_login(make_user("owner"))
    address = reverse("revisions:take-back", args=[study.pk])

    assert "can't be undone" in text(client.get(address))
    assert Study.objects.filter(pk=study.pk).exists()
    answer = client.post(address, follow=True)
    assert "Taken back: Rails into posts" in text(answer) and not Study.objects.exists()
    assert client.post(address).status_code == 404

    kept = accepted()
    address = reverse("revisions:take-back", args=[kept.pk])
    assert client.get(address).headers["Location"] == reverse("submit:withdraw", args=[kept.pk])
    client.post(address)
    assert Study.objects.get() == kept and Entry.objects.count() == 1


def test_study_that_is_accepted_meanwhile_is_not_taken_back(client, monkeypatch):
    study = waits().study
    client.force_login(make_user("owner"))
    Entry.objects.all().delete()
    accept(study)
    Study.objects.filter(pk=study.pk).update(status="returned")  # as the page saw it

    answer = client.post(reverse("revisions:take-back", args=[study.pk]), follow=True)

    assert "withdraw it instead" in text(answer) and Study.objects.exists()


@pytest.mark.parametrize("name", ["hand-in", "take-back"])
def test_others_neither_hand_in_nor_take_back(client, name):
    study = waits().study
    address = reverse(f"revisions:{name}", args=[study.pk])

    assert client.post(address).headers["Location"].startswith(reverse("login"))
    for user in (make_user("stranger"), make_reviewer()):
        client.force_login(user)
        assert client.get(address).status_code == client.post(address).status_code == 404
    assert Study.objects.get().status == "submitted"
