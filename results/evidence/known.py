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
from stats.inference.estimates import Estimates, estimate_from
from stats.inference.told import Readings, Told

from .book import Array, Words
from .compare import Comparison
from .frames import SIZES, Looked

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
    part : ndarray of str
        The part, as ``joint`` names it, of each series of the comparison; empty for one that is in none.
    unknown : int
        Series that don't say which part they belong to.
    """

    by: str
    groups: pd.DataFrame
    part: Array
    unknown: int


PartOf = Callable[[Looked], list[tuple[str, str] | None]]


class Apart:
    """A comparison of one joint, to be taken apart.

    Parameters
    ----------
    found : Comparison
        Of one joint; not empty.

    Notes
    -----
    Each part is estimated by itself, so that its figures are those of a comparison narrowed to it.
    """

    def __init__(self, found: Comparison) -> None:
        self.base, self.level = found.choices.joints[0], found.choices.level
        side = found.behind.side
        self.series, self.told, self.readings = side.series, side.estimates.told, side.specimens.readings()
        # What was borrowed for the whole comparison is borrowed anew for each part.
        self.y, self.v = side.estimates.y, np.where(side.estimates.imputed, np.nan, side.estimates.v)
        self.kinds = np.array([joint.removeprefix(self.base) for joint in self.told.joints], dtype=object)

    def split(self, by: str, part_of: PartOf) -> Split | None:
        """Take it apart; None where no series says which part it belongs to.

        Parameters
        ----------
        by : str
            Names the split.
        part_of : callable
            From the series to code and name of the part of each; None where it isn't known.
        """
        parts = part_of(self.series)
        order = _in_order(parts)
        if not order:
            return None
        place = {one: at for at, one in enumerate(order)}
        number = np.array([-1 if one is None else place[one] for one in parts])
        told, readings = self._numbered(number, len(order))
        rows = sidebyside.groups_of(told, readings, level=self.level)
        # Part by part, each in the order that it would have by itself.
        of = np.array([int(at) for at in rows["joint"].tolist()], dtype=np.intp)
        by_part = np.argsort(of // len(self.kinds), kind="stable")
        groups, of = rows.take(by_part).reset_index(drop=True), of[by_part]
        groups["code"] = [order[at // len(self.kinds)][0] for at in of.tolist()]
        for name, words in self._names(order, of).items():
            groups[name] = words
        codes = np.array([code for code, _ in order], dtype=object)
        part = np.where(number >= 0, codes[number] + self.kinds[self.told.joint], "")
        return Split(by, groups, part, int((number < 0).sum()))

    def _numbered(self, number: Array, parts: int) -> tuple[Estimates, Readings]:
        """The estimates of all parts in one, a kind of joint in a part as a joint of its own."""
        order = np.argsort(number, kind="stable")
        order = order[number[order] >= 0]
        told, kinds = self.told, len(self.kinds)
        found = []
        for at in range(parts):
            which = number == at
            found.append(estimate_from(told.take(which), self.y[which], self.v[which], level=self.level))
        joint = number[order] * kinds + told.joint[order]
        joined = {
            name: np.concatenate([getattr(one, name) for one in found])
            for name in ("kept", "y", "v", "v_steady", "imputed", "imputed_from")
        }
        columns = ("study", "family", "n", "held", "mean_log", "sd_log", "flagged", "published")
        known, joints = pd.factorize(joint)
        whole = Told(
            joint=known,
            studies=told.studies,
            joints=tuple(map(str, joints)),
            names=tuple(map(str, joints)),
            **{name: getattr(told, name)[order] for name in columns},
        )
        place = np.full(len(number) + 1, -1)
        place[order] = np.arange(len(order))
        own = place[self.readings.of]
        there = own >= 0
        readings = Readings(self.readings.value[there], self.readings.broke[there], own[there])
        return Estimates(whole, **joined, level=self.level), readings

    def _names(self, order: list[tuple[str, str]], of: Array) -> dict[str, list[str]]:
        """Rows named by the part; a kind that is never averaged with the rest, as soaked joints, stays its own."""
        codes, names = [], []
        for at in of.tolist():
            (code, name), kind = order[at // len(self.kinds)], at % len(self.kinds)
            more = self.told.names[kind].partition(",")[2] if self.kinds[kind] else ""
            codes.append(f"{code}{self.kinds[kind]}")
            names.append(f"{name},{more}" if more else name)
        return {"joint": codes, "joint_name": names}


def _in_order(parts: list[tuple[str, str] | None]) -> list[tuple[str, str]]:
    """The parts by the numbers in their names, else as they come."""

    def rank(part: tuple[str, str]) -> list[float]:
        return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", part[1])]

    return sorted(dict.fromkeys(part for part in parts if part), key=rank)


def by_word(name: str) -> PartOf:
    """Parts by a word of the vocabulary that series name: ``timber`` or ``adhesive``."""

    def part_of(series: Looked) -> list[tuple[str, str] | None]:
        words: Words = getattr(series.source.vocabulary, f"{name}s")
        parts = list(zip(words.codes, words.names, strict=True))
        return [None if at < 0 else parts[at] for at in series.places(name).tolist()]

    return part_of


def leading_dimension(joint: Joint) -> str:
    """The dimension that says most of this joint's size besides its member; empty for none."""
    return next((name for name in LEADING if name in joint.dims), "")


def by_section(series: Looked) -> list[tuple[str, str] | None]:
    """Parts by the member's section, in whole millimetres; by its depth where there are many sections."""
    sizes = series.column("sizes")
    thickness, depth = (sizes[:, SIZES.index(name)].tolist() for name in ("member_thickness_mm", "member_depth_mm"))
    sections = [
        None if math.isnan(t) or math.isnan(d) else f"{t:.0f} × {d:.0f} mm"
        for t, d in zip(thickness, depth, strict=True)
    ]
    if len(set(sections)) <= MOST_SIZES:
        return [None if section is None else (section, section) for section in sections]
    return [None if name is None else (name, f"{name} deep") for name in classes(depth, "mm")]


def by_leading(joint: Joint, unit: str) -> PartOf:
    """Parts by the joint's leading dimension."""
    leading = leading_dimension(joint)

    def part_of(series: Looked) -> list[tuple[str, str] | None]:
        rows = Series.objects.counting().filter(joint=joint, **{f"{leading}__isnull": False})
        known = dict(rows.order_by().values_list("pk", leading))
        names = classes([known.get(key) for key in series.column("id").tolist()], unit)
        return [None if name is None else (name, name) for name in names]

    return part_of


def classes(values: list[float | None], unit: str) -> list[str | None]:
    """Sizes as classes: each by itself where they are few, else in even steps.

    Examples
    --------
    >>> classes([30.0, None, 30.2], "mm")
    ['30 mm', None, '30 mm']
    """
    known = [None if value is None or _missing(value) else round(float(value)) for value in values]
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
    side = found.behind.side
    codes, shown = side.series.kinds.code, side.specimens
    own = (
        ~shown.held
        & (side.series.kind == codes.index(joint) if joint in codes else np.zeros(len(side.series), bool))[shown.of]
    )
    workshop = np.array(side.series.source.studies.workshop, dtype=object)[side.series.study[shown.of[own]]]
    frame = pd.DataFrame({"study": workshop, "joint": joint, "y": np.log(shown.value[own])})
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
