"""How the numbers are made: every formula, rule and statistic in use, each with an example worked by the code.

Formulas, symbols, notes and sources are read from the code itself, and the examples are computed by it, so that the
page can't say anything else than the code does.
"""

from __future__ import annotations

from stats.footing.timber import Timber

from .comparing import uncertainties, verdicts
from .entry import Check, Method, Part, checks
from .findings import noticed
from .groups import within_study
from .joint import areas, footings
from .networks import networked
from .next_test import planned
from .piece import pieces
from .rig import loadings, readings
from .series import one_series
from .shops import between_shops, trusted
from .solid import solid_wood
from .studies import pooling

__all__ = ["PARTS", "Check", "Method", "Part", "checks", "parts"]

PARTS = (
    "readings",
    "loadings",
    "areas",
    "footings",
    "solid-wood",
    "comparing",
    "uncertainty",
    "series",
    "groups",
    "studies",
    "network",
    "shops",
    "certainty",
    "findings",
    "piece",
    "next-test",
)
"""The parts by their codes, in order."""


def parts(timber: Timber | None) -> tuple[Part, ...]:
    """All parts, their examples worked.

    Parameters
    ----------
    timber : Timber or None
        The timber of the ladder's example; without one the ladder stops at the stress and says so.
    """
    return (
        readings(),
        loadings(),
        areas(),
        footings(timber),
        solid_wood(),
        verdicts(),
        uncertainties(),
        one_series(),
        within_study(),
        pooling(),
        networked(),
        between_shops(),
        trusted(),
        noticed(),
        pieces(),
        planned(),
    )
