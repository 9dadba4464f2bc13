"""The description of the API: valid, complete, and kept to by every answer."""

from __future__ import annotations

import pytest
import schemathesis
from django.core.wsgi import get_wsgi_application
from hypothesis import HealthCheck, given, seed
from hypothesis import settings as hypothesis
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.config import (
    ChecksConfig,
    PositiveDataAcceptanceConfig,
    ProjectConfig,
    ProjectsConfig,
    SchemathesisConfig,
)

from results.evidence import restate
from tests.factories import make_series, make_setup, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db
EXAMPLES = 8


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
def api_schema(book, settings):
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
def test_every_answer_is_as_described(api_schema, mode):
    """Requests made up from the description, right and wrong ones, each answered as the description says."""
    # With a token, so that what is sent is looked at; the tool tries without one by itself.
    token = Token.objects.create(user=make_user("program")).key
    headers = {"Accept-Encoding": "identity", "Authorization": f"Bearer {token}"}
    tried = 0
    for found in api_schema.get_all_operations():
        operation = found.ok()

        @seed(1)
        @hypothesis(max_examples=EXAMPLES, database=None, deadline=None, suppress_health_check=list(HealthCheck))
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
