"""The uncertainty of each footing of a series, by the GUM, from how well each input is known."""

from __future__ import annotations

import dataclasses
import math
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from stats.errors import StatsWarning
from stats.footing.adjustment import DRY_PCT
from stats.footing.fields import FIELDS
from stats.footing.footings import READS, Ladder, LoadCase
from stats.footing.input_uncertainty import (
    COUNTS,
    SPECIES_CV,
    WITH_CONTROL,
    InputUncertainty,
    defaults,
    geometric_mean,
    number_in,
)
from stats.footing.ladder import climb
from stats.footing.propagation import BadUncertainty, combined, contributions
from stats.footing.timber import PROPERTIES
from stats.interval import Interval
from stats.scalar import scalar

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BadUncertainty", "BudgetRow", "FootingUncertainty", "InputUncertainty", "defaults", "of_footings"]

Floats = NDArray[np.float64]

IN_CASE = ("values", "moisture_pct", "density_kgm3", "time_to_failure_s", "solid_stress_mpa", "control_value")
"""Inputs that are the case's own; the rest are in its setup, its sizes or its timber."""
METHOD = "law of propagation of uncertainty, first order (JCGM 100:2008, 5)"
LINEAR_LIMIT = 0.3
"""Relative standard uncertainty beyond which a first-order figure is not to be trusted."""
NO_EFFECT = 1e-9
"""Relative change of a footing that is rounding and no response."""


@dataclass(frozen=True)
class BudgetRow:
    """One source of uncertainty in a footing.

    Parameters
    ----------
    name : str
        Its name.
    acts_on : tuple of str
        Inputs that it moves; `value`, `unit` and `u` are of the first.
    value : float
        The input in `unit`, the mean of the specimens' where they differ, the geometric mean for the readings.
    unit : str
        Unit of `value` and `u`.
    u : float
        Standard uncertainty of the input, in `unit`.
    sensitivity : float
        Change of the footing for one unit of the input.
    contribution : float
        Sensitivity times `u`, in the footing's unit; smaller where each specimen has an error of its own.
    share : float
        Share of the footing's variance.
    source : str
        Where `u` comes from.
    """

    name: str
    acts_on: tuple[str, ...]
    value: float
    unit: str
    u: float
    sensitivity: float
    contribution: float
    share: float
    source: str


@dataclass(frozen=True)
class FootingUncertainty:
    """How well a series is known on a footing.

    Parameters
    ----------
    code, unit : str
        The footing and its unit.
    value : float
        Geometric mean of the specimens on this footing, in `unit`.
    u, relative : float
        Its standard uncertainty from measuring, in `unit` and as a share of `value`.
    k : float
        Coverage factor of `interval`.
    interval : Interval
        Expanded uncertainty: value ± k·u, its level that of a normal error.
    budget : tuple of BudgetRow
        Where it comes from, the largest share first; inputs without effect are left out.
    exact : tuple of str
        Inputs that the footing depends on and that were taken as exact, for want of an uncertainty.
    n : int
        Number of specimens.
    method : str
        How it was worked.
    """

    code: str
    unit: str
    value: float
    u: float
    relative: float
    k: float
    interval: Interval
    budget: tuple[BudgetRow, ...]
    exact: tuple[str, ...]
    n: int
    method: str = METHOD

    def frame(self) -> pd.DataFrame:
        """The budget as a table, one row a source."""
        import pandas as pd  # the ladder does without it

        columns = [column.name for column in dataclasses.fields(BudgetRow)]
        return pd.DataFrame([dataclasses.asdict(row) for row in self.budget], columns=columns)

    def to_dict(self) -> dict[str, Any]:
        """The figures and the budget as plain lists and numbers, fit for JSON."""
        return dataclasses.asdict(self)


def of_footings(
    case: LoadCase,
    inputs: Mapping[str, InputUncertainty] | None = None,
    *,
    correlation: Mapping[tuple[str, str], float] | None = None,
    k: float = 2.0,
) -> dict[str, FootingUncertainty]:
    """Standard uncertainty of every footing that a series has.

    Parameters
    ----------
    case : LoadCase
        The series; a single specimen is a series of one.
    inputs : mapping of str to InputUncertainty, optional
        Uncertainties by name; `defaults` of the case, without an instrument, if not given.
    correlation : mapping of (str, str) to float, optional
        Correlation of two of `inputs`, by their names; none are correlated without it.
    k : float, optional
        Coverage factor.

    Returns
    -------
    dict of str to FootingUncertainty
        By footing, for the footings that have values.

    Raises
    ------
    BadUncertainty
        If an uncertainty is of an input that the case does not have, or the correlation can't be.
    StatsError
        If `ladder.climb` refuses the case.

    Warns
    -----
    StatsWarning
        If a footing is so uncertain that first order is not enough.

    Notes
    -----
    u² = ΣΣ c_i·u_i·r_ij·c_j·u_j with c_i from climbing again with the input moved a little to either side, so
    that whatever the ladder does with an input is in it, and an input that enters twice is counted once. The
    value is the specimens' geometric mean and u is what is uncertain about it from measuring alone: an error
    that all specimens share stays whole, one that `each` has for itself is averaged. The scatter between
    specimens is not in it. A specimen that held is taken at its reading.

    It fails where a footing bends within an input's uncertainty: an angle measured as 0 comes out without
    effect, and so does a moisture content beyond the ends of its formula or a correction held at its cap.

    References
    ----------
    JCGM 100:2008, 5 and 6.

    Examples
    --------
    >>> case = LoadCase("force", "cantilever_arm", [1240.0], {"arm_mm": 300.0, "arm_reference": "face"})
    >>> moment = of_footings(case, defaults(case, "luggage_scale"))["at_joint"]
    >>> round(moment.value), round(moment.u, 1), moment.exact
    (372, 4.4, ())
    >>> [(row.name, round(row.share, 2)) for row in moment.budget]
    [('accuracy', 0.97), ('arm_mm', 0.03)]
    """
    if not 0.0 < scalar(k) < math.inf:
        raise BadUncertainty(f"k ({k!r}) must be a positive number, usually 2.")
    ladder = climb(case)
    known = dict(defaults(case) if inputs is None else inputs)
    filled = _filled(case)
    # Every source from here on says outright what it moves, and only what the case has.
    known = {name: dataclasses.replace(one, acts_on=_acts_on(filled, name, one)) for name, one in known.items()}
    # What a control shares with the values cancels; how well its own mean is known is another matter.
    covered = {
        name for one in known.values() for name in one.acts_on if one.acts_on != WITH_CONTROL or name == "values"
    }
    probed = [name for name in _numbers(filled) if name not in covered]
    probes = [InputUncertainty(0.01, relative=True, acts_on=(name,)) for name in probed]
    codes = [code for code in ladder.footings if ladder[code].values is not None]
    parts = _relative_parts(filled, [*known.values(), *probes], [*known, *probed], codes)
    r = _matrix(known, correlation or {})
    return {
        code: _footing(ladder, code, known, parts[: len(known), at], r, k, _felt(probed, parts[len(known) :, at]))
        for at, code in enumerate(codes)
    }


def _relative_parts(case: LoadCase, sources: list[InputUncertainty], names: list[str], codes: list[str]) -> Floats:
    """Relative change for one standard uncertainty, shape (sources, footings, n): d ln y is dy / y."""

    def logs(errors: Floats) -> Floats:
        moved = case
        for at in np.flatnonzero(errors):
            one = sources[at]
            for field in one.acts_on:
                moved = _moved(moved, field, float(errors[at]) * one.u, one.relative)
        footings = climb(moved).footings
        gone = [code for code in codes if footings[code].values is None]
        if gone:
            raise BadUncertainty(f"the footing {gone[0]} can't be had beside the values given.")
        return np.asarray(np.log(np.array([footings[code].values for code in codes], dtype=float)))

    scales = np.array([float(one.u > 0) for one in sources])
    return contributions(logs, np.zeros(len(sources)), scales, names)


def _footing(
    ladder: Ladder,
    code: str,
    known: Mapping[str, InputUncertainty],
    parts: Floats,
    r: Floats,
    k: float,
    exact: tuple[str, ...],
) -> FootingUncertainty:
    footing = ladder[code]
    value = geometric_mean(np.asarray(footing.values))
    shared = parts.mean(axis=1)
    averaged = np.sqrt((parts**2).sum(axis=1)) / ladder.n
    own = np.array([one.each for one in known.values()], dtype=bool)
    relative_parts = np.where(own, averaged, shared)
    total, shares = combined(relative_parts, r)
    relative = float(total)
    if relative > LINEAR_LIMIT:
        message = f"{code} is known to {relative:.0%} only: first order is too rough there; better inputs are wanted."
        warnings.warn(message, StatsWarning, stacklevel=3)
    rows = [
        _row(_filled(ladder.case), name, one, value * float(shared[at]), value * float(relative_parts[at]), shares[at])
        for at, (name, one) in enumerate(known.items())
        if abs(relative_parts[at]) > NO_EFFECT
    ]
    u = relative * value
    return FootingUncertainty(
        code=code,
        unit=footing.unit,
        value=value,
        u=u,
        relative=relative,
        k=k,
        interval=Interval(value - k * u, value + k * u, math.erf(k / math.sqrt(2))),
        budget=tuple(sorted(rows, key=lambda row: -abs(row.share))),
        exact=exact,
        n=ladder.n,
    )


def _row(
    case: LoadCase, name: str, one: InputUncertainty, shared: float, contribution: float, share: float
) -> BudgetRow:
    first = one.acts_on[0]
    numbers = np.asarray(_number(case, first), dtype=float)
    value = geometric_mean(numbers) if first == "values" else float(numbers.mean())
    u = one.u * abs(value) if one.relative else one.u
    return BudgetRow(
        name=name,
        acts_on=one.acts_on,
        value=value,
        unit=_unit(case, first),
        u=u,
        sensitivity=shared / u,
        contribution=contribution,
        share=float(share),
        source=one.source,
    )


def _felt(probed: list[str], parts: Floats) -> tuple[str, ...]:
    """Names of the probes that a footing answered to."""
    return tuple(name for name, part in zip(probed, parts, strict=True) if np.any(np.abs(part) > NO_EFFECT))


def _filled(case: LoadCase) -> LoadCase:
    """The case with 12 % where moisture is not given, which the ladder takes it for, so that it can be moved."""
    given = np.asarray(np.nan if case.moisture_pct is None else case.moisture_pct, dtype=float)
    return dataclasses.replace(case, moisture_pct=np.where(np.isnan(given), DRY_PCT, given))


def _number(case: LoadCase, name: str) -> Floats | float | None:
    """An input's number or numbers; None if the case does not have it."""
    if name in IN_CASE:
        value = getattr(case, name)
        return None if value is None else np.asarray(value, dtype=float)
    if name in SPECIES_CV:
        return None if case.timber is None else case.timber.value(name)
    in_setup = number_in(case.setup, name)
    return in_setup if in_setup is not None else number_in(case.dims, name)


def _unit(case: LoadCase, name: str) -> str:
    if name in ("values", "control_value"):
        return READS[case.reads]
    return PROPERTIES[name].unit if name in SPECIES_CV else FIELDS[name].unit


def _numbers(case: LoadCase) -> list[str]:
    """Inputs of the case that could have an uncertainty."""
    lengths = [name for name in (*case.setup, *case.dims) if name in FIELDS and name != "arm_reference"]
    names = dict.fromkeys((*IN_CASE, *SPECIES_CV, *lengths))
    return [name for name in names if name not in COUNTS and _number(case, name) is not None]


def _moved(case: LoadCase, name: str, by: float, relative: bool) -> LoadCase:
    """The case with one input moved, by so much or by a share of it."""

    def shifted(value: Any) -> Any:
        return value * (1 + by) if relative else value + by

    if name in IN_CASE:
        return dataclasses.replace(case, **{name: shifted(np.asarray(getattr(case, name), dtype=float))})
    if name in SPECIES_CV:
        return _other_board(case, name, by if relative else by / float(_number(case, name) or math.nan))
    setup, dims = dict(case.setup), dict(case.dims)
    for values in (setup, dims):
        if (value := number_in(values, name)) is not None:
            values[name] = shifted(value)
    return dataclasses.replace(case, setup=setup, dims=dims)


def _other_board(case: LoadCase, prop: str, by: float) -> LoadCase:
    """The case in a timber whose strength is higher by a share, dry and green alike."""
    if case.timber is None:
        return case
    names = (PROPERTIES[prop].dry, PROPERTIES[prop].green)
    values = {name: getattr(case.timber, name) for name in names}
    changed = {name: value * (1 + by) for name, value in values.items() if value is not None}
    return dataclasses.replace(case, timber=dataclasses.replace(case.timber, **changed))


def _acts_on(case: LoadCase, name: str, one: InputUncertainty) -> tuple[str, ...]:
    """Inputs of the case that a source moves, checked."""
    found = []
    for field in one.acts_on or (name,):
        if field in COUNTS:
            raise BadUncertainty(f"{name} acts on {field}, which is counted: it must be left without uncertainty.")
        if field not in (*IN_CASE, *SPECIES_CV) and (field not in FIELDS or FIELDS[field].name == "arm_reference"):
            raise BadUncertainty(f"{name} acts on {field!r}, which must be an input's name, such as arm_mm or values.")
        if _number(case, field) is not None:
            found.append(field)
        elif field != "control_value" or len(one.acts_on) < 2:
            # Only a control may be absent: what moves it moves the values too.
            raise BadUncertainty(f"{name} acts on {field}, which must have a value in the case to be uncertain.")
    return tuple(found)


def _matrix(known: Mapping[str, InputUncertainty], correlation: Mapping[tuple[str, str], float]) -> Floats:
    """Correlation of the inputs, in their order; `propagation.combined` sees to it that it can be."""
    order = list(known)
    r = np.eye(len(order))
    for pair, value in correlation.items():
        if len(pair) != 2 or pair[0] == pair[1] or any(name not in known for name in pair):
            raise BadUncertainty(f"correlation of {pair!r} must be of two different inputs among {', '.join(order)}.")
        if any(known[name].each for name in pair):
            raise BadUncertainty(f"correlation of {pair!r} must be of errors that the specimens share.")
        if not abs(value) <= 1:
            raise BadUncertainty(f"correlation of {pair!r} ({value!r}) must lie between -1 and 1.")
        i, j = order.index(pair[0]), order.index(pair[1])
        r[i, j] = r[j, i] = value
    return r
