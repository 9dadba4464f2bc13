"""Every joint against every other through the studies that link them, for what a reader chose."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from stats.errors import StatsError
from stats.inference import network

from .choices import Choices
from .compare import Comparison, compare


@dataclass(frozen=True)
class Linked:
    """The comparison that the network is of, and the network; where there is none, `refused` says why."""

    comparison: Comparison
    network: network.Network | None
    refused: str = ""

    @cached_property
    def names(self) -> dict[str, str]:
        """Names of the comparison's joints by code."""
        told = self.comparison.behind.side.estimates.told
        return dict(zip(told.joints, told.names, strict=True))

    @cached_property
    def titles(self) -> dict[int, str]:
        """Titles of studies by key."""
        studies = self.comparison.behind.side.series.source.studies
        return dict(zip(studies.key.tolist(), studies.title, strict=True))

    @cached_property
    def once(self) -> frozenset[str]:
        """Joints that only one study ever made."""
        estimates = self.comparison.behind.side.estimates
        told = zip(estimates.told.joints, estimates.cells.studies_of.tolist(), strict=True)
        return frozenset(joint for joint, studies in told if studies == 1)


def linked(choices: Choices) -> Linked:
    """The network of the series that `compare` sets side by side.

    Parameters
    ----------
    choices : Choices
        The same as for a comparison; `reference` is what effects are measured against.

    Returns
    -------
    Linked
    """
    comparison = compare(choices)
    if comparison.empty:
        return Linked(comparison, None, comparison.refused or "No series is left to compare.")
    fitted = comparison.network
    return Linked(comparison, fitted, "" if fitted else _why_none(comparison))


def side_by_side(series: pd.DataFrame) -> pd.DataFrame:
    """The series of studies that hold two joints or more: what can link anything."""
    return series[series.groupby("study_id")["joint"].transform("nunique") > 1]


def _why_none(comparison: Comparison) -> str:
    """Why nothing is linked, by the names a reader knows."""
    series = comparison.series
    linking = side_by_side(series)
    titles = linking["study"].groupby(linking["study_id"]).first().tolist()
    if not titles:
        return "No study here tested two of these joints side by side, so nothing links one joint to another."
    if len(titles) == 1:
        return (
            f"Only one study here, “{titles[0]}”, tested two or more of these joints side by side. There are no studies"
            " to take together, and one study can't say what another shop would find."
        )
    if comparison.reference not in set(linking["joint"]):
        name = series.loc[series["joint"] == comparison.reference, "joint_name"].iloc[0]
        return f"No study tested {name} beside another joint, so no ratio to it can be had; choose another reference."
    try:  # whatever else it may be, the fit itself says
        arms = series[["study_id", "joint", "y", "v_steady"]]
        network.fit(arms.rename(columns={"study_id": "study", "v_steady": "v"}), comparison.reference)
    except StatsError as error:
        return str(error)
    return "No network of these studies can be had."
