"""A plan of a test worked out: how many specimens, in which order, beside which controls, on which rig."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import lru_cache

from results.evidence.choices import ACTIONS
from results.evidence.expect import LEAST_SPREAD, SOLID_SPREAD
from results.evidence.like import Like, Spread, Taken
from results.models import Joint, Timber
from stats.charts.look import counted, low
from stats.errors import StatsError
from stats.footing.loading import ACTION_UNITS
from stats.footing.units import show
from stats.inference.planning import cv_from_sd_log, detectable_ratio, power_at, sd_log_from_cv
from stats.practice.plan import MOST_SPECIMENS, PowerCurve, Run, controls, power_curve, running_order
from stats.practice.rig import Expected, RigCheck, arms_words, check_rig, expected_load

from .plan_asked import MEMBER, PlanAsked

# As titles and questions have them: a joint is tested in bending, not in a bending moment.
ACTION_WORDS = ACTIONS | {"bending": "bending"}
# What joint tests usually show (common practice); where the book tells nothing, one on the careful side is taken.
GUESSED_CV = 0.20
COMMON_CV = (0.10, 0.25)
# `expected_load` takes no wider spread.
WIDEST_CV = 1.0


@dataclass(frozen=True)
class Group:
    """A series of the plan.

    Parameters
    ----------
    label : str
        A, B, C ...
    joint, name : str
        Code and name of the joint.
    n : int
        Specimens.
    why : str
        What a control gives; nothing for a joint in question.
    expected : Expected or None
        The loads to expect; None where they can't be foretold.
    basis : str
        What they are from, or why there are none.
    rig : RigCheck or None
        Whether the instrument reads them.
    invented : bool
        Whether any study they are from is made up.
    """

    label: str
    joint: str
    name: str
    n: int
    why: str = ""
    expected: Expected | None = None
    basis: str = ""
    rig: RigCheck | None = None
    invented: bool = False

    @property
    def is_control(self) -> bool:
        return bool(self.why)


@dataclass(frozen=True)
class PlannedTest:
    """A plan, worked out.

    Parameters
    ----------
    asked : PlanAsked
        What it was made from.
    title, question : str
        As given, or made from the joints.
    n : int
        Specimens of each joint in question.
    cv : float
        Spread taken [-]; `cv_source` says where it is from.
    spread : Spread or None
        Of like series in the book; None where it was given or the book tells none.
    curve : PowerCurve
    groups : tuple of Group
        The joints in question, then the controls.
    order : tuple of Run
        Which specimen is tested when.
    arms : tuple of float, or None
        Between which a cantilever's arm lets the instrument read all series [mm].
    remarks : tuple of (str, str)
        What is worth knowing of a parameter, though it can be used.
    notes : tuple of str
    """

    asked: PlanAsked
    title: str
    question: str
    n: int
    cv: float
    cv_source: str
    spread: Spread | None
    curve: PowerCurve
    groups: tuple[Group, ...]
    order: tuple[Run, ...]
    arms: tuple[float, float] | None
    remarks: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def action(self) -> str:
        return self.asked.action

    @property
    def cautions(self) -> tuple[str, ...]:
        """What must be said beside it."""
        return self.curve.caution

    @property
    def loading(self) -> str:
        return str(self.asked.cleaned_data["loading"])

    @property
    def specimens(self) -> int:
        """Of all series together."""
        return len(self.order)

    @property
    def chance(self) -> str:
        """Of telling the ratio asked for with this number of each [%], in words."""
        share = 100 * power_at(self.n, self.curve.plan.ratio, self.cv)
        return "more than 99" if share > 99 else f"{share:.0f}"

    @property
    def joints(self) -> tuple[Group, ...]:
        """The joints in question."""
        return tuple(one for one in self.groups if not one.is_control)

    @property
    def controls(self) -> tuple[Group, ...]:
        return tuple(one for one in self.groups if one.is_control)

    @property
    def invented(self) -> bool:
        """Whether any figure here is from studies that are made up."""
        return bool(self.spread and self.spread.invented) or any(one.invented for one in self.groups)

    @property
    def rigs(self) -> tuple[Group, ...]:
        """Series whose loads were held against the instrument."""
        return tuple(one for one in self.groups if one.rig)

    @property
    def arms_words(self) -> str:
        """What length of arm lets the instrument read all series; nothing where no arm is at play."""
        return arms_words(*self.arms) if self.arms else ""

    def about(self, name: str) -> list[str]:
        """What is worth knowing of a parameter."""
        return [text for of, text in self.remarks if of == name]


def plan(asked: PlanAsked) -> PlannedTest | None:
    """Work a plan out; None where the form has errors, which are then on it.

    Parameters
    ----------
    asked : PlanAsked
        Bound to an address.
    """
    if not asked.is_valid():
        return None
    try:
        return _Planner(asked).planned()
    except StatsError as error:
        asked.blame(error)
        return None


class _Refused(StatsError):
    """A plan that can't be made; the message begins with the parameter that is in the way."""


class _Planner:
    """The parts of a plan, each from what was asked and what the book holds."""

    def __init__(self, asked: PlanAsked) -> None:
        self.asked, self.given = asked, asked.cleaned_data
        self.bond = self.given["tests"] == "bond"
        self.like = Like(asked.action, self.given["tests"] or "joint", invented=asked.with_invented)
        self.timber = Timber.objects.filter(pk=self.given["timber"]).first() if self.given["timber"] else None
        self.names = dict(Joint.objects.values_list("pk", "name"))
        self.remarks: list[tuple[str, str]] = []

    def planned(self) -> PlannedTest:
        given, joints = self.given, self.given["joint"]
        cv, source, spread = self._spread(joints)
        curve = self._curve(cv)
        n = given["afford"] or curve.plan.n
        groups = self._groups(joints, n, cv)
        order = running_order({one.label: one.n for one in groups}, seed=given["seed"], blocks=given["blocks"])
        groups, arms = self._rigs(groups)
        names = [self.names[joint] for joint in joints]
        return PlannedTest(
            asked=self.asked,
            title=given["title"] or _title(names, self.asked.action),
            question=given["question"] or _question(names, self.asked.action, self.bond),
            n=n,
            cv=cv,
            cv_source=source,
            spread=spread,
            curve=curve,
            groups=groups,
            order=order,
            arms=arms,
            remarks=tuple(self.remarks),
            notes=_notes(len(joints), curve, spread is None and given["cv_pct"] is None),
        )

    def _spread(self, joints: list[str]) -> tuple[float, str, Spread | None]:
        """The spread to plan with, where it is from in words, and the book's where it is the book's."""
        if self.given["cv_pct"] is not None:
            return self.given["cv_pct"] / 100, "The spread is the one you gave.", None
        found = self.like.spread(joints, self.given["timber"])
        if found is not None and found.cv > 0:
            return found.cv, found.source, found
        low, high = (f"{100 * end:.0f}" for end in COMMON_CV)
        said = (
            f"The book holds too few like series to tell a spread, so {100 * GUESSED_CV:.0f} % is taken: joint tests "
            f"usually show {low} to {high} % (common practice)."
        )
        self.remarks.append(("cv_pct", said))
        return GUESSED_CV, said, None

    def _curve(self, cv: float) -> PowerCurve:
        ratio, power, afford = self.given["ratio"], self.given["power_pct"] / 100, self.given["afford"]
        found = _curve(ratio, cv, power, afford)
        if found.plan.n > MOST_SPECIMENS:
            few = afford or 12
            told = show(detectable_ratio(few, cv, power).ratio)
            raise _Refused(
                f"ratio ({ratio:g}) takes {found.plan.n:,} specimens of each joint at a spread of "
                f"{100 * cv:.0f} %; {MOST_SPECIMENS} are taken at most. {few} of each tell a ratio of {told} with "
                f"{100 * power:.0f} %: ask for one like that.".replace(",", " ", 1)
            )
        return found

    def _groups(self, joints: list[str], n: int, cv: float) -> tuple[Group, ...]:
        rows = [(joint, n, "") for joint in joints]
        wanted = self.given["controls"] or "both"
        # A bar without a joint can be bent or twisted, but not pulled apart at one.
        solid = self.bond or self.asked.action in ("bending", "torsion")
        for one in controls(joints, n, bond=self.bond):
            fits = one.joint in self.names and (solid or one.joint != "solid")
            if fits and wanted in ("both", one.joint):
                rows.append((one.joint, one.n, one.why))
        groups = tuple(
            self._expecting(Group(chr(ord("A") + at), joint, self.names[joint], count, why), cv)
            for at, (joint, count, why) in enumerate(rows)
        )
        if names := [one.name for one in groups if one.expected is None and not one.is_control]:
            trial = "one" if len(names) == 1 else "one of each"
            told = f"What load to expect can't be foretold for {_listed(names, 'and')}: break {trial} for trial first."
            self.remarks.append(("joint", told))
        return groups

    def _expecting(self, one: Group, cv: float) -> Group:
        """The same with the loads to expect, where they can be foretold."""
        if self.asked.expect is not None and not one.is_control:
            return self._at_joint(one, cv, self.asked.expect, LEAST_SPREAD, "as you said")
        action, unit = self.asked.action, ACTION_UNITS[self.asked.action]
        sizes = {name: self.given[name] for name in MEMBER if self.given[name] is not None}
        strength = self.timber.mor_12_mpa if self.timber else None
        if action == "bending" and len(sizes) == len(MEMBER) and strength:
            if one.joint == "solid":
                return self._by_ratio(one, cv, 1.0, SOLID_SPREAD, f"what the handbook gives for {self.timber}")
            if found := self.like.taken(one.joint, "ratio_solid"):
                words = f"{show(found.value)} of solid wood in {_of(found)}"
                return replace(self._by_ratio(one, cv, found.value, found.sd_log, words), invented=found.invented)
        if found := self.like.taken(one.joint, "at_joint", self.given["timber"]):
            wood = "" if found.same_timber else ", any timber"
            words = f"{show(found.value, unit)} at the joint in {_of(found)}, of their own sizes{wood}"
            return replace(self._at_joint(one, cv, found.value, found.sd_log, words), invented=found.invented)
        return self._unknown(one)

    def _unknown(self, one: Group) -> Group:
        kind = "bond tests" if self.bond else "joint tests"
        if one.joint == "solid" and self.asked.action == "bending":
            why = "give the timber and the member's sizes, and the handbook's value tells"
        else:
            why = f"the book holds no {kind} of {one.name.lower()} in {ACTION_WORDS[self.asked.action]} yet"
        return replace(one, basis=why)

    def _by_ratio(self, one: Group, cv: float, ratio: float, sd_log: float, basis: str) -> Group:
        found = expected_load(
            self.given["loading"],
            self.asked.setup,
            ratio=min(ratio, 2.0),
            solid_mpa=self.timber.mor_12_mpa if self.timber else None,
            dims={name: self.given[name] for name in MEMBER},
            cv=_widened(cv, sd_log),
        )
        return replace(one, expected=found, basis=basis)

    def _at_joint(self, one: Group, cv: float, value: float, sd_log: float, basis: str) -> Group:
        loading, setup = self.given["loading"], self.asked.setup
        return replace(
            one, expected=expected_load(loading, setup, at_joint=value, cv=_widened(cv, sd_log)), basis=basis
        )

    def _rigs(self, groups: tuple[Group, ...]) -> tuple[tuple[Group, ...], tuple[float, float] | None]:
        """The same held against the instrument, and the arms that would do for all of them."""
        given, shown = self.given, self.given["full_scale_si"]
        if shown is None:
            if given["instrument"]:
                told = "Say the most it shows, and it is held against the loads to expect."
                self.remarks.append(("full_scale", told))
            return groups, None
        arm = given["arm_mm"] if given["loading"] in ("cantilever_arm", "torsion") else None
        checked = [
            replace(
                one,
                rig=check_rig(
                    one.expected,
                    given["instrument"],
                    shown,
                    ram_diameter_mm=given["ram_diameter_mm"],
                    lever_ratio=given["lever_ratio"],
                    rated_n=given["rated_n"],
                    arm_mm=arm,
                ),
            )
            if one.expected
            else one
            for one in groups
        ]
        rigs = [one.rig for one in checked if one.rig]
        ends = [(rig.least_arm_mm, rig.most_arm_mm) for rig in rigs if rig.least_arm_mm and rig.most_arm_mm]
        arms = (max(low for low, _ in ends), min(high for _, high in ends)) if ends else None
        return tuple(checked), arms


@lru_cache(maxsize=128)
def _curve(ratio: float, cv: float, power: float, afford: int | None) -> PowerCurve:
    """The curve, kept: page, chart and sheet ask for the same one after another."""
    return power_curve(ratio, cv, power=power, affordable=afford)


def _widened(cv: float, sd_log: float) -> float:
    """The spread of single specimens in a shop that may itself be off: variances of logs add."""
    total = math.hypot(sd_log_from_cv(cv), sd_log)
    return min(cv_from_sd_log(total), WIDEST_CV)


def _of(found: Taken) -> str:
    return f"{counted(found.series, 'series')} of {counted(found.studies, 'study')}"


def _listed(names: list[str], last: str = "or") -> str:
    names = [low(name) for name in names]
    return f" {last} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _title(names: list[str], action: str) -> str:
    names = [names[0], *(low(name) for name in names[1:])]
    last = " against " if len(names) == 2 else " and "
    title = f"{', '.join(names[:-1])}{last}{names[-1]}, in {ACTION_WORDS[action]}"
    return title if len(title) <= 200 else f"{len(names)} joints in {ACTION_WORDS[action]}"


def _question(names: list[str], action: str, bond: bool) -> str:
    tested = "glue bond" if bond else "joint"
    return f"Which {tested} takes more in {ACTION_WORDS[action]}: {_listed(names)}?"


def _notes(joints: int, curve: PowerCurve, guessed: bool) -> tuple[str, ...]:
    pairs = joints * (joints - 1) // 2
    notes = [
        "Numbers are for one pair of joints by a two-sided t test on logs: one such test in twenty sees a difference "
        "where there is none.",
        "Deal the boards over all series, so that no joint gets the better wood (common practice).",
        "Test in the order given: what drifts over a day then falls on all series alike.",
        "Write every specimen down, also the one that broke early, that held, or that the rig spoilt.",
        "Break the number you planned; don't stop once it looks decided.",
    ]
    if pairs > 1:
        notes.insert(
            1, f"{joints} joints make {pairs} pairs: a chance difference in one of them is likelier than in one alone."
        )
    if guessed:
        notes.append("After the first few of each, set their spread against the one planned with: more may be needed.")
    return tuple(notes)
