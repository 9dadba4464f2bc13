"""Lower tolerance limits of 215 red oak and 140 white oak joints, as published.

Source: Eckelman, Uysal and Haviarova (2016), BioResources 11(3), 7162-7171: rectangular mortise and tenon
T-joints, moment at failure in N·m. Only the means and standard deviations are printed, rounded to whole
N·m, so the limits are met within 2 N·m.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from stats.inference import tolerance

RED, WHITE = (215, 353.0, 48.0), (140, 358.0, 62.0)
# confidence, coverage, limit red oak, limit white oak
PUBLISHED = [
    (0.75, 0.75, 318, 314),
    (0.90, 0.75, 316, 308),
    (0.75, 0.90, 289, 273),
    (0.90, 0.90, 286, 268),
    (0.95, 0.95, 266, 240),
]


def made_to_measure(n, mean, sd):
    """Readings with exactly this mean and standard deviation."""
    shape = stats.norm.ppf((np.arange(n) + 0.5) / n)
    return mean + sd * (shape - shape.mean()) / shape.std(ddof=1)


@pytest.mark.parametrize(("confidence", "coverage", "red", "white"), PUBLISHED)
def test_oak_limits_agree_with_print(confidence, coverage, red, white):
    for summary, published in ((RED, red), (WHITE, white)):
        limit = tolerance.lower_limit(made_to_measure(*summary), coverage, confidence, "normal")
        assert limit.value == pytest.approx(published, abs=2.0)
