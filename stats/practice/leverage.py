"""What force at the end of a member breaks its joint: short members flatter a joint, long ones show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.practice.loads import HAND_PUSH_N, HAND_PUSH_SOURCE
from stats.practice.piece import LARGEST_LOAD_N
from stats.scalar import said, scalar

LEAST_MM, MOST_MM = 10.0, 6000.0
"""Lengths taken [mm]."""


@dataclass(frozen=True)
class Leverage:
    """Force at the end of a member that breaks its joint, over the member's length.

    Parameters
    ----------
    table : DataFrame
        arm_mm, force_n (by the lower limit), typical_n (of a middling joint; NaN where not given).
    moment_nm, typical_nm : float, float or None
        What the joint bears [N·m].
    push_n : float
        The push set beside it [N].
    push_source : str
        Where that figure comes from.
    reach_mm : float
        Length from which on that push breaks the joint, by the lower limit [mm].
    """

    table: pd.DataFrame
    moment_nm: float
    typical_nm: float | None
    push_n: float
    push_source: str
    reach_mm: float


def leverage(
    moment_nm: float,
    arms_mm: Sequence[float] | None = None,
    *,
    typical_nm: float | None = None,
    push_n: float | None = None,
) -> Leverage:
    """Force at the end of a member that breaks a joint of a given moment.

    Parameters
    ----------
    moment_nm : float
        What the joint bears, best a lower limit [N·m].
    arms_mm : sequence of float, optional
        Lengths from the joint's face to the force [mm]; 100 to 1000 mm where not given.
    typical_nm : float, optional
        What a middling joint bears [N·m].
    push_n : float, optional
        What somebody pushes with [N]; the strongest of the measured means where not given, see `loads.HAND_PUSH_N`.

    Returns
    -------
    Leverage

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    F = M / a. The push is at right angles to the member.

    Examples
    --------
    >>> found = leverage(120.0, [100.0, 400.0])
    >>> found.table["force_n"].tolist(), round(found.reach_mm)
    ([1200.0, 300.0], 311)
    """
    if not 0.0 < scalar(moment_nm) <= 100_000.0:  # NaN too
        raise StatsError(f"moment_nm ({said(moment_nm, 'g')}) must be above 0 and at most 100 000 N·m.")
    if typical_nm is not None and not moment_nm <= scalar(typical_nm) <= 100_000.0:
        raise StatsError(f"typical_nm ({said(typical_nm, 'g')}) must be moment_nm ({moment_nm:g}) or more.")
    try:
        arms = np.asarray(np.linspace(100.0, 1000.0, 37) if arms_mm is None else arms_mm, dtype=float)
    except (TypeError, ValueError):
        raise StatsError(f"arms_mm ({arms_mm!r}) must hold numbers.") from None
    if arms.ndim != 1 or arms.size == 0 or not ((arms >= LEAST_MM) & (arms <= MOST_MM)).all():
        bad = arms.ravel()[~((arms.ravel() >= LEAST_MM) & (arms.ravel() <= MOST_MM))]
        first = f"{bad[0]:g}" if bad.size else "none given"
        raise StatsError(f"arms_mm ({first}) must each be {LEAST_MM:g} to {MOST_MM:g} mm.")
    push = HAND_PUSH_N[1] if push_n is None else push_n
    if not 1.0 <= scalar(push) <= LARGEST_LOAD_N:
        raise StatsError(f"push_n ({said(push, 'g')}) must be 1 to {LARGEST_LOAD_N:g} N.")
    table = pd.DataFrame(
        {
            "arm_mm": arms,
            "force_n": 1000 * moment_nm / arms,
            "typical_n": 1000 * (np.nan if typical_nm is None else typical_nm) / arms,
        }
    )
    source = HAND_PUSH_SOURCE if push_n is None else "the reader's own figure"
    return Leverage(table, moment_nm, typical_nm, push, source, 1000 * moment_nm / push)
