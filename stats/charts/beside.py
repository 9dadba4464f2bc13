"""A study's series, each as a ratio to what other studies found of the same joint."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, between, plain, rows_of
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.errors import StatsError
from stats.footing.units import show

MOST_ROWS = 40
"""Series beyond these are in the table alone."""
FURTHEST = 8.0
"""A line that runs more than so many times beyond the others' mean is cut there."""
OTHERS_AT = 0.24
"""How far below its series' own mark the others' mark lies, in rows."""


def beside(rows: pd.DataFrame, *, about: str = "", level: float = 0.95) -> Chart:
    """Draw each series of a study against the mean of all other studies of the same joint.

    Parameters
    ----------
    rows : pandas.DataFrame
        A row a series: series, joint_name, studies, specimens (of the others), ratio, ratio_low, ratio_high (NaN
        where the series has no spread), others_mean, others_low, others_high, others_prediction_low,
        others_prediction_high (NaN below three studies), mean, unit.
    about : str, optional
        What was measured, for the chart's face.
    level : float, optional
        Level of the intervals, 0 to 1.

    Returns
    -------
    Chart
        In the order of the rows, at most `MOST_ROWS` of them.

    Raises
    ------
    StatsError
        If there is no row.
    """
    if rows.empty:
        raise StatsError("rows is empty; give at least one series that other studies stand beside.")
    drawn = rows.head(MOST_ROWS)
    every = rows_of(drawn)
    fig = Figure()
    mean = drawn["others_mean"].to_numpy(float)
    below = [i + OTHERS_AT for i in range(len(drawn))]
    ahead = [drawn[f"others_prediction_{end}"].to_numpy(float) / mean for end in ("low", "high")]
    ends = [drawn[f"others_{end}"].to_numpy(float) / mean for end in ("low", "high")]
    own = [drawn[f"ratio_{end}"].to_numpy(float) for end in ("low", "high")]
    cut = [
        _bars(fig, ahead, below, "what the next shop should expect, by the others", 1.5, look.SOFT),
        _bars(fig, ends, below, f"the others' {100 * level:g} % interval", 5.0, look.SOFT),
        _bars(
            fig, own, [float(i) for i in range(len(drawn))], f"the ratio's {100 * level:g} % interval", 3.0, look.BROKE
        ),
    ]
    hover = [_told(row, level) for row in every]
    ratio = np.clip(drawn["ratio"].to_numpy(float), 1 / FURTHEST, FURTHEST)
    fig.scatter(
        x=[1.0] * len(drawn),
        y=below,
        mode="markers",
        name="mean of the other studies",
        marker={"symbol": "diamond-open", "size": 10, "color": look.INK, "line": {"width": 1.6, "color": look.INK}},
        hovertext=hover,
        hovertemplate="%{hovertext}<extra></extra>",
    )
    fig.scatter(
        x=plain(ratio),
        y=[float(i) for i in range(len(drawn))],
        mode="markers+text",
        name="this study",
        marker={"symbol": "circle", "size": 11, "color": look.BROKE, "line": {"width": 1, "color": look.BROKE}},
        text=[f"<b>{show(row.ratio)}</b>" for row in every],
        textposition="top center",
        cliponaxis=False,
        hovertext=hover,
        hovertemplate="%{hovertext}<extra></extra>",
    )
    fig.vline(1.0, color=look.HELD, dash="dash")
    labels = [
        look.row_label(
            row.series,
            look.wrap(row.joint_name, 26),
            f"others: {look.counted(int(row.studies), 'study')},",
            look.counted(int(row.specimens), "specimen"),
        )
        for row in every
    ]
    rows_layout(
        fig, labels, "This study ÷ all other studies", "dashed line at 1: as the others found", "ratio", about, log=True
    )
    return Chart(
        fig,
        beside_table(rows, level),
        _summary(rows, drawn, level, any(cut) or bool((ratio != drawn["ratio"].to_numpy(float)).any())),
    )


def beside_table(rows: pd.DataFrame, level: float) -> pd.DataFrame:
    """The chart's table twin, columns named as a reader would; rows as given."""
    interval, every = f"{100 * level:g} % interval", rows_of(rows)
    return pd.DataFrame(
        {
            "Series": rows["series"].array,
            "Joint": rows["joint_name"].array,
            "This study": [show(float(row.mean), row.unit) for row in every],
            f"Its {interval}": between(rows["low"], rows["high"]),
            "Other studies": rows["studies"].array,
            "Their specimens": rows["specimens"].array,
            "Their mean": [show(float(row.others_mean), row.unit) for row in every],
            f"Their {interval}": between(rows["others_low"], rows["others_high"]),
            "This ÷ theirs": rows["ratio"].array,
            f"Ratio's {interval}": between(rows["ratio_low"], rows["ratio_high"]),
            "The next shop should expect": between(rows["others_prediction_low"], rows["others_prediction_high"]),
            "This study lies": [standing(row) for row in every],
        }
    )


def standing(row: Any) -> str:
    """Where a series lies against what the others lead one to expect."""
    if not np.isfinite(row.others_prediction_low):
        return "too few studies"
    if row.others_prediction_low <= row.mean <= row.others_prediction_high:
        return "within that"
    return "above that" if row.mean > row.others_prediction_high else "below that"


def _bars(fig: Figure, ends: list[Any], at: list[float], name: str, width: float, color: str) -> bool:
    """Bars between those ends, cut where they run off; says whether any was."""
    low, high = (np.asarray(end, dtype=float) for end in ends)
    x, y = look.bar_segments(plain(np.maximum(low, 1 / FURTHEST)), plain(np.minimum(high, FURTHEST)), at)
    if x:
        fig.scatter(x=x, y=y, mode="lines", name=name, line={"width": width, "color": color}, hoverinfo="skip")
    return bool((low < 1 / FURTHEST).any() or (high > FURTHEST).any())


def _told(row: Any, level: float) -> str:
    ends = (
        f"<br>{100 * level:g} % interval {show(row.ratio_low)} to {show(row.ratio_high)}"
        if np.isfinite(row.ratio_low)
        else ""
    )
    return (
        f"{look.escape(row.series)}: <b>{show(row.mean, row.unit)}</b><br>others: {show(row.others_mean, row.unit)}"
        f" in {look.counted(int(row.studies), 'study')}<br>ratio {show(row.ratio)}{ends}"
    )


def _summary(rows: pd.DataFrame, drawn: pd.DataFrame, level: float, cut: bool) -> str:
    more = f" The table has {len(rows) - len(drawn)} more." if len(rows) > len(drawn) else ""
    ends = f" Lines end at {1 / FURTHEST:g} and {FURTHEST:g}; the table has what lies beyond." if cut else ""
    return (
        f"{look.counted(len(drawn), 'series')} of this study, each over the mean of all other studies of the same joint"
        f" under the same action and on the same footing, without this study. Bars are {100 * level:g} % intervals; the"
        " thin line is what a further shop should expect by the other studies, where there are three or more."
        f"{more}{ends}"
    )
