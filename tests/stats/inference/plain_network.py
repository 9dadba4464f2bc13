"""The network written the plain way, with one matrix over all series: slow, and independent of the real one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import optimize


@dataclass(frozen=True)
class PlainNetwork:
    """Effects against the reference, by joint, with their covariance, and the between-study variance."""

    estimate: pd.Series
    covariance: pd.DataFrame
    slopes: np.ndarray
    tau2: float


def fit(arms: pd.DataFrame, reference: str, moderators: tuple[str, ...] = ()) -> PlainNetwork:
    """Fit by generalised least squares with a column a study and a covariance matrix of series by series."""
    study = (arms["study"].to_numpy()[:, None] == np.unique(arms["study"])[None, :]).astype(float)
    joints = [j for j in np.unique(arms["joint"]) if j != reference]
    joint = (arms["joint"].to_numpy()[:, None] == np.array(joints)[None, :]).astype(float)
    extra = arms[list(moderators)].to_numpy(dtype=float) if moderators else np.empty((len(arms), 0))
    x = np.hstack([joint, extra - extra.mean(axis=0), study])
    y = arms["y"].to_numpy(dtype=float)
    same = (arms["study"].to_numpy()[:, None] == arms["study"].to_numpy()[None, :]) & (
        arms["joint"].to_numpy()[:, None] == arms["joint"].to_numpy()[None, :]
    )
    r = same / 2.0
    d = np.diag(arms["v"].to_numpy(dtype=float))

    def solve(tau2):
        w = np.linalg.inv(d + tau2 * r)
        covariance = np.linalg.inv(x.T @ w @ x)
        p = w - w @ x @ covariance @ x.T @ w
        beta = covariance @ x.T @ w @ y
        py = p @ y
        return beta, covariance, float(np.sum(p * r) - py @ r @ py)

    tau2 = 0.0
    if solve(0.0)[2] < 0:
        high = float(np.median(np.diag(d)))
        while solve(high)[2] < 0:
            high *= 4
        tau2 = float(optimize.brentq(lambda t: solve(t)[2], 0.0, high, xtol=1e-13, rtol=1e-11))
    beta, covariance, _ = solve(tau2)
    k = len(joints)
    return PlainNetwork(
        pd.Series(beta[:k], index=joints),
        pd.DataFrame(covariance[:k, :k], index=joints, columns=joints),
        beta[k : k + len(moderators)],
        tau2,
    )
