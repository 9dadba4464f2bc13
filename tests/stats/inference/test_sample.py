"""What every statistic asks of its readings."""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import sample


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([310.0, float("nan"), 350.0], r"load\[1\] is nan; every one must be a finite number"),
        ([310.0, 350.0, float("inf")], r"load\[2\] is inf"),
        ([310.0, None], r"load\[1\] is nan"),
        ([310.0, 0.0], r"load\[1\] is 0; every one must be above zero"),
        ([-5.0], r"load\[0\] is -5; every one must be above zero"),
        (["strong"], "load must be numbers"),
        ([[1.0, 2.0]], "load must be a flat list of numbers; it has 2 dimensions"),
        (3.0, "0 dimensions"),
    ],
)
def test_checked_says_which_reading_is_wrong(values, words):
    with pytest.raises(sample.BadSample, match=words):
        sample.checked(values, "load")


def test_checked_refuses_too_few():
    with pytest.raises(sample.TooFew, match="values has 0 readings; at least 1 are needed"):
        sample.checked([])
    with pytest.raises(sample.TooFew, match="at least 3"):
        sample.checked([1.0, 2.0], minimum=3)


def test_checked_lets_negative_numbers_by_where_asked():
    assert sample.checked([-1, 0, 2], positive=False).tolist() == [-1.0, 0.0, 2.0]


def test_checked_broke_reads_truths_and_counts():
    assert sample.checked_broke(None, 2).tolist() == [True, True]
    assert sample.checked_broke([1, 0], 2).tolist() == [True, False]
    with pytest.raises(sample.BadSample, match=r"broke has shape \(1,\); it needs one true or false for each of 2"):
        sample.checked_broke([True], 2)
    with pytest.raises(sample.BadSample, match=r"broke\[1\] is 2; it must be true or false"):
        sample.checked_broke([1, 2], 2)
    with pytest.raises(sample.BadSample, match="broke must be true or false"):
        sample.checked_broke(["held", "broke"], 2)


@pytest.mark.parametrize("missing", [None, float("nan"), ""])
def test_checked_labels_refuses_a_missing_label(missing):
    with pytest.raises(sample.BadSample, match=r"labels\[1\] is .*; every reading needs a label"):
        sample.checked_labels(["a", missing], 2)


@pytest.mark.parametrize("value", [0.0, 1.0, -0.1, 95, float("nan")])
def test_checked_share_refuses_what_is_no_share(value):
    with pytest.raises(sample.BadSetting, match="level is .*; it must lie between 0 and 1"):
        sample.checked_share(value, "level")


@pytest.mark.parametrize("value", [1, 2.5, float("nan"), float("inf")])
def test_checked_count_refuses_what_is_no_count(value):
    with pytest.raises(sample.BadSetting, match="n is .*; it must be a whole number of at least 2"):
        sample.checked_count(value, "n", 2)


def test_log_spread_takes_rounding_for_no_spread():
    assert sample.log_spread(np.log(np.full(7, 0.1) * 3.0)) == 0.0
    assert sample.log_spread(np.array([1.0, 1.0 + 1e-6])) > 0
