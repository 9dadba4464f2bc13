"""What a fitted network says, as numbers: against simpler methods where these must agree."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from results.evidence import Linked
from results.evidence import linked_numbers as numbers
from stats.inference import network, pool
from stats.inference.fitted import NotCompared


def arms(*studies: tuple[str, ...], seed: int = 3) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    rows = [
        {"study": number, "joint": joint, "y": rng.normal(len(joint), 0.3), "v": float(rng.uniform(0.002, 0.02))}
        for number, joints in enumerate(studies)
        for joint in joints
    ]
    return pd.DataFrame(rows)


def test_spread_of_one_pair_is_that_of_pooling_it():
    frame = arms(*[("butt", "dowel")] * 6)
    wide = frame.pivot(index="study", columns="joint")
    pooled = pool.random_effects(wide["y"]["dowel"] - wide["y"]["butt"], wide["v"].sum(axis=1))

    found = numbers.spread(network.fit(frame, "butt"))

    assert found.tau == pytest.approx(np.sqrt(pooled.tau2), rel=1e-4)
    assert found.i2 == pytest.approx((pooled.q - 5) / pooled.q)
    assert found.interval.low == pytest.approx(np.sqrt(pooled.tau2_interval.low), rel=1e-4)
    assert found.factor == pytest.approx(np.exp(found.tau))


def test_spread_of_one_study_a_ratio_can_not_be_had():
    assert numbers.spread(network.fit(arms(("butt", "dowel"), ("butt", "mitre")), "butt")) is None


def test_spread_of_studies_that_agree_has_no_share_beyond_their_errors():
    frame = arms(*[("butt", "dowel")] * 5)
    frame["y"] = frame["joint"].map({"butt": 1.0, "dowel": 2.0}) + 0.001 * frame["study"] * (frame["joint"] == "dowel")

    assert numbers.spread(network.fit(frame, "butt")).i2 == 0.0


def test_joints_left_alone_without_a_study_are_those_that_nothing_else_links():
    frame = arms(("butt", "dowel", "mitre"), ("butt", "dowel"), ("mitre", "box"), ("box", "bridle"))
    linking = frame.rename(columns={"study": "study_id"})

    without = numbers._left_alone(linking, [0, 1, 2], "butt")

    assert [sorted(joints) for joints in without] == [["box", "bridle", "mitre"], [], ["box", "bridle"]]


def test_numbers_of_no_network_are_refused_with_the_reason():
    with pytest.raises(NotCompared, match="nothing is linked"):
        numbers.effects(Linked(None, None, "nothing is linked"))


def test_what_a_log_too_large_stands_for_is_endless():
    assert numbers._exp(800.0) == np.inf
