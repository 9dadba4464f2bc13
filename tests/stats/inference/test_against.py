"""What tells on all joints against one, beside joint by joint."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import network


def book(studies: int = 25):
    """Studies of two to four of six joints; two joints that nothing links to these."""
    draw = np.random.default_rng(5)
    rows = []
    for study in range(studies):
        for joint in draw.choice(list("abcdef"), int(draw.integers(2, 5)), replace=False):
            rows.append((study, joint, draw.normal(ord(joint) / 50, 0.2), draw.uniform(0.002, 0.02)))
    rows += [(99, "x", 0.0, 0.01), (99, "y", 0.3, 0.01)]
    return network.fit(pd.DataFrame(rows, columns=["study", "joint", "y", "v"]), "a")


def test_shares_and_differences_are_those_of_each_joint_alone():
    fitted = book()

    found = fitted.against("a")

    names = [fitted.study_names[number] for number in found.study]
    for at, joint in enumerate(fitted.joints):
        if joint in "axy":
            continue
        alone = fitted.contributions(joint, "a").set_index("study").loc[names]
        assert found.weight[:, at] == pytest.approx(alone["weight"].to_numpy(), abs=1e-12)
        assert found.holds[:, at].tolist() == alone["direct"].tolist()
        p = fitted.split(joint, "a").p
        assert found.difference_p[at] == pytest.approx(np.nan if p is None else p, rel=1e-9, nan_ok=True)


def test_joints_that_nothing_links_have_no_shares():
    fitted = book()

    weight = fitted.against("a").weight

    assert np.isnan(weight[:, [fitted.joints.index(joint) for joint in "xy"]]).all()


def test_ratios_to_one_joint_are_those_of_each_pair():
    fitted = book()

    every = fitted.relative_to("a")

    for at, joint in enumerate(fitted.joints):
        if joint in "axy":
            assert np.isnan(every.estimate[at])
            continue
        alone = fitted.relative(joint, "a")
        found = [column[at] for column in every]
        ends = (alone.interval.low, alone.interval.high, alone.prediction.low, alone.prediction.high)
        assert found == pytest.approx([alone.estimate, *ends, alone.studies], rel=1e-12)


def test_many_variances_at_once_give_what_each_gives():
    profile = book().profile

    found = profile.scan(np.array([0.0, 0.003, 0.2]))

    plain = [(one.criterion, one.slope) for one in map(profile.solve, (0.0, 0.003, 0.2))]
    assert np.array(found) == pytest.approx(np.array(plain), rel=1e-9)


def test_moderators_are_asked_about_one_by_one():
    draw = np.random.default_rng(1)
    rows = [(study, joint, draw.normal(), 0.01, draw.normal()) for study in range(12) for joint in "abc"]
    frame = pd.DataFrame(rows, columns=["study", "joint", "y", "v", "density"])
    fitted = network.fit(frame, "a", moderators=["density"])

    with pytest.raises(network.BadArms, match="one by one"):
        fitted.against("a")
    assert fitted.profile.scan(np.array([0.1]))[0][0] == fitted.profile.solve(0.1).criterion
