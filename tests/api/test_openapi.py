"""The description of the API: valid, complete, and kept to by every answer."""

from __future__ import annotations

import re

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, given, seed
from hypothesis import settings as hypothesis
from hypothesis.errors import Unsatisfiable
from openapi_spec_validator import OpenAPIV31SpecValidator
from rest_framework.authtoken.models import Token
from schemathesis import GenerationMode
from schemathesis.config import (
    ChecksConfig,
    PositiveDataAcceptanceConfig,
    ProjectConfig,
    ProjectsConfig,
    SchemathesisConfig,
)

from api.views.records import TABLES
from results.evidence import restate
from tests.factories import make_series, make_setup, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db
# Of each call, in a run that takes its time and in one that doesn't.
MANY, FEW = 8, 2


@pytest.fixture
def book():
    """Two studies of two joints, so that every address has something to say."""
    for number in range(2):
        study = make_study(f"Study {number}", workshop=f"Shop {number}")
        setup = make_setup(study)
        for joint in ("butt", "mt_blind"):
            series = make_series(setup=setup, joint=joint)
            for load in (400.0, 440.0, 380.0):
                make_specimen(series, peak_load_n=load, failure_place="bond_line")
        restate(study)


@pytest.fixture
def same_connection():
    """Requests on the test's own connection, as Django's own client has them."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


@pytest.fixture
def api_schema(book, settings, same_connection):
    """The description, as the program that tries it reads it."""
    settings.API_ANONYMOUS_PER_MINUTE = settings.API_TOKEN_PER_MINUTE = 10**9
    config = SchemathesisConfig(
        seed=1,
        projects=ProjectsConfig(
            default=ProjectConfig(
                # A number that fits may be that of no study there is.
                checks=ChecksConfig(
                    positive_data_acceptance=PositiveDataAcceptanceConfig(
                        expected_statuses=["2xx", "400", "401", "404", "422"]
                    )
                ),
            )
        ),
    )
    return schemathesis.openapi.from_wsgi("/api/v1/schema", get_wsgi_application(), config=config)


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["right", "wrong"])
def test_every_answer_is_as_described(api_schema, mode, thorough):
    """Requests made up from the description, right and wrong ones, each answered as the description says."""
    examples = MANY if thorough else FEW
    # With a token, so that what is sent is looked at; the tool tries without one by itself.
    token = Token.objects.create(user=make_user("program")).key
    headers = {"Accept-Encoding": "identity", "Authorization": f"Bearer {token}"}
    tried = 0
    for found in api_schema.get_all_operations():
        operation = found.ok()

        @seed(1)
        @hypothesis(max_examples=examples, database=None, deadline=None, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy(generation_mode=mode))
        def answered(case):
            case.call_and_validate(headers=headers)

        try:
            answered()
        except Unsatisfiable:  # there is nothing that could be wrong about it
            assert mode is GenerationMode.NEGATIVE
        else:
            tried += 1
    assert tried > 25


def test_description_is_valid(client, book):
    response = client.get("/api/v1/schema.json")

    OpenAPIV31SpecValidator(response.json()).validate()
    assert response.headers["Content-Type"] == "application/json"


def test_description_of_a_book_without_words_is_valid_too(client):
    OpenAPIV31SpecValidator(client.get("/api/v1/schema").json()).validate()


def test_every_table_is_described_with_filters_words_and_units(client, book):
    document = client.get("/api/v1/schema").json()

    for view in TABLES:
        listed = document["paths"][f"/api/v1/{view.table}"]["get"]
        names = {parameter["name"]: parameter for parameter in listed["parameters"]}
        assert set(view.filterset_class.base_filters) <= set(names)
        assert {"page", "page_size", "cursor", "fields", "format"} <= set(names)
        assert {"200", "304", "400", "404", "406", "429"} <= set(listed["responses"])
        assert names["fields"]["schema"]["items"]["enum"][:-1] == [column.name for column in view.columns]
    specimens = {one["name"]: one for one in document["paths"]["/api/v1/specimens"]["get"]["parameters"]}
    assert {"butt", "mt_blind"} <= set(specimens["joint"]["schema"]["items"]["enum"])
    assert specimens["outcome"]["schema"]["items"]["enum"] == ["broke", "held", "void", ""]
    row = document["components"]["schemas"]["SpecimensRow"]["properties"]
    assert (row["moment_nm"]["x-unit"], row["peak_load_n"]["x-unit"]) == ("N·m", "N")
    assert row["peak_load_n"]["description"] == "peak load; means little without arm and section [N]"
    for path in ("compare", "network", "limits", "evidence", "normalise", "releases", "columns"):
        assert f"/api/v1/{path}" in document["paths"]


def test_every_operation_has_examples_of_refusals_and_says_who_may(client, book):
    document = client.get("/api/v1/schema").json()

    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            assert operation["summary"], path
            assert operation["security"] == (
                [{"token": []}] if operation["operationId"] == "studies_create" else [{}, {"token": []}]
            )
            refusal = operation["responses"]["400"]["content"]["application/problem+json"]
            assert refusal["example"]["status"] == 400, (path, method)


def test_reference_page_is_from_our_own_host_without_inline_script(client):
    page = client.get("/api/v1/reference/")
    text = page.content.decode()
    script = re.search(r'<script src="([^"]*script[^"]*)"', text)

    assert page.status_code == 200
    assert all(
        address.startswith("/") for address in re.findall(r'<(?:script|link|img)[^>]*(?:src|href)="([^"]+)"', text)
    )
    assert not re.findall(r"<script(?![^>]*src=)", text)
    assert "<style" not in text
    found = client.get(script.group(1).replace("&amp;", "&"))
    assert found.headers["Content-Type"].startswith("application/javascript")
    assert '"validatorUrl": null' in found.content.decode()
    assert "/api/v1/schema" in found.content.decode()
