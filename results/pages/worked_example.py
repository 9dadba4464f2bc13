"""One reading taken through every footing, by the code that does it for every study."""

from __future__ import annotations

from dataclasses import dataclass

from results.models import Timber
from stats.footing.footings import FOOTINGS, Footing, LoadCase
from stats.footing.ladder import climb
from stats.footing.units import read

READING, ARM, MOISTURE_PCT = "127 kg", "12 in", 9.0
RAIL_MM = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5}


@dataclass(frozen=True)
class Rung:
    """One footing of the example, with its step from the one before."""

    name: str
    footing: Footing
    value: float | None
    steps: list[dict]


@dataclass(frozen=True)
class Example:
    """What was typed and the footings that come of it."""

    reading: str
    arm: str
    rail: str
    timber: str
    moisture_pct: float
    rungs: list[Rung]


def worked_example(timber: Timber | None) -> Example:
    """A luggage scale at the end of an arm, as somebody would type it.

    Parameters
    ----------
    timber : Timber or None
        The timber of the rail; without one the ladder stops at the stress and says so.

    Returns
    -------
    Example
    """
    case = LoadCase(
        reads="force",
        loading="cantilever_arm",
        values=[read(READING, "force").si],
        setup={"arm_mm": read(ARM, "length").si, "arm_reference": "face"},
        dims=RAIL_MM,
        section_rule="member",
        timber=timber.wood if timber else None,
        moisture_pct=MOISTURE_PCT,
    )
    ladder = climb(case)
    rungs, seen = [], 0
    for code in ("peak_load", "at_joint", "stress", "ratio_solid"):
        footing = ladder[code]
        steps = [step.to_dict() for step in footing.steps[seen:]]
        seen = max(seen, len(footing.steps))
        value = float(footing.values[0]) if footing.values is not None else None
        rungs.append(Rung(FOOTINGS[code].name, footing, value, steps))
    rail = " × ".join(f"{size:g}" for size in RAIL_MM.values())
    return Example(READING, ARM, rail, timber.name if timber else "not said", MOISTURE_PCT, rungs)
