"""A shop among the others: where it stands on the joints that it shares with them, and how its results scatter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from results.models import Series, Study
from stats.errors import StatsError
from stats.footing.comparability import place
from stats.inference import interlab, sidebyside

from .choices import Choices
from .compare import axis_of, facts
from .frames import series_frame, specimen_frame

# A peak load never leaves its own rig, so that no two shops have one in common.
FOOTINGS = ("ratio_solid", "ratio_solid_matched", "ratio_control", "stress", "at_joint")
FEWEST_FOR_STANDING = 4
"""The shop itself and three others."""
FEWEST_FOR_MANDEL = 3
"""Of two shops each lies as far from their mean as the other."""
MOST_SCORED = 40
"""With more shops on a joint only the one that the page is about has a score: all of theirs would take seconds."""
SCORES = ["joint", "joint_name", "shops", "study", "y", "assigned", "u_assigned", "sigma", "z", "zeta", "verdict"]
MANDEL = ["joint", "joint_name", "study", "n", "mean", "sd", "h", "h_critical", "k", "k_critical", "outlying"]
SHARED = ["joint", "joint_name", "shops", "repeated"]


@dataclass(frozen=True)
class Shop:
    """What `shop` found, on one footing under one action.

    Parameters
    ----------
    shared : DataFrame
        A row a joint that the shop tested: ``joint``, ``joint_name``, ``shops`` (itself among them), ``repeated``
        (those with single results of their own). Joints are told apart as a comparison does, and by what their axis
        has in common.
    scores : DataFrame
        A row a joint and shop, of the joints with `FEWEST_FOR_STANDING` shops or more: as `interlab.standing` has it,
        with ``shops``. Where those are more than `MOST_SCORED`, the shop's own row alone.
    mandel : DataFrame
        A row a joint and shop, of the joints with `FEWEST_FOR_MANDEL` shops or more: as `interlab.precision` has it.
    invented : bool
        Whether invented studies are in it.
    """

    name: str
    footing: str
    action: str
    tests: str
    shared: pd.DataFrame
    scores: pd.DataFrame
    mandel: pd.DataFrame
    invented: bool = False

    @property
    def own_scores(self) -> pd.DataFrame:
        return self.scores[self.scores["study"] == self.name]

    @property
    def own_mandel(self) -> pd.DataFrame:
        return self.mandel[self.mandel["study"] == self.name]

    @property
    def reads(self) -> float | None:
        """How many times the others' figures this shop's are, on average over the joints that have a score."""
        own = self.own_scores
        return float(np.exp((own["y"] - own["assigned"]).mean())) if len(own) else None


def tested_by(name: str, *, invented: bool) -> list[tuple[str, str, int]]:
    """What a shop's accepted studies tested: action, joint or bond, and how many series; the most first."""
    rows = Series.objects.counting().filter(study__workshop=name)
    rows = rows if invented else rows.filter(study__invented=False)
    counts: dict[tuple[str, str], int] = {}
    for pair in rows.order_by().values_list("setup__loading__action", "tests"):
        counts[pair] = counts.get(pair, 0) + 1
    return sorted(((*pair, n) for pair, n in counts.items()), key=lambda one: (-one[2], one[1] == "bond", one[0]))


def shop(name: str, *, footing: str, action: str, tests: str, invented: bool) -> Shop:
    """Set one shop beside all others that tested the same joints.

    Parameters
    ----------
    name : str
        The workshop, as its studies name it.
    footing : str
        One of `FOOTINGS`.
    action, tests : str
        Under which action, and whether joints or bonds.
    invented : bool
        Whether invented studies are in it.

    Returns
    -------
    Shop

    Notes
    -----
    All studies of one workshop are one shop. Where it stands goes by the means of its series, as a comparison pools
    them; h and k by its single results that broke, the results of all its series of a joint together, so that k holds
    what differs between those series too.
    """
    joints = Series.objects.counting().filter(study__workshop=name).order_by().values_list("joint_id", flat=True)
    known = tuple(sorted(set(joints)))
    frame = series_frame(Choices(joints=known, footing=footing)) if known else pd.DataFrame()
    if len(frame):
        frame = frame[(frame["action"] == action) & (frame["tests"] == tests) & frame["sum_log"].notna()]
        frame = frame[(invented | ~frame["invented"].astype(bool)) & (frame["n"].fillna(1) + frame["held"] > 0)]
    frame = _on_axes(frame, footing, name) if len(frame) else frame
    if frame.empty:
        nothing = (pd.DataFrame(columns=columns) for columns in (SHARED, SCORES, MANDEL))
        return Shop(name, footing, action, tests, *nothing)
    specimens = specimen_frame(_worth_reading(frame), footing, action, flagged=True)
    estimates = sidebyside.series_estimates(frame, specimens)
    return Shop(
        name,
        footing,
        action,
        tests,
        _shared(frame),
        _frame(_scores(estimates, name), SCORES),
        _frame(_mandel(frame, specimens), MANDEL),
        invented=bool(frame["invented"].any()),
    )


def _on_axes(frame: pd.DataFrame, footing: str, name: str) -> pd.DataFrame:
    """The series of joints that the shop has too, each joint named by its kind and by its axis."""
    axes = [place(one, footing)[0] for one in facts(frame, footing)]
    together = [None if axis is None else (kind, axis) for kind, axis in zip(frame["joint"], axes, strict=True)]
    own = dict.fromkeys(
        key for key, shop in zip(together, frame["workshop"], strict=True) if shop == name and key is not None
    )
    number = {key: f"{key[0]} {i}" for i, key in enumerate(own)}
    frame = frame.assign(joint=[number.get(key, "") if key else "" for key in together])
    frame = frame[frame["joint"] != ""]
    words = {joint: axis_of(part.head(1), footing) for joint, part in frame.groupby("joint")}
    names = [
        ", ".join(part for part in (label, words[joint]) if part)
        for label, joint in zip(frame["joint_name"], frame["joint"], strict=True)
    ]
    return frame.assign(joint_name=names)


def _worth_reading(frame: pd.DataFrame) -> list[int]:
    """Series whose single results are needed: some held, or the joint has enough shops for h and k."""
    shops = frame.groupby("joint")["workshop"].transform("nunique")
    wanted = (frame["held"] > 0) | ((shops >= FEWEST_FOR_MANDEL) & ~frame["summary_only"])
    return [int(key) for key in frame.loc[wanted, "series_id"]]


def _shared(frame: pd.DataFrame) -> pd.DataFrame:
    single = frame[~frame["summary_only"]]
    repeated = single.groupby("joint")["workshop"].nunique()
    rows = [
        (joint, part["joint_name"].iloc[0], part["workshop"].nunique(), int(repeated.get(joint, 0)))
        for joint, part in frame.groupby("joint", sort=False)
    ]
    return pd.DataFrame(rows, columns=SHARED)


def _scores(estimates: pd.DataFrame, name: str) -> Iterator[pd.DataFrame]:
    """The scores of each joint with shops enough; of the other shops only where they aren't too many to be drawn."""
    if estimates.empty:
        return
    names = estimates.drop_duplicates("joint").set_index("joint")["joint_name"]
    means = sidebyside.study_means(estimates.assign(study_id=estimates["workshop"]))
    parts = dict(tuple(means.groupby("joint")))
    for joint in names.index:
        part = parts[joint]
        if len(part) < FEWEST_FOR_STANDING or name not in set(part["study_id"]):
            continue
        only = name if len(part) > MOST_SCORED else None
        found = interlab.standing(part["y"], part["v"], labels=part["study_id"].tolist(), only=only)
        yield found.assign(joint=joint, joint_name=names[joint], shops=len(part))


def _mandel(frame: pd.DataFrame, specimens: pd.DataFrame) -> Iterator[pd.DataFrame]:
    about = frame[["series_id", "workshop", "joint", "joint_name"]]
    told = specimens[specimens["outcome"] == "broke"].merge(about, on="series_id")
    told = told.assign(study=told["workshop"], y=np.log(told["value"].astype(float)))
    parts = dict(tuple(told.groupby("joint")))
    for joint in dict.fromkeys(frame["joint"]):
        part = parts.get(joint, told.head(0))
        if part["study"].nunique() < FEWEST_FOR_MANDEL:
            continue
        try:
            found = interlab.precision(part[["study", "joint", "y"]]).shops
        except StatsError:  # no shop tested it twice, or all its results are equal
            continue
        yield found.assign(joint_name=part["joint_name"].iloc[0])


def _frame(parts: Iterator[pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    found = list(parts)
    return pd.concat(found, ignore_index=True)[columns] if found else pd.DataFrame(columns=columns)


def names() -> list[str]:
    """The workshops of the studies that everybody may read."""
    return list(
        Study.objects.public().exclude(workshop="").order_by("workshop").values_list("workshop", flat=True).distinct()
    )
