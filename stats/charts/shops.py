"""Where a shop stands among others: z-scores, and Mandel's h and k with their critical values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, plain
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.errors import StatsError
from stats.footing.units import show

DOUBTFUL, OUT = 2.0, 3.0
"""A z-score beyond the first is unusual, beyond the second out of line (ISO 13528)."""


@dataclass(frozen=True)
class _Statistic:
    """How one of Mandel's statistics is drawn and told."""

    title: str
    meaning: str
    at: float
    both: bool
    says: str


MANDEL = {
    "h": _Statistic(
        "Mandel's h: how high each shop reads",
        "0: as the mean of the shops",
        0.0,
        True,
        "how far a shop's mean lies from that of all shops, in standard deviations of the shops' means",
    ),
    "k": _Statistic(
        "Mandel's k: how far each shop's own results scatter",
        "1: as all shops' together",
        1.0,
        False,
        "the scatter within a shop over that within all shops together",
    ),
}


def z_scores(rows: pd.DataFrame, *, shop: str, about: str = "") -> Chart:
    """Draw a shop's z-score on each joint that it shares, with those of the other shops.

    Parameters
    ----------
    rows : pandas.DataFrame
        A row a shop and joint: joint, joint_name, shops (of that joint), study (the shop), y (mean log), assigned (the
        others' mean log), z, verdict.
    shop : str
        The one that stands out in the drawing.
    about : str, optional
        What was measured, for the chart's face.

    Returns
    -------
    Chart
        One row a joint, in the order of the rows.

    Raises
    ------
    StatsError
        If the shop has no row.
    """
    own = _own(rows, shop)
    fig = Figure()
    at = _places(own)
    _marks(fig, rows[rows["study"] != shop], at, "z", "other shops", "circle-open", 7, look.SOFT)
    _marks(fig, own, at, "z", "this shop", "diamond", 13, look.BROKE, text=True)
    fig.vline(0.0, color=look.LINE)
    for limit, dash in ((DOUBTFUL, "dash"), (OUT, "dot")):
        for sign in (-1.0, 1.0):
            fig.vline(sign * limit, color=look.HELD, dash=dash)
    labels = [look.row_label(row.joint_name, look.counted(int(row.shops), "shop")) for row in own.itertuples()]
    meaning = "dashed: ±2, unusual beyond; dotted: ±3"
    rows_layout(fig, labels, "This shop against the others", meaning, "z-score", about, log=False)
    summary = (
        f"z-scores of {look.counted(len(own), 'joint')} that this shop shares with at least three others: how far its"
        " mean lies from the mean of the others, over what shops differ by. Within 2 is usual, beyond 3 is out of line;"
        " it is a reason to look, not a verdict."
    )
    table = pd.DataFrame(
        {
            "Joint": own["joint_name"],
            "Shops": own["shops"],
            "This shop": np.exp(own["y"]),
            "Mean of the others": np.exp(own["assigned"]),
            "This ÷ others": np.exp(own["y"] - own["assigned"]),
            "z": own["z"],
            "In words": own["verdict"].replace({"doubtful": "unusual"}),
        }
    )
    return Chart(fig, table, summary)


def mandel(rows: pd.DataFrame, which: str, *, shop: str, about: str = "") -> Chart:
    """Draw Mandel's h or k of every shop by joint, with the value that one shop in two hundred would pass by chance.

    Parameters
    ----------
    rows : pandas.DataFrame
        A row a shop and joint, as `stats.inference.interlab.precision` gives them, with joint_name besides.
    which : {"h", "k"}
        Which of the two.
    shop : str
        The one that stands out in the drawing.
    about : str, optional
        What was measured, for the chart's face.

    Returns
    -------
    Chart
        One row a joint, in the order of the rows.

    Raises
    ------
    StatsError
        For another statistic, or if the shop has no row.
    """
    if which not in MANDEL:
        raise StatsError(f"which ({which!r}) must be h or k.")
    kind, critical = MANDEL[which], f"{which}_critical"
    own = _own(rows, shop)
    fig = Figure()
    at = _places(own)
    _marks(fig, rows[rows["study"] != shop], at, which, "other shops", "circle-open", 7, look.SOFT)
    _marks(fig, own, at, which, "this shop", "diamond", 13, look.BROKE, text=True)
    limits = own[np.isfinite(own[critical].to_numpy(float))]
    x = [sign * value for value in limits[critical] for sign in ((-1.0, 1.0) if kind.both else (1.0,))]
    y = [float(at[joint]) for joint in limits["joint"] for _ in ((0, 1) if kind.both else (0,))]
    if x:
        fig.scatter(
            x=plain(x),
            y=y,
            mode="markers",
            name="critical value, 0.5 %",
            marker={
                "symbol": "line-ns-open",
                "size": 26,
                "color": look.HELD,
                "line": {"width": 2.5, "color": look.HELD},
            },
            hoverinfo="skip",
        )
    fig.vline(kind.at, color=look.LINE)
    shops = rows.groupby("joint")["study"].nunique()
    labels = [look.row_label(row.joint_name, look.counted(int(shops[row.joint]), "shop")) for row in own.itertuples()]
    rows_layout(fig, labels, kind.title, kind.meaning, which, about, log=False)
    beyond = int((own[which].abs() > own[critical]).sum())
    summary = (
        f"Mandel's {which} by joint: {kind.says}. This shop passes the critical value on {beyond or 'none'} of"
        f" {look.counted(len(own), 'joint')}; a shop like the others passes it once in two hundred."
    )
    table = pd.DataFrame(
        {
            "Joint": own["joint_name"],
            "Shops": [int(shops[joint]) for joint in own["joint"]],
            "Specimens of this shop": own["n"],
            which: own[which],
            f"Critical value of {which}": own[critical],
            "Largest of the other shops": [_largest(rows, joint, shop, which) for joint in own["joint"]],
        }
    )
    return Chart(fig, table, summary)


def _own(rows: pd.DataFrame, shop: str) -> pd.DataFrame:
    own = rows[rows["study"] == shop]
    if own.empty:
        raise StatsError(f"rows holds nothing of shop {shop!r}.")
    return own.reset_index(drop=True)


def _places(own: pd.DataFrame) -> dict[Any, float]:
    return {joint: float(i) for i, joint in enumerate(own["joint"])}


def _largest(rows: pd.DataFrame, joint: object, shop: str, which: str) -> float:
    """The value furthest from usual among the other shops."""
    others = rows[(rows["joint"] == joint) & (rows["study"] != shop)][which].dropna()
    return float(others.loc[others.abs().idxmax()]) if len(others) else float("nan")


def _marks(
    fig: Figure,
    rows: pd.DataFrame,
    at: dict[Any, float],
    column: str,
    name: str,
    symbol: str,
    size: int,
    color: str,
    *,
    text: bool = False,
) -> None:
    shown = rows[rows["joint"].isin(at) & np.isfinite(rows[column].to_numpy(float))]
    if shown.empty:
        return
    labels = {"text": [f"<b>{_signed(v)}</b>" for v in shown[column]], "textposition": "top center"} if text else {}
    fig.scatter(
        x=plain(shown[column]),
        y=[at[joint] for joint in shown["joint"]],
        mode="markers+text" if text else "markers",
        name=name,
        marker={"symbol": symbol, "size": size, "color": color, "line": {"width": 1.4, "color": color}},
        hovertext=[
            f"{look.escape(row.study)}, {look.escape(row.joint_name)}: <b>{_signed(getattr(row, column))}</b>"
            for row in shown.itertuples()
        ],
        hovertemplate="%{hovertext}<extra></extra>",
        cliponaxis=False,
        **labels,
    )


def _signed(value: float) -> str:
    """Two digits after the point, with a true minus."""
    return f"{value:.2f}".replace("-", "−") if abs(value) < 100 else show(value)
