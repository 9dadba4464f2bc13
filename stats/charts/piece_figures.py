"""Curves for a piece and for a plan: margin over a size, leverage, joints that share, power, the year's movement."""

from __future__ import annotations

from typing import Any

import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, plain
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout, xy_layout
from stats.charts.ticks import linear_ticks, tick_text
from stats.errors import StatsError
from stats.footing.units import from_si, show
from stats.inference.planning import power_at
from stats.practice.assembly import LOW_SHARE, Sharing
from stats.practice.leverage import Leverage
from stats.practice.plan import PowerCurve

THIN, WIDE = 1.6, 3.0
"""Widths of lines that surround, and of those that say it [px]."""


def margin_over_size(frame: pd.DataFrame, *, size: str, about: str, level: float = 0.9, length: str = "mm") -> Chart:
    """Draw the margin over one size of the joint.

    Parameters
    ----------
    frame : pandas.DataFrame
        As `stats.practice.margin.over_size` gives it.
    size : str
        What the size is: "tenon length".
    about : str
        Joint, timber and piece, for the chart's face.
    level : float, optional
        Level of the interval for a single joint.
    length : str, optional
        Unit that the size is shown in.

    Returns
    -------
    Chart
        Sizes that can't be built are a gap in the lines, and have their reason in the table.

    Raises
    ------
    StatsError
        If no size gives a margin.
    """
    if frame["margin"].isna().all():
        raise StatsError("frame (no margin is a number) must hold a size that can be built.")
    fig = Figure()
    sizes = from_si(frame["size_mm"], "length", length)
    x = plain(sizes)
    two_ways = bool((frame["upper"] > frame["margin"] * (1 + 1e-9)).any())
    rows = [
        ("margin", "lower limit", {"width": WIDE, "color": look.BROKE}),
        ("upper", "lower limit, if only glue (or wood) decided",
         {"width": WIDE, "color": look.BROKE, "dash": "dash"}),
        ("typical", "a middling joint", {"width": THIN, "color": look.INK}),
        ("low", f"{100 * level:g} % of single joints lie between", {"width": THIN, "color": look.HELD, "dash": "dot"}),
        ("high", "", {"width": THIN, "color": look.HELD, "dash": "dot"}),
    ]  # fmt: skip
    for column, name, line in rows:
        if column != "upper" or two_ways:
            _line(fig, x, plain(frame[column]), name, line)
    fig.hline(1.0, color=look.FLAGGED, width=2, dash="dash")
    xy_layout(
        fig,
        f"Margin over {size}",
        f"{about}; at the dashed line a joint bears just what is asked",
        f"{size}, {length}",
        "margin",
    )
    built = frame.dropna(subset=["margin"])
    first, last = built.iloc[0], built.iloc[-1]
    ends = [show(from_si(one["size_mm"], "length", length), length) for one in (first, last)]
    missing = len(frame) - len(built)
    summary = (
        f"What the joint gives over what the piece asks, for {size} from {ends[0]} to"
        f" {ends[1]}: by the lower limit {show(first['margin'])} to {show(last['margin'])}. At 1 "
        f"the two are equal; nothing here says how far above 1 is far enough."
        + (f" {look.counted(missing, 'size')} can't be built." if missing else "")
    )
    table = pd.DataFrame(
        {
            f"{size[:1].upper()}{size[1:]}, {length}": sizes,
            "Margin, lower limit": frame["margin"],
            "If only glue (or wood) decided": frame["upper"],
            "A middling joint": frame["typical"],
            "Single joints, from": frame["low"],
            "to": frame["high"],
            "Note": frame["reason"],
        }
    )
    return Chart(fig, table, summary)


def leverage_curve(found: Leverage, *, about: str, length: str = "mm", force: str = "N", moment: str = "N·m") -> Chart:
    """Draw the force that breaks a joint over the length of its member.

    Parameters
    ----------
    found : Leverage
        From `stats.practice.leverage.leverage`.
    about : str
        Joint and timber, for the chart's face.
    length, force, moment : str, optional
        Units to show it in.

    Returns
    -------
    Chart
    """
    fig = Figure()
    arm = from_si(found.table["arm_mm"], "length", length)
    lower, middling_n = (from_si(found.table[name], "force", force) for name in ("force_n", "typical_n"))
    pushed = from_si(found.push_n, "force", force)
    x = plain(arm)
    _line(fig, x, plain(lower), "force that breaks it", {"width": WIDE, "color": look.BROKE})
    if found.typical_nm is not None:
        middling = "force that breaks a middling joint"
        _line(fig, x, plain(middling_n), middling, {"width": THIN, "color": look.INK})
    # A line of its own and no mere mark, so that it has its words beside the others.
    push = f"a push of {show(pushed, force)}"
    _line(fig, [x[0], x[-1]], [pushed] * 2, push, {"width": 2, "color": look.HELD, "dash": "dash"})
    meaning = f"{about}; where the lines cross, the push breaks it"
    axes = f"from joint to push, {length}", f"force, {force}"
    xy_layout(fig, "The same joint, longer members", meaning, *axes, log_y=True)
    bears, reach = from_si(found.moment_nm, "moment", moment), from_si(found.reach_mm, "length", length)
    summary = (
        f"Force at the end of a member that breaks a joint of {show(bears, moment)}. From a length of"
        f" {show(reach, length)} on, a push of {show(pushed, force)} does ({found.push_source}). Twice the length"
        " halves the force: a short test piece hides that."
    )
    columns = {f"From joint to push, {length}": arm, f"Force that breaks it, {force}": lower}
    if found.typical_nm is not None:
        columns[f"A middling joint, {force}"] = middling_n
    return Chart(fig, pd.DataFrame(columns), summary)


def sharing_bounds(found: Sharing, *, about: str) -> Chart:
    """Draw what several joints hold together, one row a bound.

    Parameters
    ----------
    found : Sharing
        From `stats.practice.assembly.share`.
    about : str
        Joint and piece, for the chart's face.

    Returns
    -------
    Chart
    """
    fig = Figure()
    bounds = found.bounds
    exceeded = f"{100 * (1 - LOW_SHARE):g} of 100 exceed this"
    low = [(i, one.low, one.mean) for i, one in enumerate(bounds) if one.low is not None]
    x, y = look.bar_segments([a for _, a, _ in low], [b for _, _, b in low], [float(i) for i, _, _ in low])
    fig.scatter(x=x, y=y, mode="lines", line={"width": 3, "color": look.BROKE}, hoverinfo="skip", showlegend=False)
    _marks(fig, [(i, one.mean) for i, one in enumerate(bounds)], "on average", "diamond", look.INK, found.unit)
    _marks(fig, [(i, a) for i, a, _ in low], exceeded, "line-ns-open", look.BROKE, "")
    # From nothing up, so that lengths compare as loads do.
    fig.vline(0.0, color=look.LINE)
    labels = [look.row_label(one.name, f"{100 * one.of_product:.0f} % of the product") for one in bounds]
    title = f"What {look.counted(found.n, 'joint')} hold together"
    unit = f"load, {found.unit}" if found.unit else "load"
    rows_layout(fig, labels, title, "bounds under different assumptions", unit, about, log=False)
    ends = fig.layout["xaxis"]["range"]
    # Room for the numbers at the outermost marks.
    ticks = [tick + 0.0 for tick in linear_ticks(0.0, ends[1])]  # no minus before nothing
    ticks = ticks if len(ticks) < 6 else ticks[::2]
    fig.update_xaxes(
        range=[ends[0], ends[1] + 0.12 * (ends[1] - ends[0])],
        tickvals=ticks,
        ticktext=[tick_text(tick) for tick in ticks],
    )
    table = pd.DataFrame(
        {
            "Bound": [one.name for one in bounds],
            f"On average, {found.unit}": [one.mean for one in bounds],
            f"{exceeded[0].upper()}{exceeded[1:]}, {found.unit}": [one.low for one in bounds],
            "Of the product": [one.of_product for one in bounds],
            "Formula": [one.formula for one in bounds],
            "Assumes": [one.assumption for one in bounds],
        }
    )
    return Chart(fig, table, found.words)


def power_chart(found: PowerCurve) -> Chart:
    """Draw the chance of telling a ratio over the number of specimens.

    Parameters
    ----------
    found : PowerCurve
        From `stats.practice.plan.power_curve`.

    Returns
    -------
    Chart
    """
    plan = found.plan
    fig = Figure()
    x = plain(found.table["n"])
    line = {"width": WIDE, "color": look.BROKE}
    _line(fig, x, plain(100 * found.table["power"]), f"a ratio of {show(plan.ratio)}", line)
    fig.scatter(
        x=[float(plan.n)],
        y=[100 * plan.power_at_n],
        mode="markers",
        name=f"{plan.n} of each joint",
        marker={"symbol": "diamond", "size": 12, "color": look.INK},
        hovertemplate="%{x} of each: %{y:.0f} %<extra></extra>",
    )
    fig.hline(100 * plan.power, color=look.HELD, width=2, dash="dash")
    meaning = f"spread {100 * plan.cv:.0f} %; dashed: the {100 * plan.power:.0f} % wanted"
    xy_layout(fig, "How many specimens", meaning, "specimens of each joint", "chance of telling it, %")
    summary = (
        f"Chance that a test tells two joints apart whose strengths stand as {show(plan.ratio)} to 1, when specimens "
        f"alike spread by {100 * plan.cv:.0f} %. {plan.n} of each give {100 * plan.power_at_n:.0f} %."
    )
    if found.at_n is not None:
        seen = found.at_n
        chance = 100 * power_at(seen.n, plan.ratio, plan.cv, plan.alpha)
        own = "" if seen.n == plan.n else f"{seen.n} of each give {chance:.0f} %; "
        told = f"{seen.n} of each" if not own else "they"
        summary += f" {own}{told} tell a ratio of {show(seen.ratio)} with {100 * seen.power:.0f} %."
    table = pd.DataFrame(
        {
            "Specimens of each joint": found.table["n"],
            f"Chance of telling {show(plan.ratio)}": found.table["power"],
            f"Ratio told with {100 * plan.power:.0f} %": found.table["detectable"],
        }
    )
    return Chart(fig, table, summary)


def year_chart(frame: pd.DataFrame, *, about: str, length: str = "mm") -> Chart:
    """Draw what the seasons do to a width.

    Parameters
    ----------
    frame : pandas.DataFrame
        As `stats.practice.movement.year` gives it.
    about : str
        Width and timber, for the chart's face.
    length : str, optional
        Unit of the width.

    Returns
    -------
    Chart
    """
    fig = Figure()
    change = from_si(frame["change_mm"], "length", length)
    places = 1 if length == "mm" else 3
    months = [float(i) for i in range(1, len(frame) + 1)]
    fig.scatter(
        x=months,
        y=plain(change),
        mode="lines+markers",
        name="change of width",
        line={"width": WIDE, "color": look.BROKE},
        marker={"symbol": "circle", "size": 7, "color": look.BROKE},
        hovertext=[
            f"{row.month}: {wider:+.{places}f} {length}<br>{row.temperature_c:g} °C, {row.rh_pct:g} %,"
            f" wood {row.emc_pct:.1f} %"
            for row, wider in zip(frame.itertuples(), change, strict=True)
        ],
        hovertemplate="%{hovertext}<extra></extra>",
    )
    fig.hline(0.0, color=look.HELD, width=2, dash="dash")
    meaning = f"{about}; dashed: the day it was glued"
    xy_layout(fig, "Movement over the year", meaning, "month", f"change of width, {length}")
    fig.update_xaxes(tickvals=months, ticktext=[str(month)[:1] for month in frame["month"]])
    swing = float(change.max() - change.min())
    widest, narrowest = (frame.loc[at, "month"] for at in (frame["change_mm"].idxmax(), frame["change_mm"].idxmin()))
    summary = (
        f"Over the year the width swings by {show(swing, length)}, widest in {widest} and narrowest in {narrowest}, if "
        "the wood follows the air each month. Thick or finished wood lags and swings less."
    )
    table = pd.DataFrame(
        {
            "Month": frame["month"],
            "Air, °C": frame["temperature_c"],
            "Humidity, %": frame["rh_pct"],
            "Wood, %": frame["emc_pct"],
            f"Change of width, {length}": change,
        }
    )
    return Chart(fig, table, summary)


def _line(fig: Figure, x: list[Any], y: list[Any], name: str, line: dict[str, Any]) -> None:
    fig.scatter(
        x=x,
        y=y,
        mode="lines",
        name=name or None,
        showlegend=bool(name),
        line=line,
        hovertemplate=f"%{{x:.4~g}}: %{{y:.3~g}}<extra>{look.escape(name)}</extra>",
    )


def _marks(fig: Figure, rows: list[tuple[int, float]], name: str, symbol: str, colour: str, unit: str) -> None:
    """A mark a row, with its number above where it has a unit to show."""
    texts = [f"<b>{show(value)}</b>" if unit else "" for _, value in rows]
    fig.scatter(
        x=[value for _, value in rows],
        y=[float(i) for i, _ in rows],
        mode="markers+text",
        name=name,
        marker={"symbol": symbol, "size": 13, "color": colour, "line": {"width": 1.8, "color": colour}},
        text=texts,
        textposition="top center",
        textfont={"size": 12},
        cliponaxis=False,
        hovertemplate=f"{look.escape(name)}: %{{x:.3~g}} {look.escape(unit)}<extra></extra>",
    )
