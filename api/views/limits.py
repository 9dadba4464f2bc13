"""Lower limits: the strength that most joints of a kind exceed."""

from __future__ import annotations

import math
from typing import Any

from results.evidence import MODELS, Choices, limits

from ..errors import BadParameters, Fault, shorten
from ..formats import Table
from ..frames import about, alternatives, beside, one_of, plain, refusal, table_of
from .statistics import Statistic

LEAST, MOST = 0.5, 0.999


class Limits(Statistic):
    """The lower limits for a choice, with the parameters of a comparison and those of the limit."""

    about = "Lower limits: the strength that a share of joints of each kind exceeds, and how surely."
    name = "limits"
    tables = ("limits",)
    own = ("coverage", "confidence", "model")

    def more(self) -> dict[str, Any]:
        asked = self.request.query_params
        return {
            "coverage": share("coverage", asked.get("coverage", ""), 0.95),
            "confidence": share("confidence", asked.get("confidence", ""), 0.75),
            "model": one_of("model", asked.get("model", ""), MODELS) or MODELS[0],
        }

    def answer(self, choices: Choices, more: dict[str, Any]) -> dict[str, Any]:
        found = limits(choices, **more)
        told = about(found.comparison)
        return {**told, **more, "alternatives": alternatives(found.comparison), "limits": plain(found.rows)}

    def table_of(self, table: str, choices: Choices, more: dict[str, Any]) -> Table:
        found = limits(choices, **more)
        if found.comparison.empty:
            raise refusal(found.comparison)
        return table_of(beside(found.comparison, found.rows.assign(**more)))


def share(name: str, value: str, otherwise: float) -> float:
    """A share such as 0.95, typed as a number."""
    if not value:
        return otherwise
    try:
        found = float(value)
    except ValueError:
        found = math.nan
    if not LEAST <= found <= MOST:
        detail = f"{name}={shorten(value)!r} can't be used; it is a share from {LEAST} to {MOST}, such as {otherwise}."
        raise BadParameters([Fault(name, value, detail)])
    return found
