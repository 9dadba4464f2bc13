"""Joints as ratios to one of them, a forest of intervals around the line at one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, between, plain
from stats.charts.figure import Figure
from stats.errors import StatsError
from stats.footing.units import show
from stats.inference import sidebyside

# How two joints meet, best first, each with a mark of its own.
BASES = (
    (sidebyside.SAME, "ratio, both in the same studies", "diamond"),
    (sidebyside.THROUGH, "ratio, through other studies", "diamond-open"),
    (sidebyside.APART, "ratio, no study in common", "cross-open"),
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
    drawn = ratios[np.isfinite(ratios["ratio"].astype(float))]
    if drawn.empty:
        raise StatsError("ratios (none is a number) must hold at least one joint connected to the reference.")
    drawn = drawn.sort_values("ratio", ascending=False, kind="stable").reset_index(drop=True)
    reference = str(drawn["reference_name"].iloc[0])
    at = [float(i) for i in range(len(drawn))]

    fig = Figure()
    for name, low, high, width in (
        ("prediction: where another shop's ratio may fall", "prediction_low", "prediction_high", 1.5),
        (f"{100 * level:g} % interval of the ratio", "low", "high", 5),
    ):
        x, y = look.bar_segments(plain(drawn[low]), plain(drawn[high]), at)
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
        rows = drawn[drawn["basis"] == basis].head(1 if outline else len(drawn))
        if rows.empty:
            continue
        hover = [
            f"{look.escape(name)} to {look.escape(reference)}: <b>{show(ratio)}</b><br>"
            f"{100 * level:g} % interval {show(low)} to {show(high)}<br>{_prediction(*ahead)}"
            for name, ratio, low, high, *ahead in zip(*(rows[column].tolist() for column in _TOLD), strict=True)
        ]
        ratio_marks(fig, rows, name, symbol, hover)
    fig.vline(1, color=look.HELD, dash="dash")
    labels = [
        look.row_label(name, f"{look.counted(int(studies), 'study')} with both")
        for name, studies in zip(drawn["joint_name"].tolist(), drawn["studies"].tolist(), strict=True)
    ]
    look.rows_layout(
        fig, labels, f"Strength ÷ strength of {reference}", "dashed line at 1: as strong", "ratio", log=True
    )
    return Chart(fig, ratio_table(ratios, level), _summary(drawn, len(ratios) - len(drawn), reference, level))


_TOLD = ("joint_name", "ratio", "low", "high", "prediction_low", "prediction_high")


def ratio_marks(fig: Figure, rows: pd.DataFrame, name: str, symbol: str, hover: list[str]) -> None:
    """Draw ratios with their numbers, each in the row that its index names.

    Parameters
    ----------
    fig : Figure
        Changed in place.
    rows : pandas.DataFrame
        ``ratio``, indexed by the row of the chart.
    name, symbol : str
        What the marks are, and their shape.
    hover : list of str
        What is told of each.
    """
    fig.scatter(
        x=plain(rows["ratio"]),
        y=[float(i) for i in rows.index],
        mode="markers+text",
        name=name,
        marker={"symbol": symbol, "size": 12, "color": look.INK, "line": {"width": 1.6, "color": look.INK}},
        text=[f"<b>{show(ratio)}</b>" for ratio in rows["ratio"]],
        textposition="top center",
        cliponaxis=False,
        hovertext=hover,
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _prediction(low: float, high: float) -> str:
    if np.isfinite(low) and np.isfinite(high):
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
            "Joint": ranked["joint_name"],
            "Ratio": ranked["ratio"],
            f"{100 * level:g} % interval": between(ranked["low"], ranked["high"]),
            "The next shop may find": between(ranked["prediction_low"], ranked["prediction_high"]),
            "Studies with both": ranked["studies"],
            "Through": ranked["basis"],
            "Note": ranked["note"],
        }
    )


def _summary(drawn: pd.DataFrame, missing: int, reference: str, level: float) -> str:
    said = (
        f"Strength of {look.counted(len(drawn), 'joint')} as a ratio to {reference}. The thick bar is the"
        f" {100 * level:g} % interval of the ratio; the thin line is where another shop's ratio may fall. An"
        " interval that holds 1 does not tell the two apart."
    )
    if missing:
        said += f" {look.counted(missing, 'joint')} without a path to the reference can't be drawn."
    return said
