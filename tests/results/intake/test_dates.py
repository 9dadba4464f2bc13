"""Dates as people write them: those of ISO 8601, with the month's name, and those that could be two days."""

from __future__ import annotations

import pytest

from results.intake.dates import EitherWay, iso


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("2025", "2025"),
        ("2025-03", "2025-03"),
        ("2025-3-4", "2025-03-04"),
        ("March 2025", "2025-03"),
        ("mar 2025", "2025-03"),
        ("Sept. 2025", "2025-09"),
        ("14 March 2025", "2025-03-14"),
        ("March 14, 2025", "2025-03-14"),
        ("May 1st 2025", "2025-05-01"),
        ("14. März 2025", "2025-03-14"),
        ("Dezember  2024", "2024-12"),
        ("3/2025", "2025-03"),
        ("03.2025", "2025-03"),
        ("14.3.2025", "2025-03-14"),
        ("4.3.2025", "2025-03-04"),
        ("14/3/2025", "2025-03-14"),
        ("3/14/2025", "2025-03-14"),
        ("3/3/2025", "2025-03-03"),
    ],
)
def test_a_date_says_as_much_as_was_said(typed, said):
    assert iso(typed) == said


@pytest.mark.parametrize(
    "typed",
    ["", "soon", "14/3/25", "2025-02-30", "2025-13", "Marz 2025", "0/2025", "31 April 2025", "99 March 2025", "25"],
)
def test_what_is_no_date_is_refused(typed):
    with pytest.raises(ValueError, match="."):
        iso(typed)


@pytest.mark.parametrize("typed", ["3/4/2025", "12/1/2024"])
def test_one_that_is_two_days_is_not_guessed(typed):
    with pytest.raises(EitherWay, match="where the month goes first"):
        iso(typed)
