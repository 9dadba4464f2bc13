"""What each study does to the whole: the ratio that leaving it out moves most."""

from __future__ import annotations

import textwrap

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, rows_of
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.errors import StatsError
from stats.footing.units import show

MOST_DRAWN = 12
"""Studies that the chart shows; the table has them all."""
_MARKS = (
    ("moves it by a standard error or more", "circle"),
    ("moves it by less", "circle-open"),
)


def influence(frame: pd.DataFrame, *, reference: str, about: str) -> Chart:
    """Draw for each study how far the ratio that it moves most goes when the study is left out.

    Parameters
    ----------
    frame : pandas.DataFrame
        A row a study: study (its title), joint_name, ratio, without (the ratio when it is left out), shift_in_se
        (how far that is, in standard errors of the log ratio). Rows whose ``without`` is not a number, because
        joints rest on that study alone, are not drawn.
    reference : str
        Name of the joint that all are ratios to.
    about : str
        On how much the whole rests, for the chart's face.

    Returns
    -------
    Chart
        The study that moves most on top; at most `MOST_DRAWN`.

    Raises
    ------
    StatsError
        If no study can be left out.
    """
    known = frame[np.isfinite(frame["without"].to_numpy(float))]
    if known.empty:
        raise StatsError("frame (no ratio without a study is a number) must hold a study that can be left out.")
    ranked = known.sort_values("shift_in_se", ascending=False, kind="stable", ignore_index=True)
    drawn = rows_of(ranked.head(MOST_DRAWN))
    factor = [row.without / row.ratio for row in drawn]
    at = [float(i) for i in range(len(drawn))]
    fig = Figure()
    x, y = look.bar_segments([min(1.0, f) for f in factor], [max(1.0, f) for f in factor], at)
    fig.scatter(x=x, y=y, mode="lines", line={"width": 4, "color": look.BROKE}, showlegend=False, hoverinfo="skip")
    for (name, symbol), far in zip(_MARKS, (True, False), strict=True):
        rows = [(i, row) for i, row in enumerate(drawn) if (row.shift_in_se >= 1.0) == far]
        if not rows:
            continue
        fig.scatter(
            x=[factor[i] for i, _ in rows],
            y=[at[i] for i, _ in rows],
            mode="markers+text",
            marker={"symbol": symbol, "size": 11, "color": look.INK, "line": {"width": 1.6, "color": look.INK}},
            name=name,
            text=[f"{show(row.ratio)} → {show(row.without)}" for _, row in rows],
            textposition="top center",
            cliponaxis=False,
            hovertext=[
                f"without <b>{look.escape(row.study)}</b><br>{look.escape(row.joint_name)} ÷"
                f" {look.escape(reference)}: {show(row.ratio)} → {show(row.without)}<br>"
                f"{show(row.shift_in_se, digits=2)} of its standard errors"
                for _, row in rows
            ],
            hovertemplate="%{hovertext}<extra></extra>",
        )
    fig.vline(1.0, color=look.HELD, dash="dash")
    labels = [
        look.row_label(textwrap.shorten(row.study, 44, placeholder=" …"), look.wrap(row.joint_name, 24))
        for row in drawn
    ]
    rows_layout(
        fig,
        labels,
        "What leaving a study out does",
        f"to the ratio to {reference} that moves most",
        "ratio without the study ÷ ratio with it",
        about,
        log=True,
    )
    low, high = fig.layout["xaxis"]["range"]
    # Room for the words at the outermost marks.
    fig.update_xaxes(range=[low - 0.22 * (high - low), high + 0.22 * (high - low)])
    more = f" The {len(drawn)} that move most of {len(ranked)} are drawn." if len(ranked) > len(drawn) else ""
    summary = (
        f"How far the ratio to {reference} that a study moves most goes when that study is left out. At the dashed line"
        f" nothing changes; a filled mark: it moves by one of its standard errors or more.{more}"
    )
    return Chart(fig, influence_table(ranked), summary)


def influence_table(frame: pd.DataFrame) -> pd.DataFrame:
    """The table twin, columns named as a reader would; rows as given.

    Parameters
    ----------
    frame : DataFrame
        As for `influence`.

    Returns
    -------
    DataFrame
    """
    return pd.DataFrame(
        {
            "Without": frame["study"].array,
            "Moves most": frame["joint_name"].array,
            "Ratio with it": frame["ratio"].array,
            "Ratio without it": frame["without"].array,
            "In standard errors": frame["shift_in_se"].array,
        }
    )
