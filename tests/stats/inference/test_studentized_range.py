"""The Studentized range, against scipy and where it is Student's t."""

from __future__ import annotations

import pytest
from scipy import stats

from stats.inference import studentized_range


@pytest.mark.parametrize(("q", "groups", "df"), [(1.0, 3, 1.2), (3.5, 6, 12.7), (8.0, 8, 2.5), (13.8, 6, 15.5)])
def test_tail_agrees_with_scipy(q, groups, df):
    ours = studentized_range.tail(q, groups, df)
    assert ours == pytest.approx(stats.studentized_range.sf(q, groups, df), rel=1e-6, abs=1e-11)


@pytest.mark.parametrize("df", [1.0, 1.5, 4.0, 30.0, 1e5])
def test_tail_of_two_groups_is_students_t(df):
    for t in (0.1, 1.0, 3.0):
        assert studentized_range.tail(t * 2**0.5, 2, df) == pytest.approx(2 * stats.t.sf(t, df), abs=1e-10)


def test_critical_undoes_tail():
    q = studentized_range.critical(0.95, 4, 9.3)
    assert studentized_range.tail(q, 4, 9.3) == pytest.approx(0.05, rel=1e-9)
