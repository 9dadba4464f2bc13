"""What is known of the joints in a timber, and of its own solid bars, as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from django.urls import reverse

from results.evidence import Choices, Comparison, compare
from results.kept import once
from results.models import SeriesFooting, Timber
from results.site.choices import told_now
from stats.charts.chart import Chart, between

from . import scale, tables
from .comparison import chart_of, left_out_table
from .wording import how_invented, with_unit

# The two footings of the table: the one that holds across timbers, and the stress within this one.
RATIO, STRESS = "ratio_solid", "stress"
SOLID = "solid"


@dataclass(frozen=True)
class Solid:
    """A timber's own solid bars against the handbook.

    Parameters
    ----------
    studies, specimens : int
    mean, low, high : float
        Their bending strength over the handbook's, over studies [-].
    prediction_low, prediction_high : float
        What the next shop may find; NaN below three studies.
    table : Table
        A row a series.
    query : str
        The comparison that says it.
    """

    studies: int
    specimens: int
    mean: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    table: tables.Table
    query: str


@dataclass(frozen=True)
class Shown:
    """What the page says for one action and kind of test."""

    joints: tables.Table | None
    chart: Chart | None
    chart_query: str
    left_out: tables.Table | None
    queries: dict[str, str]
    invented: str
    solid: Solid | None


def shown(timber: Timber, choices: Choices) -> Shown:
    """All of it, worked out once for each state of the data."""
    name = f"timber page {choices.query(invented=choices.with_invented)}{told_now()}"
    return once(name, lambda: _worked_out(timber, choices))


def _worked_out(timber: Timber, choices: Choices) -> Shown:
    on = {code: compare(replace(choices, footing=code)) for code in (RATIO, STRESS)}
    drawn = next((found for found in on.values() if not found.empty), None)
    flags = [flag for found in on.values() if not found.empty for flag in found.behind.inventions]
    return Shown(
        joints=_joints(on, choices) if drawn else None,
        chart=chart_of(drawn, "strength") if drawn else None,
        chart_query=drawn.choices.query() if drawn else "",
        left_out=left_out_table(on[RATIO]) if len(on[RATIO].left_out) else None,
        queries={code: found.choices.query() for code, found in on.items() if not found.empty},
        invented=how_invented(flags),
        solid=_solid(timber, choices, on[RATIO]),
    )


def _joints(on: dict[str, Comparison], choices: Choices) -> tables.Table:
    """Each joint tested in the timber, on both footings; the strongest ratio first."""
    by = {
        code: scale.frame(found.groups, found.unit).set_index("joint") for code, found in on.items() if not found.empty
    }
    every = pd.concat(by.values())
    order = list(dict.fromkeys(every.index))
    counts = every[~every.index.duplicated()].loc[order]
    columns: dict[str, object] = {"Joint": counts["joint_name"].to_numpy()}
    interval = f"{100 * choices.level:g} % interval"
    for code, name, ends in (
        (RATIO, "Ratio to solid wood", f"{interval} of the ratio"),
        (STRESS, with_unit("Stress", scale.readers("MPa")), f"{interval} of the stress"),
    ):
        found = by[code].reindex(order) if code in by else None
        columns[name] = np.full(len(order), np.nan) if found is None else found["geometric_mean"].to_numpy()
        columns[ends] = [""] * len(order) if found is None else between(found["low"], found["high"])
    columns |= {
        "Studies": counts["studies"].to_numpy(),
        "Series": counts["series"].to_numpy(),
        "Specimens": counts["specimens"].to_numpy(),
        "Held": counts["held"].to_numpy(),
        "Flagged": counts["flagged"].to_numpy(),
    }
    links = [reverse("browse:joint", args=[code.partition("+")[0]]) for code in order]
    which = "with" if choices.flagged else "without"
    return tables.of_frame(
        pd.DataFrame(columns), f"Joints tested in it, geometric means {which} flagged specimens", links=links
    )


def _solid(timber: Timber, choices: Choices, ratios: Comparison) -> Solid | None:
    """Its unjointed bars, bent; None where nobody broke any."""
    asked = replace(choices, joints=(SOLID,), action="bending", tests="joint", footing=RATIO)
    found = compare(asked)
    if found.empty:
        return None
    whole = found.groups[found.groups["joint"] == SOLID]
    if whole.empty:
        return None
    row, series = whole.iloc[0], found.series[found.series["joint"] == SOLID]
    return Solid(
        studies=int(row["studies"]),
        specimens=int(row["specimens"]),
        **{name: float(row[name]) for name in ("low", "high", "prediction_low", "prediction_high")},
        mean=float(row["geometric_mean"]),
        table=_bars(series, choices),
        query=asked.query(),
    )


def _bars(series: pd.DataFrame, choices: Choices) -> tables.Table:
    keys = series["series_id"].tolist()
    basis = dict(SeriesFooting.objects.filter(series__in=keys, code=RATIO).values_list("series_id", "basis"))
    frame = pd.DataFrame(
        {
            "Study": series["study"].to_numpy(),
            "Workshop": series["workshop"].to_numpy(),
            "Broken specimens": series["n"].astype("Int64").to_numpy(),
            "Over the handbook": series["geometric_mean"].to_numpy(),
            f"{100 * choices.level:g} % interval": between(series["low"], series["high"]),
            "Set against": [basis.get(key, "").removeprefix("over ") for key in keys],
        }
    )
    links = [f"{reverse('browse:study', args=[r.study_id])}#series-{r.series_id}" for r in series.itertuples()]
    return tables.of_frame(frame, "Its solid bars, a series a row", links=links)
