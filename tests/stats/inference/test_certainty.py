"""How far a comparison can be trusted: each rule, and their sum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from stats.inference import certainty, network, pool
from stats.interval import Interval
from tests.stats.inference.books import make_arms


@dataclass(frozen=True)
class Made:
    """A contrast as a test wants it."""

    interval: Interval
    prediction: Interval | None
    estimate: float = 0.2


def _contrast(low, high, predict_low=None, predict_high=None):
    prediction = None if predict_low is None else Interval(predict_low, predict_high, 0.95)
    return Made(Interval(low, high, 0.95), prediction, (low + high) / 2)


SURE = _contrast(0.15, 0.25, 0.12, 0.30)


def _evidence(k=6, **columns):
    frame = pd.DataFrame({"study": [f"s{i}" for i in range(k)], "weight": 1.0, "n": 8, "direct": True, "like": True})
    return frame.assign(**columns)


def _steps(grade):
    return {d.name: d.steps for d in grade.domains}


def test_evidence_without_fault_is_of_high_certainty():
    found = certainty.grade(SURE, _evidence(12), small_study_p=0.5)
    assert found.level == "high"
    assert _steps(found) == {
        "risk of bias": 0,
        "inconsistency": 0,
        "indirectness": 0,
        "imprecision": 0,
        "missing evidence": 0,
    }
    assert all(d.reason.endswith(".") for d in found.domains)


@pytest.mark.parametrize(
    ("columns", "steps", "reason"),
    [
        ({"imputed": [True] + [False] * 5}, 0, "17% of the weight gives concern: spread not reported (17%)."),
        ({"imputed": [True, True] + [False] * 4}, 1, "33% of the weight"),
        ({"n": [2] * 5 + [8]}, 2, "fewer than three specimens, or an unknown number (83%)"),
        ({"n": [np.nan] * 6}, 2, "unknown number (100%)"),
        ({"left_out": [True] * 3 + [False] * 3}, 1, "specimens left out without a reason (50%)"),
        ({"matched": [False] * 3 + [True] * 3}, 1, "timber not matched (50%)"),
        ({"matched": [None] * 6, "left_out": [None] * 6}, 0, "No study of any weight gives cause for concern."),
    ],
)
def test_risk_of_bias_follows_the_weight_of_the_studies_concerned(columns, steps, reason):
    domain = certainty.grade(SURE, _evidence(**columns)).domains[0]
    assert domain.steps == steps
    assert reason in domain.reason


def test_risk_of_bias_uses_weights_not_counts():
    evidence = _evidence(weight=[94, 2, 1, 1, 1, 1], imputed=[False] + [True] * 5)
    assert certainty.grade(SURE, evidence).domains[0].steps == 0


@pytest.mark.parametrize(
    ("contrast", "p", "steps"),
    [
        (_contrast(0.15, 0.25, 0.12, 0.30), None, 0),
        (_contrast(0.15, 0.25, 0.05, 0.35), None, 1),  # may be alike
        (_contrast(0.15, 0.25, -0.20, 0.60), None, 2),  # may be anything
        (_contrast(-0.20, 0.25, -0.40, 0.60), None, 0),  # the mean may be anything already
        (_contrast(0.15, 0.25), None, 1),
        (_contrast(0.15, 0.25, 0.12, 0.30), 0.03, 1),
        (_contrast(0.15, 0.25, 0.12, 0.30), 0.30, 0),
        (_contrast(0.15, 0.25, -0.20, 0.60), 0.03, 2),
    ],
)
def test_inconsistency_reads_the_prediction_against_the_interval(contrast, p, steps):
    assert _steps(certainty.grade(contrast, _evidence(), difference_p=p))["inconsistency"] == steps


def test_inconsistency_of_one_study_can_not_be_seen():
    assert _steps(certainty.grade(SURE, _evidence(1)))["inconsistency"] == 1


@pytest.mark.parametrize(
    ("columns", "steps"),
    [
        ({}, 0),
        ({"direct": [False] + [True] * 5}, 0),
        ({"direct": [False] * 2 + [True] * 4}, 1),
        ({"direct": False}, 2),
        ({"like": [False] * 3 + [True] * 3}, 1),
        ({"direct": [False] * 3 + [True] * 3, "like": [True] * 3 + [False] * 3}, 2),
    ],
)
def test_indirectness_follows_the_weight_that_is_not_head_to_head_or_alike(columns, steps):
    assert _steps(certainty.grade(SURE, _evidence(**columns)))["indirectness"] == steps


@pytest.mark.parametrize(
    ("low", "high", "steps"),
    [
        (0.12, 0.40, 0),
        (0.02, 0.40, 0),  # better, though it may not matter
        (-0.05, 0.05, 0),  # alike
        (-0.05, 0.30, 1),
        (-0.30, 0.05, 1),
        (-0.20, 0.20, 2),
    ],
)
def test_imprecision_reads_the_interval_against_what_matters(low, high, steps):
    assert _steps(certainty.grade(_contrast(low, high, low - 0.01, high + 0.01), _evidence()))["imprecision"] == steps


def test_imprecision_of_few_specimens_takes_a_step():
    found = certainty.grade(SURE, _evidence(2, n=3))
    assert found.domains[3].steps == 1
    assert "Only 6 specimens" in found.domains[3].reason


def test_what_matters_moves_the_zones():
    contrast = _contrast(-0.05, 0.12, -0.06, 0.13)
    assert _steps(certainty.grade(contrast, _evidence(), matters=0.10))["imprecision"] == 1
    assert _steps(certainty.grade(contrast, _evidence(), matters=0.20))["imprecision"] == 0


@pytest.mark.parametrize(
    ("k", "p", "columns", "steps", "reason"),
    [
        (12, 0.02, {}, 1, "Less precise studies show larger differences (p = 0.02)."),
        (12, 0.50, {}, 0, "show no larger differences"),
        (6, 0.02, {}, 0, "Too few studies"),
        (12, None, {}, 0, "Too few studies"),
        (6, None, {"contributor": ["a"] * 5 + ["b"]}, 1, "One contributor gave 83% of the weight."),
        (6, None, {"contributor": list("aabbcc")}, 0, "Too few studies"),
    ],
)
def test_missing_evidence(k, p, columns, steps, reason):
    domain = certainty.grade(SURE, _evidence(k, **columns), small_study_p=p).domains[4]
    assert domain.steps == steps
    assert reason in domain.reason


def test_steps_add_up_and_end_at_very_low():
    levels = [
        certainty.grade(SURE, _evidence(**columns)).level
        for columns in (
            {},
            {"direct": [False] * 3 + [True] * 3},
            {"direct": False},
            {"direct": False, "imputed": True},
        )
    ]
    assert levels == ["high", "moderate", "low", "very low"]


def test_grade_takes_what_the_network_and_the_pool_give():
    arms = make_arms(np.random.default_rng(1), 30, joints=4)
    found = network.fit(arms, "j0")
    evidence = found.contributions("j3", "j0").assign(n=6, like=True)
    graded = certainty.grade(found.relative("j3", "j0"), evidence, difference_p=found.inconsistency.p)
    assert graded.studies == 30
    assert graded.level in ("high", "moderate", "low", "very low")

    pooled = pool.random_effects([0.2, 0.3, 0.25], [0.01] * 3)
    evidence = pd.DataFrame({"study": pooled.labels, "weight": pooled.weights, "n": 6, "direct": True, "like": True})
    assert certainty.grade(pooled, evidence).studies == 3


@pytest.mark.parametrize(
    ("evidence", "options", "message"),
    [
        (_evidence().drop(columns="like"), {}, "lacks the columns like"),
        (_evidence().iloc[:0], {}, "no rows"),
        (_evidence(weight=-1.0), {}, "weight must be finite, not negative"),
        (_evidence(weight=np.nan), {}, "weight must be finite"),
        (_evidence(weight=0.0), {}, "above zero for some study"),
        (_evidence(), {"matters": 0.0}, "matters is 0.0"),
        (_evidence(), {"difference_p": 1.5}, "1.5 is not a probability"),
        (_evidence(), {"small_study_p": -0.1}, "-0.1 is not a probability"),
    ],
)
def test_grade_refuses(evidence, options, message):
    with pytest.raises(certainty.BadEvidence, match=message):
        certainty.grade(SURE, evidence, **options)
