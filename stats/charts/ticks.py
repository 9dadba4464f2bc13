"""Round numbers to label an axis with."""

from __future__ import annotations

import numpy as np


def log_ticks(low: float, high: float) -> list[float]:
    """Round numbers to label a logarithmic axis with, four or so whatever its range.

    Parameters
    ----------
    low, high : float
        Smallest and largest value shown, above zero.

    Returns
    -------
    list of float
        Ticks inside the range, rising; one step of them beyond where there would be fewer than two.

    Notes
    -----
    Powers of ten alone leave most charts with one label or none.

    Examples
    --------
    >>> log_ticks(0.03, 1.1)
    [0.05, 0.1, 0.2, 0.5, 1.0]
    >>> log_ticks(95, 180)
    [100.0, 120.0, 140.0, 160.0, 180.0]
    """
    if high / low < 3:
        rough = (high - low) / 4 or low / 4
        power = 10.0 ** np.floor(np.log10(rough))
        step = power * min((m for m in (1, 2, 5, 10)), key=lambda m: abs(np.log(m * power / rough)))
        ticks = step * np.arange(np.floor(low / step), np.ceil(high / step) + 1)
    else:
        span = high / low
        steps = (1,) if span > 300 else (1, 3) if span > 100 else (1, 2, 5) if span > 12 else (1, 2, 3, 5)
        powers = 10.0 ** np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1)
        ticks = np.outer(powers, steps).ravel()
    inside = ticks[(ticks >= low * 0.999) & (ticks <= high * 1.001)]
    chosen = inside if len(inside) > 1 else ticks[ticks > 0]
    return [float(f"{tick:.6g}") for tick in chosen]


def linear_ticks(low: float, high: float) -> list[float]:
    """Round numbers to label a plain axis with, five or so.

    Parameters
    ----------
    low, high : float
        Smallest and largest value shown.

    Returns
    -------
    list of float
        Ticks inside the range, rising.

    Examples
    --------
    >>> linear_ticks(-2.2, 3.1)
    [-2.0, -1.0, 0.0, 1.0, 2.0, 3.0]
    """
    rough = (high - low) / 5 or 1.0
    power = 10.0 ** np.floor(np.log10(rough))
    step = power * min((1, 2, 5, 10), key=lambda m: abs(np.log(m * power / rough)))
    counts = np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1) + 0.0  # rounded up, -0.2 is -0.0
    return [float(f"{k * step:.6g}") for k in counts]


def tick_text(tick: float) -> str:
    """A tick's number, thousands apart, and no minus before nothing.

    Examples
    --------
    >>> tick_text(1200.0), tick_text(0.05), tick_text(-0.0)
    ('1 200', '0.05', '0')
    """
    return f"{tick + 0.0:,g}".replace(",", " ").replace("-", "−")
