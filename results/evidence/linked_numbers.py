"""What a fitted network says, as the numbers that its page shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from stats.inference.comparisons import Network
from stats.inference.fitted import NotCompared
from stats.inference.log_ratios import Contrast
from stats.inference.ratio_rows import ONE_OF_THE_TWO
from stats.interval import Interval

from .linked import Linked, side_by_side

ONE_EACH = "Each ratio rests on one study: it can't say what another shop would find."


@dataclass(frozen=True)
class Difference:
    """Direct over indirect evidence on one ratio.

    Parameters
    ----------
    ratio : float
        Direct ratio over indirect ratio [-].
    p : float
        Two-sided probability of one as far from 1, if the two agreed.
    """

    ratio: float
    p: float


@dataclass(frozen=True)
class Pair:
    """Two joints by each kind of evidence; a kind that does not exist is None."""

    joint: str
    versus: str
    network: Contrast
    direct: Contrast | None
    indirect: Contrast | None
    difference: Difference | None
    shares: pd.DataFrame  # study_id, study, weight, direct
    note: str


@dataclass(frozen=True)
class Spread:
    """How much studies differ on one ratio.

    Parameters
    ----------
    tau : float
        Standard deviation of a log ratio between studies [-].
    interval : Interval
        Of tau [-]; its upper end may be endless.
    i2 : float
        Share of the spread seen that is more than the series' own errors explain, 0 to 1.
    """

    tau: float
    interval: Interval
    i2: float

    @property
    def factor(self) -> float:
        """By what factor a study's ratio lies from the mean in two studies of three, at most [-]."""
        return float(np.exp(self.tau))


@dataclass(frozen=True)
class Part:
    """Joints that studies link to each other, and to none outside; `reference` is what to measure them against."""

    number: int
    joints: tuple[str, ...]
    names: tuple[str, ...]
    studies: int
    reference: str


def names_of(series: pd.DataFrame) -> dict[str, str]:
    """Names of the joints of a comparison by code."""
    return dict(zip(series["joint"].tolist(), series["joint_name"].tolist(), strict=True))


def effects(found: Linked) -> pd.DataFrame:
    """Every joint that is linked to the reference, as a ratio to it.

    Returns
    -------
    DataFrame
        joint, joint_name, ratio, low, high, prediction_low, prediction_high (NaN where a study more can't be
        foretold), studies (that hold both), note; the largest ratio first.
    """
    fitted = _network(found)
    *logs, studies = fitted.relative_to(fitted.reference)
    there = np.flatnonzero(~np.isnan(logs[0]))
    joints = [fitted.joints[at] for at in there.tolist()]
    notes = np.array([_caution(fitted, found.once, joint, fitted.reference) for joint in joints], dtype=object)
    # Beyond, a number can't hold what the log stands for.
    ratio, low, high, *ahead = (np.exp(np.clip(log[there], -700, 700)) for log in logs)
    ahead_low, ahead_high = (np.where(notes == "", end, np.nan) for end in ahead)
    order = np.argsort(-ratio, kind="stable")
    columns = {
        "joint": np.array(joints, dtype=object),
        "joint_name": np.array([found.names[str(joint)] for joint in joints], dtype=object),
        "ratio": ratio,
        "low": low,
        "high": high,
        "prediction_low": ahead_low,
        "prediction_high": ahead_high,
        "studies": studies[there],
        "note": notes,
    }
    return pd.DataFrame({name: column[order] for name, column in columns.items()})


def tested_together(found: Linked) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Joints with how much stands behind each, and the pairs that some study tested side by side.

    Returns
    -------
    nodes : DataFrame
        joint, joint_name, studies, specimens, part; the reference's part first.
    edges : DataFrame
        joint, versus, studies.
    """
    fitted, cells = _network(found), found.comparison.behind.side.estimates.cells
    part = {joint: number for number, joints in enumerate(fitted.components, 1) for joint in joints}
    nodes = sorted(
        zip(
            *(found.names.keys(), found.names.values(), cells.studies_of.tolist(), cells.specimens.tolist()),
            map(part.__getitem__, found.names),
            strict=True,
        ),
        key=lambda node: node[-1],
    )
    pairs = fitted.table()
    met = pairs["studies"].to_numpy() > 0
    edges = {name: pairs[name].array[met] for name in ("joint", "versus", "studies")}
    return pd.DataFrame(nodes, columns=["joint", "joint_name", "studies", "specimens", "part"]), pd.DataFrame(edges)


def pair(found: Linked, joint: str, versus: str) -> Pair:
    """Two joints by the studies that hold both, by all others, and by all together.

    Raises
    ------
    NotCompared
        When no chain of studies links the two.
    BadArms
        For a joint the network does not hold, or one twice.
    """
    fitted = _network(found)
    whole = fitted.relative(joint, versus)
    sides = fitted.split(joint, versus)
    shares = fitted.contributions(joint, versus).rename(columns={"study": "study_id"})
    shares["study"] = [found.titles[study] for study in shares["study_id"].tolist()]
    return Pair(
        joint=joint,
        versus=versus,
        network=whole,
        direct=fitted.direct(joint, versus) if sides.direct else None,
        indirect=fitted.indirect(joint, versus) if sides.indirect else None,
        difference=Difference(_exp(sides.difference[0]), sides.p) if sides.difference and sides.p is not None else None,
        shares=shares[shares["weight"] > 1e-9],
        note=_caution(fitted, found.once, joint, versus),
    )


def best_pair(ratios: pd.DataFrame, reference: str) -> tuple[str, str]:
    """Of the ratios to the reference, as `effects` gives them, the one that most studies hold both joints of."""
    return str(ratios.loc[ratios["studies"].idxmax(), "joint"]), reference


def spread(fitted: Network) -> Spread | None:
    """How much studies differ; None where each ratio rests on one study.

    Notes
    -----
    I2 is (Q - df) / Q, at least 0, with Q the weighted sum of squares about the network without any
    between-study variance.

    References
    ----------
    Higgins JPT, Thompson SG (2002). Quantifying heterogeneity in a meta-analysis. Statistics in Medicine 21:
    1539-1558.
    """
    ends = fitted.tau2_interval
    if fitted.tau2 is None or ends is None:
        return None
    q = fitted.profile.q(0.0)
    return Spread(
        tau=float(np.sqrt(fitted.tau2)),
        interval=Interval(float(np.sqrt(ends.low)), float(np.sqrt(ends.high)), ends.level),
        i2=max(0.0, (q - fitted.df) / q) if q > 0 else 0.0,
    )


def influence(found: Linked) -> pd.DataFrame:
    """What leaving out each study does, for the studies that tell on the reference's part.

    Returns
    -------
    DataFrame
        study_id, study, joint, joint_name, ratio, without, shift_in_se, rests (names of joints that hang on this
        study alone, for which the rest is missing); the study that moves most first.
    """
    fitted, names = _network(found), found.names
    linking = _linking(found)
    frame = fitted.influence()
    telling = np.isin(frame["study"].to_numpy(), linking["study_id"].to_numpy())
    told = {name: frame[name].array[telling].tolist() for name in ("study", "joint", "shift", "shift_in_se")}
    effects = dict(zip(fitted.effects.index.tolist(), np.exp(fitted.effects["estimate"]).tolist(), strict=True))
    ratio = np.array([effects.get(joint, np.nan) for joint in told["joint"]])
    alone = np.flatnonzero(frame["disconnects"].to_numpy(bool)[telling]).tolist()
    rests: list[tuple[str, ...]] = [()] * len(ratio)
    left = _left_alone(linking, [told["study"][row] for row in alone], fitted.reference) if alone else []
    for row, joints in zip(alone, left, strict=True):
        rests[row] = tuple(names[joint] for joint in joints)
    moved = pd.DataFrame(
        {
            "study_id": told["study"],
            "study": [found.titles[study] for study in told["study"]],
            "joint": told["joint"],
            "joint_name": [names.get(joint) for joint in told["joint"]],
            "ratio": ratio,
            "without": ratio * np.exp(np.array(told["shift"], dtype=float)),
            "shift_in_se": told["shift_in_se"],
            "rests": rests,
        }
    )
    return moved.sort_values("shift_in_se", ascending=False, kind="stable", ignore_index=True)


def _linking(found: Linked) -> pd.DataFrame:
    """Joint and study of each series that links the reference's part: its study holds two joints or more."""
    fitted, cells = _network(found), found.comparison.behind.side.estimates.cells
    told, part = cells.found.told, set(fitted.components[0])
    of_part = np.array([joint in part for joint in told.joints])
    which = (np.bincount(cells.study)[told.study] > 1) & of_part[told.joint]
    joint = np.array(told.joints, dtype=object)[told.joint[which]]
    return pd.DataFrame({"joint": pd.Series(joint, dtype=object), "study_id": told.studies[told.study[which]]})


def _left_alone(linking: pd.DataFrame, studies: Iterable[int], reference: object) -> list[list[str]]:
    """For each study the joints that nothing links to the reference once it is left out."""
    joint, names = pd.factorize(linking["joint"])
    study, known = pd.factorize(linking["study_id"])
    size, found = len(names) + len(known), []
    for left_out in studies:
        kept = study != known.get_loc(left_out)
        ends = joint[kept], len(names) + study[kept]
        graph = sparse.coo_matrix((np.ones(len(ends[0])), ends), shape=(size, size))
        _, label = connected_components(graph, directed=False)
        home = label[names.get_loc(reference)]
        found.append([str(name) for name, at in zip(names, label, strict=False) if at != home])
    return found


def parts(found: Linked) -> list[Part]:
    """The parts that nothing links, the reference's first, each with the joint of it that most studies hold."""
    fitted, series = _network(found), found.comparison.arms
    names, linking = names_of(series), side_by_side(series)
    made = []
    for number, joints in enumerate(fitted.components, 1):
        within = linking[linking["joint"].isin(joints)]
        made.append(
            Part(
                number=number,
                joints=tuple(map(str, joints)),
                names=tuple(names[str(joint)] for joint in joints),
                studies=within["study_id"].nunique(),
                reference=_reference_of(within, series),
            )
        )
    return made


def _reference_of(within: pd.DataFrame, series: pd.DataFrame) -> str:
    """Code of the vocabulary by which an address asks for a joint of this part; empty if none can be asked for.

    A joint that is shown in kinds, as bonds by their grain, is asked for by its common code, which means the kind
    that most studies hold.
    """
    studies = series.groupby(["joint_code", "joint"])["study_id"].nunique()
    here = within.groupby(["joint_code", "joint"])["study_id"].nunique().sort_values(ascending=False, kind="stable")
    for code, joint in here.index:
        if studies.loc[code].idxmax() == joint:
            return str(code)
    return ""


def _caution(fitted: Network, once: frozenset[str], joint: object, versus: object) -> str:
    """Why a study more can't be foretold for a ratio; empty where it can."""
    if fitted.tau2 is None:
        return ONE_EACH
    return ONE_OF_THE_TWO if joint in once or versus in once else ""


def _exp(value: float) -> float:
    """What a log stands for; endless beyond what a number holds."""
    return float(np.exp(value)) if value < 700 else float("inf")


def _network(found: Linked) -> Network:
    if found.network is None:
        raise NotCompared(found.refused)
    return found.network
