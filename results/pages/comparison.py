"""A comparison made ready to be shown: its charts, its tables, and the form that chose it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd
from django.urls import reverse

from results.evidence import Choices, Comparison, Verdict, compare, facets, matrix, verdicts
from results.evidence.choices import CONDITIONING, GROUPS
from results.kept import once, or_before, renewed
from results.models import AdhesiveClass, Joint, Series, Timber
from results.models.vocabulary import Word
from stats.charts.chart import Chart, between
from stats.charts.failures import failure_table
from stats.charts.look import MOST_MARKS
from stats.charts.ratios import ratio_table
from stats.charts.series import failures, group_table, ratios, strength

from . import scale, tables
from .wording import footing_name, footing_symbol, with_unit

CHARTS = ("strength", "ratios", "failures")


LEFT_OUT = {
    "reason": "Left out because",
    "series": "Series",
    "specimens": "Specimens",
    "example": "Such as",
    "remedy": "What to do",
}
# Joints beyond which a table of each against each other would be more than anybody reads.
MOST_IN_MATRIX = 12


@dataclass(frozen=True)
class Compared:
    """A comparison with what is said of it."""

    found: Comparison
    verdicts: tuple[Verdict, ...]
    matrix: pd.DataFrame

    @classmethod
    def of(cls, choices: Choices) -> Compared:
        found = compare(choices)
        few = len(found.groups) <= MOST_IN_MATRIX
        return cls(found, verdicts(found), matrix(found) if few else pd.DataFrame())


def compared(choices: Choices) -> Comparison:
    """The comparison for these choices, worked out once for each state of the data; with what its chart takes."""

    def work_out() -> Comparison:
        found = compare(choices)
        if not found.empty:
            # What was asked for before is kept.
            strength_chart(found, whole=False)
        return found

    # With what the site's default stands for written out, so that the name says all.
    return once(f"compared?{choices.query(invented=choices.with_invented)}", work_out)


def axis_name(found: Comparison) -> str:
    """The footing as an axis names it."""
    name = footing_name(found.footing, found.unit)
    return name[0].upper() + name[1:]


def charts_of(found: Comparison, *, log: bool = True) -> dict[str, Chart]:
    """The charts that a comparison has something for, by name; none where it is empty or refused.

    They are of the right size and have their tables and summaries, but not all their marks: see `chart_of`.
    """
    made = {name: chart_of(found, name, log=log, whole=False) for name in CHARTS}
    return {name: chart for name, chart in made.items() if chart}


def chart_of(found: Comparison, name: str, *, log: bool = True, whole: bool = True) -> Chart | None:
    """One of the charts; None where there is nothing to draw in it. Unless whole, most of its marks are left out."""
    if found.empty:
        return None
    if name == "strength":
        return strength_chart(found, log=log, whole=whole)
    if name == "ratios" and len(found.ratios) and found.ratios["ratio"].notna().any():
        return ratios(found.ratios, level=found.choices.level, outline=not whole)
    if name == "failures" and len(found.failures):
        # In the order of the strength chart, so that the two are read side by side.
        rank = {joint: i for i, joint in enumerate(found.groups["joint"])}
        ranked = found.failures.sort_values("joint", key=lambda joints: joints.map(rank), kind="stable")
        told = scale.frame(ranked, found.unit)
        return failures(told, footing=axis_name(found), unit=scale.readers(found.unit), outline=not whole)
    return None


def strength_chart(found: Comparison, *, log: bool = True, whole: bool = True) -> Chart:
    behind = found.behind
    if whole:
        points = None if behind.crowded else found.points
        series = found.series if behind.count <= MOST_MARKS else None
    else:  # one of each kind of mark makes the same legend
        points, series = behind.kinds_of_points, behind.kinds_of_series if behind.count <= MOST_MARKS else None
    points, series, groups, ranges = (
        part if part is None else scale.frame(part, found.unit)
        for part in (points, series, found.groups, behind.ranges)
    )
    return strength(
        points,
        series,
        groups,
        ranges=ranges,
        footing=axis_name(found),
        symbol=footing_symbol(found.footing, found.unit),
        unit=scale.readers(found.unit),
        level=found.choices.level,
        within=found.axis,
        log=log,
    )


def page_tables(known: Compared, charts: Mapping[str, Chart]) -> dict[str, tables.Table]:
    """The tables of the page, by name; those with nothing to tell are absent.

    The charts give their table twins, which are not made again.
    """
    found, made, twins = known.found, {}, {name: chart.table for name, chart in charts.items()}
    if not found.empty:
        measured = axis_name(found).lower()
        shown, other = ("with", "without") if found.choices.flagged else ("without", "with")
        caption = f"The chart in numbers: {measured} by joint, {shown} flagged specimens"
        made["groups"] = _groups(found, found.groups, caption, twins.get("strength"))
        if len(found.groups_other) and not _same(found.groups, found.groups_other):
            made["other"] = _groups(found, found.groups_other, f"The same {other} flagged specimens")
        made["series"] = _series(found)
    if len(found.ratios):
        made["ratios"] = tables.of_frame(
            twins["ratios"] if "ratios" in twins else ratio_table(found.ratios, found.choices.level),
            f"Each joint as a ratio to {reference_name(found)}",
        )
    if len(known.matrix):
        made["matrix"] = _matrix(known)
    if len(found.failures):
        table = failures_in_numbers(found)
        made["failures"] = tables.of_frame(table, "Where the joints broke, and how much those had taken")
    if found.left:
        made["left_out"] = left_out_table(found)
    return made


def groups_in_numbers(found: Comparison, groups: pd.DataFrame) -> pd.DataFrame:
    """Groups of a comparison, or parts of one joint, as their chart's twin tells them."""
    return group_table(scale.frame(groups, found.unit), scale.readers(found.unit), found.choices.level)


def failures_in_numbers(found: Comparison) -> pd.DataFrame:
    """Where the joints broke, as the chart's twin tells it."""
    return failure_table(scale.frame(found.failures, found.unit), scale.readers(found.unit))


def left_out_table(found: Comparison) -> tables.Table:
    """What a comparison left out, and why."""
    columns = {heading: [row[name] for row in found.left] for name, heading in LEFT_OUT.items()}
    return tables.of_columns(columns, "What was left out, and why", numeric=("Series", "Specimens"))


def _groups(found: Comparison, groups: pd.DataFrame, caption: str, made: pd.DataFrame | None = None) -> tables.Table:
    links = joint_links(groups["joint"].tolist())
    frame = groups_in_numbers(found, groups) if made is None else made
    if "without" in caption:
        frame = frame.rename(columns={"Flagged": "Flagged, left out"})
    return tables.of_frame(frame, caption, links=links)


def joint_links(joints: Iterable[str]) -> list[str]:
    """Where the page of each joint is."""
    address = reverse("browse:joint", args=["_"])  # once for all, since a comparison may have many
    # Where one joint is shown in parts (bonds by their grain), the part follows a plus.
    return [address.replace("/_/", f"/{joint.partition('+')[0]}/") for joint in joints]


def _matrix(known: Compared) -> tables.Table:
    """Each row's joint as so many times each column's; the strongest first both ways."""
    names = known.found.groups.set_index("joint")["joint_name"]
    pairs = known.matrix
    told = [f"{r.ratio:.2g} ({r.low:.2g} to {r.high:.2g})" for r in pairs.itertuples()]
    wide = pairs.assign(told=told).pivot(index="joint", columns="versus", values="told")
    order = [joint for joint in names.index if joint in wide.index]
    wide = wide.reindex(index=order, columns=order).fillna("")
    frame = wide.rename(columns=names).reset_index(drop=True)
    frame.insert(0, "Joint", [names[joint] for joint in order])
    level = f"{100 * known.found.choices.level:g} %"
    caption = f"How many times a row's joint took what a column's took, with the {level} interval"
    return tables.of_frame(frame, caption)


def reference_name(found: Comparison) -> str:
    """The joint that the ratios are against; empty where there are none."""
    return str(found.ratios["reference_name"].iloc[0]) if len(found.ratios) else ""


def _same(groups: pd.DataFrame, other: pd.DataFrame) -> bool:
    """Whether leaving flagged specimens in or out changes no count: then one table says it all."""
    keys = ("joint", "series", "specimens")
    one, two = (sorted(zip(*(frame[key].tolist() for key in keys), strict=True)) for frame in (groups, other))
    return one == two


def _series(found: Comparison) -> tables.Table:
    rows, count = found.behind.first_series, found.behind.count
    mean, low, high = (scale.scaled(pd.Series(rows[name]), found.unit) for name in ("geometric_mean", "low", "high"))
    measured = with_unit("Geometric mean", scale.readers(found.unit))
    columns = {
        "Series": rows["series"],
        "Study": [
            f"{title} (invented)" if made_up else title
            for title, made_up in zip(rows["study"], rows["invented"], strict=True)
        ],
        "Workshop": rows["workshop"],
        "Joint": rows["joint_name"],
        "Timber": rows["timber_name"],
        "Glue": rows["adhesive_name"],
        "Broke": rows["n"],
        "Held": rows["held"],
        measured: mean.tolist(),
        f"{100 * found.choices.level:g} % interval": between(low, high),
        "Spread": ["borrowed from like series" if imputed else "its own" for imputed in rows["imputed"]],
    }
    study = reverse("browse:study", args=[0])  # once for all: there are hundreds
    ids = zip(rows["study_id"], rows["series_id"], strict=True)
    links = [f"{study.replace('/0/', f'/{of}/')}#series-{series}" for of, series in ids]
    more = f" (the first {len(links)} of {count})" if count > len(links) else ""
    numeric = ("Broke", "Held", measured)
    return tables.of_columns(columns, f"The series behind the chart{more}", numeric=numeric, links=links)


def emptied_by(choices: Choices) -> tuple[str, str]:
    """Which choice left nothing to show, as a sentence, and the choices without that one; "" where that can't help."""
    series = Series.objects.counting()
    if not series.exists():
        return "The book has no accepted studies yet.", ""
    narrowing = (
        ("joint", "joints", "joint__in", _names(Joint, choices.joints)),
        ("timber", "timbers", "timber__in", _names(Timber, choices.timbers)),
        ("timber", "groups", "timber__group__in", [GROUPS[code] for code in choices.groups]),
        ("glue", "adhesives", "adhesive__in", _names(AdhesiveClass, choices.adhesives)),
        ("life before the test", "conditioning", "conditioning__in", _lived(choices)),
    )
    chosen = []
    for word, choice, field, names in narrowing:
        if names:
            series = series.filter(**{field: getattr(choices, choice)})
            chosen.append(f"{word} {', '.join(names)}")
            if not series.exists():
                return f"No series is left after choosing {' and '.join(chosen)}.", choices.query(**{choice: ()})
    return (
        f"{series.count()} series match the joints, timbers and glues chosen, but none can be shown under this"
        " action, kind of test and footing; the table says why.",
        "",
    )


def _lived(choices: Choices) -> list[str]:
    return [CONDITIONING[code] for code in choices.conditioning]


def picker(choices: Choices, *, before: bool = False) -> dict[str, Any]:
    """What the form offers, with what is chosen; a choice nothing stands behind is kept, so that it shows.

    Where the page itself is of `before` a change, the form may be too.
    """

    def offered() -> dict[str, list]:
        return once("facets", lambda: facets(choices.footing))

    there = or_before("facets", offered, lambda: None).value if before else renewed("facets", offered)
    families: dict[str, list[tuple[str, str, int, bool]]] = {}
    for code, name, n, family in there["joints"] + _absent(choices.joints, there["joints"], Joint):
        families.setdefault(family, []).append((code, name, n, code in choices.joints))
    return {
        "families": families,
        "joints": sorted(there["joints"], key=lambda row: row[1]),
        "timbers": _checked(choices.timbers, there["timbers"], Timber),
        "adhesives": _checked(choices.adhesives, there["adhesives"], AdhesiveClass),
        "actions": there["actions"],
        "footings": there["footings"],
        "tests": there["tests"],
        "chosen": {
            "joints": _names(Joint, choices.joints),
            "timbers": [*(GROUPS[code] for code in choices.groups), *_names(Timber, choices.timbers)],
            "adhesives": _names(AdhesiveClass, choices.adhesives),
            "conditioning": _lived(choices),
        },
        "groups": [(code, name, code in choices.groups) for code, name in GROUPS.items()],
        "conditioning": [(code, name, code in choices.conditioning) for code, name in CONDITIONING.items()],
        "levels": [("0.9", "90 %"), ("0.95", "95 %"), ("0.99", "99 %")],
        "level": f"{choices.level:g}",
    }


def _checked(chosen: tuple[str, ...], there: list, model: type[Word]) -> list[tuple[str, str, int, bool]]:
    return [(code, name, n, code in chosen) for code, name, n, *_ in [*there, *_absent(chosen, there, model)]]


def _names(model: type[Word], codes: tuple[str, ...]) -> list[str]:
    return list(model._default_manager.filter(pk__in=codes).values_list("name", flat=True)) if codes else []


def _absent(chosen: tuple[str, ...], there: list, model: type[Word]) -> list[tuple[str, str, int, str]]:
    missing = set(chosen) - {row[0] for row in there}
    rows = model._default_manager.filter(pk__in=missing) if missing else []
    return [(row.pk, row.name, 0, row.family.name if isinstance(row, Joint) else "") for row in rows]


def fewer_joints(found: Comparison, most: int) -> Comparison:
    """The comparison narrowed to the joints that most studies stand behind, for a chart of one screen."""
    best = found.groups.sort_values(["studies", "specimens"], ascending=False, kind="stable").head(most)
    kept = found.groups["joint"].isin(best["joint"])
    return found.having(groups=found.groups[kept])
