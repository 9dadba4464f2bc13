"""What an instrument's calibration says: its correction, how well that is known, and what is doubtful about it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from results.models import Calibration, Setup
from stats.footing import calibration
from stats.footing.calibration import Calibration as Fitted
from stats.interval import Interval

FAR_OFF = 0.25
"""A gain farther from 1 than this share is doubted: instruments that are used are seldom so wrong."""
WIDE = 0.03
"""Scatter about the line that is doubted, as a share of the heaviest weight."""
SHARES = (0.25, 0.5, 0.75, 1.0)
"""Of the highest reading: where the correction is told."""


@dataclass(frozen=True)
class Correction:
    """What has to be added to a reading.

    Parameters
    ----------
    reading, correction : float
        A reading and what has to be added to it [N or N·m].
    u : float
        Standard uncertainty of the corrected reading, and of the correction with it.
    interval : Interval
        Where the force lies that the reading stands for.
    """

    reading: float
    correction: float
    u: float
    interval: Interval


@dataclass(frozen=True)
class Calibrated:
    """A calibration worked out.

    Parameters
    ----------
    record : Calibration
        As it was typed.
    unit : {"N", "N·m"}
        Of its numbers.
    fit : Fitted
        The line.
    corrections : tuple of Correction
        At some readings, the highest last.
    left : tuple of float
        For each point, what was hung less what the corrected reading says.
    doubts : tuple of str
        What is doubtful about it.
    """

    record: Calibration
    unit: str
    fit: Fitted
    corrections: tuple[Correction, ...]
    left: tuple[float, ...]
    doubts: tuple[str, ...] = field(default=())

    @property
    def highest(self) -> Correction:
        """At the highest reading."""
        return self.corrections[-1]


def calibrated(record: Calibration, reads: str) -> Calibrated:
    """Work out a calibration.

    Parameters
    ----------
    record : Calibration
        As stored; it was checked when it was saved.
    reads : str
        What the rig's readings become: ``force`` or ``moment``.
    """
    fit = calibration.fit(record.hung_n, record.read_n, record.known_u_n or None)
    low, high = fit.range_n
    # A calibration without a weight near zero says nothing of readings below its lowest.
    at = sorted({reading for share in SHARES if low <= (reading := share * high) <= high} | {high})
    unit = "N·m" if reads == Setup.Reads.MOMENT else "N"
    return Calibrated(
        record=record,
        unit=unit,
        fit=fit,
        corrections=tuple(_correction(fit, reading) for reading in at),
        left=tuple(float(one) for one in fit.known_n - (fit.zero + fit.gain * fit.readings_n)),
        doubts=tuple(_doubts(fit, unit)),
    )


def _correction(fit: Fitted, reading: float) -> Correction:
    value, u = fit.correct(reading)
    return Correction(reading, float(value) - reading, float(u), fit.interval(reading))


def _doubts(fit: Fitted, unit: str) -> list[str]:
    found = []
    if abs(fit.gain - 1) > FAR_OFF:
        found.append(
            f"The instrument would be off by {100 * abs(fit.gain - 1):.0f} %, far more than such instruments are: "
            "check what was hung, and the ram or the lever between."
        )
    if fit.residual_sd > WIDE * float(fit.known_n.max()):
        found.append(
            f"The points lie {fit.residual_sd:.3g} {unit} beside the line: the instrument sticks, its readings bend, "
            "or a point was mistyped."
        )
    apart = _apart(fit)
    if apart > 2 * WIDE * float(fit.known_n.max()):
        found.append(f"At the same weight its readings lie up to {apart:.3g} {unit} apart.")
    return found


def _apart(fit: Fitted) -> float:
    """The widest readings at one weight, as where weights were put on and taken off again."""
    return max(float(np.ptp(fit.readings_n[fit.known_n == weight])) for weight in np.unique(fit.known_n))
