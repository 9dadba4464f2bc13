"""Four joints are not four times one.

Source: common practice. Four joints of about 300, 473 and 988 lbf are said to "make" 1 200, 1 890 and 3 950 lbf: the
product is reproduced and called what it is, the upper bound. Beside it exact expected least order statistics: of n
exponential strengths the mean over n, of n Weibull strengths the mean times n^(-1/k) (David and Nagaraja, Order
Statistics, 3rd ed., 2003).
"""

from __future__ import annotations

import math

import pytest

from stats.practice.assembly import share
from stats.practice.strength_law import StrengthLaw, weakest_share


@pytest.mark.parametrize(("one_lbf", "four_lbf", "said_lbf"), [(300, 1200, 1200), (473, 1892, 1890), (988, 3952, 3950)])
def test_product_that_people_quote_is_reproduced_and_called_the_upper_bound(one_lbf, four_lbf, said_lbf):
    found = share(one_lbf, 4, cv=0.15, unit="lbf")

    assert found["product"].mean == four_lbf == pytest.approx(said_lbf, rel=2e-3)
    assert "upper bound" in found["product"].assumption and "upper bound" in found.words
    assert found["weakest"].mean < found["bundle"].mean < found["product"].mean
    assert 0.82 < found["weakest"].of_product < 0.86


@pytest.mark.parametrize("n", [2, 4, 10])
def test_weakest_of_exponential_strengths_is_the_mean_over_n(n):
    assert weakest_share(StrengthLaw(100.0, 1.0, "weibull"), n) == pytest.approx(1 / n, rel=1e-9)


@pytest.mark.parametrize("shape", [2.0, 5.0, 10.0])
@pytest.mark.parametrize("n", [2, 4, 8])
def test_weakest_of_weibull_strengths_is_exact(shape, n):
    """The law's coefficient of variation is √(Γ(1 + 2/k) / Γ(1 + 1/k)² - 1)."""
    cv = math.sqrt(math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2 - 1)

    assert weakest_share(StrengthLaw(100.0, cv, "weibull"), n) == pytest.approx(n ** (-1 / shape), rel=1e-9)
