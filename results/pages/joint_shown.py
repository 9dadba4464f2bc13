"""What is known of a joint for some choices, as its page shows it: charts, tables and words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from django.urls import reverse

from results.evidence import Choices, Comparison, compare
from results.evidence.behind import Specimens, kinds_of_series
from results.evidence.known import Apart, Shops, Split, by_leading, by_section, by_word, leading_dimension
from results.evidence.known import shops as between_shops
from results.evidence.questions import Question, open_questions
from results.kept import once
from results.models import Joint
from results.site.choices import told_now
from stats.charts import svg
from stats.charts.chart import Chart, rows_of
from stats.charts.figure import Figure
from stats.charts.look import MOST_MARKS
from stats.charts.series import strength
from stats.footing.fields import FIELDS
from stats.inference.ratio_rows import ONE_STUDY

from . import scale, tables
from .comparison import axis_name, chart_of, failures_in_numbers, groups_in_numbers, left_out_table
from .known import Against, OnFooting, Stock, against_controls, on_footings
from .wording import footing_symbol, how_invented, with_unit

BY_NAMES = {"timber": "timber", "adhesive": "glue", "size": "size of the member"}
THIN = {ONE_STUDY: "one study", "Fewer than five specimens.": "few specimens"}
# Words of an address by which a comparison can be narrowed to a part.
NARROWED_BY = {"timber": "timbers", "adhesive": "adhesives"}


@dataclass(frozen=True)
class Part:
    """A joint by timber, by glue, by size.

    Parameters
    ----------
    by, name : str
        What it is by, as code and in words.
    table : Table
        A row a part.
    alone : str
        The only part that there is; else empty.
    unknown : int
        Series that don't say.
    studies, together : int
        Studies in it, and those among them that tested two parts or more side by side.
    links : list of (str, str)
        Each part with the parameters of its own comparison; empty where addresses don't know it.
    """

    by: str
    name: str
    table: tables.Table
    alone: str
    unknown: int
    studies: int
    together: int
    links: list[tuple[str, str]]


@dataclass(frozen=True)
class Shown:
    """All that the page says for one choice."""

    empty: bool
    footing: str
    unit: str
    axis: str
    invented: str
    means: list[dict[str, Any]]
    charts: dict[str, Sketch]
    tables: dict[str, tables.Table]
    against: list[Against]
    parts: list[Part]
    shops: Shops | str
    footings: list[OnFooting]
    questions: list[Question]


def shown(joint: Joint, choices: Choices, stock: list[Stock]) -> Shown:
    """All of it, worked out once for each state of the data."""
    name = f"joint page {choices.query(invented=choices.with_invented)}{told_now()}"
    return once(name, lambda: _worked_out(joint, choices, stock))


def _worked_out(joint: Joint, choices: Choices, stock: list[Stock]) -> Shown:
    # Not by what the page of the comparison keeps: an answer that is kept may not wait for another.
    found = compare(choices)
    splits = [] if found.empty else _splits(joint, found, shown_by(joint))
    shops = "" if found.empty else between_shops(found, joint.pk)
    told = _tables(found)
    if isinstance(shops, Shops):
        told["shops"] = _shop_table(found, shops)
    return Shown(
        empty=found.empty,
        footing=found.footing.name,
        unit=scale.readers(found.unit),
        axis=found.axis,
        invented="" if found.empty else how_invented(found.behind.inventions),
        means=[] if found.empty else [mean._asdict() for mean in rows_of(scale.frame(found.groups, found.unit))],
        charts=_sketches(found, splits),
        tables=told,
        against=[] if found.empty else against_controls(joint, choices),
        parts=[_part(found, one) for one in splits],
        shops=shops,
        footings=on_footings(stock, found),
        questions=open_questions(joint, invented=choices.with_invented),
    )


def _tables(found: Comparison) -> dict[str, tables.Table]:
    """The tables of all of it, by name; those with nothing to tell are absent."""
    made = {}
    if not found.empty:
        which, other = ("with", "without") if found.choices.flagged else ("without", "with")
        for name, frame, words in (("groups", found.groups, which), ("other", found.groups_other, other)):
            table = groups_in_numbers(found, frame) if len(frame) else frame
            made[name] = tables.of_frame(table, f"{axis_name(found)}, {words} flagged specimens")
        if not len(found.groups_other) or not (found.groups["flagged"].any() or found.groups_other["flagged"].any()):
            del made["other"]
    if len(found.failures):
        table = failures_in_numbers(found)
        made["failures"] = tables.of_frame(table, "Where the joints broke, and how much those had taken")
    if found.left:
        made["left_out"] = left_out_table(found)
    return made


def shown_by(joint: Joint) -> tuple[str, ...]:
    """What the page takes a joint's results apart by."""
    leading = leading_dimension(joint)
    return ("timber", "adhesive", "size", *((leading,) if leading else ()))


def _splits(joint: Joint, found: Comparison, bies: tuple[str, ...]) -> list[Split]:
    """It taken apart in these ways, as far as series say which part they are of."""
    apart = Apart(found)
    parts = {"timber": by_word("timber"), "adhesive": by_word("adhesive"), "size": by_section}
    made = (apart.split(by, parts.get(by) or by_leading(joint, FIELDS[by].unit)) for by in bies)
    return [one for one in made if one]


def by_name(by: str) -> str:
    """What a split is by, in words: "timber", "length of the tenon"."""
    return BY_NAMES.get(by) or FIELDS[by].words.removeprefix("the ").partition(" in ")[0]


@dataclass(frozen=True)
class Sketch:
    """As much of a chart as a page needs to know before anybody looks at it.

    Parameters
    ----------
    summary, table
        As of `Chart`.
    outline : Figure
        A figure of the same size: the same rows, title and legend, without most of the marks.
    """

    summary: str
    table: pd.DataFrame
    outline: Figure

    def size(self, width: int, foot: str = "") -> tuple[int, int]:
        return svg.size(self.outline, width, foot)


def chart(joint: Joint, choices: Choices, name: str) -> Chart | None:
    """One of the page's charts, whole; None where the page has none of that name."""
    found = compare(choices)
    if found.empty:
        return None
    if name == "failures" or name not in shown_by(joint):
        return chart_of(found, name) if name in ("failures", "strength") else None
    split = next(iter(_splits(joint, found, (name,))), None)
    return _split_chart(found, split, whole=True) if split and len(split.groups) > 1 else None


def _sketches(found: Comparison, splits: list[Split]) -> dict[str, Sketch]:
    if found.empty:
        return {}
    charts: dict[str, Chart | None] = {
        one.by: _split_chart(found, one, whole=False) for one in splits if len(one.groups) > 1
    }
    if "timber" not in charts:
        charts["strength"] = chart_of(found, "strength", whole=False)
    charts["failures"] = chart_of(found, "failures", whole=False)
    return {name: Sketch(one.summary, one.table, one.drawing) for name, one in charts.items() if one}


def _split_chart(found: Comparison, one: Split, *, whole: bool) -> Chart:
    """A row a part; without most of its marks unless it is to be looked at."""
    ranges = None
    if whole:
        part = dict(zip(found.behind.side.series.column("id").tolist(), one.part.tolist(), strict=True))
        points, series = (
            frame.assign(joint=frame["series_id"].map(part)).query("joint != ''")
            for frame in (found.points, found.series)
        )
    else:  # one of each kind of mark makes the same legend
        points, series, ranges = _marks(found, one)
    points, series, groups, ranges = (
        frame if frame is None else scale.frame(frame, found.unit) for frame in (points, series, one.groups, ranges)
    )
    told = strength(
        points,
        series,
        groups,
        ranges=ranges,
        footing=axis_name(found),
        symbol=footing_symbol(found.footing, found.unit),
        unit=scale.readers(found.unit),
        level=found.choices.level,
        within=found.axis,
    )
    # The chart counts its rows as joints; here a row is a part of one joint's results.
    rows = f"of {len(one.groups)} joints"
    return replace(told, summary=told.summary.replace(rows, f"by {by_name(one.by)}", 1))


def _marks(found: Comparison, one: Split) -> tuple[pd.DataFrame, pd.DataFrame | None, pd.DataFrame | None]:
    """A mark of each kind that the chart of a split has, as `strength` takes specimens, series and ranges."""
    side, row = found.behind.side, one.groups["joint"].iloc[0]
    there = one.part != ""
    series = side.series.take(there)
    told = Specimens(series)
    points = told.kinds().assign(joint=row)
    means = kinds_of_series(series, np.exp(side.estimates.y[there])).assign(joint=row)
    if told.count + len(series) <= MOST_MARKS:
        return points, means, None
    return points, means if len(series) <= MOST_MARKS else None, told.ranges().head(1).assign(joint=row)


def _part(found: Comparison, one: Split) -> Part:
    name, field = by_name(one.by), NARROWED_BY.get(one.by)
    groups = one.groups
    if field:  # as the chart has them; sizes stay in the order of size
        groups = groups.sort_values("geometric_mean", ascending=False, na_position="last", kind="stable")
    queries = [found.choices.query(**{field: (code,)}) if field else "" for code in groups["code"]]
    links = [f"{reverse('compare:compare')}?{query}" if query else "" for query in queries]
    names = groups["joint_name"].tolist()
    # A part that stands in several rows, as dry and soaked, has one comparison of its own.
    own = {query: label for query, label in zip(reversed(queries), reversed(names), strict=True) if query}
    studies, together = _studies(found, one)
    return Part(
        by=one.by,
        name=name,
        table=_table(found, groups, name, links),
        alone=names[0] if len(names) == 1 else "",
        unknown=one.unknown,
        studies=studies,
        together=together,
        links=[(label, query) for query, label in reversed(own.items())],
    )


def _studies(found: Comparison, one: Split) -> tuple[int, int]:
    """Studies in a split, and those among them that are in two parts of it or more."""
    there = one.part != ""
    study, part = found.behind.side.series.study[there], pd.factorize(one.part[there])[0]
    pairs = np.unique(study * (part.max(initial=0) + 1) + part)
    parts = np.unique(pairs // (part.max(initial=0) + 1), return_counts=True)[1]
    return len(parts), int((parts > 1).sum())


def _table(found: Comparison, groups: pd.DataFrame, name: str, links: list[str]) -> tables.Table:
    """Groups as a table has them; what is said of a thin one in a word or two."""
    frame = groups_in_numbers(found, groups)
    numeric = [column for column in frame if frame[column].dtype.kind in "iuf"]
    columns = {name.capitalize() if column == "Joint" else column: frame[column].tolist() for column in frame}
    columns["Note"] = [THIN.get(note, note) for note in columns["Note"]]
    # That none held and none is flagged stands once, with all of it.
    told = {column: of for column, of in columns.items() if column not in ("Held", "Flagged") or any(of)}
    return tables.of_columns(told, f"{axis_name(found)} by {name}", numeric=numeric, links=links)


def _shop_table(found: Comparison, shops: Shops) -> tables.Table:
    """Each shop's mean, the highest first."""
    rows = shops.rows
    frame = pd.DataFrame(
        {
            "Workshop": rows["workshop"],
            "Broken specimens": rows["n"],
            with_unit("Geometric mean", scale.readers(found.unit)): scale.scaled(rows["geometric_mean"], found.unit),
            "Beside the others": np.where(rows["outlying"], "stands out", ""),
        }
    )
    return tables.of_frame(frame, f"{axis_name(found)} as each shop found it")
