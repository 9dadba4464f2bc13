"""Every joint of a comparison against every other."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pandas as pd

from stats.inference import ratio_rows, sidebyside

from .compare import ACROSS_RIGS, Comparison


def matrix(found: Comparison) -> pd.DataFrame:
    """The ratio of every joint to every other, by the same rules as the ratios to the reference.

    Parameters
    ----------
    found : Comparison

    Returns
    -------
    DataFrame
        ``joint``, ``versus``, ``ratio``, ``low``, ``high``, ``basis``; both ways round, without pairs that can't be
        compared.
    """
    if found.empty or len(found.groups) < 2:
        return pd.DataFrame(columns=["joint", "versus", "ratio", "low", "high", "basis"])
    linked = _linked(found)
    have = set(zip(linked["joint"], linked["versus"], strict=True))
    joints = list(found.groups["joint"])
    lacking = {versus for joint, versus in permutations(joints, 2) if (joint, versus) not in have}
    others = [_others(found, versus, have) for versus in joints if versus in lacking]
    return pd.concat([linked, *others], ignore_index=True)


def _linked(found: Comparison) -> pd.DataFrame:
    """Pairs that a chain of studies links; none where too few studies compare."""
    if found.network is None:
        return pd.DataFrame(columns=["joint", "versus", "ratio", "low", "high", "basis"])
    pairs = found.network.table()
    basis = np.where(pairs["studies"] > 0, ratio_rows.SAME, ratio_rows.THROUGH)
    one_way = pd.DataFrame(
        {
            "joint": pairs["joint"],
            "versus": pairs["versus"],
            "ratio": np.exp(pairs["estimate"]),
            "low": np.exp(pairs["low"]),
            "high": np.exp(pairs["high"]),
            "basis": basis,
        }
    )
    turned = one_way.assign(
        joint=one_way["versus"],
        versus=one_way["joint"],
        ratio=1 / one_way["ratio"],
        low=1 / one_way["high"],
        high=1 / one_way["low"],
    )
    return pd.concat([one_way, turned], ignore_index=True)


def _others(found: Comparison, versus: str, have: set[tuple[str, str]]) -> pd.DataFrame:
    """Pairs with `versus` that no network gives: of one study, or side by side on a footing that holds across rigs."""
    across, level = found.choices.footing in ACROSS_RIGS, found.choices.level
    side = found.behind.side
    # Another joint to measure against may have studies that compare it where the reference has none.
    fitted = found.network or side.network(versus)
    ratios = sidebyside.ratios_of(side.estimates, versus, fitted, level=level, across=across)
    rows = ratios.dropna(subset=["ratio"]).assign(versus=versus)
    known = [(joint, versus) in have for joint in rows["joint"]]
    return rows.loc[~np.array(known, dtype=bool), ["joint", "versus", "ratio", "low", "high", "basis"]]
