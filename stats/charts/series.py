"""Joints beside each other on one footing: what each took, specimen by specimen and on the whole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.charts import look
from stats.charts.chart import Chart, between, plain
from stats.charts.failures import failures
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
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
    points, series, ranges = (_of_rows(part, row_of) for part in (points, series, ranges))
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
            name,
            f"{look.counted(int(studies), 'study')}, {look.counted(int(series_of), 'series')},",
            look.counted(int(specimens), "specimen"),
        )
        for name, studies, series_of, specimens in _told(ranked, "joint_name", "studies", "series", "specimens")
    ]
    rows_layout(
        fig,
        labels,
        f"{footing}{f', {symbol}' if symbol else ''}{in_unit}",
        f"◆ geometric mean; bar: its {100 * level:g} % interval",
        f"{symbol or footing}{in_unit}",
        within,
        log=log,
    )
    return Chart(fig, group_table(ranked, unit, level), _summary(ranked, footing, unit, level, ranges is not None, log))


def _of_rows(part: pd.DataFrame | None, row_of: dict[Any, int]) -> pd.DataFrame | None:
    """What belongs to the chart's rows."""
    if part is None:
        return None
    there = np.array([joint in row_of for joint in part["joint"].tolist()], dtype=bool)
    return part if there.all() else part[there]


def _told(rows: pd.DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Some columns row by row: a frame's own rows would bring them all, which takes longer."""
    return zip(*(rows[name].tolist() for name in columns), strict=True)


def _add_specimens(fig: Figure, points: pd.DataFrame, row_of: dict[Any, int], unit: str) -> None:
    """A mark a specimen; a ring around those a check doubts."""
    placed = points.sort_values("specimen_id", kind="stable") if "specimen_id" in points else points
    row = np.array([row_of[joint] for joint in placed["joint"].tolist()], dtype=np.intp)
    y = row + MARK_LANE
    for at in np.unique(row):
        y[row == at] += look.spread(int((row == at).sum()))
    x, height, hover = plain(placed["value"]), y.tolist(), _specimen_hover(placed, unit)
    held = np.array([outcome == "held" for outcome in placed["outcome"].tolist()], dtype=bool)
    flagged = placed["flagged"].to_numpy(bool)
    marks: list[tuple[str, NDArray[np.bool_], dict[str, Any]]] = [
        ("broke", ~held, {"symbol": "circle", "size": 7, "color": look.BROKE, "opacity": look.SEEN_THROUGH}),
        ("held: took at least this", held, {"symbol": "triangle-up-open", "size": 9}),
        ("flagged by a check", flagged, {"symbol": "circle-cross-open", "size": 14}),
    ]
    colours = [None, look.HELD, look.FLAGGED]
    for (name, which, marker), colour in zip(marks, colours, strict=True):
        rows = np.flatnonzero(which).tolist()
        if not rows:
            continue
        if colour:
            marker |= {"color": colour, "line": {"width": 1.6, "color": colour}}
        fig.scatter(
            x=[x[at] for at in rows],
            y=[height[at] for at in rows],
            mode="markers",
            name=name,
            marker=marker,
            hovertext=[hover[at] for at in rows],
            hovertemplate="%{hovertext}<extra></extra>",
        )


def _specimen_hover(points: pd.DataFrame, unit: str) -> list[str]:
    ended = {"broke": "broke at", "held": "held: took at least"}
    lines = []
    told = _told(points, "value", "outcome", "flagged", "specimen", "series", "study")
    for value, outcome, flagged, specimen, series, study in told:
        doubt = "<br>flagged by a check" if flagged else ""
        who = f"{look.escape(specimen)}, series {look.escape(series)}<br>{look.wrap(study, 40)}"
        lines.append(f"{ended.get(outcome, outcome)} <b>{show(value, unit)}</b>{doubt}<br>{who}")
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
            opacity=look.SEEN_THROUGH,
            hovertemplate=f"%{{x:.3~g}} {unit}<extra>{name}</extra>",
        )


def _add_series(fig: Figure, series: pd.DataFrame, row_of: dict[Any, int], unit: str) -> None:
    """A tick at each series' geometric mean; a square where only a mean was published."""
    every = list(_told(series, "joint", "geometric_mean", "series", "n", "study", "summary_only"))
    for name, published, symbol, size in (
        ("a series' geometric mean", False, "line-ns-open", 17),
        ("a published mean only", True, "square-open", 10),
    ):
        rows = [one for one in every if bool(one[-1]) == published]
        if not rows:
            continue
        fig.scatter(
            x=plain([mean for _, mean, *_ in rows]),
            y=[row_of[joint] + MARK_LANE for joint, *_ in rows],
            mode="markers",
            name=name,
            marker={
                "symbol": symbol,
                "size": size,
                "color": look.INK,
                "line": {"width": 1.8, "color": look.INK},
            },
            hovertext=[
                f"series {look.escape(label)}, geometric mean <b>{show(mean, unit)}</b>"
                f"<br>{_count_text(n)}<br>{look.wrap(study, 40)}"
                for _, mean, label, n, study, _ in rows
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
        text=[f"<b>{show(mean)}</b>" if math.isfinite(mean) else "" for mean in ranked["geometric_mean"].tolist()],
        textposition="top center",
        textfont={"size": 12},
        cliponaxis=False,
        hovertext=[
            f"{look.escape(name)}<br>geometric mean <b>{show(mean, unit)}</b>"
            f"<br>{_interval_text(low, high, unit, level)}"
            for name, mean, low, high in _told(ranked, "joint_name", "geometric_mean", "low", "high")
        ],
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _interval_text(low: float, high: float, unit: str, level: float) -> str:
    if not (math.isfinite(low) and math.isfinite(high)):
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
            "Joint": ranked["joint_name"].array,
            f"Geometric mean{in_unit}": ranked["geometric_mean"].array,
            f"{100 * level:g} % interval": between(ranked["low"], ranked["high"]),
            "Studies": ranked["studies"].array,
            "Series": ranked["series"].array,
            "Specimens": ranked["specimens"].array,
            "Held": ranked["held"].array,
            "Flagged": ranked["flagged"].array,
            "Spread (CV), %": ranked["cv_pct"].array,
            f"Lower limit{in_unit}": ranked["limit_5pct"].array,
            "Note": ranked["note"].array,
        },
        index=ranked.index,
    )


def _summary(ranked: pd.DataFrame, footing: str, unit: str, level: float, crowded: bool, log: bool) -> str:
    means = zip(ranked["joint_name"].tolist(), ranked["geometric_mean"].tolist(), strict=True)
    known = [(name, mean) for name, mean in means if math.isfinite(mean)]
    said = f"{footing}{f' in {unit}' if unit else ''} of {look.counted(len(ranked), 'joint')}"
    said += ", strongest first." if len(ranked) > 1 else "."
    if len(known) > 1:
        (top, most), (last, least) = known[0], known[-1]
        said += f" The geometric means run from {show(most, unit)} ({top}) to {show(least, unit)} ({last})."
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
