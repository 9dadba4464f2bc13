"""A plan of a test: how many specimens, in which order, beside which controls."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.inference.planning import Detectable, RatioPlan, detectable_ratio, n_for_ratio, power_at
from stats.inference.sample import checked_count
from stats.practice.caution import TESTING
from stats.scalar import said, scalar

MOST_SPECIMENS = 200
"""Most specimens a group that a curve shows."""


@dataclass(frozen=True)
class PowerCurve:
    """Chance of telling a ratio, over specimens a group.

    Parameters
    ----------
    table : DataFrame
        n, power, detectable (the smallest ratio that n would tell with the power asked for).
    plan : RatioPlan
        Specimens for the power asked for.
    at_n : Detectable or None
        What the number that can be afforded would tell; None where none was said.
    caution : tuple of str
        What must be said beside it.
    """

    table: pd.DataFrame
    plan: RatioPlan
    at_n: Detectable | None
    caution: tuple[str, ...] = TESTING


def power_curve(
    ratio: float,
    cv: float,
    *,
    power: float = 0.8,
    alpha: float = 0.05,
    ns: Sequence[int] | None = None,
    affordable: int | None = None,
) -> PowerCurve:
    """Chance of telling a ratio over the number of specimens.

    Parameters
    ----------
    ratio : float
        Ratio of geometric means worth telling: 1.2.
    cv : float
        Coefficient of variation of like series in the book, or a guess.
    power, alpha : float, optional
        Chance wanted, and chance of seeing a difference where there is none.
    ns : sequence of int, optional
        Specimens a group to show; to half as many again as are needed where not given.
    affordable : int, optional
        Specimens a group that can be made.

    Returns
    -------
    PowerCurve

    Raises
    ------
    StatsError
        If a setting is out of range.

    Notes
    -----
    The two-sample t test on logs, see `stats.inference.planning.n_for_ratio`.

    Examples
    --------
    >>> curve = power_curve(1.2, 0.15, affordable=6)
    >>> curve.plan.n, round(curve.at_n.ratio, 2)
    (12, 1.31)
    """
    plan = n_for_ratio(ratio, cv, power, alpha)
    counts = list(range(2, min(max(math.ceil(1.5 * plan.n), 8), MOST_SPECIMENS) + 1)) if ns is None else list(ns)
    if not counts:
        raise StatsError("ns (none given) must hold numbers of specimens, 2 or more.")
    table = pd.DataFrame(
        {
            "n": counts,
            "power": [power_at(n, ratio, cv, alpha) for n in counts],
            "detectable": [detectable_ratio(n, cv, power, alpha).ratio for n in counts],
        }
    )
    at_n = detectable_ratio(affordable, cv, power, alpha) if affordable is not None else None
    return PowerCurve(table, plan, at_n)


@dataclass(frozen=True)
class Run:
    """One specimen's turn.

    Parameters
    ----------
    position : int
        When it is tested, from 1.
    block : int
        Day, board or glue-up, from 1.
    series : str
        Which series.
    specimen : int
        Which of its specimens, from 1.
    """

    position: int
    block: int
    series: str
    specimen: int


def running_order(groups: Mapping[str, int], *, seed: int, blocks: int = 1) -> tuple[Run, ...]:
    """A random order of testing in which every block holds its share of every series.

    Parameters
    ----------
    groups : mapping of str to int
        Specimens of each series.
    seed : int
        The same seed gives the same order, so that a plan can be printed twice.
    blocks : int, optional
        Days, boards or glue-ups: what may differ for reasons of its own.

    Returns
    -------
    tuple of Run

    Raises
    ------
    StatsError
        If there are no series, a count is below 1, more than 1000 specimens in all, more blocks than specimens, or the
        seed is no whole number of 0 or more.

    Notes
    -----
    Specimens of a series are dealt over the blocks as evenly as they go, each series from the block where the last one
    stopped, and shuffled within a block: what drifts over a day then falls on all series alike.

    Examples
    --------
    >>> order = running_order({"dowel": 3, "tenon": 3}, seed=7, blocks=3)
    >>> [sorted(run.series for run in order if run.block == b) for b in (1, 2, 3)]
    [['dowel', 'tenon'], ['dowel', 'tenon'], ['dowel', 'tenon']]
    """
    if not groups:
        raise StatsError("groups (none given) must name a series and its specimens.")
    counts = {name: checked_count(n, f"specimens of {name}", 1) for name, n in groups.items()}
    total = sum(counts.values())
    if total > 1000:
        raise StatsError(f"groups ({total} specimens in all) must be 1000 at most.")
    blocks = checked_count(blocks, "blocks", 1)
    if blocks > total:
        raise StatsError(f"blocks ({blocks}) must be at most the number of specimens, {total}.")
    if not 0 <= scalar(seed) < math.inf or seed != int(seed):
        raise StatsError(f"seed ({said(seed)}) must be a whole number of 0 or more.")
    rng = np.random.default_rng(seed)
    dealt: list[list[tuple[str, int]]] = [[] for _ in range(blocks)]
    turn = 0
    for name, n in counts.items():
        for specimen in rng.permutation(n):
            dealt[turn % blocks].append((name, int(specimen) + 1))
            turn += 1
    runs: list[Run] = []
    for number, block in enumerate(dealt, 1):
        for at in rng.permutation(len(block)):
            name, specimen = block[at]
            runs.append(Run(len(runs) + 1, number, name, specimen))
    return tuple(runs)


@dataclass(frozen=True)
class Control:
    """A control worth including.

    Parameters
    ----------
    joint : str
        Code of the joint.
    n : int
        Specimens.
    why : str
        What it gives.
    """

    joint: str
    n: int
    why: str


def controls(joints: Sequence[str], n: int, *, bond: bool = False) -> tuple[Control, ...]:
    """Controls to include beside the joints in question.

    Parameters
    ----------
    joints : sequence of str
        Codes of the joints to be tested.
    n : int
        Specimens a series.
    bond : bool, optional
        Whether a glue bond by itself is tested, and not a joint.

    Returns
    -------
    tuple of Control
        Those that the joints themselves do not hold already.

    Raises
    ------
    StatsError
        If n is below 2.

    Notes
    -----
    Common practice: solid bars of the same boards say what the wood gives, a glued butt what the joinery adds. A study
    with neither can be compared with others only through a joint they share.

    Examples
    --------
    >>> [one.joint for one in controls(["mt_blind", "butt"], 6)]
    ['solid']
    """
    n = checked_count(n, "n", 2)
    few = max(3, math.ceil(n / 2))
    rows = [
        Control(
            "solid", few, "Solid bars from the same boards: the ratio to solid wood by your own wood, not a table's."
        ),
        Control("butt", n, "A glued butt on the same rig: what others have tested too, so that your study links up."),
    ]
    if bond:
        rows = rows[:1]
    return tuple(one for one in rows if one.joint not in set(joints))
