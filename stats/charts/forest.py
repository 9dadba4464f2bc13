"""Joints against a reference through all studies at once, and the ways by which two joints are compared."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, between, plain, rows_of
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.charts.ratios import ratio_marks
from stats.errors import StatsError
from stats.footing.units import show

# The mark of a ratio that a study with both joints stands behind, and of one that none does.
_MARKS = (("ratio, from studies with both joints", "diamond"), ("ratio, only through other joints", "diamond-open"))

MOST_DRAWN = 40
"""Joints that the chart shows; the table has them all."""
FURTHEST = 10.0
"""A line that runs more than so many times beyond the outermost ratio is cut there, and marked as cut."""


def forest(effects: pd.DataFrame, *, reference: str, about: str, level: float = 0.95) -> Chart:
    """Draw each joint as a ratio to the reference, with its interval and what the next shop should expect.

    Parameters
    ----------
    effects : pandas.DataFrame
        A row a joint: joint_name, ratio, low, high, prediction_low, prediction_high (NaN where none can be had),
        studies (that hold both joints), note.
    reference : str
        Name of the joint that all are ratios to.
    about : str
        What was measured, and on how much the whole rests, for the chart's face.
    level : float, optional
        Level of both intervals, 0 to 1.

    Returns
    -------
    Chart
        The largest ratio on top.

    Raises
    ------
    StatsError
        If there is no joint to draw.
    """
    if effects.empty:
        raise StatsError("effects has no rows; give at least one joint that studies link to the reference.")
    ranked = effects.sort_values("ratio", ascending=False, kind="stable", ignore_index=True)
    # The best known are those with the narrowest intervals.
    best = np.argsort(np.log((ranked["high"] / ranked["low"]).to_numpy(float)), kind="stable")[:MOST_DRAWN]
    every = rows_of(ranked)
    drawn = [every[at] for at in np.sort(best).tolist()]
    fig = Figure()
    cut = _lines(fig, drawn, level)
    for (name, symbol), direct in zip(_MARKS, (True, False), strict=True):
        rows = [(i, row) for i, row in enumerate(drawn) if (row.studies > 0) == direct]
        if rows:
            ratio_marks(fig, rows, name, symbol, [_told(row, reference, level) for _, row in rows])
    fig.vline(1.0, color=look.HELD, dash="dash")
    labels = [look.row_label(row.joint_name, _behind(row)) for row in drawn]
    rows_layout(fig, labels, f"Ratio to {reference}", "dashed line at 1: as strong", "ratio", about, log=True)
    summary = (
        f"Strength of {look.counted(len(ranked), 'joint')} as a ratio to {reference}, all studies taken together"
        f" ({about}). {_meaning(level)} An interval that holds 1 does not tell the two apart."
        f" A filled mark: some study tested both joints; an open one: they meet only through other joints.{cut}"
    )
    if len(drawn) < len(ranked):
        summary += f" The {len(drawn)} best known of {look.counted(len(ranked), 'joint')} are drawn; the table has all."
    return Chart(fig, forest_table(ranked, level), summary)


def routes(ways: pd.DataFrame, *, joint: str, versus: str, about: str, level: float = 0.95) -> Chart:
    """Draw one ratio as studies with both joints have it, as the others have it, and as all have it together.

    Parameters
    ----------
    ways : pandas.DataFrame
        A row a way: way (``direct``, ``indirect`` or ``network``), ratio, low, high, prediction_low,
        prediction_high (NaN but for the network), studies.
    joint, versus : str
        Names of the two; the ratio is the first over the second.
    about : str
        What was measured.
    level : float, optional
        Level of the intervals, 0 to 1.

    Returns
    -------
    Chart
        In the order of the rows.

    Raises
    ------
    StatsError
        If there is no row.
    """
    if ways.empty:
        raise StatsError("ways has no rows; give at least the network's own ratio.")
    drawn = rows_of(ways)
    fig = Figure()
    cut = _lines(fig, drawn, level)
    for way, (name, symbol) in WAYS.items():
        rows = [(i, row) for i, row in enumerate(drawn) if row.way == way]
        if rows:
            ratio_marks(fig, rows, name, symbol, [_told(row, versus, level, joint) for _, row in rows])
    fig.vline(1.0, color=look.HELD, dash="dash")
    labels = [look.row_label(WAY_NAMES[row.way], look.counted(int(row.studies), "study")) for row in drawn]
    title = f"{joint} ÷ {versus}"
    rows_layout(fig, labels, title, "dashed line at 1: as strong", "ratio", about, log=True)
    summary = f"{joint} as a ratio to {versus} by each kind of evidence ({about}). {_meaning(level)}{cut}"
    return Chart(fig, routes_table(ways, level), summary)


WAYS = {
    "direct": ("ratio by studies with both", "square"),
    "indirect": ("ratio through other joints", "square-open"),
    "network": ("ratio by all together", "diamond"),
}
WAY_NAMES = {"direct": "Studies with both", "indirect": "Through other joints", "network": "All together"}


def forest_table(effects: pd.DataFrame, level: float) -> pd.DataFrame:
    """The forest's table twin, columns named as a reader would; rows as given.

    Parameters
    ----------
    effects : DataFrame
        As for `forest`.
    level : float
        Level of the intervals.

    Returns
    -------
    DataFrame
    """
    return pd.DataFrame(
        {
            "Joint": effects["joint_name"].array,
            "Ratio": effects["ratio"].array,
            f"{100 * level:g} % interval": between(effects["low"], effects["high"]),
            "The next shop should expect": between(effects["prediction_low"], effects["prediction_high"]),
            "Studies with both": effects["studies"].array,
            "Compared": ["side by side" if n > 0 else "only through other joints" for n in effects["studies"].tolist()],
            "Note": effects["note"].array,
        }
    )


def routes_table(ways: pd.DataFrame, level: float) -> pd.DataFrame:
    """The table twin of `routes`.

    Parameters
    ----------
    ways : DataFrame
        As for `routes`.
    level : float
        Level of the intervals.

    Returns
    -------
    DataFrame
    """
    return pd.DataFrame(
        {
            "Evidence": [WAY_NAMES[way] for way in ways["way"].tolist()],
            "Ratio": ways["ratio"].array,
            f"{100 * level:g} % interval": between(ways["low"], ways["high"]),
            "The next shop should expect": between(ways["prediction_low"], ways["prediction_high"]),
            "Studies": ways["studies"].array,
        }
    )


def _meaning(level: float) -> str:
    return (
        f"The thick bar is the {100 * level:g} % interval of the ratio over all shops; the thin line is what the next"
        " shop should expect."
    )


def _lines(fig: Figure, drawn: list[Any], level: float) -> str:
    """Draw both intervals; says, for the summary, if any was cut."""
    at = [float(i) for i in range(len(drawn))]
    least, most = _ends(drawn)
    cut = False
    for name, low, high, width in (
        ("what the next shop should expect", "prediction_low", "prediction_high", 1.5),
        (f"{100 * level:g} % interval", "low", "high", 5.0),
    ):
        lows, highs = (np.array([getattr(row, end) for row in drawn], dtype=float) for end in (low, high))
        x, y = look.bar_segments(plain(np.clip(lows, least, most)), plain(np.clip(highs, least, most)), at)
        if x:
            fig.scatter(x=x, y=y, mode="lines", name=name, line={"width": width, "color": look.BROKE}, hoverinfo="skip")
        for beyond, end, mark, place in (
            (lows < least, least, "‹", "middle left"),
            (highs > most, most, "›", "middle right"),
        ):
            if beyond.any():
                cut = True
                _cut_marks(fig, [at[i] for i in np.flatnonzero(beyond)], end, mark, place)
    return " A line that runs off the chart is cut, with a mark like ›; the table has its end." if cut else ""


def _ends(drawn: list[Any]) -> tuple[float, float]:
    """Between what the chart runs: all it draws, but no further than `FURTHEST` from the ratios."""
    ratio = [row.ratio for row in drawn]
    told = (end for row in drawn for end in (row.ratio, row.low, row.high, row.prediction_low, row.prediction_high))
    known = [end for end in told if math.isfinite(end) and end > 0]
    return max(min(known), min(ratio) / FURTHEST), min(max(known), max(ratio) * FURTHEST)


def _cut_marks(fig: Figure, at: list[float], end: float, mark: str, place: str) -> None:
    fig.scatter(
        x=[end] * len(at),
        y=at,
        mode="text",
        text=[f"<b>{mark}</b>"] * len(at),
        textposition=place,
        textfont={"color": look.BROKE, "size": 15},
        showlegend=False,
        hoverinfo="skip",
        cliponaxis=False,
    )


def _told(row: Any, versus: str, level: float, joint: str = "") -> str:
    ahead = ""
    if math.isfinite(row.prediction_low):
        ahead = f"<br>the next shop should expect {show(row.prediction_low)} to {show(row.prediction_high)}"
    return (
        f"{look.escape(joint or row.joint_name)} ÷ {look.escape(versus)}: <b>{show(row.ratio)}</b><br>"
        f"{100 * level:g} % interval {show(row.low)} to {show(row.high)}{ahead}"
    )


def _behind(row: Any) -> str:
    """How much stands behind a ratio: the studies with both, or that there are none."""
    return f"{look.counted(int(row.studies), 'study')} with both" if row.studies else "no study with both"
