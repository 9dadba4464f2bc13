"""The quantities on which results are compared, a series as the ladder takes it, and what it gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.footing.step import Step
from stats.footing.timber import Timber
from stats.footing.wood import DEFAULT_ADJUST

READS = {"force": "N", "moment": "N·m", "stress": "MPa"}
"""What a setup's readings are, and their unit."""
FACES = ("end-end", "end-side", "side-side")
"""Grain of the two bonded faces."""


@dataclass(frozen=True)
class FootingKind:
    """A quantity on which results are compared.

    Parameters
    ----------
    code, name : str
        Code and name.
    symbol : str
        Its symbol.
    unit : str
        Its unit; for `at_joint` that of a moment, since an axial force or a shear is in N.
    across : str
        What it may be compared across.
    """

    code: str
    name: str
    symbol: str
    unit: str
    across: str


FOOTINGS: dict[str, FootingKind] = {
    f.code: f
    for f in (
        FootingKind("peak_load", "peak load", "F", "N", "one setup and one size"),
        FootingKind("at_joint", "moment or force at the joint", "M", "N·m", "rigs, for one size"),
        FootingKind("stress", "nominal stress", "σ", "MPa", "rigs and sizes, for one timber"),
        FootingKind("ratio_solid", "ratio to solid wood (handbook)", "R", "", "rigs, sizes and timbers"),
        FootingKind("ratio_solid_matched", "ratio to solid wood (own bars)", "R_m", "", "rigs, sizes and timbers"),
        FootingKind("ratio_control", "ratio to control", "C", "", "anything that shares a control"),
    )
}
"""Footings in the order they are climbed."""


@dataclass(frozen=True, eq=False)
class LoadCase:
    """A series as the ladder takes it.

    Parameters
    ----------
    reads : {"force", "moment", "stress"}
        What `values` are; a stress only for published results.
    loading : str
        A key of `loading.LOADINGS`.
    values : array_like, shape (n,)
        Readings in SI: [N], [N·m] or [MPa]; positive. A run-out's value is where the test stopped.
    setup : mapping
        The setup's lengths by name.
    dims : mapping
        The joint's sizes by name.
    area_rule, section_rule : str or None
        The joint's rules, from the vocabulary.
    timber : Timber or None
        The timber.
    faces : {"end-end", "end-side", "side-side"} or None
        Grain of the bonded faces.
    broke : array_like of bool, shape (n,), optional
        False for a run-out. All broke if not given.
    moisture_pct, density_kgm3, time_to_failure_s : float or array_like, shape (n,), optional
        Condition of the specimens; NaN where one is not known.
    adjustments : frozenset of str
        Adjustments of the solid wood that are turned on.
    solid_stress_mpa : float, optional
        Geometric mean stress of the study's own solid bars, of the same action [MPa].
    control_value : float, optional
        Geometric mean of the control's readings on the same setup, in the unit of `values`.
    reading_steps : tuple of Step
        How the instrument's readings became `values`, to be shown first.
    """

    reads: str
    loading: str
    values: ArrayLike
    setup: Mapping[str, Any] = field(default_factory=dict)
    dims: Mapping[str, Any] = field(default_factory=dict)
    area_rule: str | None = None
    section_rule: str | None = None
    timber: Timber | None = None
    faces: str | None = None
    broke: ArrayLike | None = None
    moisture_pct: ArrayLike | None = None
    density_kgm3: ArrayLike | None = None
    time_to_failure_s: ArrayLike | None = None
    adjustments: frozenset[str] = DEFAULT_ADJUST
    solid_stress_mpa: float | None = None
    control_value: float | None = None
    reading_steps: tuple[Step, ...] = ()


@dataclass(frozen=True, eq=False)
class Footing:
    """A series on one footing, or what it lacks to stand there.

    Parameters
    ----------
    code, unit : str
        Which footing, and the unit of `values`.
    values : ndarray, shape (n,), or None
        The values; None if the footing can't be had.
    factor : float or None
        ``values`` for one unit of reading; None if it varies by specimen or there are no values.
    steps : tuple of Step
        The derivation from the reading; the factors multiply to value over reading.
    missing : tuple of str
        What it lacks, in words, with the fields' names.
    missing_fields : tuple of str
        The fields' names alone; empty if no input would help.
    basis : str
        What the number stands on.
    worked : str
        The last step with the first specimen's numbers.
    flags : tuple of str
        Assumptions and formulas used beyond their range.
    """

    code: str
    unit: str
    values: NDArray[np.float64] | None
    factor: float | None
    steps: tuple[Step, ...]
    missing: tuple[str, ...] = ()
    missing_fields: tuple[str, ...] = ()
    basis: str = ""
    worked: str = ""
    flags: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The footing as plain lists and numbers, fit for JSON."""
        return {
            "code": self.code,
            "unit": self.unit,
            "values": None if self.values is None else self.values.tolist(),
            "factor": self.factor,
            "steps": [step.to_dict() for step in self.steps],
            "missing": list(self.missing),
            "missing_fields": list(self.missing_fields),
            "basis": self.basis,
            "worked": self.worked,
            "flags": list(self.flags),
        }


@dataclass(frozen=True, eq=False)
class Ladder:
    """All footings of a series.

    Parameters
    ----------
    case : LoadCase
        What it was climbed from.
    action : str
        What the joint feels.
    n : int
        Number of specimens.
    broke : ndarray of bool, shape (n,)
        False for a run-out, whose values are lower bounds on every footing.
    footings : dict of str to Footing
        Every footing of `FOOTINGS`, in order.
    reading_steps : tuple of Step
        How the instrument's readings became the values climbed from.
    """

    case: LoadCase
    action: str
    n: int
    broke: NDArray[np.bool_]
    footings: dict[str, Footing]
    reading_steps: tuple[Step, ...]

    def __getitem__(self, code: str) -> Footing:
        return self.footings[code]

    @property
    def available(self) -> frozenset[str]:
        """Codes of the footings that have values."""
        return frozenset(code for code, f in self.footings.items() if f.values is not None)
