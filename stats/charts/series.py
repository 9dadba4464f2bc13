"""Joints beside each other on one footing: what each took, specimen by specimen and on the whole."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, between, plain
from stats.charts.failures import failures
from stats.charts.figure import Figure
from stats.charts.ratios import ratios
from stats.errors import StatsError
from stats.footing.units import show

__all__ = ["failures", "group_table", "ratios", "strength"]

# Lanes of a row, measured downwards from its middle.
MEAN_LANE = -0.24
MARK_LANE = 0.16


def strength(
    points: pd.DataFrame | None,
    series: pd.DataFrame | None,
    groups: pd.DataFrame,
    *,
    ranges: pd.DataFrame | None = None,
    footing: str,
    unit: str,
    level: float,
    symbol: str = "",
    within: str = "",
    log: bool = True,
) -> Chart:
    """Draw every specimen, every series' mean and each joint's mean with its interval, a row a joint.

    Parameters
    ----------
    points : pandas.DataFrame or None
        A row a specimen: joint, value, outcome, flagged, specimen, series, study.
    series : pandas.DataFrame or None
        A row a series: joint, series, study, n, geometric_mean, summary_only; None draws none.
    groups : pandas.DataFrame
        A row a joint: joint, joint_name, studies, series, specimens, held, flagged, geometric_mean, low,
        high, cv_pct, limit_5pct, note.
    ranges : pandas.DataFrame, optional
        A row a joint: joint, lowest, low, high, highest; between what its specimens lie, all and the middle 80 % of
        them. Drawn instead of `points`, which are then not needed.
    footing, symbol, unit : str
        Name of the footing, its symbol and its unit ("" for a ratio).
    level : float
        Confidence level of the intervals, 0 to 1.
    within : str, optional
        What all that is drawn has in common, such as one size, said on the chart's face.
    log : bool, optional
        Whether the axis is logarithmic, so that equal ratios are equal distances.

    Returns
    -------
    Chart
        The strongest joint on top.

    Raises
    ------
    StatsError
        If `groups` is empty or `level` is not between 0 and 1.

    Notes
    -----
    Above `look.MOST_MARKS` marks the specimens of a joint are drawn as two lines, their full range and their
    middle 80 %, and the summary says so.
    """
    if groups.empty:
        raise StatsError("groups (0 rows) must have at least one joint to draw.")
    if not 0 < level < 1:
        raise StatsError(f"level ({level}) must be between 0 and 1.")
    ranked = groups.sort_values("geometric_mean", ascending=False, na_position="last", kind="stable")
    ranked = ranked.reset_index(drop=True)
    row_of = {joint: i for i, joint in enumerate(ranked["joint"])}
    points, series, ranges = (
        None if part is None else part[part["joint"].isin(row_of)] for part in (points, series, ranges)
    )
    if ranges is None and points is not None and len(points) + _count(series) > look.MOST_MARKS:
        ranges = _ranges(points)

    fig = Figure()
    if ranges is not None:
        _add_ranges(fig, ranges, row_of, unit)
    elif points is not None:
        _add_specimens(fig, points, row_of, unit)
    if series is not None and len(series) <= look.MOST_MARKS:
        _add_series(fig, series, row_of, unit)
    _add_means(fig, ranked, unit, level)
    in_unit = f" [{unit}]" if unit else ""
    labels = [
        look.row_label(
            g.joint_name,
            f"{look.counted(int(g.studies), 'study')}, {look.counted(int(g.series), 'series')},",
            look.counted(int(g.specimens), "specimen"),
        )
        for g in ranked.itertuples()
    ]
    look.rows_layout(
        fig,
        labels,
        f"{footing}{f', {symbol}' if symbol else ''}{in_unit}",
        f"◆ geometric mean; bar: its {100 * level:g} % interval",
        f"{symbol or footing}{in_unit}",
        within,
        log=log,
    )
    return Chart(fig, group_table(ranked, unit, level), _summary(ranked, footing, unit, level, ranges is not None, log))


def _add_specimens(fig: Figure, points: pd.DataFrame, row_of: dict[Any, int], unit: str) -> None:
    """A mark a specimen; a ring around those a check doubts."""
    placed = points.sort_values("specimen_id", kind="stable") if "specimen_id" in points else points
    offsets = placed.groupby("joint", sort=False)["value"].transform(lambda v: look.spread(len(v)))
    placed = placed.assign(y=placed["joint"].map(row_of).astype(float) + MARK_LANE + offsets.astype(float))
    placed = placed.assign(hover=_specimen_hover(placed, unit))
    held = placed["outcome"] == "held"
    flagged = placed["flagged"].astype(bool)
    marks = [
        ("broke", placed[~held], {"symbol": "circle", "size": 7, "color": look.BROKE, "opacity": 0.6}),
        ("held: took at least this", placed[held], {"symbol": "triangle-up-open", "size": 9}),
        ("flagged by a check", placed[flagged], {"symbol": "circle-cross-open", "size": 14}),
    ]
    colours = [None, look.HELD, look.FLAGGED]
    for (name, rows, marker), colour in zip(marks, colours, strict=True):
        if rows.empty:
            continue
        if colour:
            marker |= {"color": colour, "line": {"width": 1.6, "color": colour}}
        fig.scatter(
            x=plain(rows["value"]),
            y=plain(rows["y"]),
            mode="markers",
            name=name,
            marker=marker,
            hovertext=list(rows["hover"]),
            hovertemplate="%{hovertext}<extra></extra>",
        )


def _specimen_hover(points: pd.DataFrame, unit: str) -> list[str]:
    ended = {"broke": "broke at", "held": "held: took at least"}
    lines = []
    for p in points.itertuples():
        value = f"{ended.get(p.outcome, p.outcome)} <b>{show(p.value, unit)}</b>"
        doubt = "<br>flagged by a check" if p.flagged else ""
        who = f"{look.escape(p.specimen)}, series {look.escape(p.series)}<br>{look.wrap(p.study, 40)}"
        lines.append(f"{value}{doubt}<br>{who}")
    return lines


def _count(rows: pd.DataFrame | None) -> int:
    return 0 if rows is None else len(rows)


def _ranges(points: pd.DataFrame) -> pd.DataFrame:
    """Between what the specimens of each joint lie."""
    quantiles = points.groupby("joint", sort=False)["value"].quantile([0, 0.1, 0.9, 1]).unstack()
    quantiles.columns = ["lowest", "low", "high", "highest"]
    return quantiles.reset_index()


def _add_ranges(fig: Figure, ranges: pd.DataFrame, row_of: dict[Any, int], unit: str) -> None:
    """The spread of each joint's specimens, where marks would be too many to tell apart."""
    heights = [row_of[joint] + MARK_LANE for joint in ranges["joint"]]
    for name, low, high, width in (
        ("all specimens, lowest to highest", "lowest", "highest", 2),
        ("middle 80 % of specimens", "low", "high", 9),
    ):
        x, y = look.bar_segments(plain(ranges[low]), plain(ranges[high]), heights)
        fig.scatter(
            x=x,
            y=y,
            mode="lines",
            name=name,
            line={"width": width, "color": look.BROKE},
            opacity=0.55,
            hovertemplate=f"%{{x:.3~g}} {unit}<extra>{name}</extra>",
        )


def _add_series(fig: Figure, series: pd.DataFrame, row_of: dict[Any, int], unit: str) -> None:
    """A tick at each series' geometric mean; a square where only a mean was published."""
    published = series["summary_only"].astype(bool)
    for name, rows, symbol, size in (
        ("a series' geometric mean", series[~published], "line-ns-open", 17),
        ("a published mean only", series[published], "square-open", 10),
    ):
        if rows.empty:
            continue
        fig.scatter(
            x=plain(rows["geometric_mean"]),
            y=[row_of[joint] + MARK_LANE for joint in rows["joint"]],
            mode="markers",
            name=name,
            marker={
                "symbol": symbol,
                "size": size,
                "color": look.INK,
                "line": {"width": 1.8, "color": look.INK},
            },
            hovertext=[
                f"series {look.escape(s.series)}, geometric mean <b>{show(s.geometric_mean, unit)}</b>"
                f"<br>{_count_text(s.n)}<br>{look.wrap(s.study, 40)}"
                for s in rows.itertuples()
            ],
            hovertemplate="%{hovertext}<extra></extra>",
        )


def _count_text(n: Any) -> str:
    return look.counted(int(n), "specimen") if pd.notna(n) else "number of specimens not stated"


def _add_means(fig: Figure, ranked: pd.DataFrame, unit: str, level: float) -> None:
    """Each joint's geometric mean, written out, on the bar of its interval."""
    heights = [i + MEAN_LANE for i in range(len(ranked))]
    x, y = look.bar_segments(plain(ranked["low"]), plain(ranked["high"]), heights)
    fig.scatter(x=x, y=y, mode="lines", line={"width": 3, "color": look.INK}, hoverinfo="skip", showlegend=False)
    fig.scatter(
        x=plain(ranked["geometric_mean"]),
        y=heights,
        mode="markers+text",
        name="the joint's geometric mean",
        marker={
            "symbol": "diamond",
            "size": 12,
            "color": look.INK,
            "line": {"width": 1, "color": look.SHEET},
        },
        text=[f"<b>{show(g, '')}</b>" if np.isfinite(g) else "" for g in ranked["geometric_mean"]],
        textposition="top center",
        textfont={"size": 12},
        cliponaxis=False,
        hovertext=[
            f"{look.escape(g.joint_name)}<br>geometric mean <b>{show(g.geometric_mean, unit)}</b>"
            f"<br>{_interval_text(g.low, g.high, unit, level)}"
            for g in ranked.itertuples()
        ],
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _interval_text(low: float, high: float, unit: str, level: float) -> str:
    if not (np.isfinite(low) and np.isfinite(high)):
        return "too few results for an interval"
    return f"{100 * level:g} % interval {show(low)} to {show(high, unit)}"


def group_table(ranked: pd.DataFrame, unit: str, level: float) -> pd.DataFrame:
    """The groups as the chart's table twin has them.

    Parameters
    ----------
    ranked : pandas.DataFrame
        A row a joint, as `strength` takes them.
    unit : str
        Unit of the footing, "" for a ratio.
    level : float
        Level of the intervals.

    Returns
    -------
    pandas.DataFrame
        Columns named as a reader would.
    """
    in_unit = f", {unit}" if unit else ""
    return pd.DataFrame(
        {
            "Joint": ranked["joint_name"],
            f"Geometric mean{in_unit}": ranked["geometric_mean"],
            f"{100 * level:g} % interval": between(ranked["low"], ranked["high"]),
            "Studies": ranked["studies"],
            "Series": ranked["series"],
            "Specimens": ranked["specimens"],
            "Held": ranked["held"],
            "Flagged": ranked["flagged"],
            "Spread (CV), %": ranked["cv_pct"],
            f"Lower limit{in_unit}": ranked["limit_5pct"],
            "Note": ranked["note"],
        }
    )


def _summary(ranked: pd.DataFrame, footing: str, unit: str, level: float, crowded: bool, log: bool) -> str:
    known = ranked[np.isfinite(ranked["geometric_mean"].astype(float))]
    said = f"{footing}{f' in {unit}' if unit else ''} of {look.counted(len(ranked), 'joint')}"
    said += ", strongest first." if len(ranked) > 1 else "."
    if len(known) > 1:
        top, last = known.iloc[0], known.iloc[-1]
        said += (
            f" The geometric means run from {show(top['geometric_mean'], unit)} ({top['joint_name']}) to"
            f" {show(last['geometric_mean'], unit)} ({last['joint_name']})."
        )
    said += (
        f" A bar is the {100 * level:g} % interval of the joint's geometric mean: where the mean of such"
        " joints probably lies, not where the next joint will break."
    )
    if crowded:
        total = int(ranked["specimens"].sum())
        said += (
            f" {look.counted(total, 'specimen')} are too many to tell apart, so each joint's"
            " are drawn as a thin line over their whole range and a thick one over their middle 80 %."
        )
    else:
        said += " Each small mark is one specimen."
    return said + (" Equal distances along the axis are equal ratios." if log else "")
