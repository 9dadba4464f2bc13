"""How long the network takes, how it grows, and the same fit by dense matrices beside it.

Run: python -m tests.bench.network

Forty joints, studies of two to four joints, one series a joint; each time is the best of several runs and covers
reading the frame, the between-study variance and all 780 relative effects. Ends with status 1 if a limit below is
missed or an answer differs.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from stats.inference import network
from tests.stats.inference import plain_network
from tests.stats.inference.books import make_arms

JOINTS = 40
LIMITS_S = {5_000: 0.1, 50_000: 1.0}
DENSE_STUDIES = (150, 400)
TIMES_FASTER_AT_400 = 100
CLOSE = 1e-6


def best_of(runs: int, call: Callable[[], Any]) -> tuple[float, Any]:
    """Give the shortest time of some runs [s], and the last result."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = call()
        times.append(time.perf_counter() - start)
    return min(times), result


def growth() -> bool:
    """Time books of growing size."""
    print(f"{'studies':>8}{'series':>9}{'seconds':>10}{'us a series':>13}")
    good = True
    for studies in (500, 5_000, 50_000):
        arms = make_arms(np.random.default_rng(studies), studies, joints=JOINTS)
        seconds, _ = best_of(7 if studies < 50_000 else 4, lambda arms=arms: network.fit(arms, "j0").table())
        limit = LIMITS_S.get(studies)
        mark = "" if limit is None else f"   limit {limit} s" + ("" if seconds < limit else "  MISSED")
        good &= limit is None or seconds < limit
        print(f"{studies:>8}{len(arms):>9}{seconds:>10.4f}{1e6 * seconds / len(arms):>13.2f}{mark}")
    return good


def beside_dense() -> bool:
    """Fit the same books by one matrix over all series."""
    print(f"\n{'studies':>8}{'series':>9}{'network s':>12}{'dense s':>10}{'times':>8}{'largest difference':>21}")
    good = True
    for studies in DENSE_STUDIES:
        arms = make_arms(np.random.default_rng(studies), studies, joints=JOINTS)
        ours, found = best_of(7, lambda arms=arms: network.fit(arms, "j0", knapp_hartung=False))
        dense, plain = best_of(1, lambda arms=arms: plain_network.fit(arms, "j0"))
        at = plain.estimate.index
        difference = max(
            abs(found.tau2 / plain.tau2 - 1),
            float(np.abs(found.effects.loc[at, "estimate"] - plain.estimate).max()),
            float(np.abs(found.covariance.loc[at, at] / plain.covariance - 1).to_numpy().max()),
        )
        enough = studies != 400 or dense > TIMES_FASTER_AT_400 * ours
        good &= difference < CLOSE and enough
        mark = ("" if difference < CLOSE else "  DIFFERS") + ("" if enough else "  TOO SLOW")
        print(f"{studies:>8}{len(arms):>9}{ours:>12.4f}{dense:>10.2f}{dense / ours:>8.0f}{difference:>21.1e}{mark}")
    return good


if __name__ == "__main__":
    raise SystemExit(0 if growth() & beside_dense() else 1)
