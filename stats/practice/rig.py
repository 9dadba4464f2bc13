"""Will this rig do: the load to expect, what the instrument reads, and how long an arm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import StatsError
from stats.footing.adjustment import checked_number
from stats.footing.fields import number
from stats.footing.loading import action_at_joint
from stats.footing.reading import INSTRUMENTS, to_force
from stats.footing.section import section
from stats.footing.units import show
from stats.inference.planning import sd_log_from_cv
from stats.practice.caution import TESTING
from stats.practice.piece import LARGEST_LOAD_N
from stats.practice.working import Line
from stats.scalar import said, scalar

LEAST_SHARE = 0.1
"""A reading below this share of full scale is coarse: accuracy is given of full scale (common practice)."""
SPREADS = 2.0
"""How many standard deviations of logs the strongest and weakest specimens are taken to lie off."""


@dataclass(frozen=True)
class Expected:
    """Loads to expect on a rig.

    Parameters
    ----------
    typical_n, low_n, high_n : float
        Of a middling specimen, the weakest and the strongest [N].
    action, unit : str
        What the joint feels, and its unit.
    at_joint : float
        That action at the joint of a middling specimen [N·m or N].
    lines : tuple of Line
        The working.
    arm_mm : float or None
        Arm of a cantilever measured to the face of the joint, on which the load depends in proportion [mm]; None for
        any other arrangement or arm.
    """

    typical_n: float
    low_n: float
    high_n: float
    action: str
    unit: str
    at_joint: float
    lines: tuple[Line, ...]
    arm_mm: float | None = None


def expected_load(
    loading: str,
    setup: Mapping[str, Any],
    *,
    at_joint: float | None = None,
    ratio: float | None = None,
    solid_mpa: float | None = None,
    dims: Mapping[str, Any] | None = None,
    cv: float = 0.2,
) -> Expected:
    """The loads to expect on a rig, from what the joint should bear.

    Parameters
    ----------
    loading : str
        A key of `stats.footing.loading.LOADINGS`.
    setup : mapping
        Its lengths [mm].
    at_joint : float, optional
        What the joint should bear [N·m or N]: from like series in the book. Otherwise `ratio`, `solid_mpa` and `dims`.
    ratio : float, optional
        Ratio to solid wood to expect, for a bent joint.
    solid_mpa : float, optional
        Modulus of rupture of the timber [MPa].
    dims : mapping, optional
        ``member_thickness_mm`` and ``member_depth_mm``.
    cv : float, optional
        Coefficient of variation to expect.

    Returns
    -------
    Expected

    Raises
    ------
    StatsError
        If neither way is given whole, or a number is out of range.

    Notes
    -----
    M = R·MOR·b·D²/6, F = M over the loading's own factor. Low and high are two standard deviations of logs off: some
    specimens pass them.

    Examples
    --------
    >>> sizes = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5}
    >>> found = expected_load("cantilever_arm", {"arm_mm": 300}, ratio=0.24, solid_mpa=99, dims=sizes, cv=0.136)
    >>> round(found.at_joint), round(found.typical_n), round(found.high_n)
    (354, 1182, 1549)
    """
    acts = action_at_joint(loading, setup)
    lines: list[Line] = []
    if at_joint is None:
        if ratio is None or solid_mpa is None or not dims:
            raise StatsError("at_joint (not given) must be given, or else ratio, solid_mpa and dims of the member.")
        if acts.kind != "bending":
            raise StatsError(f"at_joint (not given) must be given for {loading}, which tests {acts.kind}.")
        checked_number(ratio, "ratio", 0.01, 2.0, open_low=False)
        checked_number(solid_mpa, "solid_mpa", 1.0, 400.0, open_low=False)
        part = section("member", dims)
        at_joint = ratio * solid_mpa * part.modulus_mm3 / 1000
        inputs = {"r": (ratio, ""), "S": (solid_mpa, "MPa"), "Z": (part.modulus_mm3, "mm³")}
        lines.append(Line("moment to expect", "M", "r · S · Z", inputs, at_joint, "N·m"))
    checked_number(at_joint, "at_joint", 0.001, 1e6, open_low=False)
    spread = sd_log_from_cv(checked_number(cv, "cv", 0.01, 1.0, open_low=False))
    typical = at_joint / acts.factor
    if typical > 50 * LARGEST_LOAD_N:
        raise StatsError(f"the load to expect came to {typical:g} N; check sizes and lengths.")
    symbol = "M" if acts.unit == "N·m" else "N"
    what = {symbol: (at_joint, acts.unit), "c": (acts.factor, "m" if acts.unit == "N·m" else "")}
    lines.append(Line("load to expect", "F", f"{symbol} / c", what, typical, "N", acts.steps[-1].source,
                      acts.steps[-1].formula))  # fmt: skip
    return Expected(
        typical_n=typical,
        low_n=typical * math.exp(-SPREADS * spread),
        high_n=typical * math.exp(SPREADS * spread),
        action=acts.kind,
        unit=acts.unit,
        at_joint=at_joint,
        lines=tuple(lines),
        arm_mm=_arm_to_face(loading, setup),
    )


def _arm_to_face(loading: str, setup: Mapping[str, Any]) -> float | None:
    """The arm of a cantilever that is measured to the face of the joint, as it is taken where nothing is said."""
    if loading != "cantilever_arm" or (setup.get("arm_reference") or "face") != "face":
        return None
    return number(setup, "arm_mm")


@dataclass(frozen=True)
class RigCheck:
    """Whether an instrument suits the loads to expect.

    Parameters
    ----------
    verdict : {"reads them all", "too small", "too coarse"}
        Against the strongest and the weakest specimen.
    full_scale : float
        The most it reads: a force [N], or a moment for a torque wrench [N·m].
    unit : str
        Its unit.
    low_share, high_share : float
        Weakest and strongest specimen over full scale [-].
    least_arm_mm, most_arm_mm : float or None
        Between which the arm of a cantilever must be for all to be read, and not coarsely [mm]; None for any other
        arrangement, an arm not measured to the face of the joint, a torque wrench, or where no arm was given.
    words : str
        The same in sentences.
    lines : tuple of Line
        The working.
    caution : tuple of str
        What must be said beside it.
    """

    verdict: str
    full_scale: float
    unit: str
    low_share: float
    high_share: float
    least_arm_mm: float | None
    most_arm_mm: float | None
    words: str
    lines: tuple[Line, ...]
    caution: tuple[str, ...] = TESTING


def check_rig(
    expected: Expected,
    instrument: str,
    full_scale: float,
    *,
    ram_diameter_mm: float | None = None,
    lever_ratio: float | None = None,
    rated_n: float | None = None,
    arm_mm: float | None = None,
) -> RigCheck:
    """Check an instrument against the loads to expect.

    Parameters
    ----------
    expected : Expected
        From `expected_load`.
    instrument : str
        A key of `stats.footing.reading.INSTRUMENTS`.
    full_scale : float
        The most it shows, in SI: force [N] (a scale of 150 kg shows 1471 N), pressure [MPa], moment [N·m].
    ram_diameter_mm, lever_ratio : float, optional
        As the instrument needs [mm, -].
    rated_n : float, optional
        The most that the jack or frame itself gives [N], where less.
    arm_mm : float, optional
        Arm that `expected` is for [mm], to say how long an arm would do; that can be said of a cantilever measured to
        the face of the joint only.

    Returns
    -------
    RigCheck

    Raises
    ------
    MissingInputs
        If the instrument needs a ram or a lever that was not given.
    StatsError
        For an unknown instrument, a number out of range, or another arm than the loads are for.

    Notes
    -----
    The strongest specimen must be read, and the weakest be a tenth of full scale or more, since accuracy is given of
    full scale. A longer arm lowers the load in proportion.

    Examples
    --------
    >>> load = expected_load("cantilever_arm", {"arm_mm": 200}, at_joint=350, cv=0.15)
    >>> found = check_rig(load, "bathroom_scale", 150 * 9.80665, arm_mm=200)
    >>> found.verdict, round(found.least_arm_mm)
    ('too small', 321)
    """
    checked_number(full_scale, "full_scale", high=1e7)
    read = to_force(full_scale, instrument, ram_diameter_mm=ram_diameter_mm, lever_ratio=lever_ratio)
    most = float(read.value)
    turns = read.unit == "N·m"
    if turns and expected.unit != "N·m":
        raise StatsError(f"instrument ({instrument!r}) must read a force: the joint is tested in {expected.action}.")
    if rated_n is not None and not turns:
        most = min(most, checked_number(rated_n, "rated_n", 1.0, 1e7, open_low=False))
    # A torque wrench reads the moment itself; everything else the load on the arm.
    scale = expected.at_joint / expected.typical_n if turns else 1.0
    low, high = expected.low_n * scale / most, expected.high_n * scale / most
    verdict = "too small" if high > 1 else "too coarse" if low < LEAST_SHARE else "reads them all"
    arms = _arms(expected, most, arm_mm) if not turns else (None, None)
    symbol = "M" if turns else "F"
    lines = (
        Line("strongest specimen over full scale", "u", f"{symbol} / S",
             {symbol: (expected.high_n * scale, read.unit), "S": (most, read.unit)}, high, "", "definition"),
    )  # fmt: skip
    name = INSTRUMENTS[instrument].name.lower()
    return RigCheck(
        verdict, most, read.unit, low, high, arms[0], arms[1], _rig_words(verdict, name, low, high, arms), lines
    )


def _arms(expected: Expected, most: float, arm_mm: float | None) -> tuple[float, float] | tuple[None, None]:
    """Arms at which the strongest is just read, and the weakest just not coarse; load and arm are in proportion."""
    if arm_mm is None:
        return None, None
    checked_number(arm_mm, "arm_mm", 10.0, 6000.0, open_low=False)
    if expected.arm_mm is None:
        return None, None
    if not math.isclose(arm_mm, expected.arm_mm):
        raise StatsError(f"arm_mm ({arm_mm:g}) must be the arm that the loads are for, {expected.arm_mm:g} mm.")
    return arm_mm * expected.high_n / most, arm_mm * expected.low_n / (LEAST_SHARE * most)


def _rig_words(verdict: str, name: str, low: float, high: float, arms: tuple[float, float] | tuple[None, None]) -> str:
    if verdict == "too small":
        said = f"The {name} stops short: the strongest specimens would need {high:.1f} times what it shows."
        if arms[0] is not None:
            said += f" An arm of {_long(arm_up(arms[0]))} or more would do."
        return said
    if verdict == "too coarse":
        said = f"The {name} reads them, but the weakest at {100 * low:.0f} % of its scale, where it is coarse."
        if arms[1] is not None:
            said += f" An arm of {_long(arm_down(arms[1]))} or less would do."
        return said
    return f"The {name} reads them all, from {100 * low:.0f} to {100 * high:.0f} % of its scale."


def arm_up(least_mm: float) -> float:
    """The least arm as people set one, never below what the instrument needs [mm].

    Parameters
    ----------
    least_mm : float
        Least arm [mm].

    Returns
    -------
    float
        Rounded up: to 10 mm, one below 100 mm to 1 mm.

    Raises
    ------
    StatsError
        If an arm is no number of 0 or more.

    Examples
    --------
    >>> arm_up(1061.3), arm_up(41.2)
    (1070, 42)
    """
    step = _step(least_mm, "least_mm")
    return math.ceil(least_mm / step) * step


def arm_down(most_mm: float) -> float:
    """The longest arm as people set one, never above what the instrument needs [mm].

    Parameters
    ----------
    most_mm : float
        Longest arm [mm].

    Returns
    -------
    float
        Rounded down: to 10 mm, one below 100 mm to 1 mm.

    Raises
    ------
    StatsError
        If an arm is no number of 0 or more.

    Examples
    --------
    >>> arm_down(379.0), arm_down(41.8)
    (370, 41)
    """
    step = _step(most_mm, "most_mm")
    return math.floor(most_mm / step) * step


def _step(arm_mm: float, name: str) -> int:
    if not 0.0 <= scalar(arm_mm) < math.inf:
        raise StatsError(f"{name} ({said(arm_mm)}) must be a length in mm, 0 or more.")
    return 10 if arm_mm >= 100 else 1


def _long(arm_mm: float) -> str:
    """A length in whole millimetres, all its digits shown."""
    return show(arm_mm, "mm", len(f"{arm_mm:.0f}"))


def arms_words(least_mm: float, most_mm: float) -> str:
    """What length of arm lets an instrument read several series.

    Parameters
    ----------
    least_mm, most_mm : float
        The longest of the arms that their strongest need, and the shortest of those that their weakest allow [mm].

    Returns
    -------
    str
        Each end rounded to the side on which the instrument still does, as `RigCheck.words` has it.

    Raises
    ------
    StatsError
        If an arm is no number of 0 or more.

    Examples
    --------
    >>> arms_words(321.0, 1408.0)
    'An arm of 330 mm to 1 400 mm lets it read every series, and none coarsely.'
    """
    low, high = arm_up(least_mm), arm_down(most_mm)
    if low > high and least_mm <= most_mm:  # so near each other that nothing rounded lies between
        return f"An arm of {show(least_mm, 'mm', 4)} lets it read every series, and hardly any other does."
    if low <= high:
        return f"An arm of {_long(low)} to {_long(high)} lets it read every series, and none coarsely."
    return (
        f"No one arm lets it read every series: the strongest need {_long(low)} or more, the weakest {_long(high)} or "
        "less. Move the load for one of them and write both arms down, or read them on two instruments."
    )
