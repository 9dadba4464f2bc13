"""How sure each ratio of a comparison is, graded by the studies that tell on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.inference.certainty import Certainty, grade
from stats.inference.certainty_domains import Evidence
from stats.inference.counting import numbered
from stats.inference.ratio_rows import APART, Ratio, each_ratio
from stats.interval import Interval

from .book import Array
from .compare import Comparison


@dataclass(frozen=True)
class _OneStudy:
    """A contrast that one study or none gives, as it is graded."""

    estimate: float
    interval: Interval
    prediction: None = None


def levels(found: Comparison) -> dict[str, str]:
    """By joint, how sure its ratio to the reference is; without those that can't be graded."""
    if not len(found.ratios):
        return {}
    grades = Grades(found)
    graded = {row.joint: grades.of(row) for row in each_ratio(found.ratios)}
    return {joint: str(certainty.level) for joint, certainty in graded.items() if certainty}


class Grades:
    """Grades each ratio of a comparison by its studies, each weighing as much as it tells."""

    def __init__(self, found: Comparison) -> None:
        side, self.fitted = found.behind.side, found.network
        looked, estimates = side.series, side.estimates
        told = estimates.told
        self.level = found.choices.level
        self.number = {joint: at for at, joint in enumerate(told.joints)}
        self.against = self.fitted.against(found.reference) if self.fitted else None
        studies, joints = len(told.studies), len(told.joints)
        every = told.n + told.held
        self.smallest = np.full(studies, np.nan)
        np.fmin.at(self.smallest, told.study, every)
        self.like = _kinds(told.study, looked.column("setup"), studies) <= 1
        timber = looked.places("timber")
        self.matched = _kinds(told.study[timber >= 0], timber[timber >= 0], studies) <= 1
        self.imputed = np.bincount(told.study, estimates.imputed, studies) > 0
        places = np.searchsorted(looked.source.studies.key, told.studies).tolist()
        numbers: dict[str, int] = {}
        workshops = (looked.source.studies.workshop[place] for place in places)
        self.workshop = np.array([numbers.setdefault(one, len(numbers)) for one in workshops], dtype=np.intp)
        cell, known = told.study * joints + told.joint, ~np.isnan(every)
        total = np.bincount(cell[known], every[known], studies * joints)
        stated = np.bincount(cell[known], minlength=studies * joints)
        self.specimens = np.where(stated > 0, total, np.nan).reshape(studies, joints)
        self.holds = np.bincount(cell, minlength=studies * joints).reshape(studies, joints) > 0
        self.linked = self._about(self.against.study) if self.against else {}

    def of(self, row: Ratio) -> Certainty | None:
        """The grade of one row of the comparison's ratios; None where it can't be graded."""
        joint, reference = self.number[row.joint], self.number[row.reference]
        ends = Interval(float(np.log(row.low)), float(np.log(row.high)), self.level)
        contrast: Any = _OneStudy(float(np.log(row.ratio)), ends)
        difference_p = None
        if row.basis != APART and self.fitted is not None and self.against is not None:
            studies, about = self.against.study, self.linked
            weight, direct = self.against.weight[:, joint], self.against.holds[:, joint]
            if not math.isnan(row.prediction_low):
                contrast = self.fitted.relative(row.joint, row.reference)
                p = float(self.against.difference_p[joint])
                difference_p = p if np.isfinite(p) else None
        else:
            studies, weight, direct = self._alike(joint, reference)
            about = self._about(studies)
        n = np.fmin(self.specimens[studies, joint], self.specimens[studies, reference])
        evidence = Evidence(weight=weight, n=np.where(np.isnan(n), self.smallest[studies], n), direct=direct, **about)
        try:
            return grade(contrast, evidence, difference_p=difference_p)
        except StatsError:
            return None

    def _about(self, studies: Array) -> dict[str, Array]:
        """What tells on a grade whichever the joints."""
        return {
            "like": self.like[studies],
            "imputed": self.imputed[studies],
            "left_out": np.zeros(len(studies), dtype=bool),
            "matched": self.matched[studies],
            "contributor": self.workshop[studies],
        }

    def _alike(self, joint: int, reference: int) -> tuple[Array, Array, Array]:
        """Studies that hold either joint, where no network says how much each tells."""
        one, other = self.holds[:, joint], self.holds[:, reference]
        both = np.flatnonzero(one & other)
        studies = both if len(both) else np.flatnonzero(one | other)
        return studies, np.ones(len(studies)), np.full(len(studies), bool(len(both)))


def _kinds(study: Array, value: Array, studies: int) -> Array:
    """How many different values each study has."""
    own, values = pd.factorize(value)
    pairs = numbered(study * max(len(values), 1) + own)[0]
    return np.bincount(pairs // max(len(values), 1), minlength=studies)
