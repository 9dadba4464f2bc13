"""Between-shop precision against the worked example of ASTM E691, glucose in serum.

Source: cell means and deviations, precision and critical values as printed in the README of the R package ILS
(github.com/davidtorres1818/ILSR6V1, `lab.qcs(Glucose)`), whose data are those of ASTM E691: eight laboratories, five
materials, three replicates. Its material C is not that of the standard (135.14 against 134.73 there), so it
checks the arithmetic and not the standard's own table; A, B, D and E are. The README's S_R is not held at s_r from
below, as the standard's is, which shows in A and B. The standard's own text was not at hand.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import interlab

MEANS = {
    "A": [41.28333, 41.44000, 41.45000, 41.45667, 41.46333, 42.02000, 40.45667, 42.57667],
    "B": [78.31667, 79.23333, 79.90333, 80.96333, 78.69000, 79.89333, 79.51667, 80.34667],
    "C": [133.19667, 135.40667, 134.59000, 140.83000, 133.26667, 136.61667, 132.49333, 134.71000],
    "D": [193.65000, 195.10667, 192.09000, 197.21333, 193.05000, 197.24333, 191.26000, 198.12333],
    "E": [293.25333, 298.91667, 292.67000, 295.82000, 293.56333, 294.95667, 290.13667, 296.62000],
}
DEVIATIONS = {
    "A": [0.2230097, 0.4850773, 1.0608016, 1.8117763, 0.3666515, 1.408119, 1.247811, 0.8224557],
    "B": [0.1582193, 1.3268509, 0.8303212, 2.7660863, 0.7754354, 1.636592, 2.059935, 0.5064912],
    "C": [0.5909597, 2.1679791, 1.7287857, 6.6200227, 1.1987215, 1.287025, 2.124296, 1.0343597],
    "D": [0.0600000, 4.6824068, 1.5932043, 1.9365519, 1.8826311, 1.649616, 3.817709, 2.4637844],
    "E": [0.7266590, 9.1869055, 2.7101107, 0.8835723, 0.9543759, 4.034282, 3.304184, 1.6479078],
}
# mean, s_r, S_R without a floor
PRECISION = {
    "A": (41.51833, 1.063224, 1.058783),
    "B": (79.60792, 1.496071, 1.495481),
    "C": (135.13875, 2.750879, 3.478919),
    "D": (194.71708, 2.625065, 3.365713),
    "E": (294.49208, 3.934974, 4.192334),
}
CRITICAL_H, CRITICAL_K = 2.152492, 2.06084  # p = 8, n = 3, alpha = 0.005


@pytest.fixture(name="found", scope="module")
def _found():
    # three values m - s, m, m + s have the mean m and the deviation s
    rows = [
        (f"Lab{i + 1}", material, m + step * s)
        for material in MEANS
        for i, (m, s) in enumerate(zip(MEANS[material], DEVIATIONS[material], strict=True))
        for step in (-1.0, 0.0, 1.0)
    ]
    return interlab.precision(pd.DataFrame(rows, columns=["study", "joint", "y"]), alpha=0.005)


@pytest.mark.parametrize("material", PRECISION)
def test_precision_agrees_with_the_worked_example(found, material):
    mean, s_r, s_big = PRECISION[material]
    level = found.levels.loc[material]
    np.testing.assert_allclose([level["mean"], level["s_r"]], [mean, s_r], rtol=2e-6)
    np.testing.assert_allclose(level["s_R"], max(s_r, s_big), rtol=2e-6)


def test_critical_values_agree_with_the_worked_example(found):
    np.testing.assert_allclose(found.shops["h_critical"], CRITICAL_H, rtol=1e-6)
    np.testing.assert_allclose(found.shops["k_critical"], CRITICAL_K, rtol=1e-6)


def test_the_same_laboratories_stand_out_by_k(found):
    shops = found.shops
    beyond = shops[shops["k"] > shops["k_critical"]]
    assert list(zip(beyond["joint"], beyond["study"], strict=True)) == [("C", "Lab4"), ("E", "Lab2")]


def test_h_is_the_deviation_over_the_spread_of_means(found):
    # S_B of the example is that spread
    shops = found.shops.query("joint == 'D'")
    np.testing.assert_allclose(shops["h"], (np.array(MEANS["D"]) - 194.71708) / 2.5950046, rtol=1e-5)


def test_anderson_darling_agrees_with_scholz_and_stephens():
    # Scholz and Stephens 1987, paper smoothness of four laboratories; A2kN with midranks 8.3926, its standard
    # deviation 1.2038 and asymptotic p 0.0022 as R's kSamples prints them for that example
    groups = {
        "1": [38.7, 41.5, 43.8, 44.5, 45.5, 46.0, 47.7, 58.0],
        "2": [39.2, 39.3, 39.7, 41.4, 41.8, 42.9, 43.3, 45.8],
        "3": [34.0, 35.0, 39.0, 40.0, 43.0, 43.0, 44.0, 45.0],
        "4": [34.0, 34.8, 34.8, 35.4, 37.2, 37.8, 41.2, 42.8],
    }
    found = interlab.poolable(groups)
    np.testing.assert_allclose(found.statistic, (8.3926 - 3) / 1.2038, rtol=1e-4)
    assert round(found.p, 4) == 0.0022
    assert not found.poolable
