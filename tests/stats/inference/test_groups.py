"""Groups of one study compared."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stats.inference import groups, sample

VALUES = np.log([41.0, 45.0, 43.0, 47.0, 35.0, 31.0, 37.0, 50.0, 58.0, 52.0, 49.0, 61.0])
LABELS = list("aaaabbbccccc")
PARTS = [VALUES[:4], VALUES[4:7], VALUES[7:]]
MANY = [groups.welch_anova, groups.kruskal, groups.games_howell, groups.dunn]


def test_welch_anova_agrees_with_its_formula():
    n, means, variances = (np.array([f(part) for part in PARTS]) for f in (len, np.mean, lambda x: x.var(ddof=1)))
    w = n / variances
    grand, k = (w * means).sum() / w.sum(), 3
    spread = ((1 - w / w.sum()) ** 2 / (n - 1)).sum()
    f = (w * (means - grand) ** 2).sum() / (k - 1) / (1 + 2 * (k - 2) / (k**2 - 1) * spread)
    found = groups.welch_anova(VALUES, LABELS)
    assert found.statistic == pytest.approx(f, rel=1e-10)
    assert found.df == pytest.approx((2, (k**2 - 1) / (3 * spread)), rel=1e-10)
    assert found.p == pytest.approx(stats.f.sf(f, *found.df), rel=1e-9)
    assert (found.n, found.groups) == (12, ("a", "b", "c"))


def test_welch_anova_of_two_groups_is_welch_t():
    two = groups.welch_anova(VALUES[:7], LABELS[:7])
    t = stats.ttest_ind(PARTS[0], PARTS[1], equal_var=False)
    assert (two.statistic, two.p) == pytest.approx((t.statistic**2, t.pvalue), rel=1e-10)


def test_kruskal_agrees_with_scipy():
    found, scipys = groups.kruskal(VALUES, LABELS), stats.kruskal(*PARTS)
    assert (found.statistic, found.p, found.df) == (scipys.statistic, scipys.pvalue, (2.0,))


def test_games_howell_of_two_groups_is_welch_t():
    (pair,) = groups.games_howell(VALUES[:7], LABELS[:7]).itertuples()
    t = stats.ttest_ind(PARTS[1], PARTS[0], equal_var=False)
    interval = t.confidence_interval(0.95)
    assert (pair.p, pair.df) == pytest.approx((t.pvalue, t.df), rel=1e-8)
    assert (pair.low, pair.high) == pytest.approx((interval.low, interval.high), rel=1e-8)


def test_games_howell_agrees_with_scipy():
    found, scipys = groups.games_howell(VALUES, LABELS), stats.tukey_hsd(*PARTS, equal_var=False)
    ends = scipys.confidence_interval(0.95)
    for row, (i, j) in zip(found.itertuples(), [(0, 1), (0, 2), (1, 2)], strict=True):
        assert row.difference == pytest.approx(scipys.statistic[j, i], rel=1e-10)
        assert row.p == pytest.approx(scipys.pvalue[j, i], rel=1e-7)
        assert (row.low, row.high) == pytest.approx((ends.low[j, i], ends.high[j, i]), rel=1e-7)


def test_dunn_of_two_groups_is_kruskal():
    (pair,) = groups.dunn(VALUES[:7], LABELS[:7]).itertuples()
    found = groups.kruskal(VALUES[:7], LABELS[:7])
    assert (pair.z**2, pair.p) == pytest.approx((found.statistic, found.p), rel=1e-10)
    assert pair.p_adjusted == pair.p


def test_dunn_adjusts_as_told():
    plain = groups.dunn(VALUES, LABELS, "none")
    assert plain["p_adjusted"].tolist() == plain["p"].tolist()
    bonferroni = groups.dunn(VALUES, LABELS, "bonferroni")
    assert bonferroni["p_adjusted"].tolist() == pytest.approx(np.minimum(3 * plain["p"], 1.0).tolist())
    with pytest.raises(sample.BadSetting, match="adjust is 'sidak'"):
        groups.dunn(VALUES, LABELS, "sidak")


@settings(max_examples=20, deadline=None)
@given(st.permutations(range(12)), st.floats(-5, 5))
def test_tests_mind_neither_order_nor_shift(order, shift):
    moved, labels = VALUES[list(order)] + shift, [LABELS[i] for i in order]
    for test in (groups.welch_anova, groups.kruskal):
        one, other = test(VALUES, LABELS), test(moved, labels)
        assert (other.statistic, other.p) == pytest.approx((one.statistic, one.p), rel=1e-7)


@pytest.mark.parametrize("test", MANY)
def test_comparisons_refuse_by_name(test):
    with pytest.raises(sample.TooFew, match="labels name only 'a'; a comparison needs at least 2 groups"):
        test([1.0, 2.0], ["a", "a"])
    with pytest.raises(sample.BadSample, match=r"values\[1\] is nan"):
        test([1.0, float("nan")], ["a", "b"])
    with pytest.raises(sample.BadSample, match=r"labels has shape \(1,\); it needs one label for each of 2"):
        test([1.0, 2.0], ["a"])
    with pytest.raises(sample.BadSample, match=r"labels\[1\] is None"):
        test([1.0, 2.0], ["a", None])
    with pytest.raises(sample.NoSpread, match="all 2 readings of 'a' are 2|all 4 values are 2|neither 'a' nor"):
        test([2.0, 2.0, 2.0, 2.0], ["a", "a", "b", "b"])


@pytest.mark.parametrize("test", [groups.welch_anova, groups.games_howell])
def test_tests_of_means_need_two_in_each_group(test):
    with pytest.raises(sample.TooFew, match="group 'b' has 1 reading; each needs at least 2"):
        test([1.0, 2.0, 3.0], ["a", "a", "b"])


def test_ranks_need_but_one():
    assert groups.kruskal([1.0, 2.0, 3.0], ["a", "a", "b"]).p < 1
