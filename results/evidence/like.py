"""Like series of the book: how much specimens made alike spread, and what such joints took."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stats.charts.look import counted
from stats.inference.planning import cv_from_sd_log

from . import book
from .book import Array
from .expect import LEAST_SPREAD
from .frames import ACTION_CODES

LEAST_DF = 6
"""Fewest degrees of freedom to borrow a spread from, as where a published mean has none of its own."""


@dataclass(frozen=True)
class Spread:
    """How much specimens made alike spread.

    Parameters
    ----------
    cv : float
        Coefficient of variation, from the pooled variance of logs within series [-].
    series, studies, df : int
        Series that it is from, their studies, and its degrees of freedom.
    of : str
        What they have in common, in words.
    invented : bool
        Whether any of them is made up.
    """

    cv: float
    series: int
    studies: int
    df: int
    of: str
    invented: bool

    @property
    def source(self) -> str:
        """Where it comes from, in a sentence."""
        held = f"{counted(self.series, 'series')} in {counted(self.studies, 'study')}"
        return f"The pooled spread within {held} of {self.of}, flagged specimens left out."


@dataclass(frozen=True)
class Taken:
    """What a joint took in the book.

    Parameters
    ----------
    value : float
        Geometric mean of the series' geometric means [-, N·m or N].
    sd_log : float
        Standard deviation of logs between series: how far one more shop may be off. Never taken below `LEAST_SPREAD`.
    series, studies : int
        What it is from.
    same_timber : bool
        Whether they are all of the timber asked for.
    invented : bool
        Whether any of them is made up.
    """

    value: float
    sd_log: float
    series: int
    studies: int
    same_timber: bool
    invented: bool


class Like:
    """Series of accepted studies under one action, flagged specimens left out.

    Parameters
    ----------
    action : str
        What the joint feels.
    tests : {"joint", "bond"}
    invented : bool
        Whether invented studies count.
    """

    def __init__(self, action: str, tests: str, *, invented: bool) -> None:
        self.action, self.bond, self.invented = action, tests == "bond", invented

    def spread(self, joints: Iterable[str], timber: str = "") -> Spread | None:
        """The spread within like series, the likest that hold enough; None if the book holds none.

        Parameters
        ----------
        joints : iterable of str
            Codes of the joints to be tested.
        timber : str, optional
            Code of their timber.

        Notes
        -----
        The variance of logs within each series, weighted by its degrees of freedom; CV = sqrt(exp(s²) - 1).
        """
        on = _On("at_joint")
        n, total, squares = on.n, on.total, on.read.column("kept_sum_sq_log")
        usable = self._counting(on) & (n >= 2) & ~np.isnan(total) & ~np.isnan(squares)
        own = on.of("joint", joints)
        kin = on.of_families(own)
        steps = [(own & on.of("timber", [timber]), "these joints in this timber")] if timber else []
        steps += [(own, "these joints"), (kin, "joints of the same families"), (usable, "all joints so loaded")]
        for which, of in steps:
            at = np.flatnonzero(which & usable)
            df = int((n[at] - 1).sum())
            if df >= LEAST_DF:
                # Rounding may leave a little below nothing where all specimens are alike.
                variance = float(np.maximum(squares[at] - total[at] ** 2 / n[at], 0.0).sum()) / df
                studies = len(np.unique(on.source.packs.study[at]))
                cv = cv_from_sd_log(math.sqrt(variance))
                return Spread(cv, len(at), studies, df, of, bool(on.invented[at].any()))
        return None

    def taken(self, joint: str, footing: str, timber: str = "") -> Taken | None:
        """What a joint took, in the timber asked for if there are such series; None if nobody tested it.

        Parameters
        ----------
        joint : str
            Its code.
        footing : {"ratio_solid", "at_joint"}
        timber : str, optional
            Code of the timber; on the ratio to solid wood it doesn't matter.
        """
        on = _On(footing)
        # A published mean that doesn't say of how many counts as one.
        n = np.where(np.isnan(on.n), 1.0, on.n)
        which = self._counting(on) & on.of("joint", [joint]) & ~np.isnan(on.total) & (n > 0)
        wood = on.of("timber", [timber]) if timber else np.zeros(len(n), dtype=bool)
        if footing != "ratio_solid" and (which & wood).any():
            which = which & wood
        at = np.flatnonzero(which)
        if not len(at):
            return None
        logs = on.total[at] / n[at]
        between = float(np.std(logs, ddof=1)) if len(logs) > 1 else LEAST_SPREAD
        return Taken(
            value=float(np.exp(logs.mean())),
            sd_log=max(between, LEAST_SPREAD),
            series=len(at),
            studies=len(np.unique(on.source.packs.study[at])),
            same_timber=bool(timber) and bool(wood[at].all()),
            invented=bool(on.invented[at].any()),
        )

    def _counting(self, on: _On) -> Array:
        """The series that count here, a bool each."""
        which = on.read.column("bond").astype(bool) == self.bond
        which &= on.action == ACTION_CODES.index(self.action)
        if not self.invented:
            which &= ~on.invented
        return np.asarray(which)


class _On:
    """All series of the book on one footing, an array each."""

    def __init__(self, footing: str) -> None:
        self.source = book.read(footing)
        self.read = self.source.read
        self.n, self.total = self.read.column("kept_n"), self.read.column("kept_sum_log")
        loadings = self.source.vocabulary.loadings.more
        of_loading = np.array([ACTION_CODES.index(action) for action in loadings], dtype=np.intp)
        self.action = of_loading[self.read.places("loading")] if len(of_loading) else np.zeros(0, dtype=np.intp)

    @cached_property
    def invented(self) -> Array:
        """Whether each is of an invented study."""
        studies = self.source.studies
        return np.asarray(studies.invented[np.searchsorted(studies.key, self.source.packs.study)], dtype=bool)

    def of(self, word: str, codes: Iterable[str]) -> Array:
        """Which series a word of these codes is told of."""
        known = getattr(self.source.vocabulary, f"{word}s").codes
        return np.isin(self.read.places(word), [known.index(code) for code in codes if code in known])

    def of_families(self, which: Array) -> Array:
        """Which series are of a joint of the families of these."""
        families = np.array([*self.source.vocabulary.joints.more, ""], dtype=object)[self.read.places("joint")]
        return np.isin(families, np.unique(families[which].astype(str)))
