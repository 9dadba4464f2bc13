"""Nothing that is not accepted or withdrawn shows to others, wherever they look."""

from __future__ import annotations

import io
from collections.abc import Iterable

import pyarrow.parquet as pq
import pytest
from django.urls import URLPattern
from rest_framework.authtoken.models import Token

from api.renderers import FORMATS
from api.urls import urlpatterns
from api.views.records import TABLES
from api.views.worked import WORKED
from results.evidence import restate
from results.models import Finding, SeriesFooting, Specimen, Study
from tests.factories import make_finding, make_reviewer, make_series, make_setup, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db
# Said nowhere but in studies that others may not read.
SECRET = "zebrano"
HIDDEN = ("draft", "submitted", "returned")
# What a reviewer has to review; drafts are their owners' alone.
REVIEWED = ("submitted", "returned")


@pytest.fixture
def secrets():
    """An accepted study, one of each hidden state full of the secret word, and a withdrawn one."""
    owner = make_user("owner")
    for status in ("accepted", "withdrawn", *HIDDEN):
        hidden = status in HIDDEN
        word = SECRET if hidden else "open"
        study = make_study(f"{word} title", status=status, contributor=owner, workshop=f"{word} shop", notes=word)
        setup = make_setup(study, label=f"{word} rig {status}", notes=word)
        for joint in ("butt", "mt_blind"):
            series = make_series(setup=setup, joint=joint, label=f"{word} {joint}", notes=word)
            for number in range(3):
                make_specimen(series, label=f"{word} {number}", notes=word, peak_load_n=400.0 + number)
        restate(study)
        make_finding(study, series=series, message=f"{word} message", value=word)
    return owner


def addresses() -> list[str]:
    """Every address that is read, in every format, with what may be asked to widen it."""
    found = ["", "schema", "reference/", "problems/not-found"]
    every = "&".join(f"status={status}" for status in Study.Status.values)
    for view in TABLES:
        if "status" in view.filterset_class.base_filters:
            found += [view.table, f"{view.table}?{every}&cursor=", f"{view.table}?{every}&page_size=1000"]
            found += [f"{view.table}.{form}?{every}" for form in FORMATS]
        else:
            found += [f"{view.table}.{form}" for form in FORMATS]
    found += [f"{name}.{form}" for name in ("evidence", "releases", "columns") for form in FORMATS]
    for name in ("compare", "network", "limits"):
        found += [f"{name}?footing=at_joint&invented=with", f"{name}.csv?footing=at_joint&invented=with"]
    found += ["compare?footing=at_joint&table=points", "compare.parquet?footing=at_joint&table=series"]
    found += [*WORKED, "plan?joint=butt&joint=mt_blind&arm_mm=300&invented=with"]
    found += [f"evidence?by={by}" for by in ("timber", "adhesive")]
    return found


def records(statuses: Iterable[str] = HIDDEN) -> list[str]:
    """The address of every record of studies in these states."""
    statuses = list(statuses)
    specimens = Specimen.objects.filter(series__study__status__in=statuses).select_related("series")
    found = set()
    for one in specimens:
        found |= {f"specimens/{one.pk}", f"series/{one.series_id}", f"studies/{one.series.study_id}"}
    found |= {f"footings/{one.pk}" for one in SeriesFooting.objects.filter(series__study__status__in=statuses)}
    found |= {f"findings/{one.pk}" for one in Finding.objects.filter(study__status__in=statuses)}
    return sorted(found)


def said(client, address: str, headers: dict[str, str]) -> str:
    response = client.get(f"/api/v1/{address}", headers=headers)
    body = response.getvalue() if response.streaming else response.content
    if response.status_code == 200 and response.headers["Content-Type"] == "application/vnd.apache.parquet":
        return str(pq.read_table(io.BytesIO(body)).to_pylist())
    return body.decode()


def as_somebody(client, who: str, how: str) -> dict[str, str]:
    if who == "anonymous":
        return {}
    user = make_reviewer(who) if who == "reviewer" else make_user(who)
    if how == "session":
        client.force_login(user)
        return {}
    return {"Authorization": f"Bearer {Token.objects.get_or_create(user=user)[0].key}"}


def test_walk_goes_over_every_address_there_is():
    names = {pattern.name for pattern in urlpatterns if isinstance(pattern, URLPattern)}

    walked = {address.split("?")[0].split(".")[0].split("/")[0] for address in addresses()} | {
        address.split("/")[0] + "-one" for address in ("specimens/", "series/", "studies/", "footings/", "findings/")
    }
    vocabulary = {f"{view.table}-one" for view in TABLES if view.study is None}
    # These have nothing of a study in them, or are no reading.
    assert names - walked - vocabulary == {"root", "problem", "normalise", "not-there"}


@pytest.mark.parametrize(("who", "how"), [("anonymous", ""), ("other", "session"), ("other", "token")])
def test_others_read_nothing_of_hidden_studies(client, secrets, settings, who, how):
    settings.API_ANONYMOUS_PER_MINUTE = settings.API_TOKEN_PER_MINUTE = 10**6
    headers = as_somebody(client, who, how)

    for address in addresses():
        assert SECRET not in said(client, address, headers), address
    for address in records():
        for suffix in ("", ".csv"):
            response = client.get(f"/api/v1/{address}{suffix}", headers=headers)
            assert response.status_code == 404, address
            assert SECRET not in response.content.decode()


@pytest.mark.parametrize("how", ["session", "token"])
def test_reviewer_reads_what_is_to_be_reviewed_when_asking_for_it_and_no_drafts(client, secrets, settings, how):
    settings.API_ANONYMOUS_PER_MINUTE = settings.API_TOKEN_PER_MINUTE = 10**6
    headers = as_somebody(client, "reviewer", how)

    for address in records(["draft"]):
        assert client.get(f"/api/v1/{address}", headers=headers).status_code == 404, address
    for address in records(REVIEWED):
        assert client.get(f"/api/v1/{address}", headers=headers).status_code == 200, address
    for table in ("specimens", "series", "studies", "footings", "findings"):
        for form in FORMATS:
            # Unasked for, nobody's answers hold what doesn't count.
            assert SECRET not in said(client, f"{table}.{form}", headers), (table, form)
            assert SECRET not in said(client, f"{table}.{form}?status=draft", headers), (table, form)
            for status in REVIEWED:
                assert SECRET in said(client, f"{table}.{form}?status={status}", headers), (table, form)
    for address in addresses():
        if "status=" not in address:
            assert SECRET not in said(client, address, headers), address


def test_others_are_told_no_more_than_of_what_is_not_there(client, secrets):
    hidden = next(address for address in records() if address.startswith("studies/")).split("/")[1]

    for query in (f"study={hidden}", f"study={hidden}&status=draft", "workshop=zebrano shap"):
        for table in ("specimens", "series", "footings", "findings", "studies"):
            if "workshop" in query and table == "findings":
                continue
            assert SECRET not in client.get(f"/api/v1/{table}?{query}").content.decode().replace("zebrano shap", "")


def test_words_find_nothing_in_hidden_studies_of_others(client, secrets):
    everywhere = f"status=draft&status=submitted&status=returned&q={SECRET}"

    assert client.get(f"/api/v1/studies?{everywhere}").json()["count"] == 0
    mine = as_somebody(client, "owner", "token")
    assert client.get(f"/api/v1/studies?{everywhere}", headers=mine).json()["count"] == len(HIDDEN)


def test_withdrawn_studies_show_only_when_asked_for_and_count_for_nothing(client, secrets):
    assert client.get("/api/v1/studies").json()["count"] == 1
    assert client.get("/api/v1/studies?status=withdrawn").json()["count"] == 1
    assert {row["studies"] for row in client.get("/api/v1/evidence").json()["results"]} == {1}
    for table in ("specimens", "series", "footings", "findings"):
        rows = client.get(f"/api/v1/{table}?page_size=1000").json()["results"]
        assert len({row["study_id"] for row in rows}) == 1, table


@pytest.mark.parametrize("how", ["session", "token"])
def test_owner_reads_the_own_hidden_studies_when_asking_for_them(client, secrets, how):
    headers = as_somebody(client, "owner", how)

    for address in records():
        assert client.get(f"/api/v1/{address}", headers=headers).status_code == 200, address
    for table in ("specimens", "series", "studies", "footings", "findings"):
        for form in FORMATS:
            assert SECRET not in said(client, f"{table}.{form}", headers)
            assert SECRET in said(client, f"{table}.{form}?status=draft", headers), (table, form)


def test_answers_with_own_studies_are_kept_by_nobody_else(client, secrets):
    headers = as_somebody(client, "owner", "token")
    mine = client.get("/api/v1/studies?status=draft", headers=headers)

    theirs = client.get("/api/v1/studies?status=draft", headers={"If-None-Match": mine.headers["ETag"]})

    assert mine.headers["Cache-Control"] == "private, no-cache"
    assert (theirs.status_code, theirs.json()["count"]) == (200, 0)
