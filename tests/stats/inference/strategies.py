"""What hypothesis draws from: series of readings as shops make them."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st


@st.composite
def series(draw, least=3, most=12):
    """Readings with a coefficient of variation of a few to some thirty per cent, none of them equal."""
    n = draw(st.integers(least, most))
    level = draw(st.floats(-2.0, 12.0))
    spread = draw(st.floats(0.03, 0.3))
    seed = draw(st.integers(0, 2**32 - 1))
    return np.exp(level + spread * np.random.default_rng(seed).standard_normal(n))


scales = st.floats(1e-3, 1e3)
