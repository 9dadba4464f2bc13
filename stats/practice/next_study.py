"""Where one more study would tell most: what it does to every comparison of a network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.errors import StatsError
from stats.inference.comparisons import Network
from stats.inference.planning import sd_log_from_cv
from stats.inference.sample import checked_above, checked_count

Floats = NDArray[np.float64]
Pair = tuple[object, object]


@dataclass(frozen=True, eq=False)
class NextStudy:
    """Candidate studies, the most telling first.

    Parameters
    ----------
    table : DataFrame
        A row a pair: joint, versus, studies (that hold both now), gain, before, after, joins (whether it links parts
        that nothing links now), unlocks (how many comparisons it makes possible).
    goal : str
        What `before`, `after` and `gain` are of, in words.
    n, cv : int, float
        Specimens of each joint, and the coefficient of variation they are expected to have.
    tau2 : float
        Between-study variance of logs [-] that was kept.
    level : float
        Level of the intervals.
    notes : tuple of str
        What was taken for granted.
    """

    table: pd.DataFrame
    goal: str
    n: int
    cv: float
    tau2: float
    level: float
    notes: tuple[str, ...]


def next_study(
    network: Network,
    *,
    n: int = 6,
    cv: float = 0.15,
    contrast: Pair | None = None,
    pairs: Sequence[Pair] | None = None,
) -> NextStudy:
    """Rank pairs of joints by how much one study of the two would narrow the network's prediction intervals.

    Parameters
    ----------
    network : Network
        As `stats.inference.network.fit` gives it.
    n : int, optional
        Specimens of each of the two joints, 2 or more.
    cv : float, optional
        Coefficient of variation expected within a series.
    contrast : pair of labels, optional
        The comparison that matters; all that the network can make where not given.
    pairs : sequence of pairs, optional
        Candidates; every two joints where not given.

    Returns
    -------
    NextStudy

    Raises
    ------
    StatsError
        If a setting is out of range, a joint is not in the network, or no between-study variance can be had.

    Notes
    -----
    A study of joints a and b adds one row of variance ``w = 2 s² / n + tau²`` with s the standard deviation of logs, so
    that the covariance C of the joints' effects becomes ``C - C q q' C / (w + q' C q)`` with ``q = e_a - e_b``: an
    update of rank one, worked for all candidates at once. tau² and the Knapp-Hartung factor are kept, and one degree of
    freedom is added. ``before`` and ``after`` are the mean half width of the prediction intervals on logs, over all
    comparisons that can be made now (or the one that matters). What will be measured can't be known, so neither can
    what it will do to tau².

    A study that links parts adds no precision within them: it makes comparisons possible. Such pairs come first, the
    one that unlocks most on top; where one comparison matters, the pair that leaves it narrowest does. The cost grows
    with the candidates times the comparisons: 60 joints take a tenth of a second.

    References
    ----------
    Sherman J, Morrison WJ (1950). Adjustment of an inverse matrix corresponding to a change in one element of a given
    matrix. Annals of Mathematical Statistics 21: 124-127.
    """
    n, cv = checked_count(n, "n", 2), checked_above(cv, "cv")
    if network.tau2 is None:
        raise StatsError(
            "network has no between-study variance: every comparison rests on one study. Repeat one first."
        )
    ends = _candidates(network, pairs)
    if contrast is not None:
        _places(network, contrast)
    added = 2 * sd_log_from_cv(cv) ** 2 / n + network.tau2
    work = _Update(network, added, contrast)
    table = pd.DataFrame(_rows(network, work, ends))
    if contrast is None:
        table = table.sort_values(["joins", "unlocks", "gain"], ascending=False, kind="stable", ignore_index=True)
    else:
        table = table.sort_values("after", kind="stable", ignore_index=True)
    one = f"the comparison of {contrast[0]} with {contrast[1]}" if contrast else "all comparisons that can be made now"
    return NextStudy(
        table,
        f"half width of the prediction interval on logs, {one}",
        n,
        cv,
        network.tau2,
        network.level,
        (
            "The variance between studies is kept as it is, and one degree of freedom is added.",
            f"Each series is taken to have {n} specimens and a coefficient of variation of {100 * cv:.0f} %.",
        ),
    )


def _places(network: Network, pair: Pair) -> tuple[int, int]:
    i, j = (network.index(joint) for joint in pair)
    if i == j:
        raise StatsError(f"{pair[0]!r} is compared with itself; give two joints.")
    return i, j


def _candidates(network: Network, pairs: Sequence[Pair] | None) -> NDArray[np.intp]:
    """Pairs as places, shape (pairs, 2)."""
    if pairs is None:
        a, b = np.triu_indices(len(network.joints), 1)
        return np.column_stack([a, b])
    if not pairs:
        raise StatsError("pairs (none given) must hold two joints each.")
    return np.array([_places(network, pair) for pair in pairs], dtype=np.intp)


class _Update:
    """What a further row of a given variance does to the differences that matter."""

    def __init__(self, network: Network, added: float, contrast: Pair | None) -> None:
        self.network, self.part, self.v = network, network.part, network.variance
        self.added = network.scale * added  # the variances are scaled already
        if contrast is None:
            i, k = np.triu_indices(len(network.joints), 1)
            matters = self.part[i] == self.part[k]
            self.i, self.k = i[matters], k[matters]
        else:
            self.i, self.k = np.array([_places(network, contrast)]).T
        self.linked = self.part[self.i] == self.part[self.k]

    def before(self) -> float:
        return self._mean(self.v[self.i, self.k], self.network.df)

    def after(self, a: int, b: int) -> float:
        """The mean once a study of a and b is in."""
        if self.part[a] != self.part[b]:
            return self._joined(a, b)
        along = (self.v[:, b] - self.v[:, a]) / 2  # covariance with a - b, less what all joints share
        less = (along[self.i] - along[self.k]) ** 2 / (self.added + self.v[a, b])
        return self._mean(np.maximum(self.v[self.i, self.k] - less, 0.0), self.network.df + 1)

    def _joined(self, a: int, b: int) -> float:
        """Within parts nothing changes; across them a difference runs over the new study, and costs a degree none."""
        variance = self.v[self.i, self.k].copy()
        now = self.linked.copy()
        for near, far in ((a, b), (b, a)):
            spans = (self.part[self.i] == self.part[near]) & (self.part[self.k] == self.part[far])
            path = self.v[self.i, near] + self.added + self.v[far, self.k]
            variance[spans] = path[spans]
            now |= spans
        return float(self.network.prediction_half(variance[now]).mean()) if now.any() else float("nan")

    def _mean(self, variance: Floats, df: int) -> float:
        if not self.linked.any():
            return float("inf")
        return float(self.network.prediction_half(variance[self.linked], df).mean())


def _rows(network: Network, work: _Update, ends: NDArray[np.intp]) -> list[dict[str, object]]:
    before = work.before()
    size = np.bincount(network.part)
    rows: list[dict[str, object]] = []
    for a, b in ends.tolist():
        joins = bool(network.part[a] != network.part[b])
        after = work.after(a, b)
        rows.append(
            {
                "joint": network.joints[a],
                "versus": network.joints[b],
                "studies": int(network.together[a, b]),
                "before": before,
                "after": after,
                "gain": 0.0 if joins or not np.isfinite(before) else 1 - after / before,
                "joins": joins,
                "unlocks": int(size[network.part[a]] * size[network.part[b]]) if joins else 0,
            }
        )
    return rows
