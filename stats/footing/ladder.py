"""From the readings of a series to its footings, each with the steps that led there or what it lacks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.fields import words
from stats.footing.footings import FACES, FOOTINGS, READS, Footing, FootingKind, Ladder, LoadCase
from stats.footing.loading import ACTION_UNITS, Action, action_at_joint, find
from stats.footing.section import AREA_RULES, SECTION_RULES, bonded_area, section, torsion_face
from stats.footing.step import STATICS, Step, scalar_or_tuple, total_factor
from stats.footing.timber import PROPERTIES, Timber
from stats.footing.units import show
from stats.footing.wood import Strength, check_adjust, strength

__all__ = ["FACES", "FOOTINGS", "READS", "Footing", "FootingKind", "Ladder", "LoadCase", "climb"]

DEFINITION = "definition"
S = TypeVar("S")
T = TypeVar("T")


def climb(case: LoadCase) -> Ladder:
    """Climb from the readings of a series to every footing that its inputs allow.

    Parameters
    ----------
    case : LoadCase
        The series.

    Returns
    -------
    Ladder
        All footings; one that can't be had says what it lacks.

    Raises
    ------
    StatsError
        If an input is wrong, as opposed to absent: an unknown code, a length or a value that is not positive,
        conditions that are not as many as the values.

    Notes
    -----
    Every step is a factor, so that a footing is the reading times the product of its steps. Moisture and the
    other adjustments act on the solid wood in `ratio_solid` alone: loads and stresses stay as tested. The two
    ratios to solid wood are never mixed.

    Examples
    --------
    >>> case = LoadCase("force", "cantilever_arm", [1240.0], {"arm_mm": 300.0, "arm_reference": "face"})
    >>> climb(case)["at_joint"].worked
    '1 240 N × 0.300 m = 372 N·m'
    >>> climb(case)["stress"].missing
    ('a joint whose section has a rule',)
    """
    values, broke = _checked(case)
    kind = find(case.loading).action
    climber = _Climber(case, values, kind)
    footings = {code: climber.footing(code) for code in FOOTINGS}
    return Ladder(case, kind, values.size, broke, footings, case.reading_steps)


def _checked(case: LoadCase) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Values and outcomes of a case whose words and shapes are right."""
    if case.reads not in READS:
        raise StatsError(f"reads ({case.reads!r}) must be one of {', '.join(READS)}.")
    if case.faces is not None and case.faces not in FACES:
        raise StatsError(f"faces ({case.faces!r}) must be one of {', '.join(FACES)}, or None.")
    for name, rules in (("area_rule", AREA_RULES), ("section_rule", SECTION_RULES)):
        if getattr(case, name) and getattr(case, name) not in rules:
            raise StatsError(f"{name} ({getattr(case, name)!r}) must be one of {', '.join(rules)}, or None.")
    check_adjust(case.adjustments)
    values = np.array(case.values, dtype=float)
    if values.ndim != 1 or values.size == 0:
        raise StatsError(f"values (shape {values.shape}) must be a row of one or more readings.")
    bad = np.flatnonzero(~(np.isfinite(values) & (values > 0)))
    if bad.size:
        raise StatsError(f"values[{bad[0]}] ({values[bad[0]]:g}) must be a positive number; leave voids out.")
    for name in ("broke", "moisture_pct", "density_kgm3", "time_to_failure_s"):
        shape = np.shape(getattr(case, name)) if getattr(case, name) is not None else ()
        if shape not in ((), values.shape):
            raise StatsError(f"{name} (shape {shape}) must be one value or {values.size}, as values has.")
    for name in ("solid_stress_mpa", "control_value"):
        value = getattr(case, name)
        if value is not None and not (np.isfinite(value) and value > 0):
            raise StatsError(f"{name} ({value!r}) must be a positive number.")
    broke = np.broadcast_to(np.asarray(True if case.broke is None else case.broke, dtype=bool), values.shape)
    return values, broke


def _typable(value: float, unit: str) -> str:
    """An input with one digit more than results have, so that typing it in again gives the result shown."""
    three, four = (show(value, unit, digits) for digits in (3, 4))
    return three if float(f"{value:.2e}") == float(f"{value:.3e}") else four


@dataclass(frozen=True)
class _Rung:
    """What leads to a footing: steps from the reading, and how its last step reads with numbers."""

    steps: tuple[Step, ...]
    basis: str
    divisor: str = ""


def _both(one: Callable[[], S], two: Callable[[], T]) -> tuple[S, T]:
    """Two things a footing needs, or all that either lacks, told at once and not one input after another."""
    try:
        first = one()
    except MissingInputs as lacks:
        try:
            two()
        except MissingInputs as more:
            names = dict.fromkeys((*lacks.missing, *more.missing))
            raise MissingInputs(tuple(names), lacks.what) from None
        raise
    return first, two()


class _Climber:
    """Climbs one case; each rung either gives its steps or raises what it lacks."""

    def __init__(self, case: LoadCase, values: NDArray[np.float64], kind: str) -> None:
        self.case, self.values, self.kind = case, values, kind
        self.rungs = {
            "peak_load": self._peak_load,
            "at_joint": self._at_joint,
            "stress": self._stress,
            "ratio_solid": self._ratio_solid,
            "ratio_solid_matched": self._ratio_solid_matched,
            "ratio_control": self._ratio_control,
        }
        self.done: dict[str, Footing] = {}
        self._action: Action | None = None

    def footing(self, code: str) -> Footing:
        """The footing, worked once."""
        if code not in self.done:
            self.done[code] = self._work(code)
        return self.done[code]

    def unit(self, code: str) -> str:
        return ACTION_UNITS[self.kind] if code == "at_joint" else FOOTINGS[code].unit

    def _work(self, code: str) -> Footing:
        try:
            rung = self.rungs[code]()
        except MissingInputs as error:
            missing = tuple(words(name) for name in error.missing)
            return Footing(code, self.unit(code), None, None, (), missing, error.missing)
        except NotCovered as error:
            return Footing(code, self.unit(code), None, None, (), (str(error),))
        total = total_factor(rung.steps)
        factor = scalar_or_tuple(total)
        values = self.values * total
        return Footing(
            code=code,
            unit=self.unit(code),
            values=values,
            factor=None if isinstance(factor, tuple) else factor,
            steps=rung.steps,
            basis=rung.basis,
            worked=self._worked(code, rung, values),
            flags=tuple(dict.fromkeys(step.note for step in rung.steps if step.note)),
        )

    def _worked(self, code: str, rung: _Rung, values: NDArray[np.float64]) -> str:
        """The last step in numbers: `1 240 N × 0.300 m = 372 N·m`."""
        result = show(float(values[0]), self.unit(code))
        if not rung.divisor:
            return result
        before = {"at_joint": "peak_load", "stress": "at_joint", "ratio_control": ""}.get(code, "stress")
        if before:
            reached = self.footing(before).values
            start = _typable(float(reached[0]), self.unit(before)) if reached is not None else ""
        else:
            start = _typable(float(self.values[0]), READS[self.case.reads])
        return f"{start} {rung.divisor} = {result}"

    def _steps_to(self, code: str) -> tuple[Step, ...]:
        """Steps of a lower footing, or the reason it can't be had, raised again."""
        footing = self.footing(code)
        if footing.values is None:
            if footing.missing_fields:
                raise MissingInputs(footing.missing_fields, FOOTINGS[code].name)
            raise NotCovered(f"a footing above the {FOOTINGS[code].name}", footing.missing[0])
        return footing.steps

    def _peak_load(self) -> _Rung:
        if self.case.reads != "force":
            raise NotCovered("the peak load", f"the readings are a {self.case.reads}, not a force.")
        return _Rung((), "load on the rig at the peak")

    def _at_joint(self) -> _Rung:
        what = f"the {FOOTINGS['at_joint'].name}"
        if self.case.reads == "stress":
            raise NotCovered(what, "the readings are a stress, as published.")
        if self.case.reads == "moment":
            if ACTION_UNITS[self.kind] != "N·m":
                raise StatsError(f"reads ('moment') must be force: {self.case.loading} tests {self.kind}.")
            step = Step("moment at the joint", "M as read", {}, 1.0, "N·m", STATICS)
            return _Rung((step,), f"{self.kind} moment at the joint, as read")
        action = self._acts()
        name = "moment" if action.unit == "N·m" else "force"
        divisor = f"× {_typable(action.factor, 'm')}" if action.unit == "N·m" else ""
        return _Rung(action.steps, f"{self.kind} {name} {action.place}", divisor)

    def _acts(self) -> Action:
        if self._action is None:
            depth = {"other_depth_mm": self.case.dims.get("other_depth_mm")}
            self._action = action_at_joint(self.case.loading, {**depth, **self.case.setup})
        return self._action

    def _stress(self) -> _Rung:
        if self.case.reads == "stress":
            step = Step("nominal stress", "as published", {}, 1.0, "MPa", "as published")
            return _Rung((step,), "nominal stress as published; its section or area is the publication's")
        on_part = {"bending": self._on_section, "torsion": self._on_face}.get(self.kind, self._on_area)
        before, part = _both(lambda: self._steps_to("at_joint"), on_part)
        return _Rung(before + part.steps, part.basis, part.divisor)

    def _on_section(self) -> _Rung:
        rule = self.case.section_rule
        if not rule:
            raise MissingInputs(["section_rule"], "the bending stress")
        part = section(rule, self.case.dims)
        size = f"{part.width_mm:g} × {part.depth_mm:g} mm"
        basis = f"M / Z, {SECTION_RULES[rule].name.lower()}, {size}"
        return _Rung(part.steps, basis, f"÷ {_typable(part.modulus_mm3, 'mm³')}")

    def _on_face(self) -> _Rung:
        rule = self._area_rule("the shear under a torque")
        face = torsion_face(rule, self.case.dims)
        basis = f"greatest shear on the glued face, {AREA_RULES[rule].name.lower()}"
        return _Rung(face.steps, basis, f"÷ {_typable(face.modulus_mm3, 'mm³')}")

    def _on_area(self) -> _Rung:
        rule = self._area_rule("the mean stress on the bond")
        area = bonded_area(rule, self.case.dims)
        basis = f"mean over the bonded area, {AREA_RULES[rule].name.lower()}"
        faces = self._acts().faces
        if faces == 1:
            return _Rung(area.steps, basis, f"÷ {_typable(area.value_mm2, 'mm²')}")
        shared = Step("share of one bonded face", "V / n", {"n": (float(faces), "")}, 1 / faces, "N", STATICS)
        return _Rung((shared, *area.steps), basis, f"÷ ({faces} × {_typable(area.value_mm2, 'mm²')})")

    def _area_rule(self, what: str) -> str:
        if not self.case.area_rule:
            raise MissingInputs(["area_rule"], what)
        return self.case.area_rule

    def _solid_property(self) -> str:
        """The strength of solid wood that this action and joint are set against."""
        case = self.case
        if self.kind == "bending":
            return SECTION_RULES[case.section_rule].solid_property if case.section_rule else "mor"
        if self.kind != "axial":
            return "shear"
        if AREA_RULES[self._area_rule("the ratio to solid wood")].pull == "shear":
            return "shear"
        if case.faces is None:
            raise MissingInputs(["faces"], "the ratio to solid wood of a bond pulled apart")
        if case.faces != "side-side":
            raise NotCovered(
                f"the ratio to solid wood of {case.faces} grain pulled apart",
                "the handbook table has no tension along the grain; break solid bars of your own.",
            )
        return "tension_perp"

    def _timber(self) -> Timber:
        if self.case.timber is None:
            raise MissingInputs(["timber"], "the ratio to solid wood")
        return self.case.timber

    def _solid(self) -> Strength:
        case = self.case
        timber, prop = _both(self._timber, self._solid_property)
        return strength(
            timber,
            prop,
            case.moisture_pct,
            case.density_kgm3,
            case.adjustments,
            time_to_failure_s=case.time_to_failure_s,
            depth_mm=case.dims.get("member_depth_mm") if self.kind == "bending" else None,
        )

    def _ratio_solid(self) -> _Rung:
        before, solid = _both(lambda: self._steps_to("stress"), self._solid)
        name = PROPERTIES[solid.prop].name
        table = {"S": (solid.base, solid.unit)}
        over = Step("over solid wood", f"R = stress / {name}", table, 1 / solid.base, "", solid.source)
        # The adjustments act on the solid wood, so each divides the ratio.
        adjusted = tuple(
            Step(
                f"{a.name} of the solid wood",
                f"1 / [{a.formula}]",
                a.inputs,
                scalar_or_tuple(1 / np.asarray(a.factor)),
                "",
                a.source,
                a.note,
            )
            for a in solid.adjustments
        )
        turned = [a.name for a in solid.adjustments if np.any(np.asarray(a.factor) != 1)]
        how = f"adjusted for {', '.join(turned)}" if turned else "as tabled at 12 %"
        first = _typable(float(np.ravel(solid.value)[0]), solid.unit)
        basis = f"over the handbook {name} of {self._timber().name}, {how}"
        return _Rung((*before, over, *adjusted), basis, f"÷ {first}")

    def _ratio_solid_matched(self) -> _Rung:
        before, solid = _both(lambda: self._steps_to("stress"), self._own_solid)
        inputs = {"S": (solid, "MPa")}
        step = Step("over own solid bars", "R_m = stress / S", inputs, 1 / solid, "", DEFINITION)
        basis = "over the geometric mean stress of solid bars in the same study"
        return _Rung((*before, step), basis, f"÷ {_typable(solid, 'MPa')}")

    def _own_solid(self) -> float:
        if self.case.solid_stress_mpa is None:
            raise MissingInputs(["solid_stress_mpa"], "the ratio to the study's own solid wood")
        return float(self.case.solid_stress_mpa)

    def _ratio_control(self) -> _Rung:
        control, unit = self.case.control_value, READS[self.case.reads]
        if control is None:
            raise MissingInputs(["control_value"], "the ratio to a control")
        # On one setup and size the lengths are common to both: the readings' ratio is that at the joint.
        inputs = {"c": (float(control), unit)}
        step = Step("over the control", "C = reading / control", inputs, 1 / float(control), "", DEFINITION)
        basis = "over the geometric mean of the control on the same setup"
        return _Rung((step,), basis, f"÷ {_typable(control, unit)}")
