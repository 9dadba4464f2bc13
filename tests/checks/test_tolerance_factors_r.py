"""Tolerance factors and ranks against R, published tables and the standards' k tables.

Sources: R 4.2.2 (`qt`, `pbinom`), whose row ends were checked by numerical integration; factors recalled from
EN 14358 (75 % confidence) and from common tables of one-sided normal factors; NIST/SEMATECH e-Handbook section
7.2.6.3.
"""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import tolerance
from tests.checks.reading import reference

R = reference("tolerance_factors.json")


@pytest.mark.parametrize("row", R["expected"]["k_one_sided"], ids=lambda row: f"{row['P']}-{row['gamma']}")
def test_normal_factor_agrees_with_r(row):
    ours = [tolerance.normal_factor(n, row["P"], row["gamma"]) for n in R["data"]["n"]]
    np.testing.assert_allclose(ours, row["k"], rtol=R["tolerance"])


@pytest.mark.parametrize("confidence", [0.75, 0.95])
def test_order_rank_agrees_with_r(confidence):
    sizes = R["data"]["nonparametric"]["n"]
    ours = [tolerance.order_rank(n, 0.05, confidence) or 0 for n in sizes]
    assert ours == R["expected"]["nonparametric_rank"][f"conf_{confidence}"]


@pytest.mark.parametrize("confidence", [0.75, 0.95])
def test_order_minimum_n_agrees_with_r(confidence):
    ours = [tolerance.order_minimum_n(0.05, confidence, rank) for rank in range(1, 11)]
    assert ours == R["expected"]["nonparametric_min_n_for_rank_1_to_10"][f"conf_{confidence}"]


# n, coverage, confidence, k to three decimals; from memory of EN 14358 and of tables of one-sided factors
PRINTED = [
    (3, 0.95, 0.75, 3.15, 2),
    (5, 0.95, 0.75, 2.46, 2),
    (10, 0.95, 0.75, 2.10, 2),
    (20, 0.95, 0.75, 1.93, 2),
    (50, 0.95, 0.75, 1.81, 2),
    (3, 0.95, 0.95, 7.656, 3),
    (5, 0.95, 0.95, 4.203, 3),
    (10, 0.95, 0.95, 2.911, 3),
    (20, 0.95, 0.95, 2.396, 3),
    (50, 0.95, 0.95, 2.065, 3),
    (100, 0.95, 0.95, 1.927, 3),
    (3, 0.90, 0.90, 4.258, 3),
    (5, 0.90, 0.90, 2.742, 3),
    (10, 0.90, 0.90, 2.066, 3),
    (20, 0.90, 0.90, 1.765, 3),
    (50, 0.90, 0.90, 1.559, 3),
    (100, 0.90, 0.90, 1.470, 3),
    (10, 0.90, 0.95, 2.355, 3),
]


@pytest.mark.parametrize(("n", "coverage", "confidence", "k", "digits"), PRINTED)
def test_normal_factor_agrees_with_printed_tables(n, coverage, confidence, k, digits):
    assert tolerance.normal_factor(n, coverage, confidence) == pytest.approx(k, abs=0.51 * 10**-digits)


def test_normal_factor_lies_near_the_nist_approximation():
    # section 7.2.6.3: n 43, coverage 0.90, confidence 0.99, k = 1.8752 by an approximate formula
    assert tolerance.normal_factor(43, 0.90, 0.99) == pytest.approx(1.8752, rel=1e-3)
