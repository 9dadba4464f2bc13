"""The rows of `sidebyside.ratios` one by one: a frame's own way to give its rows takes several times as long."""

from __future__ import annotations

import math
from typing import NamedTuple

import pandas as pd


class Ratio(NamedTuple):
    """A row of `ratios`.

    Parameters
    ----------
    joint, joint_name : str
        Code and name of the joint.
    reference, reference_name : str
        Of the joint that it is measured against.
    ratio : float
        Joint over reference [-]; NaN where the two can't be compared.
    low, high : float
        Ends of the ratio's interval [-].
    prediction_low, prediction_high : float
        Ends of the interval for one further study [-]; NaN where one study can't tell.
    studies : int
        Studies that hold both.
    basis : str
        How the two joints meet.
    note : str
        What to know, or "".
    """

    joint: str
    joint_name: str
    reference: str
    reference_name: str
    ratio: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    studies: int
    basis: str
    note: str


def each_ratio(ratios: pd.DataFrame) -> list[Ratio]:
    """The joints that have a ratio.

    Parameters
    ----------
    ratios : DataFrame
        As `sidebyside.ratios` gives it.

    Returns
    -------
    list of Ratio
        In the frame's order.
    """
    rows = map(Ratio._make, zip(*(ratios[name].tolist() for name in Ratio._fields), strict=True))
    return [row for row in rows if not math.isnan(row.ratio)]
