"""Calibrations made ready to be read: what was found in a sentence, and its tables."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from results.evidence.calibrated import Calibrated, calibrated
from results.intake.rigs import reads_alike, setup_of
from results.models import Calibration, Rig, Setup
from stats.charts.look import counted
from stats.footing.units import show

from . import tables

# Of a setup in a study; older ones are on nobody's page but its owner's.
MOST_SHOWN = 3
_BY = {"pressure": "the force by gauge and ram", "moment": "the reading"}


@dataclass(frozen=True)
class Shown:
    """A calibration as pages show it.

    Parameters
    ----------
    calibrated : Calibrated
        Its numbers.
    made : str
        With how many points, and from where to where.
    line : str
        The correction as a formula.
    correction : str
        What it comes to at the highest reading, and how well that is known.
    weights : str
        How the weights are known.
    """

    calibrated: Calibrated
    made: str
    line: str
    correction: str
    weights: str

    @property
    def record(self) -> Calibration:
        return self.calibrated.record

    def points(self) -> tables.Table:
        """What was hung and read, in its order, and what the correction leaves."""
        unit, fit = self.calibrated.unit, self.calibrated.fit
        frame = pd.DataFrame(
            {
                "Hung": [str(hung) for hung, _ in self.record.points],
                "Read": [str(read) for _, read in self.record.points],
                f"Hung, {unit}": [_to(one, fit.residual_sd) for one in fit.known_n],
                f"Read, {unit}": [_to(one, fit.residual_sd) for one in fit.readings_n],
                f"Read and corrected, {unit}": [
                    _to(fit.zero + fit.gain * one, fit.residual_sd) for one in fit.readings_n
                ],
                f"Left over, {unit}": [_signed(one, fit.residual_sd) for one in self.calibrated.left],
            }
        )
        return tables.of_frame(frame, f"Points of {self.record.made_on}, in the order in which they were taken")

    def corrections(self) -> tables.Table:
        """What has to be added to some readings."""
        unit = self.calibrated.unit
        rows = self.calibrated.corrections
        frame = pd.DataFrame(
            {
                f"Reading, {unit}": [_to(one.reading, one.u) for one in rows],
                f"Correction, {unit}": [_signed(one.correction, one.u) for one in rows],
                f"Standard uncertainty, {unit}": [_to(one.u, one.u) for one in rows],
                f"The force is within, {unit}": [
                    f"{_to(one.interval.low, one.u)} to {_to(one.interval.high, one.u)}" for one in rows
                ],
            }
        )
        if unit == "N·m":
            frame = frame.rename(columns=lambda name: name.replace("The force", "The moment"))
        return tables.of_frame(frame, "What has to be added to a reading (95 % intervals)")


def shown(found: Calibrated) -> Shown:
    """A calibration in words."""
    record, fit, unit = found.record, found.fit, found.unit
    weights = len(set(record.hung_n))
    made = (
        f"{counted(fit.n, 'point')} of {counted(weights, 'weight')} from "
        f"{show(min(record.hung_n), unit)} to {show(max(record.hung_n), unit)}"
    )
    instrument = record.rig.instrument
    by = _BY.get(instrument.reads if instrument else "", "the reading")
    what = "moment" if unit == "N·m" else "force"
    top = found.highest
    return Shown(
        calibrated=found,
        made=made,
        line=f"{what} = {_to(fit.zero, top.u)} {unit} + {fit.gain:.4f} × {by}",
        correction=(
            f"{_signed(top.correction, top.u)} {unit} at a reading of {show(top.reading, unit)}, "
            f"with a standard uncertainty of {_to(top.u, top.u)} {unit}"
        ),
        weights=_weights(record),
    )


def _weights(record: Calibration) -> str:
    known = record.weights_from or "not said how they are known"
    return f"{known}, within {record.weights_within}" if record.weights_within else f"{known}, taken as exact"


def _to(value: float, u: float) -> str:
    """A value to as many places as show two digits of its uncertainty; four digits where that is nothing."""
    if not u > abs(value) * 1e-9:
        return show(value, digits=4)
    places = max(1 - math.floor(math.log10(u)), 0)
    return f"{round(value, places) + 0.0:,.{places}f}".replace(",", " ").replace("-", "−")


def _signed(value: float, u: float) -> str:
    told = _to(value, u)
    return told if told.startswith("−") or not told.strip("0.") else f"+{told}"


def of_rig(rig: Rig, setup: Setup) -> list[Shown]:
    """All calibrations of a rig, the newest first; `setup` is what the rig would be in a study."""
    return [shown(calibrated(record, setup.reads)) for record in _records(rig)]


def of_setup(setup: Setup) -> list[Shown]:
    """The newest calibrations of the rig that a setup is, while its readings become forces as that rig's do."""
    rig = setup.rig
    if rig is None or not (records := _records(rig)[:MOST_SHOWN]) or not reads_alike(setup, setup_of(rig)):
        return []
    return [shown(calibrated(record, setup.reads)) for record in records]


def _records(rig: Rig) -> list[Calibration]:
    found = list(rig.calibrations.all())
    for record in found:
        record.rig = rig
    return found


def _top(one: Shown) -> tuple[float, float]:
    return one.calibrated.highest.correction, one.calibrated.highest.u


def table(of: Iterable[tuple[str, Shown]], caption: str) -> tables.Table | None:
    """Calibrations of several setups, a row each: the setup's name and what was found."""
    rows = [
        {
            "Setup": name,
            "Calibrated on": str(one.record.made_on),
            "Points": one.calibrated.fit.n,
            "Highest reading": show(one.calibrated.highest.reading, one.calibrated.unit),
            "Correction there": f"{_signed(*_top(one))} {one.calibrated.unit}",
            "Its standard uncertainty": f"{_to(one.calibrated.highest.u, one.calibrated.highest.u)} "
            f"{one.calibrated.unit}",
            "The weights": one.weights,
        }
        for name, one in of
    ]
    return tables.of_frame(pd.DataFrame(rows), caption) if rows else None
