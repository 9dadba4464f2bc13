"""What an instrument shows, turned into a force or a moment on the specimen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError
from stats.footing.fields import given, number
from stats.footing.step import STATICS, Step, total_factor

LARGEST_RAM_MM = 2000.0
"""Widest ram taken [mm]; no jack of a workshop comes near."""


@dataclass(frozen=True)
class Instrument:
    """A way of reading a load.

    Parameters
    ----------
    code, name : str
        Code and name.
    reads : {"force", "pressure", "moment"}
        Kind of quantity typed; a mass is typed as a force, so that its kilograms are taken as weight.
    needs : tuple of str
        Inputs without which a reading is no force.
    accuracy_pct : (float, float) or None
        Typical accuracy, from and to [%].
    note : str
        What to mind.
    source : str
        Where accuracy and note come from.
    """

    code: str
    name: str
    reads: str
    needs: tuple[str, ...]
    accuracy_pct: tuple[float, float] | None
    note: str
    source: str


_SHOP = "from memory: usual figures for shop instruments"

INSTRUMENTS: dict[str, Instrument] = {
    i.code: i
    for i in (
        Instrument(
            "force_gauge",
            "Load cell or crane scale",
            "force",
            (),
            (0.05, 2.0),
            "0.05-0.3 % of full scale for a load cell, up to 2 % for a crane scale; a brittle break wants "
            "50 readings a second or a peak hold.",
            _SHOP,
        ),
        Instrument(
            "bathroom_scale",
            "Bathroom scale",
            "force",
            (),
            (1.0, 2.0),
            "Drifts in use and follows a slow load only; zeroing or locking by itself loses the peak.",
            _SHOP,
        ),
        Instrument(
            "luggage_scale",
            "Luggage scale",
            "force",
            (),
            (0.5, 2.0),
            "Misses the peak without a peak hold; a pulley adds friction.",
            _SHOP,
        ),
        Instrument(
            "jack_gauge",
            "Hydraulic jack with a pressure gauge",
            "pressure",
            ("ram_diameter_mm",),
            (1.6, 2.5),
            "Accuracy is of full scale; the seals take 2-5 % besides, so that the force is less than read; "
            "measure the ram.",
            _SHOP,
        ),
        Instrument(
            "torque_wrench",
            "Torque wrench",
            "moment",
            (),
            (2.0, 6.0),
            "Reads the moment about its drive; a click type shows only that a set moment was passed.",
            _SHOP,
        ),
        Instrument(
            "hung_weights",
            "Weights, water or sand hung on",
            "force",
            (),
            None,
            "The load at failure is known to one step of the weight added.",
            _SHOP,
        ),
        Instrument(
            "lever_press",
            "Lever press",
            "force",
            ("lever_ratio",),
            (2.0, 5.0),
            "Pivot friction adds to the lever's own error.",
            _SHOP,
        ),
    )
}
"""Instruments by code."""


@dataclass(frozen=True)
class Load:
    """A reading as force or moment, with its derivation.

    Parameters
    ----------
    value : float or ndarray, shape (n,)
        Force [N] or moment [N·m].
    unit : {"N", "N·m"}
        Unit of `value`.
    reads : {"force", "moment"}
        What it is, as a setup's ``reads`` has it.
    factor : float
        ``value`` for one SI unit of the reading.
    steps : tuple of Step
        How it was obtained; empty if the instrument shows it directly.
    """

    value: float | NDArray[np.float64]
    unit: str
    reads: str
    factor: float
    steps: tuple[Step, ...]


def _numbers(si_reading: ArrayLike) -> NDArray[np.float64]:
    try:
        if np.asarray(si_reading).dtype != bool:
            return np.asarray(si_reading, dtype=float)
    except (TypeError, ValueError):
        pass
    raise StatsError(f"si_reading ({si_reading!r}) must hold numbers.")


def to_force(
    si_reading: ArrayLike,
    instrument: str,
    *,
    ram_diameter_mm: float | None = None,
    lever_ratio: float | None = None,
) -> Load:
    """Force on the specimen, or moment at the joint, from an instrument's reading.

    Parameters
    ----------
    si_reading : float or array_like, shape (n,)
        Reading in SI: [N] for a force or a mass, [MPa] for a pressure, [N·m] for a moment.
    instrument : str
        A key of `INSTRUMENTS`.
    ram_diameter_mm : float, optional
        Diameter of the jack's ram [mm].
    lever_ratio : float, optional
        Load on the specimen for one unit of force at the instrument.

    Returns
    -------
    Load
        Value, unit, factor and steps.

    Raises
    ------
    MissingInputs
        If the instrument needs a ram or a lever that was not given.
    StatsError
        If the instrument is unknown, a reading no number, the ram not above 0 and at most 2 m, or a torque wrench is
        given a lever.

    Notes
    -----
    F = p·π·d²/4 for a jack, F = F_read·i for a lever. Seal and pivot friction are not taken off: they belong
    to the uncertainty.

    Examples
    --------
    >>> round(to_force(10.0, "jack_gauge", ram_diameter_mm=42.9).value)
    14455
    """
    if instrument not in INSTRUMENTS:
        raise StatsError(f"instrument ({instrument!r}) must be one of {', '.join(INSTRUMENTS)}.")
    tool = INSTRUMENTS[instrument]
    inputs = {"ram_diameter_mm": ram_diameter_mm, "lever_ratio": lever_ratio}
    given(inputs, tool.needs, f"a force from a {tool.name.lower()}")
    steps: list[Step] = []
    if tool.reads == "pressure":
        diameter = number(inputs, "ram_diameter_mm", high=LARGEST_RAM_MM)
        area = math.pi * diameter**2 / 4
        steps.append(Step("ram", "F = p · π · d² / 4", {"d": (diameter, "mm"), "A": (area, "mm²")}, area, "N", STATICS))
    ratio = number(inputs, "lever_ratio", 1.0)
    if ratio != 1.0:
        if tool.reads == "moment":
            raise StatsError(f"lever_ratio ({ratio:g}) must be left out: a torque wrench reads a moment.")
        steps.append(Step("lever", "F = F_read · i", {"i": (ratio, "")}, ratio, "N", STATICS))
    factor = float(total_factor(steps))
    values = _numbers(si_reading) * factor
    moment = tool.reads == "moment"
    return Load(
        value=float(values) if values.ndim == 0 else values,
        unit="N·m" if moment else "N",
        reads="moment" if moment else "force",
        factor=factor,
        steps=tuple(steps),
    )
