"""Every joint against every other through the studies that link them, for what a reader chose."""

from __future__ import annotations

from dataclasses import dataclass

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


def linked(choices: Choices) -> Linked:
    """Fit the network over the series that `compare` would set side by side.

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
    # Variances as the comparison's own ratios go by, so that the two say the same.
    arms = comparison.series[["study_id", "joint", "y", "v_steady"]].rename(
        columns={"study_id": "study", "v_steady": "v"}
    )
    try:
        return Linked(comparison, network.fit(arms, comparison.reference, level=choices.level))
    except StatsError as error:
        return Linked(comparison, None, str(error))
