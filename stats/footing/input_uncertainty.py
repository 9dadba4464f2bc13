"""How well each input of a footing is known, given or by the book's rules."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from stats.footing.calibration import Calibration
from stats.footing.fields import FIELDS
from stats.footing.footings import LoadCase
from stats.footing.ladder import climb
from stats.footing.propagation import BadUncertainty
from stats.footing.reading import INSTRUMENTS
from stats.scalar import said, scalar

SETUP_HALF_WIDTH_MM = 1.0
"""Limits of a length of the rig, rectangular [mm]: common practice."""
SIZE_HALF_WIDTHS_MM = {"caliper": 0.1, "tape": 0.5}
"""Limits of a size of the joint by what it was measured with, rectangular [mm]: common practice."""
ANGLE_HALF_WIDTH_DEG = 1.0
"""Limits of an angle of the rig, rectangular [°]: common practice."""
MOISTURE_HALF_WIDTH_PCT = 2.0
"""Limits of a resistance moisture meter, the wider of 1 to 2 %, rectangular [%]: from memory."""
SEALS_HALF_WIDTH = 0.05
"""Share of a jack's force that its seals may take, the wider of 2 to 5 %, not taken off: from memory."""
SPECIES_CV = {"mor": 0.16, "shear": 0.14, "tension_perp": 0.25}
"""Spread of one timber's boards about its handbook value, as a share, by property.

Wood Handbook FPL-GTR-282, Table 5-6, from memory. A ratio to such a strength spreads by the same share where
the boards are lognormal, as strengths are taken throughout; were they normal, by a tenth more at 16 %.
"""
COUNTS = frozenset({"frame_count", "shear_faces", "tenon_count", "fastener_count", "finger_count"})
"""Inputs that are counted and so have no uncertainty."""
WITH_CONTROL = ("values", "control_value")
"""A control stands on the same setup, so that the instrument's lasting error moves both and leaves their ratio."""


@dataclass(frozen=True)
class InputUncertainty:
    """The standard uncertainty of an input.

    Parameters
    ----------
    u : float
        Standard uncertainty, in the input's unit, or as a share of its value.
    relative : bool
        Whether `u` is a share.
    acts_on : tuple of str
        Inputs that this one error moves together, as one instrument's does a series and its control; the
        input of its own name if empty.
    each : bool
        Whether each specimen has an error of its own, which a mean over specimens makes smaller.
    source : str
        Where it comes from.
    """

    u: float
    relative: bool = False
    acts_on: tuple[str, ...] = field(default=())
    each: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        if not 0.0 <= scalar(self.u) < math.inf:
            raise BadUncertainty(f"u ({self.u!r}) must be a number of 0 or more.")
        if self.relative and self.u >= 1:
            raise BadUncertainty(f"u ({self.u:g}) must be a share below 1 where it is relative: 0.02 for 2 %.")

    @classmethod
    def rectangular(cls, half_width: float, **more: Any) -> InputUncertainty:
        """Anywhere within plus and minus `half_width` alike: u = a/√3 (JCGM 100:2008, 4.3.7).

        Parameters
        ----------
        half_width : float
            a, in the input's unit, or as a share of it where `relative`.
        **more
            Other fields of `InputUncertainty`: acts_on, relative, each, source.

        Returns
        -------
        InputUncertainty

        Raises
        ------
        BadUncertainty
            If it is no number of 0 or more, or comes out as a share of 1 or more.
        """
        return cls(_width(half_width, "half_width") / math.sqrt(3), **more)

    @classmethod
    def resolution(cls, step: float, **more: Any) -> InputUncertainty:
        """Read to one `step` of a display: u = a/√12, of each reading by itself (JCGM 100:2008, F.2.2.1).

        Parameters
        ----------
        step : float
            The step, in the input's unit, or as a share of it where `relative`.
        **more
            Other fields of `InputUncertainty`: acts_on, relative, each, source.

        Returns
        -------
        InputUncertainty

        Raises
        ------
        BadUncertainty
            If it is no number of 0 or more, or comes out as a share of 1 or more.
        """
        return cls(_width(step, "step") / math.sqrt(12), **({"each": True} | more))

    @classmethod
    def expanded(cls, half_width: float, k: float = 2.0, **more: Any) -> InputUncertainty:
        """As a certificate states it, with its coverage factor: u = U/k (JCGM 100:2008, 4.3.3).

        Parameters
        ----------
        half_width : float
            U, in the input's unit, or as a share of it where `relative`.
        k : float, optional
            Coverage factor, above zero.
        **more
            Other fields of `InputUncertainty`: acts_on, relative, each, source.

        Returns
        -------
        InputUncertainty

        Raises
        ------
        BadUncertainty
            If k is not above zero, half_width no number of 0 or more, or what comes out a share of 1 or more.
        """
        if not 0.0 < scalar(k) < math.inf:
            raise BadUncertainty(f"k ({k!r}) must be a positive number, 2 if the certificate does not say.")
        return cls(_width(half_width, "half_width") / k, **more)


def _width(value: float, name: str) -> float:
    if not 0.0 <= scalar(value) < math.inf:
        raise BadUncertainty(f"{name} ({said(value)}) must be a number of 0 or more.")
    return value


def defaults(
    case: LoadCase,
    instrument: str | None = None,
    *,
    accuracy_pct: float | None = None,
    full_scale: float | None = None,
    resolution: float | None = None,
    calibration: Calibration | None = None,
    sizes: Literal["caliper", "tape"] = "tape",
) -> dict[str, InputUncertainty]:
    """Uncertainties of a case's inputs by the book's rules, to be used or changed one by one.

    Parameters
    ----------
    case : LoadCase
        The series.
    instrument : str, optional
        A key of `reading.INSTRUMENTS`. Without it or a calibration, the reading has none.
    accuracy_pct : float, optional
        Limits of the instrument [%]; the wider of its typical ones if not given.
    full_scale : float, optional
        End of the instrument's scale, in the unit of the case's values, where its accuracy is a share of
        that; without it the accuracy is taken as a share of the reading.
    resolution : float, optional
        One step of the display, or of the weights hung on, in the unit of the case's values.
    calibration : Calibration, optional
        Takes the place of the accuracy, where the values were corrected by it.
    sizes : {"caliper", "tape"}, optional
        What the joint's sizes were measured with.

    Returns
    -------
    dict of str to InputUncertainty
        ``accuracy``, ``resolution``, ``seals``, ``ram``, ``calibration`` and ``scatter`` act on the values;
        the rest have their inputs' names.

    Raises
    ------
    BadUncertainty
        If the instrument is unknown or a number is not positive.
    StatsError
        If `ladder.climb` refuses the case.

    Notes
    -----
    Limits are rectangular: a length of the rig ±1 mm, an angle ±1°, a size ±0.5 mm by tape and ±0.1 mm by
    caliper, a moisture content ±2 %. Handbook strengths have the spread between boards of one timber, which
    is nearly all there is in a ratio to the handbook. Friction, densities, times, a scarf's ratio, own solid
    bars and a control's mean have no rule: give your own, or they count as exact and are named so.

    References
    ----------
    JCGM 100:2008, 4.3.

    Examples
    --------
    >>> case = LoadCase("force", "cantilever_arm", [1240.0], {"arm_mm": 300.0, "arm_reference": "face"})
    >>> found = defaults(case, "luggage_scale", resolution=1.0)
    >>> {name: round(one.u, 4) for name, one in found.items()}
    {'accuracy': 0.0115, 'resolution': 0.2887, 'arm_mm': 0.5774}
    """
    if sizes not in SIZE_HALF_WIDTHS_MM:
        raise BadUncertainty(f"sizes ({sizes!r}) must be one of {', '.join(SIZE_HALF_WIDTHS_MM)}.")
    if instrument is not None and instrument not in INSTRUMENTS:
        raise BadUncertainty(f"instrument ({instrument!r}) must be one of {', '.join(INSTRUMENTS)}.")
    numbers = {"accuracy_pct": accuracy_pct, "full_scale": full_scale, "resolution": resolution}
    for name, value in numbers.items():
        if value is not None and not 0.0 < scalar(value) < math.inf:
            raise BadUncertainty(f"{name} ({value!r}) must be a positive number.")
    climb(case)  # refuses a case that is wrong in itself
    found: dict[str, InputUncertainty] = {}
    if calibration is not None:
        found |= _of_calibration(calibration, case, resolution)
    else:
        found |= _of_instrument(instrument, accuracy_pct, full_scale)
        if resolution is not None:
            found["resolution"] = InputUncertainty.resolution(
                resolution, acts_on=("values",), source=f"one step of {resolution:g}"
            )
    if instrument == "jack_gauge" and calibration is None:
        found["seals"] = InputUncertainty.rectangular(
            SEALS_HALF_WIDTH,
            relative=True,
            acts_on=WITH_CONTROL,
            source="seals take 2-5 %, not taken off: counted as ±5 % (from memory)",
        )
    if calibration is None:
        found |= _of_ram(case, SIZE_HALF_WIDTHS_MM[sizes])
    return found | _of_lengths(case, sizes) | _of_wood(case)


def _of_instrument(
    instrument: str | None, accuracy_pct: float | None, full_scale: float | None
) -> dict[str, InputUncertainty]:
    """The instrument's lasting error, which is the same for all specimens."""
    typical = INSTRUMENTS[instrument].accuracy_pct if instrument else None
    limits = accuracy_pct if accuracy_pct is not None else typical[1] if typical else None
    if limits is None:
        return {}
    said = f"±{limits:g} %" + ("" if accuracy_pct is not None else ", typical, from memory")
    if full_scale is not None:
        one = InputUncertainty.rectangular(
            limits / 100 * full_scale, acts_on=WITH_CONTROL, source=f"{said}, of {full_scale:g} full scale"
        )
    else:
        one = InputUncertainty.rectangular(
            limits / 100, relative=True, acts_on=WITH_CONTROL, source=f"{said}, of the reading"
        )
    return {"accuracy": one}


def _of_calibration(calibration: Calibration, case: LoadCase, resolution: float | None) -> dict[str, InputUncertainty]:
    """The line's part, common to all, and the scatter of each reading, both widened for the few points."""
    centre = geometric_mean(np.asarray(case.values, dtype=float))
    reading = (centre - calibration.zero) / calibration.gain
    line = float(calibration.line_u_n(reading)) * calibration.widening
    scatter = max(calibration.residual_sd * calibration.widening, (resolution or 0.0) / math.sqrt(12))
    said = f"calibrated by {calibration.n} points, {calibration.method}"
    return {
        "calibration": InputUncertainty(line / centre, True, WITH_CONTROL, source=said),
        "scatter": InputUncertainty(scatter, acts_on=("values",), each=True, source=f"{said}: scatter of one reading"),
    }


def _of_ram(case: LoadCase, half_width_mm: float) -> dict[str, InputUncertainty]:
    """A force goes with the square of the ram's diameter, which is in the reading's steps and not the case's."""
    for step in case.reading_steps:
        if step.name == "ram" and isinstance(diameter := step.inputs["d"][0], float):
            source = f"ram of {diameter:g} mm, ±{half_width_mm:g} mm; force goes with its square"
            u = 2 * half_width_mm / diameter
            return {"ram": InputUncertainty.rectangular(u, relative=True, acts_on=WITH_CONTROL, source=source)}
    return {}


def _of_lengths(case: LoadCase, sizes: str) -> dict[str, InputUncertainty]:
    found: dict[str, InputUncertainty] = {}
    rules = {"mm": SETUP_HALF_WIDTH_MM, "°": ANGLE_HALF_WIDTH_DEG}
    for name in case.setup:
        unit = FIELDS[name].unit if name in FIELDS else ""
        # A length of 0 says that something is not there, not that it was measured.
        if unit in rules and (value := number_in(case.setup, name)) is not None and (value or unit != "mm"):
            half = rules[unit]
            found[name] = InputUncertainty.rectangular(half, source=f"±{half:g} {unit}, common practice")
    legs = number_in(case.setup, "leg_mm"), number_in(case.setup, "leg_b_mm")
    if legs[0] is not None and legs[0] == legs[1]:
        # Legs that are equal are made so on one jig, and roller friction has a rule for equal legs alone.
        del found["leg_b_mm"]
        both = ("leg_mm", "leg_b_mm")
        found["leg_mm"] = InputUncertainty.rectangular(SETUP_HALF_WIDTH_MM, acts_on=both, source="both legs, ±1 mm")
    half = SIZE_HALF_WIDTHS_MM[sizes]
    for name in case.dims:
        if name in FIELDS and FIELDS[name].unit == "mm" and name not in found and number_in(case.dims, name):
            found[name] = InputUncertainty.rectangular(half, source=f"±{half:g} mm by {sizes}, common practice")
    return found


def _of_wood(case: LoadCase) -> dict[str, InputUncertainty]:
    found: dict[str, InputUncertainty] = {}
    if case.moisture_pct is not None:
        half = MOISTURE_HALF_WIDTH_PCT
        source = f"resistance meter, ±{half:g} % (from memory)"
        found["moisture_pct"] = InputUncertainty.rectangular(half, source=source)
    if case.timber is not None:
        for prop, cv in SPECIES_CV.items():
            if case.timber.value(prop) is not None:
                source = f"boards of one timber differ, CV {cv:.0%} (Wood Handbook Table 5-6, from memory)"
                found[prop] = InputUncertainty(cv, relative=True, source=source)
    return found


def number_in(values: Mapping[str, Any], name: str) -> float | None:
    """An input as a number; None if it is not given.

    Parameters
    ----------
    values : mapping
        Inputs by name; None and "" count as not given.
    name : str
        Which one.

    Returns
    -------
    float or None
        In the unit that its name ends in.

    Raises
    ------
    BadUncertainty
        If it is no number.
    """
    value = values.get(name)
    if value in (None, ""):
        return None
    try:
        found = float(value)
    except (TypeError, ValueError):
        found = math.nan
    if math.isnan(found) or isinstance(value, bool):
        raise BadUncertainty(f"{name} ({value!r}) must be a number.")
    return found


def geometric_mean(values: NDArray[np.float64]) -> float:
    """Centre of positive values.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Above zero, which is not checked.

    Returns
    -------
    float
        exp of the mean log, in the unit of `values`.
    """
    return float(np.exp(np.mean(np.log(values))))
