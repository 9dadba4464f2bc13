"""A person's notices: their page, the count in the head, the feed, how often they come."""

from __future__ import annotations

import uuid
from xml.etree import ElementTree

import pytest
from allauth.account.models import EmailAddress
from django.db import connection
from django.test.utils import CaptureQueriesContext

from results.models import Notice, Profile
from results.review.notify import tell
from tests.factories import make_reviewer, make_study, make_user

from .shops import text

pytestmark = pytest.mark.django_db
ADDRESS = "/mine/notices/"
ATOM = "{http://www.w3.org/2005/Atom}"


@pytest.fixture
def user(client):
    found = make_user("reader", email="reader@shop.example")
    client.force_login(found)
    return found


@pytest.fixture
def study():
    return make_study("Rails <i>into</i> posts", contributor=None)


def notices(user, study, count=1):
    for number in range(count):
        tell([user], study, "answer", f"Told {number} <b>times</b>", f"/studies/{study.pk}/#question-{number}")
    return list(user.notices.order_by("pk"))


def unseen(user):
    return user.notices.filter(seen_at=None).count()


def test_page_needs_somebody_signed_in_and_is_kept_by_nobody(client, user):
    assert "no-store" in client.get(ADDRESS).headers["Cache-Control"]
    client.logout()
    for response in (client.get(ADDRESS), client.post(ADDRESS, {"do": "new-key"})):
        assert (response.status_code, response.url) == (302, f"/login/?next={ADDRESS}")


def test_page_shows_one_s_own_notices_the_newest_first_with_markup_as_text(client, user, study):
    notices(user, study, 2)
    notices(make_user("other"), study, 1)

    response = client.get(ADDRESS)

    shown = text(response)
    assert "2 of 2 notices not seen yet." in shown
    assert shown.index("Told 1 <b>times</b>") < shown.index("Told 0 <b>times</b>")
    assert "Answer: Rails <i>into</i> posts" in shown
    assert "<b>times" not in response.content.decode()


def test_going_to_what_a_notice_is_about_marks_it_as_seen(client, user, study):
    one, other = notices(user, study, 2)

    response = client.get(f"{ADDRESS}{one.pk}/")

    assert (response.status_code, response.url) == (302, f"/studies/{study.pk}/#question-0")
    assert list(user.notices.filter(seen_at=None)) == [other]


def test_somebody_else_s_notice_is_not_there(client, user, study):
    (theirs,) = notices(make_user("other"), study)

    assert client.get(f"{ADDRESS}{theirs.pk}/").status_code == 404
    client.post(ADDRESS, {"do": "seen", "notice": theirs.pk})
    client.post(ADDRESS, {"do": "all-seen", "notice": theirs.pk})

    theirs.refresh_from_db()
    assert theirs.seen_at is None


def test_notices_are_marked_as_seen_one_by_one_or_as_far_as_the_page_showed_them(client, user, study):
    first, second, third = notices(user, study, 3)

    assert client.post(ADDRESS, {"do": "seen", "notice": second.pk}).url == ADDRESS
    assert unseen(user) == 2
    page = client.get(ADDRESS).content.decode()
    assert f'name="notice" value="{third.pk}"' in page
    (late,) = notices(user, study)[3:]
    client.post(ADDRESS, {"do": "all-seen", "notice": third.pk})

    assert list(user.notices.filter(seen_at=None)) == [late]


@pytest.mark.parametrize("which", ["", "x", "-1", "1e3", "٣", "9" * 30])
def test_nonsense_marks_nothing(client, user, study, which):
    notices(user, study)

    assert client.post(ADDRESS, {"do": "all-seen", "notice": which}).status_code == 302
    assert unseen(user) == 1


def test_second_page_is_there_and_a_third_is_not(client, user, study):
    notices(user, study, 26)

    assert "Told 0 " in text(client.get(f"{ADDRESS}?page=2"))
    assert client.get(f"{ADDRESS}?page=3").status_code == 400


def test_digest_is_chosen_and_nonsense_refused(client, user):
    client.post(ADDRESS, {"do": "digest", "digest": "weekly"})
    assert user.profile.digest == "weekly"

    response = client.post(ADDRESS, {"do": "digest", "digest": "hourly"})

    assert response.status_code == 422
    assert "“hourly” is not on offer; choose no e-mail, once a day or once a week." in text(response)
    user.profile.refresh_from_db()
    assert user.profile.digest == "weekly"


def test_page_says_where_the_digest_goes(client, user):
    assert "It goes to reader@shop.example" in text(client.get(ADDRESS))

    EmailAddress.objects.create(user=user, email=user.email, primary=True, verified=False)

    assert "Nothing is sent as long as your account has no confirmed e-mail address." in text(client.get(ADDRESS))


def test_count_stands_in_the_head_of_every_page_for_one_query(client, user, study):
    def head():
        with CaptureQueriesContext(connection) as queries:
            page = client.get("/studies/").content.decode()
        asked = [query["sql"] for query in queries if "results_notice" in query["sql"]]
        return page[page.index("<header") : page.index("</header>")], asked

    notices(make_user("other"), study, 2)
    none, asked = head()
    notices(user, study, 3)
    three, _ = head()
    client.logout()
    anonymous, not_asked = head()

    assert "new notice" not in none and len(asked) == 1
    assert 'class="count" href="/mine/notices/">3<span class="unseen"> new notices</span></a>' in three
    assert "/mine/notices/" not in anonymous and not_asked == []


def test_count_is_taken_from_an_index_of_what_is_unseen(user):
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, Notice._meta.db_table)["notice_unseen"]

    assert found["index"] and found["columns"] == ["user_id"]


def feed(client, key):
    return client.get(f"{ADDRESS}{key}.atom")


def test_feed_is_read_by_whoever_knows_its_key_and_by_nobody_else(client, user, study):
    notices(user, study, 2)
    client.get(ADDRESS)
    key = user.profile.feed_key
    client.logout()

    response = feed(client, key)

    root = ElementTree.fromstring(response.content)
    entries = root.findall(f"{ATOM}entry")
    assert [entry.find(f"{ATOM}summary").text for entry in entries] == [
        "Told 1 &lt;b&gt;times&lt;/b&gt;",
        "Told 0 &lt;b&gt;times&lt;/b&gt;",
    ]
    assert entries[0].find(f"{ATOM}link").get("href").endswith(f"/studies/{study.pk}/#question-1")
    assert entries[0].find(f"{ATOM}id").text == f"urn:breakbook:notice:{user.notices.first().pk}"
    assert "private" in response.headers["Cache-Control"] and response.headers["X-Robots-Tag"] == "noindex"
    assert feed(client, uuid.uuid4()).status_code == 404
    assert client.get(f"{ADDRESS}nonsense.atom").status_code == 404


def test_feed_gets_a_new_key_and_the_old_one_is_known_no_more(client, user):
    shown = text(client.get(ADDRESS))
    before = Profile.objects.get(user=user).feed_key
    assert f"{ADDRESS}{before}.atom" in shown

    client.post(ADDRESS, {"do": "new-key"})

    after = Profile.objects.get(user=user).feed_key
    assert f"{after}.atom" in text(client.get(ADDRESS))
    assert [feed(client, key).status_code for key in (before, after)] == [404, 200]


def test_feed_of_a_closed_account_is_not_there(client, user):
    key = Profile.objects.create(user=user).feed_key
    user.is_active = False
    user.save()

    assert feed(client, key).status_code == 404


def test_feed_can_be_read_by_a_program_whatever_was_pasted(client, user, study):
    tell([user], study, "answer", "bell \x07 and \uffff", "/")
    key = Profile.objects.create(user=user).feed_key

    assert "bell  and " in ElementTree.fromstring(feed(client, key).content).find(f".//{ATOM}summary").text


def test_reviewer_finds_what_waits_from_here(client, user):
    assert "/review/" not in client.get(ADDRESS).content.decode()

    client.force_login(make_reviewer())

    assert 'href="/review/"' in client.get(ADDRESS).content.decode()
