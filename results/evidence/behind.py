"""The specimens behind a comparison, and what pages show of its series, from arrays."""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from stats.inference.censored_each import lognormal_means
from stats.inference.estimates import Estimates
from stats.inference.told import Readings

from .book import Array, Read
from .frames import Looked

# Series of which a page's list shows the first; the API has them all.
MOST_SERIES = 200
FAILURES = ["joint", "joint_name", "place", "place_name", "n", "geometric_mean", "share"]
RANGES = {"lowest": 0.0, "low": 0.1, "high": 0.9, "highest": 1.0}


class Specimens:
    """The specimens of series that have a value on the footing, as arrays; looked up when they are asked for."""

    def __init__(self, series: Looked) -> None:
        self.series = series

    @cached_property
    def _rows(self) -> tuple[Array, Array]:
        """Place of each in the book's packs, and place of its series among these."""
        packs, on = self.series.source.packs, self.series.source.on
        # A series' specimens stand together, in the order of the series.
        counts = self.series.column("told").astype(np.intp)
        first = packs.first[self.series.at] - (np.cumsum(counts) - counts)
        at, of = np.arange(counts.sum()) + np.repeat(first, counts), np.repeat(np.arange(len(self.series)), counts)
        there = ~np.isnan(on.value[at])
        if not self.series.flagged:
            there &= packs.specimens["flagged"][at] == 0
        return at[there], of[there]

    @property
    def of(self) -> Array:
        return self._rows[1]

    @cached_property
    def value(self) -> Array:
        return self.series.source.on.value[self._rows[0]]

    @cached_property
    def held(self) -> Array:
        return self._packed("held").astype(bool)

    @property
    def count(self) -> int:
        return len(self.of)

    def _packed(self, name: str) -> Array:
        return self.series.source.packs.specimens[name][self._rows[0]]

    def readings(self) -> Readings:
        """As the statistics take them."""
        return Readings(self.value, ~self.held, self.of)

    def of_series(self, which: Array) -> Readings:
        """Those of some series alone, numbered among these."""
        return Specimens(self.series.take(which)).readings()

    def means_of(self, which: Array) -> tuple[Array, Array]:
        """Mean log and its variance of some series, see `Fits`."""
        return _fits_of(self.series.source.read).of(self.series.take(which))

    def kinds(self) -> pd.DataFrame:
        """One specimen of each kind: broke or held, doubted or not."""
        flagged = self._packed("flagged")
        kind = self._packed("held") * np.uint8(2) + flagged
        found = [int(np.argmax(kind == one)) for one in range(4)] if len(kind) else []
        first = [at for one, at in enumerate(found) if kind[at] == one]
        return pd.DataFrame(
            {
                "joint": [self.series.kinds.code[at] for at in self.series.kind[self.of[first]]],
                "value": self.value[first],
                "outcome": np.where(self.held[first], "held", "broke"),
                "flagged": flagged[first].astype(bool),
                **dict.fromkeys(("specimen", "series", "study"), ""),
            }
        )

    def ranges(self) -> pd.DataFrame:
        """Between what the specimens of each joint lie: all of them, and the middle 80 %.

        Returns
        -------
        DataFrame
            ``joint``, ``lowest``, ``low``, ``high``, ``highest``.
        """
        kinds = self.series.kinds.code
        kind = self.series.kind[self.of].astype(np.uint16)
        value, counts = self.value[np.argsort(kind, kind="stable")], np.bincount(kind, minlength=len(kinds))
        there = np.flatnonzero(counts)
        n, first = counts[there], np.cumsum(counts[there]) - counts[there]
        rising = np.concatenate([np.sort(part) for part in np.split(value, first[1:])])
        found = quantiles(rising, first, n, np.array(list(RANGES.values())))
        columns = {name: found[:, at] for at, name in enumerate(RANGES)}
        return pd.DataFrame({"joint": np.array(kinds, dtype=object)[there], **columns})

    def failures(self) -> pd.DataFrame:
        """Where each joint broke, and apart from that how much it took there."""
        kinds, places = self.series.kinds, self.series.source.vocabulary.places
        codes, names = ("", *places.codes), ("not recorded", *places.names)
        size = len(kinds.code) * len(codes)
        key = (self.series.kind * len(codes) + 1)[self.of] + places.at(self._packed("place"))
        key[self.held] = size
        n = np.bincount(key, minlength=size + 1)[:size]
        first = np.zeros(size + 1, dtype=np.intp)
        first[key[::-1]] = np.arange(len(key))[::-1]
        found = np.flatnonzero(n)
        found = found[np.argsort(first[found])]
        mean = np.exp(np.bincount(key, np.log(self.value), size + 1)[found] / n[found])
        share = n[found] / n.reshape(len(kinds.code), len(codes)).sum(axis=1)[found // len(codes)]
        rows = [
            (kinds.code[kind], kinds.name[kind], codes[place], names[place], *numbers)
            for kind, place, *numbers in zip(
                *((found // len(codes)).tolist(), (found % len(codes)).tolist()),
                *(n[found].tolist(), mean.tolist(), share.tolist()),
                strict=True,
            )
        ]
        rows.sort(key=lambda row: (row[1], -row[4]))
        columns = dict(zip(FAILURES, zip(*rows, strict=True), strict=True)) if rows else dict.fromkeys(FAILURES, ())
        numbers = {"n": int, "geometric_mean": float, "share": float}
        return pd.DataFrame({name: np.array(of, numbers.get(name, object)) for name, of in columns.items()})


class Fits:
    """Mean log and its variance of series of which some specimens held, on one footing of the book.

    They take a search for each series, and several comparisons of one page ask for the same series: each is fitted
    once, and again without its flagged specimens if it has any.
    """

    def __init__(self, series: int) -> None:
        # A row without flagged specimens, and a row with them.
        self._known = np.zeros((2, series), dtype=bool)
        self._mean, self._variance = np.full((2, 2, series), np.nan)

    def of(self, series: Looked) -> tuple[Array, Array]:
        """Of these series, NaN where it can't be had; see `lognormal_means`."""
        row = (series.doubted > 0) * int(series.flagged)
        lacking = ~self._known[row, series.at]
        if lacking.any():
            at, told = (row[lacking], series.at[lacking]), Specimens(series.take(lacking)).readings()
            self._mean[at], self._variance[at] = lognormal_means(told.value, told.broke, told.of, int(lacking.sum()))
            self._known[at] = True
        return self._mean[row, series.at], self._variance[row, series.at]


_fits: WeakKeyDictionary[Read, Fits] = WeakKeyDictionary()


def _fits_of(read: Read) -> Fits:
    """The fits of what was read: kept for as long as it is."""
    if read not in _fits:
        _fits[read] = Fits(len(read.packs.series))
    return _fits[read]


def quantiles(rising: Array, first: Array, n: Array, share: Array) -> Array:
    """Quantiles of many samples at once, as `numpy.quantile` gives those of one.

    Parameters
    ----------
    rising : ndarray
        The samples one after another, each in rising order.
    first, n : ndarray of int, shape (samples,)
        Where each begins, and how many it holds.
    share : ndarray, shape (quantiles,)

    Returns
    -------
    ndarray, shape (samples, quantiles)
    """
    place = share * (n[:, None] - 1.0)
    below = np.floor(place).astype(np.intp)
    low, high = (rising[first[:, None] + at] for at in (below, np.minimum(below + 1, n[:, None] - 1)))
    part = place - below
    # From the nearer end, so that rounding errs the same way as numpy's.
    return np.where(part >= 0.5, high - (high - low) * (1 - part), low + (high - low) * part)


def listed(looked: Looked, found: Estimates) -> dict[str, list[Any]]:
    """The first series of a comparison, column by column, as a list shows them."""
    looked = looked.take(np.arange(len(looked)) < MOST_SERIES)
    words, studies, rows = looked.source.vocabulary, looked.source.studies, range(len(looked))
    first = slice(0, len(looked))
    return {
        "series_id": looked.column("id").tolist(),
        "study_id": looked.study_id.tolist(),
        "invented": looked.invented.tolist(),
        "timber_name": [words.timbers.name(at) for at in looked.places("timber").tolist()],
        "adhesive_name": [words.adhesives.name(at) for at in looked.places("adhesive").tolist()],
        "joint_name": [looked.kinds.name[at] for at in looked.kind.tolist()],
        "study": [looked.title(row) for row in rows],
        "workshop": [studies.workshop[at] for at in looked.study.tolist()],
        "series": [looked.label(row) for row in rows],
        "n": [None if math.isnan(n) else int(n) for n in looked.n.tolist()],
        "held": looked.held.astype(np.int64).tolist(),
        "imputed": found.imputed[first].tolist(),
        "geometric_mean": np.exp(found.y[first]).tolist(),
        "low": np.exp(found.low[first]).tolist(),
        "high": np.exp(found.high[first]).tolist(),
    }


def kinds_of_series(looked: Looked, mean: Array) -> pd.DataFrame:
    """One series with specimens and one published mean, of those that there are."""
    known = looked.column("published") > 0
    rows = [int(np.argmax(known == published)) for published in (False, True) if (known == published).any()]
    return pd.DataFrame(
        {
            "joint": [looked.kinds.code[looked.kind[row]] for row in rows],
            "summary_only": known[rows],
            "geometric_mean": mean[rows],
            "n": looked.n[rows],
            **dict.fromkeys(("series", "study"), ""),
        }
    )
