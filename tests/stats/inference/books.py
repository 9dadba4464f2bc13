"""Invented books for tests and benches: series of a network with known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd


def make_arms(
    rng: np.random.Generator,
    studies: int,
    joints: int = 6,
    tau: float = 0.15,
    v_low: float = 0.001,
    v_high: float = 0.01,
) -> pd.DataFrame:
    """Make studies of two to four joints, one series a joint; all joints linked through joint ``j0``."""
    k = np.minimum(rng.choice([2, 3, 4], studies, p=[0.25, 0.5, 0.25]), joints)
    study = np.repeat(np.arange(studies), k)
    picks = [rng.choice(joints, size, replace=False) for size in k]
    for i in range(min(studies, joints - 1)):  # the first studies compare every joint with j0
        picks[i] = np.concatenate([[0, i + 1], rng.permutation(np.setdiff1d(np.arange(joints), [0, i + 1]))])[: k[i]]
    joint = np.concatenate(picks)
    v = rng.uniform(v_low, v_high, len(study))
    y = rng.normal(8.0, 0.5, studies)[study] + 0.05 * joint
    y = y + rng.normal(0.0, tau / np.sqrt(2.0), len(study)) + rng.normal(0.0, np.sqrt(v))
    return pd.DataFrame({"study": [f"s{i}" for i in study], "joint": [f"j{i}" for i in joint], "y": y, "v": v})
