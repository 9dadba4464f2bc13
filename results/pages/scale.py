"""Whole frames and columns in the units that the reader chose, so that a mean and its interval never stand in two.

Derivations and the sentences of the numbers stay in SI, as the API does: each can be worked out again from its text.
"""

from __future__ import annotations

from typing import TypeVar

import pandas as pd

from results.site.choices import units_now
from stats.footing.units import SI, from_si

Values = TypeVar("Values", float, pd.Series)

KIND_OF = {SI[kind]: kind for kind in ("force", "length", "moment", "stress")}
"""Kinds of quantity that have another unit for whoever chose so, by the unit of SI."""
IMPERIAL = {"force": "lbf", "length": "in", "moment": "ft·lbf", "stress": "psi"}
# Columns of a comparison's frames that hold values on its footing; spreads of logarithms are the same in any unit.
ON_FOOTING = (
    *("value", "geometric_mean", "low", "high", "prediction_low", "prediction_high", "limit_5pct"),
    *("lowest", "highest"),
)

# Those of a study's series beside all others.
BESIDE = (
    *("mean", "low", "high", "others_mean", "others_low", "others_high"),
    *("others_prediction_low", "others_prediction_high"),
)


def readers(unit: str) -> str:
    """The unit that values of one of SI are shown in.

    Parameters
    ----------
    unit : str
        Of SI; one that no other stands for, such as that of a ratio, stays.

    Returns
    -------
    str
    """
    return IMPERIAL.get(KIND_OF.get(unit, ""), unit) if units_now() == "imperial" else unit


def scaled(value: Values, unit: str) -> Values:
    """A number or a column of SI in the reader's unit."""
    other = readers(unit)
    return value if other == unit else from_si(value, KIND_OF[unit], other)


def frame(rows: pd.DataFrame, unit: str, columns: tuple[str, ...] = ON_FOOTING) -> pd.DataFrame:
    """A frame whose values on a footing are in the reader's unit.

    Parameters
    ----------
    rows : pandas.DataFrame
    unit : str
        Of SI.
    columns : tuple of str, optional
        Those that hold values; such as the frame doesn't have are passed over.

    Returns
    -------
    pandas.DataFrame
        The very same where nothing changes.
    """
    if readers(unit) == unit:
        return rows
    return rows.assign(**{name: scaled(rows[name].astype(float), unit) for name in columns if name in rows})


def of_leverage() -> dict[str, str]:
    """The units that `stats.charts.piece_figures.leverage_curve` draws in."""
    return {"length": readers("mm"), "force": readers("N"), "moment": readers("N·m")}


def beside(rows: pd.DataFrame) -> pd.DataFrame:
    """A study's series beside the others', each on a footing with a unit of its own."""
    if units_now() != "imperial" or rows.empty:
        return rows
    parts = [frame(part, unit, BESIDE).assign(unit=readers(unit)) for unit, part in rows.groupby("unit")]
    return pd.concat(parts).reindex(rows.index)
