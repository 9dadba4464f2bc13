"""How often the 5 % lower limit at 75 % confidence keeps its word, over simulated series and books.

Run: python -m tests.bench.limits [books]

A series has 3 to 10 specimens with a CV of 10 to 25 %; a book has 3 to 12 shops of such series and a between-shop sd of
0 to 0.3 on logs. A limit keeps its word where at most 5 % of such joints lie below it: of one shop's joints, or of
joints of any shop. Exact limits do so in 75 % of cases; the one between shops is an approximation, and the script ends
with status 1 where a limit keeps its word in less than 73.5 %.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy import stats

from stats.inference import tolerance

COVERAGE, CONFIDENCE, LOWEST = 0.95, 0.75, 73.5
BELOW = float(stats.norm.ppf(1 - COVERAGE))


def one_series(books: int) -> dict[str, float]:
    """Share of limits [%] of single series, by model, that keep their word."""
    rng = np.random.default_rng(20240611)
    kept: dict[str, list[bool]] = {"lognormal": [], "hanson-koopmans": []}
    for _ in range(books):
        n, sd = int(rng.integers(3, 11)), float(np.sqrt(np.log1p(rng.uniform(0.10, 0.25) ** 2)))
        values = np.exp(rng.normal(7, sd, n))
        truth = np.exp(7 + BELOW * sd)
        for model, hits in kept.items():
            limit = tolerance.lower_limit(values, COVERAGE, CONFIDENCE, model)
            hits.append(limit.value <= truth)
    return {f"one shop, {model}": 100 * float(np.mean(hits)) for model, hits in kept.items()}


def between_shops(books: int) -> dict[str, float]:
    """Share of limits [%] that hold for joints of any shop, by the spread between shops."""
    rng = np.random.default_rng(20240611)
    kept: dict[float, list[bool]] = {0.0: [], 0.1: [], 0.2: [], 0.3: []}
    for at in range(books):
        tau = list(kept)[at % len(kept)]
        sd = float(np.sqrt(np.log1p(rng.uniform(0.10, 0.25) ** 2)))
        sizes = rng.integers(3, 11, int(rng.integers(3, 13)))
        shop = np.repeat(np.arange(len(sizes)), sizes)
        logs = 7 + rng.normal(0, tau, len(sizes))[shop] + rng.normal(0, sd, len(shop))
        limit = tolerance.basis_between_batches(np.exp(logs), shop, COVERAGE, CONFIDENCE)
        kept[tau].append(limit.value <= np.exp(7 + BELOW * np.hypot(tau, sd)))
    return {f"any shop, sd between shops {tau}": 100 * float(np.mean(hits)) for tau, hits in kept.items()}


def main(books: int) -> int:
    """Run both and judge them."""
    error = 100 * np.sqrt(CONFIDENCE * (1 - CONFIDENCE) / books)
    print(
        f"{books} books; confidence asked for 75 %; the simulation's own standard error is {error:.1f} points over all"
    )
    shares = one_series(books) | between_shops(4 * books)
    for name, share in shares.items():
        print(f"{name:36} {share:5.1f} %{'  BELOW ' + str(LOWEST) if share < LOWEST else ''}")
    return int(min(shares.values()) < LOWEST)


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000))
