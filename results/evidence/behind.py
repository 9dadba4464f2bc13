"""The specimens behind a comparison, and what pages show of its series, from arrays."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from stats.inference.told import Estimates, Readings

from .book import Array
from .frames import Looked

# Series of which a page's list shows the first; the API has them all.
MOST_SERIES = 200
FAILURES = ["joint", "joint_name", "place", "place_name", "n", "geometric_mean", "share"]
RANGES = {"lowest": 0.0, "low": 0.1, "high": 0.9, "highest": 1.0}


class Specimens:
    """The specimens of series that have a value on the footing, as arrays."""

    def __init__(self, series: Looked) -> None:
        packs, on = series.source.packs, series.source.on
        # A series' specimens stand together, in the order of the series.
        counts = series.column("told").astype(np.intp)
        first = packs.first[series.at] - (np.cumsum(counts) - counts)
        at, of = np.arange(counts.sum()) + np.repeat(first, counts), np.repeat(np.arange(len(series)), counts)
        there = ~np.isnan(on.value[at])
        if not series.flagged:
            there &= packs.specimens["flagged"][at] == 0
        at = at[there]
        self.series, self.of = series, of[there]
        self.value, self.held = on.value[at], packs.specimens["held"][at].astype(bool)
        self._place, self._flagged = packs.specimens["place"][at], packs.specimens["flagged"][at]

    def of_those(self, kept: Array, series: Looked) -> Specimens:
        """The specimens of some of the series."""
        less = object.__new__(Specimens)
        own = kept[self.of]
        less.series, less.of = series, (np.cumsum(kept) - 1)[self.of[own]]
        less.value, less.held = self.value[own], self.held[own]
        less._place, less._flagged = self._place[own], self._flagged[own]
        return less

    @property
    def count(self) -> int:
        return len(self.of)

    def readings(self) -> Readings:
        """As the statistics take them."""
        return Readings(self.value, ~self.held, self.of)

    def kinds(self) -> pd.DataFrame:
        """One specimen of each kind: broke or held, doubted or not."""
        kind = self.held * 2 + self._flagged
        first = [int(np.argmax(kind == one)) for one in range(4) if (kind == one).any()]
        return pd.DataFrame(
            {
                "joint": [self.series.kinds.code[at] for at in self.series.kind[self.of[first]]],
                "value": self.value[first],
                "outcome": np.where(self.held[first], "held", "broke"),
                "flagged": self._flagged[first].astype(bool),
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
        broke = ~self.held
        kind = self.series.kind[self.of[broke]]
        place = places.at(self._place[broke]) + 1
        codes, names = ("", *places.codes), ("not recorded", *places.names)
        key = kind * len(codes) + place
        n = np.bincount(key, minlength=len(kinds.code) * len(codes))
        first = np.zeros(len(n), dtype=np.intp)
        first[key[::-1]] = np.arange(len(key))[::-1]
        found = np.flatnonzero(n)
        found = found[np.argsort(first[found])]
        total = np.bincount(key, np.log(self.value[broke]), len(kinds.code) * len(codes))
        of_kind = np.bincount(kind, minlength=len(kinds.code))
        rows = [
            (
                *(kinds.code[one // len(codes)], kinds.name[one // len(codes)]),
                *(codes[one % len(codes)], names[one % len(codes)]),
                *(n[one], float(np.exp(total[one] / n[one])), n[one] / of_kind[one // len(codes)]),
            )
            for one in found.tolist()
        ]
        frame = pd.DataFrame(rows, columns=FAILURES).astype({"n": int, "geometric_mean": float, "share": float})
        return frame.sort_values(["joint_name", "n"], ascending=[True, False], ignore_index=True)


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
