"""What a fitted network says, as the numbers that its page shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from stats.inference.comparisons import Contrast, Network, NotCompared
from stats.inference.sidebyside import ONE_OF_THE_TWO
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
    fitted, names = _network(found), names_of(found.comparison.arms)
    once = _tested_once(found.comparison.arms)
    pairs = fitted.table()
    pairs = pairs[(pairs["joint"] == fitted.reference) | (pairs["versus"] == fitted.reference)]
    turned = (pairs["versus"] != fitted.reference).to_numpy()
    ends = {"ratio": ("estimate",) * 2, "low": ("low", "high"), "high": ("high", "low")}
    ends |= {"prediction_low": ("predict_low", "predict_high"), "prediction_high": ("predict_high", "predict_low")}
    joints = np.where(turned, pairs["versus"], pairs["joint"])
    frame = pd.DataFrame({"joint": joints, "joint_name": [names[joint] for joint in joints]})
    for name, (one, other) in ends.items():
        logs = np.where(turned, -pairs[other], pairs[one]).astype(float)
        frame[name] = np.exp(np.clip(logs, -700, 700))  # beyond, a number can't hold what the log stands for
    frame["studies"] = pairs["studies"].to_numpy()
    frame["note"] = [_caution(fitted, once, joint, fitted.reference) for joint in joints]
    frame.loc[frame["note"] != "", ["prediction_low", "prediction_high"]] = np.nan
    return frame.sort_values("ratio", ascending=False, kind="stable", ignore_index=True)


def tested_together(found: Linked) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Joints with how much stands behind each, and the pairs that some study tested side by side.

    Returns
    -------
    nodes : DataFrame
        joint, joint_name, studies, specimens, part; the reference's part first.
    edges : DataFrame
        joint, versus, studies.
    """
    fitted, series = _network(found), found.comparison.arms
    part = {joint: number for number, joints in enumerate(fitted.components, 1) for joint in joints}
    names = names_of(series)
    at, joints = pd.factorize(series["joint"])
    study, studies = pd.factorize(series["study_id"])
    held = np.unique(at * len(studies) + study) // len(studies)  # each joint once a study
    nodes = pd.DataFrame(
        {
            "joint": joints,
            "joint_name": [names[joint] for joint in joints],
            "studies": np.bincount(held),
            "specimens": np.bincount(at, series["n"].fillna(0) + series["held"]).astype(int),
            "part": [part[joint] for joint in joints],
        }
    )
    pairs = fitted.table()
    edges = pairs.loc[pairs["studies"] > 0, ["joint", "versus", "studies"]]
    return nodes.sort_values("part", kind="stable", ignore_index=True), edges.reset_index(drop=True)


def pair(found: Linked, joint: str, versus: str) -> Pair:
    """Two joints by the studies that hold both, by all others, and by all together.

    Raises
    ------
    NotCompared
        When no chain of studies links the two.
    BadArms
        For a joint the network does not hold, or one twice.
    """
    fitted, series = _network(found), found.comparison.arms
    whole = fitted.relative(joint, versus)
    sides = fitted.split(joint, versus)
    shares = fitted.contributions(joint, versus).rename(columns={"study": "study_id"})
    shares["study"] = shares["study_id"].map(series.groupby("study_id")["study"].first())
    return Pair(
        joint=joint,
        versus=versus,
        network=whole,
        direct=fitted.direct(joint, versus) if sides.direct else None,
        indirect=fitted.indirect(joint, versus) if sides.indirect else None,
        difference=Difference(_exp(sides.difference[0]), sides.p) if sides.difference else None,
        shares=shares[shares["weight"] > 1e-9],
        note=_caution(fitted, _tested_once(series), joint, versus),
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
    fitted, series = _network(found), found.comparison.arms
    names, titles = names_of(series), series.groupby("study_id")["study"].first()
    part = set(fitted.components[0])
    linking = side_by_side(series)
    linking = linking[linking["joint"].isin(part)]
    frame = fitted.influence().rename(columns={"study": "study_id"})
    frame = frame[frame["study_id"].isin(set(linking["study_id"]))].reset_index(drop=True)
    ratio = np.exp(fitted.effects["estimate"])
    frame["study"] = frame["study_id"].map(titles)
    frame["joint_name"] = frame["joint"].map(names)
    frame["ratio"] = frame["joint"].map(ratio).astype(float)
    frame["without"] = frame["ratio"] * np.exp(frame["shift"].astype(float))
    frame["rests"] = [()] * len(frame)
    alone = frame.index[frame["disconnects"]]
    for row, joints in zip(alone, _left_alone(linking, frame.loc[alone, "study_id"], fitted.reference), strict=True):
        frame.at[row, "rests"] = tuple(names[joint] for joint in joints)
    columns = ["study_id", "study", "joint", "joint_name", "ratio", "without", "shift_in_se", "rests"]
    return frame[columns].sort_values("shift_in_se", ascending=False, kind="stable", ignore_index=True)


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


def _tested_once(series: pd.DataFrame) -> set[str]:
    """Joints that only one study ever made."""
    studies = series.groupby("joint")["study_id"].nunique()
    return set(studies.index[studies == 1])


def _caution(fitted: Network, once: Iterable[str], joint: object, versus: object) -> str:
    """Why a study more can't be foretold for a ratio; empty where it can."""
    if fitted.tau2 is None:
        return ONE_EACH
    return ONE_OF_THE_TWO if {joint, versus} & set(once) else ""


def _exp(value: float) -> float:
    """What a log stands for; endless beyond what a number holds."""
    return float(np.exp(value)) if value < 700 else float("inf")


def _network(found: Linked) -> Network:
    if found.network is None:
        raise NotCompared(found.refused)
    return found.network
