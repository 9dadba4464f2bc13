"""How sure a cell of the evidence map is by what was counted, where no comparison of the network grades it."""

from __future__ import annotations

from .extent import Tally

HIGH, MODERATE, LOW, VERY_LOW = "high", "moderate", "low", "very low"
LEVELS = (HIGH, MODERATE, LOW, VERY_LOW)
# By counting alone nothing gets "high": counts don't show whether the studies agree.
MODERATE_FROM = {"studies": 3, "specimens": 20}
LOW_FROM = {"studies": 2, "specimens": 10}
MOST_DOUBTED = 0.25


def by_count(tally: Tally) -> str:
    """How sure, by numbers of studies and specimens and by the share of specimens that are doubted.

    Notes
    -----
    Moderate from three studies and twenty specimens on, of which less than a quarter are doubted by a check or
    known from a published mean alone; low from two studies and ten specimens on; else very low.
    """
    much, some = (
        tally.studies >= least["studies"] and tally.specimens >= least["specimens"]
        for least in (MODERATE_FROM, LOW_FROM)
    )
    if much and tally.doubted < MOST_DOUBTED * tally.specimens:
        return MODERATE
    return LOW if some else VERY_LOW
