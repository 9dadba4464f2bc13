"""What is known of one joint: by timber, by glue, by size, and how far shops differ."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Hashable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from results.models import Joint, Series
from stats.errors import StatsError
from stats.inference import interlab, sidebyside
from stats.inference.told import Readings, Told, estimate

from .compare import Comparison
from .frames import specimen_frame

# What one would first say of a joint's size besides its member; the first that the joint has.
LEADING = (
    "tenon_length_mm",
    "fastener_diameter_mm",
    "slot_length_mm",
    "finger_count",
    "spline_depth_mm",
    "scarf_ratio",
    "groove_depth_mm",
    "bond_length_mm",
    "tenon_depth_mm",
)
# Beyond so many distinct sizes, sizes are put into classes of one of these widths.
MOST_SIZES = 8
WIDTHS = (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000)
# What the difference of two draws from one normal distribution is less than, half the time [standard deviations].
HALF_OF_PAIRS = 0.6744897501960817 * math.sqrt(2.0)


@dataclass(frozen=True)
class Split:
    """A joint's results in parts, each like `compare` narrowed to it.

    Parameters
    ----------
    by : str
        ``timber``, ``adhesive``, ``size`` or a dimension.
    groups : DataFrame
        A row a part, as `sidebyside.groups` gives it, with the part as ``joint`` and ``joint_name``, and ``code``:
        what the address of a comparison knows it by.
    part : dict of int to str
        The part, as ``joint`` names it, of each series that is in one.
    unknown : int
        Series that don't say which part they belong to.
    """

    by: str
    groups: pd.DataFrame
    part: dict[int, str]
    unknown: int


PartOf = Callable[[pd.DataFrame], list[tuple[str, str] | None]]


class Apart:
    """A comparison of one joint, to be taken apart.

    Parameters
    ----------
    found : Comparison
        Of one joint.

    Notes
    -----
    Each part is estimated by itself, so that its figures are those of a comparison narrowed to it.
    """

    def __init__(self, found: Comparison) -> None:
        self.found, self.series = found, found.series
        self.told, self.readings = _told(self.series), _run_outs(found)

    def split(self, by: str, part_of: PartOf) -> Split | None:
        """Take it apart; None where no series says which part it belongs to.

        Parameters
        ----------
        by : str
            Names the split.
        part_of : callable
            From the comparison's series to code and name of the part of each; None where it isn't known.
        """
        level, base = self.found.choices.level, self.found.choices.joints[0]
        parts = part_of(self.series)
        keys = self.series["series_id"].tolist()
        kinds = [joint.removeprefix(base) for joint in self.series["joint"]]
        rows, names, part = [], [], {}
        for one in _in_order(parts):
            which = np.array([other == one for other in parts])
            own = self.readings.of_series(which)
            estimates = estimate(self.told.take(which), own, level=level)
            if not len(estimates):
                continue
            rows.append(sidebyside.groups_of(estimates, own.of_series(estimates.kept), level=level))
            names += [one] * len(rows[-1])
            part |= {keys[at]: f"{one[0]}{kinds[at]}" for at in np.flatnonzero(which)[estimates.kept]}
        if not rows:
            return None
        groups = _named(pd.concat(rows, ignore_index=True), names, base)
        return Split(by, groups, part, sum(one is None for one in parts))


def _told(series: pd.DataFrame) -> Told:
    """A comparison's series as arrays."""
    numbers = {name: pd.factorize(series[name]) for name in ("study_id", "joint", "family")}
    first = np.unique(numbers["joint"][0], return_index=True)[1]
    return Told(
        study=numbers["study_id"][0],
        joint=numbers["joint"][0],
        family=numbers["family"][0],
        studies=np.asarray(numbers["study_id"][1]),
        joints=tuple(numbers["joint"][1]),
        names=tuple(series["joint_name"].iloc[first]),
        published=series["summary_only"].to_numpy(bool),
        **{name: series[name].to_numpy(float) for name in ("n", "held", "mean_log", "sd_log", "flagged")},
    )


def _run_outs(found: Comparison) -> Readings:
    """Specimens of the series that have held ones, which no sums tell."""
    series, choices = found.series, found.choices
    keys = series["series_id"]
    held = keys[series["held"] > 0].tolist()
    told = specimen_frame(held, choices.footing, found.action, flagged=choices.flagged)
    return Readings(
        told["value"].to_numpy(float),
        (told["outcome"] == "broke").to_numpy(bool),
        pd.Index(keys).get_indexer(pd.Index(told["series_id"])),
    )


def _in_order(parts: list[tuple[str, str] | None]) -> list[tuple[str, str]]:
    """The parts by the numbers in their names, else as they come."""

    def rank(part: tuple[str, str]) -> list[float]:
        return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", part[1])]

    return sorted(dict.fromkeys(part for part in parts if part), key=rank)


def _named(groups: pd.DataFrame, parts: list[tuple[str, str]], base: str) -> pd.DataFrame:
    """Rows named by the part; a kind that is never averaged with the rest, as soaked joints, stays one of its own."""
    kinds = [joint.removeprefix(base) for joint in groups["joint"]]
    words = [label.partition(",")[2] if kind else "" for label, kind in zip(groups["joint_name"], kinds, strict=True)]
    return groups.assign(
        joint=[f"{code}{kind}" for (code, _), kind in zip(parts, kinds, strict=True)],
        joint_name=[f"{name},{more}" if more else name for (_, name), more in zip(parts, words, strict=True)],
        code=[code for code, _ in parts],
    )


def by_word(column: str) -> PartOf:
    """Parts by a word of the vocabulary that series name: ``timber`` or ``adhesive``."""

    def part_of(series: pd.DataFrame) -> list[tuple[str, str] | None]:
        pairs = zip(series[column], series[f"{column}_name"], strict=True)
        return [None if _missing(code) else (str(code), str(name)) for code, name in pairs]

    return part_of


def leading_dimension(joint: Joint) -> str:
    """The dimension that says most of this joint's size besides its member; empty for none."""
    return next((name for name in LEADING if name in joint.dims), "")


def sizes_of(joint: Joint) -> pd.DataFrame:
    """Member section and leading dimension of every accepted series of a joint, by series."""
    names = ["member_thickness_mm", "member_depth_mm"]
    leading = leading_dimension(joint)
    rows = Series.objects.counting().filter(joint=joint).order_by().values_list("pk", *names, leading or names[0])
    return pd.DataFrame(list(rows), columns=["series_id", *names, "leading"]).set_index("series_id")


def by_section(sizes: pd.DataFrame) -> PartOf:
    """Parts by the member's section, in whole millimetres; by its depth where there are many sections."""

    def part_of(series: pd.DataFrame) -> list[tuple[str, str] | None]:
        own = sizes.reindex(series["series_id"])
        thickness, depth = own["member_thickness_mm"].tolist(), own["member_depth_mm"].tolist()
        sections = [
            None if _missing(t) or _missing(d) else f"{t:.0f} × {d:.0f} mm"
            for t, d in zip(thickness, depth, strict=True)
        ]
        if len(set(sections)) <= MOST_SIZES:
            return [section and (section, section) for section in sections]
        return [name and (name, f"{name} deep") for name in classes(depth, "mm")]

    return part_of


def by_leading(sizes: pd.DataFrame, unit: str) -> PartOf:
    """Parts by the joint's leading dimension."""

    def part_of(series: pd.DataFrame) -> list[tuple[str, str] | None]:
        names = classes(sizes.reindex(series["series_id"])["leading"].tolist(), unit)
        return [name and (name, name) for name in names]

    return part_of


def classes(values: list[float | None], unit: str) -> list[str | None]:
    """Sizes as classes: each by itself where they are few, else in even steps.

    Examples
    --------
    >>> classes([30.0, None, 30.2], "mm")
    ['30 mm', None, '30 mm']
    """
    known = [None if _missing(value) else round(float(value)) for value in values]
    there = sorted({value for value in known if value is not None})
    word = f" {unit}" if unit else ""
    if len(there) <= MOST_SIZES:
        return [None if value is None else f"{value:g}{word}" for value in known]
    width = next((w for w in WIDTHS if len({value // w for value in there}) <= MOST_SIZES), WIDTHS[-1])
    return [
        None if value is None else f"{value // width * width} to {value // width * width + width - 1}{word}"
        for value in known
    ]


def _missing(value: Hashable) -> bool:
    return value is None or value is pd.NA or (isinstance(value, float) and not np.isfinite(value))


@dataclass(frozen=True)
class Shops:
    """How far two specimens differ, from one shop and from two, as factors.

    Parameters
    ----------
    shops, specimens : int
    within, across : float
        Half of all pairs of specimens differ by less than this factor: two of one shop, two of different shops.
    most_within, most_across : float
        The same for 95 of 100 pairs.
    rows : DataFrame
        A row a shop: ``workshop``, ``n``, ``geometric_mean``, ``outlying`` (bool).
    """

    shops: int
    specimens: int
    within: float
    across: float
    most_within: float
    most_across: float
    rows: pd.DataFrame


def shops(found: Comparison, joint: str) -> Shops | str:
    """How far shops differ on one joint; or, as a sentence, why that can't be said.

    Parameters
    ----------
    found : Comparison
        One that holds the joint.
    joint : str
        The joint as the comparison's frames name it.

    Notes
    -----
    From the logs of all broken specimens, with repeatability and reproducibility as in `interlab.precision`. A shop's
    series of other timbers and sizes count as its own, so what a footing leaves of them is in the first factor.
    """
    workshop = found.series.set_index("series_id")["workshop"]
    own = found.points[(found.points["joint"] == joint) & (found.points["outcome"] == "broke")]
    frame = pd.DataFrame(
        {
            "study": own["series_id"].map(workshop).to_numpy(),
            "joint": joint,
            "y": np.log(own["value"].to_numpy(dtype=float)),
        }
    )
    number = frame["study"].nunique()
    if number < 2:
        return "All of these specimens are one shop's: how far shops differ can't be seen." if number else ""
    try:
        told = interlab.precision(frame)
    except StatsError as error:
        return f"How far shops differ can't be told. {error}"
    level, rows = told.levels.loc[joint], told.shops
    ranked = rows.assign(workshop=rows["study"], geometric_mean=np.exp(rows["mean"]))
    ranked = ranked.sort_values("geometric_mean", ascending=False, ignore_index=True)
    return Shops(
        shops=number,
        specimens=len(frame),
        within=math.exp(HALF_OF_PAIRS * level["s_r"]),
        across=math.exp(HALF_OF_PAIRS * level["s_R"]),
        most_within=math.exp(level["r_limit"]),
        most_across=math.exp(level["R_limit"]),
        rows=ranked[["workshop", "n", "geometric_mean", "outlying"]],
    )
