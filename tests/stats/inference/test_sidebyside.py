"""Joints side by side."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats as scipy_stats

from stats.errors import StatsError
from stats.inference import groups as pairs
from stats.inference import pool, ratio_rows, sidebyside


def book(values: dict[tuple[int, str], list[float]], held: dict[int, list[float]] | None = None):
    """Series and specimens frames from readings by (study, joint); `held` adds held readings by series number."""
    series, specimens = [], []
    for number, ((study, joint), readings) in enumerate(values.items(), start=1):
        logs = np.log(readings)
        kept = (held or {}).get(number, [])
        series.append(
            {
                "series_id": number,
                "study_id": study,
                "joint": joint,
                "joint_name": joint.title(),
                "family": joint,
                "n": float(len(readings)),
                "held": len(kept),
                "flagged": 0,
                "mean_log": logs.mean(),
                "sd_log": logs.std(ddof=1) if len(logs) > 1 else np.nan,
            }
        )
        specimens += [{"series_id": number, "value": v, "outcome": "broke"} for v in readings]
        specimens += [{"series_id": number, "value": v, "outcome": "held"} for v in kept]
    return pd.DataFrame(series), pd.DataFrame(specimens)


def simulated(rig: dict[int, float] | None = None):
    """Four studies of three joints with a common ratio, each rig with a factor of its own."""
    draw = np.random.default_rng(8)
    centre = {"butt": 5.0, "dowel": 5.7, "tenon": 6.1}
    values = {}
    for study in range(1, 5):
        for joint, mean in centre.items():
            shift = draw.normal(0, 0.1)
            values[study, joint] = np.exp(draw.normal(mean + shift, 0.15, 6)) * (rig or {}).get(study, 1.0)
    return book(values)


def test_one_study_gives_the_welch_ratio():
    a, b = [310.0, 350, 362, 371, 400], [150.0, 141, 170, 166]
    series, specimens = book({(1, "tenon"): a, (1, "butt"): b})

    found = sidebyside.ratios(sidebyside.series_estimates(series, specimens), "butt").iloc[0]

    expected = pairs.ratio(a, b, 0.95)
    assert found["ratio"] == pytest.approx(expected.ratio, rel=1e-12)
    assert found["low"] == pytest.approx(expected.interval.low, rel=1e-9)
    assert found["high"] == pytest.approx(expected.interval.high, rel=1e-9)
    assert (found["basis"], found["studies"]) == (ratio_rows.SAME, 1)
    assert np.isnan(found["prediction_low"])


def test_a_rig_that_reads_high_leaves_ratios_alone():
    plain = sidebyside.ratios(sidebyside.series_estimates(*simulated()), "butt")
    scaled = sidebyside.ratios(sidebyside.series_estimates(*simulated({2: 4.448, 3: 0.5})), "butt")

    columns = ["ratio", "low", "high", "prediction_low", "prediction_high"]
    np.testing.assert_allclose(plain[columns], scaled[columns], rtol=1e-8)


def test_ratios_in_many_studies_agree_with_pooled_contrasts_when_every_study_has_both():
    series, specimens = simulated()
    two = series[series["joint"].isin(["butt", "tenon"])]
    estimates = sidebyside.series_estimates(two, specimens)

    found = sidebyside.ratios(estimates, "butt").iloc[0]

    wide = estimates.pivot(index="study_id", columns="joint", values=["y", "v_steady"])
    plain = pool.random_effects(
        wide["y"]["tenon"] - wide["y"]["butt"], wide["v_steady"]["tenon"] + wide["v_steady"]["butt"], knapp_hartung=True
    )
    assert found["ratio"] == pytest.approx(np.exp(plain.estimate), rel=1e-6)
    assert found["studies"] == 4


def test_ratio_of_two_joints_apart_says_so():
    series, specimens = book({(1, "tenon"): [0.3, 0.33, 0.29], (2, "butt"): [0.1, 0.12, 0.11]})
    estimates = sidebyside.series_estimates(series, specimens)

    across = sidebyside.ratios(estimates, "butt").iloc[0]
    within = sidebyside.ratios(estimates, "butt", across=False).iloc[0]

    assert across["basis"] == ratio_rows.APART
    assert across["ratio"] == pytest.approx(scipy_stats.gmean([0.3, 0.33, 0.29]) / scipy_stats.gmean([0.1, 0.12, 0.11]))
    assert np.isnan(within["ratio"])
    assert "No chain of studies" in within["note"]


def test_reference_that_is_not_shown_is_refused():
    estimates = sidebyside.series_estimates(*simulated())

    with pytest.raises(StatsError, match="reference 'mitre' is not among the joints shown: butt, dowel, tenon"):
        sidebyside.ratios(estimates, "mitre")


def test_missing_spread_is_borrowed_and_marked():
    series, specimens = simulated()
    series.loc[0, "sd_log"] = np.nan

    estimates = sidebyside.series_estimates(series, specimens)

    assert estimates["imputed"].tolist() == [True] + [False] * 11
    like = series[(series["joint"] == "butt") & series["sd_log"].notna()]
    assert estimates.loc[0, "v"] == pytest.approx((like["sd_log"] ** 2).mean() / 6)


def test_unstated_count_weighs_as_one_specimen():
    series, specimens = simulated()
    series.loc[0, ["sd_log", "n"]] = np.nan

    estimates = sidebyside.series_estimates(series, specimens)

    assert estimates.loc[0, "n_assumed"]
    assert estimates.loc[0, "v"] > 5 * estimates.loc[1:, "v"].median() / 2


def test_held_specimens_raise_the_centre_and_all_held_leave_the_series_out():
    readings = [310.0, 350, 362, 371, 400]
    series, specimens = book({(1, "tenon"): readings, (1, "butt"): [150.0, 141, 170]}, held={1: [420.0, 420.0]})
    alone = series.assign(n=[0.0, 3.0], mean_log=[np.nan, series.loc[1, "mean_log"]])

    with_held = sidebyside.series_estimates(series, specimens)
    all_held = sidebyside.series_estimates(alone, specimens[specimens["outcome"] == "held"])

    assert with_held.loc[0, "geometric_mean"] > scipy_stats.gmean(readings)
    assert all_held["joint"].tolist() == ["butt"]


def test_groups_count_and_pool():
    series, specimens = simulated()
    estimates = sidebyside.series_estimates(series, specimens)

    found = sidebyside.groups(estimates, specimens).set_index("joint")

    assert found.index.tolist() == ["tenon", "dowel", "butt"]
    assert found[["studies", "series", "specimens", "held"]].to_numpy().tolist() == [[4, 4, 24, 0]] * 3
    own = estimates[estimates["joint"] == "tenon"]
    plain = pool.random_effects(own["y"], own["v_steady"])
    assert found.loc["tenon", "geometric_mean"] == pytest.approx(np.exp(plain.estimate))
    assert (found["limit_5pct"] < found["low"]).all()
    assert (found["prediction_low"] < found["low"]).all()


def test_group_of_one_study_has_its_own_interval_and_no_prediction():
    readings = [310.0, 350, 362, 371, 400]
    series, specimens = book({(1, "tenon"): readings})

    found = sidebyside.groups(sidebyside.series_estimates(series, specimens), specimens).iloc[0]

    low, high = scipy_stats.t.interval(0.95, 4, loc=np.mean(np.log(readings)), scale=scipy_stats.sem(np.log(readings)))
    assert (found["low"], found["high"]) == pytest.approx((np.exp(low), np.exp(high)))
    assert np.isnan(found["prediction_low"])
    assert found["note"].startswith("One study")


def test_series_of_one_study_that_differ_widen_its_mean():
    frame = pd.DataFrame(
        {"study_id": [1, 1], "joint": ["a", "a"], "y": [0.0, 1.0], "v_steady": [0.01, 0.01], "n": [5.0, 5.0]}
    )

    found = sidebyside.study_means(frame).iloc[0]

    assert found["y"] == pytest.approx(0.5)
    assert found["v"] == pytest.approx(0.5 / 2)  # variance of the two means over their number, not 0.005
