"""Joints set side by side, like for like, with what was left out and why."""

from __future__ import annotations

from collections import Counter
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, cast

import numpy as np
import pandas as pd

from stats.charts.look import MOST_MARKS
from stats.footing.ladder import FOOTINGS, FootingKind
from stats.inference import network, sidebyside

from .behind import kinds_of_series, listed
from .choices import ACTIONS, TESTS, Choices
from .frames import ACTION_CODES, Looked, looked_at, specimen_frame
from .sides import (
    ACROSS_RIGS,
    BY_BOND,
    USUAL_REFERENCES,
    LeftOut,
    Side,
    axis_of,
    axis_of_first,
    facts,
    reached,
    set_side_by_side,
    size_key,
    unlike,
)

__all__ = [
    "ACROSS_RIGS",
    "USUAL_REFERENCES",
    "Comparison",
    "axis_of",
    "compare",
    "facts",
    "size_key",
    "unit_of",
]

LEFT_OUT = ["reason", "series", "specimens", "example", "remedy"]


@dataclass(frozen=True, eq=False)
class Comparison:
    """What `compare` found; frames are empty where nothing may be shown, and `refused` says why.

    Frames are worked out when they are asked for. Kept with an answer, a comparison keeps those that were.
    """

    choices: Choices
    footing: FootingKind
    unit: str
    action: str
    behind: Behind
    left: tuple[dict[str, Any], ...]
    axis: str = ""
    reference: str = ""
    refused: str = ""
    alternatives: tuple[tuple[str, str], ...] = ()
    invented: bool = False  # whether any study looked at is made up

    @property
    def empty(self) -> bool:
        return not self.behind.count

    @property
    def series(self) -> pd.DataFrame:
        """The series behind it; a comparison that was kept reads them anew."""
        return self.behind.series

    @property
    def arms(self) -> pd.DataFrame:
        """What a network asks of the series, see `Looked.arms`."""
        return self.behind.arms

    @property
    def points(self) -> pd.DataFrame:
        """The specimens behind it, read when they are asked for."""
        return self.behind.points

    @property
    def network(self) -> network.Network | None:
        """All its studies together against `reference`; None where no two of them compare."""
        return None if self.empty else self.behind.side.network(self.reference)

    @cached_property
    def left_out(self) -> pd.DataFrame:
        """What was left out on the way: reason, series, specimens, example, remedy."""
        return pd.DataFrame(self.left, columns=LEFT_OUT)

    @cached_property
    def specimens(self) -> dict[str, int]:
        """Specimens of each joint, as `groups` counts them."""
        return {} if self.empty else self.behind.side.specimens_of()

    @cached_property
    def groups(self) -> pd.DataFrame:
        """A row a joint, see `sidebyside.groups`."""
        return pd.DataFrame() if self.empty else self.behind.side.groups()

    @cached_property
    def groups_other(self) -> pd.DataFrame:
        """The same the other way round about flagged specimens; empty where none is flagged."""
        other = self.behind.other
        return other.groups() if other else pd.DataFrame()

    @cached_property
    def ratios(self) -> pd.DataFrame:
        """Every joint as a ratio to the reference, see `sidebyside.ratios`."""
        return pd.DataFrame() if self.empty else self.behind.side.ratios_to(self.reference)

    @cached_property
    def ratios_other(self) -> pd.DataFrame:
        """The same the other way round about flagged specimens; empty where none is flagged."""
        other = self.behind.other
        return other.ratios_to(self.reference) if other else pd.DataFrame()

    @cached_property
    def failures(self) -> pd.DataFrame:
        """Where each joint broke, see `Specimens.failures`."""
        return pd.DataFrame() if self.empty else self.behind.side.specimens.failures()

    def having(self, **frames: pd.DataFrame) -> Comparison:
        """The same with other frames, such as some of its groups only."""
        changed = copy(self)
        changed.__dict__.update(frames)
        return changed


def compare(choices: Choices) -> Comparison:
    """Set the chosen joints side by side on one footing.

    Parameters
    ----------
    choices : Choices

    Returns
    -------
    Comparison
    """
    left = LeftOut([])
    everything = looked_at(choices)
    counted = reached(everything, choices, left)
    if refusal := unlike(counted, choices):
        return _nothing(choices, left, counted, refused=refusal)
    found = set_side_by_side(counted, choices, left)
    if found is None:
        return _nothing(choices, left, counted)
    reference = found.reference()
    return Comparison(
        choices=choices,
        footing=FOOTINGS[choices.footing],
        unit=unit_of(choices.footing, found.action),
        action=found.action,
        behind=Behind(choices, found, everything if counted.doubted.any() else None),
        left=tuple(left.rows),
        axis=axis_of_first(found.series, choices.footing),
        reference=reference,
        invented=bool(found.series.invented.any()),
    )


class Behind:
    """The series of a comparison, and what is had from them when it is asked for.

    Parameters
    ----------
    choices : Choices
    side : Side, optional
        The series with what was found of them; None for none.
    everything : Looked, optional
        All series looked at, where some specimen of theirs is flagged.

    Attributes
    ----------
    count, specimens : int
        Series, and specimens that have a value.
    inventions : tuple of bool
        Whether invented studies are among them, and real ones.
    tests : {"joint", "bond"}
    crowded : bool
        Whether specimens and series together are too many to draw one by one.

    Notes
    -----
    Kept with an answer it is small: series, specimens and network are left behind, and worked out again if somebody
    asks.
    """

    def __init__(self, choices: Choices, side: Side | None = None, everything: Looked | None = None) -> None:
        self.choices, self._side, self._everything = choices, side, everything
        self.count = len(side.series) if side else 0
        self.tests = "bond" if side and side.series.bond[0] else "joint"
        invented = side.series.invented if side else np.zeros(0, dtype=bool)
        self.inventions = tuple(flag for flag in (False, True) if (invented == flag).any())

    @property
    def side(self) -> Side:
        """The series as arrays, with what was found of them."""
        if self._side is None:
            again = compare(self.choices).behind
            self._side, self._everything = again._side, again._everything
        if self._side is None:
            raise LookupError("The series of this comparison are gone from the book.")
        return self._side

    @cached_property
    def specimens(self) -> int:
        return self.side.specimens.count if self.count else 0

    @property
    def crowded(self) -> bool:
        return self.count + self.specimens > MOST_MARKS

    @cached_property
    def other(self) -> Side | None:
        """The other way round about flagged specimens; None where none is flagged, or no series is left."""
        if not self.count or (self.side and self._everything is None):
            return None
        turned, silent = replace(self.choices, flagged=not self.choices.flagged), LeftOut([], told=False)
        # Asked for above, where it was not there.
        everything = cast(Looked, self._everything)
        again = reached(replace(everything, flagged=turned.flagged), turned, silent)
        return set_side_by_side(again, turned, silent)

    @cached_property
    def series(self) -> pd.DataFrame:
        if not self.count:
            return pd.DataFrame()
        return sidebyside.with_estimates(self.side.series.frame(), self.side.estimates)

    @cached_property
    def arms(self) -> pd.DataFrame:
        return self.side.series.arms() if self.count else pd.DataFrame()

    @cached_property
    def points(self) -> pd.DataFrame:
        if not self.count:
            return pd.DataFrame()
        ids, footing = self.series["series_id"].tolist(), self.choices.footing
        specimens = specimen_frame(ids, footing, self.side.action, flagged=self.choices.flagged)
        about = self.series[["series_id", "series", "study_id", "study", "invented", "joint", "joint_name"]]
        return specimens.merge(about, on="series_id", how="inner")

    @cached_property
    def ranges(self) -> pd.DataFrame | None:
        """Between what the specimens of each joint lie, where they are too many to draw; see `Specimens.ranges`."""
        return self.side.specimens.ranges() if self.crowded else None

    @cached_property
    def first_series(self) -> dict[str, list[Any]]:
        """The first of the series, as a list shows them, see `listed`."""
        return listed(self.side.series, self.side.estimates) if self.count else {}

    @cached_property
    def kinds_of_points(self) -> pd.DataFrame:
        """One specimen of each kind that a chart marks by a sign of its own."""
        return self.side.specimens.kinds()

    @cached_property
    def kinds_of_series(self) -> pd.DataFrame:
        """One series of each kind that a chart marks by a sign of its own."""
        return kinds_of_series(self.side.series, np.exp(self.side.estimates.y))

    def __getstate__(self) -> dict[str, Any]:
        large = ("series", "arms", "points", "other")
        kept = {name: value for name, value in self.__dict__.items() if name not in large}
        return {**kept, "_side": None, "_everything": None}


def unit_of(footing: str, action: str) -> str:
    """The unit of a footing under an action: a moment where the joint is bent or twisted, else a force."""
    if footing == "at_joint":
        return "N·m" if action in ("bending", "torsion") else "N"
    return FOOTINGS[footing].unit


def _alternatives(series: Looked, choices: Choices) -> tuple[tuple[str, str], ...]:
    """Views near the chosen one that have something in them, the fullest first."""
    usable = series.take(series.has_value)
    pairs = zip(usable.action.tolist(), usable.bond.tolist(), strict=True)
    return tuple(
        (
            f"{ACTIONS[ACTION_CODES[action]]}, {TESTS[BY_BOND[bond]]} ({count} series)",
            choices.query(action=ACTION_CODES[action], tests=BY_BOND[bond]),
        )
        for (action, bond), count in Counter(pairs).most_common()
    )


def _nothing(choices: Choices, left: LeftOut, everything: Looked, *, refused: str = "") -> Comparison:
    return Comparison(
        choices=choices,
        footing=FOOTINGS[choices.footing],
        unit=unit_of(choices.footing, choices.action),
        action=choices.action,
        behind=Behind(choices),
        left=tuple(left.rows),
        refused=refused,
        alternatives=_alternatives(everything, choices),
        invented=bool(everything.invented.any()),
    )
