"""What the book holds on how strong a joint is in a shop that is not in it yet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats as distributions

from results.evidence import Choices, Comparison, compare, unit_of
from results.evidence.choices import ACTIONS
from results.kept import once
from results.models import AdhesiveClass, Joint, Series, Timber
from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.fields import DIM_FIELDS
from stats.footing.ladder import FOOTINGS as LADDER
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.footing.timber import PROPERTIES
from stats.inference.comparisons import Network
from stats.inference.fitted import NotCompared
from stats.practice.shops import ShopEvidence, TooThin, evidence_of, through_network
from stats.practice.sizes import check_sizes

FOOTINGS = {
    "ratio_solid": "as a ratio to solid wood, from all timbers",
    "stress": "as a stress, from this timber alone",
    "at_joint": "built exactly as tested, from this timber alone",
}
"""Footings that a capacity may start from, and what that means."""
OWN, NETWORK = "own", "network"
MOST_SIZES = 500
ROUTES = {
    OWN: "from the shops that tested it",
    NETWORK: "from a joint that more shops tested, times the ratio to it by all studies together",
}


@dataclass(frozen=True)
class Wanted:
    """The joint whose strength is asked for, and on which footing; "" for the one that fits."""

    joint: Joint
    timber: Timber
    action: str
    adhesive: AdhesiveClass | None = None
    footing: str = ""
    flagged: bool = True
    invented: bool | None = None

    def choices(self, footing: str) -> Choices:
        """The comparison that the strength is read from: all joints, so that they may tell of each other."""
        return Choices(
            action=self.action,
            footing=footing,
            timbers=() if footing == "ratio_solid" else (self.timber.pk,),
            adhesives=(self.adhesive.pk,) if self.adhesive else (),
            flagged=self.flagged,
            invented=self.invented,
        )


@dataclass(frozen=True)
class Tested:
    """The sizes of the joints tested: those of one series, the nearest to the middle of them all.

    Parameters
    ----------
    sizes : dict of str to float
        By the names of `DIM_FIELDS`.
    series_id, label, study_id, study : int, str, int, str
        The series that has them.
    of : int
        Series that tell their sizes.
    """

    sizes: dict[str, float]
    series_id: int
    label: str
    study_id: int
    study: str
    of: int


@dataclass(frozen=True)
class ByReadings:
    """The lower limit that a comparison shows of a joint, 95 of 100 with 75 % confidence, and what it rests on.

    Parameters
    ----------
    value : float
        In the footing's unit.
    specimens, studies : int
        Those that give single readings: a comparison's limit can't use a study of which only means were published.
    """

    value: float
    specimens: int
    studies: int


@dataclass(frozen=True)
class Strength:
    """How strong a joint is over shops, on one footing.

    Parameters
    ----------
    evidence : ShopEvidence
        By the way of `route`.
    route : str
        A key of `ROUTES`.
    own, network : ShopEvidence or None
        Both ways, where each can be had.
    beside : str
        The joint that the network's way starts from, "" without one.
    footing, unit : str
        Where the strength is on.
    solid_mpa, solid_name : float or None, str
        What the ratio to solid wood is of; None on another footing.
    tested : Tested or None
        Sizes tested; None where no series tells them.
    query : str
        The comparison's address.
    inventions : tuple of bool
        Whether each series of the joint is made up.
    by_readings : ByReadings or None
        What a comparison of the same studies shows instead; None where it shows no limit.
    """

    evidence: ShopEvidence
    route: str
    own: ShopEvidence
    network: ShopEvidence | None
    beside: str
    footing: str
    unit: str
    solid_mpa: float | None
    solid_name: str
    tested: Tested | None
    query: str
    inventions: tuple[bool, ...]
    by_readings: ByReadings | None


def solid_property(joint: Joint, action: str) -> str:
    """The strength of solid wood that a joint's ratio to it is of.

    Raises
    ------
    NotCovered, MissingInputs
        For a joint that has none under this action.
    """
    if action == "bending":
        return SECTION_RULES[joint.section_rule].solid_property if joint.section_rule else "mor"
    if action == "axial" and (not joint.area_rule or AREA_RULES[joint.area_rule].pull != "shear"):
        raise NotCovered("the ratio to solid wood of a bond pulled apart", "no one strength of the timber fits it.")
    return "shear"


def strength(wanted: Wanted) -> Strength:
    """How strong a joint is over shops, by what the book holds.

    Parameters
    ----------
    wanted : Wanted

    Returns
    -------
    Strength
        On the footing asked for; where none is, on the ratio to solid wood, or on the stress where that can't be had.

    Raises
    ------
    TooThin
        If the book holds nothing on it; how thin what it holds is, `stats.practice.limit.next_shop` says.
    StatsError
        If the footing can't be had for this joint or timber.
    """
    if wanted.footing:
        return _on(wanted, wanted.footing)
    try:
        return _on(wanted, "ratio_solid")
    except StatsError as first:
        try:
            return _on(wanted, "stress")
        except StatsError:
            raise first from None


def _on(wanted: Wanted, footing: str) -> Strength:
    solid, named = _solid(wanted) if footing == "ratio_solid" else (None, "")
    choices = wanted.choices(footing)
    found = levels(choices).get(wanted.joint.pk)
    if found is None:
        raise TooThin((_nothing(wanted, footing),))
    own, other = found.own, found.network
    route = NETWORK if other and (own.why_thin() or _reach(other) < _reach(own)) else OWN
    return Strength(
        evidence=other if other and route == NETWORK else own,
        route=route,
        own=own,
        network=other,
        beside=found.beside,
        footing=footing,
        unit=unit_of(footing, wanted.action),
        solid_mpa=solid,
        solid_name=named,
        tested=found.tested,
        query=choices.query(joints=(wanted.joint.pk,)),
        inventions=found.inventions,
        by_readings=found.by_readings,
    )


@dataclass(frozen=True)
class Level:
    """What one comparison tells of one joint's strength over shops.

    Parameters
    ----------
    own, network, beside
        As in `Strength`.
    tested, inventions, by_readings
        As in `Strength`.
    """

    own: ShopEvidence
    network: ShopEvidence | None
    beside: str
    tested: Tested | None
    inventions: tuple[bool, ...]
    by_readings: ByReadings | None


def levels(choices: Choices) -> dict[str, Level]:
    """The strength over shops of every joint of a comparison, by its code; worked out once for a state of the data."""
    return once(f"levels {choices.query()} {choices.with_invented}", lambda: _levels(compare(choices)))


def _levels(found: Comparison) -> dict[str, Level]:
    if found.empty:
        return {}
    joints = Joint.objects.in_bulk()
    parts = {str(label): rows for label, rows in found.series.groupby("joint", sort=False)}
    own = {label: _shops(rows) for label, rows in parts.items()}
    # Those that most shops tested first: what the others are known through.
    known = sorted(
        (label for label in parts if not own[label].why_thin()), key=lambda label: own[label].shops, reverse=True
    )
    shown = dict(zip(found.groups["joint"].astype(str), found.groups["limit_5pct"], strict=True))
    told = {}
    for label, rows in parts.items():
        code = str(rows["joint_code"].iloc[0])
        other, beside = _by_network(found.network, label, own, known)
        told[code] = Level(
            own=own[label],
            network=other,
            beside=str(parts[beside]["joint_name"].iloc[0]) if beside else "",
            tested=_tested(joints[code], [int(key) for key in rows["series_id"]]),
            inventions=tuple(bool(one) for one in rows["invented"]),
            by_readings=_by_readings(rows, float(shown[label])),
        )
    return told


def _by_readings(rows: pd.DataFrame, limit: float) -> ByReadings | None:
    if not np.isfinite(limit):
        return None
    read = rows[~rows["summary_only"].astype(bool)]
    specimens = int((read["n"].astype(float) + read["held"].astype(float)).sum())
    return ByReadings(limit, specimens, int(read["study_id"].nunique()))


def _solid(wanted: Wanted) -> tuple[float, str]:
    prop = solid_property(wanted.joint, wanted.action)
    value = wanted.timber.wood.value(prop)
    if value is None:
        raise MissingInputs(
            [f"the {PROPERTIES[prop].name} of {wanted.timber.name}"], "a capacity from the ratio to solid wood"
        )
    return float(value), PROPERTIES[prop].name


def _nothing(wanted: Wanted, footing: str) -> str:
    glue = f" with {wanted.adhesive.name}" if wanted.adhesive else ""
    timber = "" if footing == "ratio_solid" else f" in {wanted.timber.name}"
    return (
        f"No accepted study tells how strong {wanted.joint.name.lower()}{glue}{timber} is in "
        f"{ACTIONS[wanted.action]}, measured as {LADDER[footing].name.lower()}."
    )


def _shops(rows: pd.DataFrame) -> ShopEvidence:
    """A row a series as `evidence_of` takes it; studies of one workshop are one shop."""
    shop = rows["workshop"].where(rows["workshop"].astype(str) != "", rows["study"])
    n = rows["n"].astype(float) + rows["held"].astype(float)
    frame = pd.DataFrame({"study": shop, "mean_log": rows["y"], "sd_log": rows["sd_log"], "n": n})
    return evidence_of(frame[np.isfinite(frame["mean_log"].astype(float))])


def _reach(evidence: ShopEvidence) -> float:
    """How far the mean over shops may be off: what the two ways are chosen by."""
    return float(distributions.t.ppf(0.975, max(evidence.between_df, 1.0))) * evidence.mean_se


def _by_network(
    linked: Network | None, label: str, own: Mapping[str, ShopEvidence], known: Sequence[str]
) -> tuple[ShopEvidence | None, str]:
    """The joint's strength by way of the first that studies link it to, and that joint."""
    if linked is None or linked.tau2 is None:
        return None, ""
    for reference in known:
        if reference == label:
            continue
        try:
            return _through(linked, label, reference, own[reference], own[label]), reference
        except NotCompared:
            continue
    return None, ""


def _through(linked: Network, label: str, reference: str, level: ShopEvidence, own: ShopEvidence) -> ShopEvidence:
    ratio = linked.relative(label, reference)
    return through_network(
        level,
        ratio.estimate,
        ratio.se,
        tau2=float(linked.tau2 or 0.0),
        df=float(ratio.df or linked.df),
        shops=own.shops,
        specimens=own.specimens,
        within_sd=own.within_sd,
        within_df=own.within_df if own.within_sd is not None else None,
    )


def _tested(joint: Joint, series_ids: list[int]) -> Tested | None:
    """The sizes of the series nearest to the middle of those that tell all that the joint's rules need.

    Of a great many series the newest are looked at.
    """
    names = [name for name in joint.dims if name in DIM_FIELDS]
    needed = [name for name in joint.needs_dims.split() if name in names]
    fields = ("pk", "label", "study_id", "study__title", *names)
    rows = pd.DataFrame.from_records(
        list(Series.objects.filter(pk__in=sorted(series_ids)[-MOST_SIZES:]).values(*fields)), columns=fields
    )
    sizes = rows[names].astype(float)
    whole = sizes[needed].notna().all(axis=1) if needed else sizes.notna().any(axis=1)
    rows, sizes = rows[whole], sizes[whole]
    if rows.empty:
        return None
    logs = np.log(sizes[needed or names].dropna(axis=1))
    order = (logs - logs.median()).abs().sum(axis=1).sort_values(kind="stable").index
    for at in order:
        own: dict[str, Any] = sizes.loc[at].dropna().to_dict()
        try:
            checked = check_sizes(own)
        except StatsError:  # sizes that can't be, though somebody handed them in
            continue
        row = rows.loc[at]
        return Tested(checked, int(row["pk"]), row["label"], int(row["study_id"]), row["study__title"], len(rows))
    return None
