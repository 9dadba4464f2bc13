"""Invented shops with a known truth, and how often a limit keeps its word over them.

Run as a script for all cases: ``python -m tests.stats.practice.shopbooks 500``.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
from scipy import special

from stats.practice.limit import next_shop
from stats.practice.shops import ShopEvidence, evidence_of

WITHIN = 0.15
LIMITS = ((0.95, 0.75), (0.90, 0.90))


def make_shops(rng: np.random.Generator, shops: int, n: int, tau: float) -> pd.DataFrame:
    """A series of one joint from each shop, the true mean log being 3."""
    levels = 3.0 + rng.normal(0.0, tau, shops)
    readings = levels[:, None] + rng.normal(0.0, WITHIN, (shops, n))
    return pd.DataFrame(
        {
            "study": [f"s{i}" for i in range(shops)],
            "mean_log": readings.mean(axis=1),
            "sd_log": readings.std(axis=1, ddof=1),
            "n": n,
        }
    )


def kept_word(evidence: ShopEvidence, tau: float, coverage: float, confidence: float) -> bool:
    """Whether the limit lies below the true percentile of single joints over shops."""
    truth = 3.0 - special.ndtri(coverage) * np.hypot(tau, WITHIN)
    return bool(np.log(next_shop(evidence, coverage, confidence).value) <= truth)


def coverage(seed: int, books: int, shops: int, n: int, tau: float) -> tuple[float, ...]:
    """Share of invented books in which each limit keeps its word."""
    rng = np.random.default_rng(seed)
    held = np.zeros(len(LIMITS))
    for _ in range(books):
        evidence = evidence_of(make_shops(rng, shops, n, tau))
        held += [kept_word(evidence, tau, *limit) for limit in LIMITS]
    return tuple((held / books).tolist())


if __name__ == "__main__":
    for shops in (2, 3, 5, 10):
        for n in (5, 10):
            for tau in (0.0, 0.05, 0.15, 0.3):
                print(shops, n, tau, coverage(1, int(sys.argv[1]), shops, n, tau), flush=True)
