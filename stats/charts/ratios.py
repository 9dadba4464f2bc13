"""Joints as ratios to one of them, a forest of intervals around the line at one."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, between, plain, rows_of
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.errors import StatsError
from stats.footing.units import show
from stats.inference import ratio_rows

# How two joints meet, best first, each with a mark of its own.
BASES = (
    (ratio_rows.SAME, "ratio, both in the same studies", "diamond"),
    (ratio_rows.THROUGH, "ratio, through other studies", "diamond-open"),
    (ratio_rows.APART, "ratio, no study in common", "cross-open"),
)


def ratios(ratios: pd.DataFrame, *, level: float = 0.95, outline: bool = False) -> Chart:
    """Draw each joint's strength as a ratio to the reference, with its interval and prediction interval.

    Parameters
    ----------
    ratios : pandas.DataFrame
        A row a joint: joint_name, reference_name, ratio, low, high, prediction_low, prediction_high,
        studies, basis, note.
    level : float, optional
        Level of both intervals, 0 to 1.
    outline : bool, optional
        Draw no more than gives the chart its size and legend, for a page that only makes room for it.

    Returns
    -------
    Chart
        The largest ratio on top. A joint without a ratio stands in the table only.

    Raises
    ------
    StatsError
        If no joint has a ratio.
    """
    drawn = [row for row in rows_of(ratios) if math.isfinite(row.ratio)]
    if not drawn:
        raise StatsError("ratios (none is a number) must hold at least one joint connected to the reference.")
    drawn.sort(key=lambda row: -row.ratio)
    reference = str(drawn[0].reference_name)
    at = [float(i) for i in range(len(drawn))]

    fig = Figure()
    for name, low, high, width in (
        ("prediction: where another shop's ratio may fall", "prediction_low", "prediction_high", 1.5),
        (f"{100 * level:g} % interval of the ratio", "low", "high", 5),
    ):
        lows, highs = (plain([getattr(row, end) for row in drawn]) for end in (low, high))
        x, y = look.bar_segments(lows, highs, at)
        if x:
            fig.scatter(
                x=x,
                y=y,
                mode="lines",
                name=name,
                line={"width": width, "color": look.BROKE},
                hoverinfo="skip",
            )
    for basis, name, symbol in BASES:
        rows = [(i, row) for i, row in enumerate(drawn) if row.basis == basis][: 1 if outline else None]
        if not rows:
            continue
        hover = [
            f"{look.escape(row.joint_name)} to {look.escape(reference)}: <b>{show(row.ratio)}</b><br>"
            f"{100 * level:g} % interval {show(row.low)} to {show(row.high)}<br>"
            f"{_prediction(row.prediction_low, row.prediction_high)}"
            for _, row in rows
        ]
        ratio_marks(fig, rows, name, symbol, hover)
    fig.vline(1, color=look.HELD, dash="dash")
    labels = [look.row_label(row.joint_name, f"{look.counted(int(row.studies), 'study')} with both") for row in drawn]
    rows_layout(fig, labels, f"Strength ÷ strength of {reference}", "dashed line at 1: as strong", "ratio", log=True)
    return Chart(fig, ratio_table(ratios, level), _summary(drawn, len(ratios) - len(drawn), reference, level))


def ratio_marks(fig: Figure, rows: list[tuple[int, Any]], name: str, symbol: str, hover: list[str]) -> None:
    """Draw ratios with their numbers, each in its row.

    Parameters
    ----------
    fig : Figure
        Changed in place.
    rows : list of (int, object)
        The row of the chart, and what has a ``ratio``.
    name, symbol : str
        What the marks are, and their shape.
    hover : list of str
        What is told of each.
    """
    fig.scatter(
        x=plain([row.ratio for _, row in rows]),
        y=[float(i) for i, _ in rows],
        mode="markers+text",
        name=name,
        marker={"symbol": symbol, "size": 12, "color": look.INK, "line": {"width": 1.6, "color": look.INK}},
        text=[f"<b>{show(row.ratio)}</b>" for _, row in rows],
        textposition="top center",
        cliponaxis=False,
        hovertext=hover,
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _prediction(low: float, high: float) -> str:
    if math.isfinite(low) and math.isfinite(high):
        return f"the next shop may find {show(low)} to {show(high)}"
    return "too few studies to say what the next shop may find"


def ratio_table(ratios: pd.DataFrame, level: float) -> pd.DataFrame:
    """The ratios as the chart's table twin has them, those that can't be drawn included.

    Parameters
    ----------
    ratios : pandas.DataFrame
        A row a joint, as `ratios` takes them.
    level : float
        Level of the intervals.

    Returns
    -------
    pandas.DataFrame
        Columns named as a reader would, the largest ratio first.
    """
    ranked = ratios.sort_values("ratio", ascending=False, na_position="last", ignore_index=True)
    return pd.DataFrame(
        {
            "Joint": ranked["joint_name"].array,
            "Ratio": ranked["ratio"].array,
            f"{100 * level:g} % interval": between(ranked["low"], ranked["high"]),
            "The next shop may find": between(ranked["prediction_low"], ranked["prediction_high"]),
            "Studies with both": ranked["studies"].array,
            "Through": ranked["basis"].array,
            "Note": ranked["note"].array,
        }
    )


def _summary(drawn: list[Any], missing: int, reference: str, level: float) -> str:
    said = (
        f"Strength of {look.counted(len(drawn), 'joint')} as a ratio to {reference}. The thick bar is the"
        f" {100 * level:g} % interval of the ratio; the thin line is where another shop's ratio may fall. An"
        " interval that holds 1 does not tell the two apart."
    )
    if missing:
        said += f" {look.counted(missing, 'joint')} without a path to the reference can't be drawn."
    return said
