"""All specimens at once: the mixed model beside the network."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import mixed, network


def _specimens(rng, studies=12, each=5, between=0.12):
    joints, rows = ["dowel", "half lap", "mitre", "bridle"], []
    for s in range(studies):
        level = rng.normal(7.5, 0.3)
        for joint in rng.choice(joints, rng.integers(2, 4), replace=False):
            mean = level + rng.normal(0, between) + 0.1 * joints.index(joint)
            rows += [(f"s{s}", joint, joint, np.exp(mean + rng.normal(0, 0.1))) for _ in range(each)]
    return pd.DataFrame(rows, columns=["study", "joint", "series", "value"])


def _arms(frame, residual):
    means = frame.assign(y=np.log(frame["value"])).groupby(["study", "joint"])["y"].agg(["mean", "size"]).reset_index()
    return means.assign(y=means["mean"], v=residual / means["size"])[["study", "joint", "y", "v"]]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_mixed_is_the_network_where_both_apply(seed):
    # studies fixed, one series a joint and study, equal numbers: the same model
    specimens = _specimens(np.random.default_rng(seed))
    found = mixed.fit(specimens, "dowel", study="fixed")
    beside = network.fit(_arms(specimens, found.variance["residual"]), "dowel", knapp_hartung=False)
    np.testing.assert_allclose(beside.tau2, 2 * found.variance["series"], rtol=1e-5)
    for joint in beside.effects.index:
        np.testing.assert_allclose(
            found.effects.loc[joint, ["estimate", "se", "low", "high"]].to_numpy(dtype=float),
            beside.effects.loc[joint, ["estimate", "se", "low", "high"]].to_numpy(dtype=float),
            rtol=1e-5,
            atol=1e-7,
        )


def test_mixed_with_random_studies_stays_near_the_network():
    # rigs that differ widely say next to nothing across studies, so random studies come close to fixed ones
    specimens = _specimens(np.random.default_rng(5), studies=20)
    rigs = {s: np.exp(3.0 * (i % 7)) for i, s in enumerate(specimens["study"].unique())}
    specimens["value"] *= specimens["study"].map(rigs)
    found = mixed.fit(specimens, "dowel")
    fixed = mixed.fit(specimens, "dowel", study="fixed")
    np.testing.assert_allclose(found.effects["estimate"], fixed.effects["estimate"], atol=0.003)


def test_mixed_without_anything_random_left_is_least_squares():
    rng = np.random.default_rng(8)
    frame = pd.DataFrame(
        {"study": np.repeat(list("ABCD"), 6), "joint": ["x", "y"] * 12, "value": np.exp(rng.normal(7, 0.1, 24))}
    )
    # takes out every difference between studies
    y = np.log(frame["value"])
    frame["value"] = np.exp(y - y.groupby(frame["study"]).transform("mean"))
    found = mixed.fit(frame)
    assert found.variance["study"] == 0.0
    assert found.notes == ("No variance between studies is left over.",)
    y = np.log(frame["value"])
    groups = [y[frame["joint"] == j] for j in ("x", "y")]
    np.testing.assert_allclose(found.effects.loc["y", "estimate"], groups[1].mean() - groups[0].mean(), rtol=1e-10)
    pooled = (groups[0].var() + groups[1].var()) / 2
    np.testing.assert_allclose(found.variance["residual"], pooled)
    np.testing.assert_allclose(found.effects.loc["y", "se"] ** 2, pooled / 6)


def test_mixed_scaling_all_loads_moves_the_intercept_only():
    specimens = _specimens(np.random.default_rng(4))
    one, other = mixed.fit(specimens, "dowel"), mixed.fit(specimens.assign(value=specimens["value"] * 4.448), "dowel")
    np.testing.assert_allclose(other.intercept - one.intercept, np.log(4.448), rtol=1e-6)
    np.testing.assert_allclose(other.effects, one.effects, rtol=1e-5, atol=1e-7)
    np.testing.assert_allclose(list(other.variance.values()), list(one.variance.values()), rtol=1e-5)


GOOD = _specimens(np.random.default_rng(0), studies=3)


@pytest.mark.parametrize(
    ("frame", "options", "message"),
    [
        (GOOD.drop(columns="value"), {}, "lacks the columns value"),
        (GOOD.iloc[:0], {}, "no rows"),
        (GOOD.assign(value=0.0), {}, "Row 0 .* value be above zero"),
        (GOOD.assign(value=np.nan), {}, "Row 0 .* value be above zero"),
        (GOOD.assign(value=np.inf), {"log": False}, "Row 0 .* value be finite"),
        (GOOD.assign(study=None), {}, "Row 0 .* must be given"),
        (GOOD, {"reference": "lap"}, "reference 'lap' is in no row"),
        (GOOD, {"study": "both"}, "study is 'both'; it must be 'random' or 'fixed'"),
        (GOOD.drop(columns="series"), {"study": "fixed"}, "Fixed studies need a column series"),
        (GOOD, {"level": 0}, "level is 0"),
        (GOOD.assign(value=2.0), {}, "leave no spread"),
        (GOOD.iloc[[0, 5]], {}, "leave no spread"),
        (GOOD.assign(joint=GOOD["study"]), {"study": "fixed"}, "no chain of studies links all joints"),
    ],
)
def test_mixed_refuses(frame, options, message):
    with pytest.raises(mixed.BadSpecimens, match=message):
        mixed.fit(frame, **options)
