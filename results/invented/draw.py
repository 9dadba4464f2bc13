"""One invented study, drawn from a seed: what real ones have, in about the shares that a real book might.

Shops, rigs, joints, timbers, glues and sizes differ; some specimens held, some rigs failed, some readings carry a slip,
some rigs lack their arm, one study in twenty is taken from a publication and has means only. The sizes of these shares,
and the strengths of joints, are made up and stand for nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar
from uuid import UUID, uuid5

import numpy as np
from django.utils import timezone

from results.evidence import Draft
from results.models import (
    AdhesiveClass,
    FailurePlace,
    Instrument,
    Joint,
    Loading,
    Series,
    Setup,
    Specimen,
    Study,
    Summary,
    Timber,
)

T = TypeVar("T")

TIMBERS = (
    *("oak_northern_red", "oak_white", "ash_white", "maple_sugar", "cherry_black", "walnut_black"),
    "beech_american",
)
ADHESIVES = ("pva", "pva_d3", "epoxy", "polyurethane", "hide_hot")
PLACES = ("bond_line", "wood_beside_bond", "tenon_or_fastener", "socket_wall", "member", None)
PLACES_SHARE = (0.3, 0.25, 0.15, 0.12, 0.1, 0.08)
LOADINGS = {
    "bending": ("cantilever_arm", "corner_closing", "centre_point_bending"),
    "shear": ("block_shear", "lap_shear"),
    "axial": ("withdrawal",),
    "torsion": ("torsion",),
}
LENGTH = {
    "cantilever_arm": "arm_mm",
    "torsion": "arm_mm",
    "corner_closing": "leg_mm",
    "centre_point_bending": "span_mm",
}
ARM_OF = {"arm_mm": 1.0, "leg_mm": 0.5**0.5, "span_mm": 0.25}
BONDS = ("butt", "edge", "lap_plain", "scarf")
MEMBERS = ((20.0, 40.0), (19.0, 63.5), (25.4, 50.8), (22.0, 70.0), (18.0, 45.0))
# All other sizes of a joint, chosen so that each fits into the smallest member.
SIZES: dict[str, float] = {
    "other_thickness_mm": 22.0,
    "other_depth_mm": 45.0,
    "bond_length_mm": 40.0,
    "bond_width_mm": 25.0,
    "tenon_length_mm": 30.0,
    "tenon_depth_mm": 30.0,
    "haunch_length_mm": 8.0,
    "haunch_depth_mm": 8.0,
    "fastener_diameter_mm": 8.0,
    "fastener_depth_mm": 25.0,
    "slot_length_mm": 50.0,
    "slot_depth_mm": 10.0,
    "spline_depth_mm": 10.0,
    "groove_depth_mm": 8.0,
    "scarf_ratio": 8.0,
    "tenon_count": 2,
    "fastener_count": 2,
    "finger_count": 5,
}
# Made up, about what solid wood takes: in bending where its timber isn't told, and else whatever its timber.
BENDING_MPA, SHEAR_MPA, PULL_N, TWIST_NM = 95.0, 12.0, 9000.0, 150.0
# Of studies, series and specimens: see the module.
PUBLISHED, WITHOUT_ARM, HELD, VOID, SLIP, WITHOUT_SIZE = 0.05, 0.05, 0.05, 0.03, 0.004, 0.03
KEYS = UUID("0f1d83a2-6f3b-4d1c-8f43-5a4e3c1b9d20")


@dataclass(frozen=True)
class Size:
    """How large each study is, and the seed of all; together with a number they say all of a study."""

    series: int
    specimens: int
    seed: int

    def key(self, number: int) -> UUID:
        """The submission key of a study, by which it is found again."""
        return uuid5(KEYS, f"{self.seed} {self.series} {self.specimens} {number}")


class Words:
    """The vocabulary that studies are drawn from, read once."""

    def __init__(self) -> None:
        self.joints = list(Joint.objects.select_related("family").order_by("position", "code"))
        self.by_joint = {one.pk: one for one in self.joints}
        self.timbers = _known(Timber, TIMBERS)
        self.adhesives = _known(AdhesiveClass, ADHESIVES)
        self.loadings = {one.pk: one for one in Loading.objects.all()}
        self.places = {one.pk: one for one in FailurePlace.objects.all()}
        self.instrument = Instrument.objects.filter(pk="force_gauge").first()


def _known(model: Any, codes: Sequence[str]) -> list[Any]:
    found = model.objects.in_bulk(codes)
    return [found[code] for code in codes if code in found]


class Drawer:
    """Draws studies by their numbers: the same one for the same number, whichever were drawn before."""

    def __init__(self, words: Words, size: Size) -> None:
        self.words, self.size = words, size
        random = np.random.default_rng([size.seed, 0])
        self.level = {one.pk: float(random.normal(-1.0, 0.35)) for one in words.joints} | {"solid": 0.0, "butt": -1.6}

    def draw(self, number: int) -> Draft:
        """A study, not saved and with no footings stated.

        Parameters
        ----------
        number : int
            From 1.
        """
        return _Drawn(self, number).draft


class _Drawn:
    """One study being drawn."""

    def __init__(self, drawer: Drawer, number: int) -> None:
        self.drawer, self.words, self.number = drawer, drawer.words, number
        self.random = np.random.default_rng([drawer.size.seed, number])
        self.action = self.pick(list(LOADINGS), (0.68, 0.16, 0.1, 0.06))
        self.bond = self.action in ("shear", "bending") and self.happens(0.5 if self.action == "shear" else 0.06)
        self.published = self.happens(PUBLISHED)
        self.member = self.pick(MEMBERS)
        study = self.study()
        self.draft = Draft(study=study, setups=[self.setup(study, at + 1) for at in range(1 + self.happens(0.5))])
        self.series()

    def pick(self, of: Sequence[T], share: Sequence[float] | None = None) -> T:
        return of[int(self.random.choice(len(of), p=share))]

    def happens(self, share: float) -> bool:
        return bool(self.random.random() < share)

    def study(self) -> Study:
        number = self.number
        return Study(
            title=f"Invented study {number}: {'bonds' if self.bond else 'joints'} under {self.action}",
            question="Which joint takes more, and how surely?",
            workshop=f"Shop {number % 300 + 1} (invented)",
            tested_on=f"{self.pick((2022, 2023, 2024, 2025))}-{int(self.random.integers(1, 13)):02d}",
            origin=Study.Origin.PUBLISHED if self.published else Study.Origin.OWN,
            citation="Made up; there is no such publication." if self.published else "",
            invented=True,
            status=Study.Status.ACCEPTED,
            accepted_at=timezone.now(),
            submission_key=self.drawer.size.key(number),
        )

    def setup(self, study: Study, at: int) -> Setup:
        loading = self.words.loadings[self.pick(LOADINGS[self.action])]
        setup = Setup(study=study, label=f"rig {at}", loading=loading, instrument=self.words.instrument, reads="force")
        length = LENGTH.get(loading.pk)
        if length and not self.happens(WITHOUT_ARM):
            _size(setup, length, float(self.random.integers(200, 500)))
        return setup

    def joints(self) -> list[Joint]:
        """The joints of the study, the one that others are measured against first."""
        if self.bond:
            codes = self.random.permutation(BONDS)[:3].tolist()
        else:
            first = "butt" if self.happens(0.7) else "solid"
            others = [one.pk for one in self.words.joints if one.pk != first]
            codes = [first, *self.random.choice(others, int(self.random.integers(2, 7)), replace=False).tolist()]
        return [self.words.by_joint[code] for code in codes]

    def series(self) -> None:
        random, draft, joints = self.random, self.draft, self.joints()
        timbers = [self.pick(self.words.timbers), self.pick(self.words.timbers)]
        lived = self.pick(("indoors", "unknown", "climate"), (0.6, 0.25, 0.15))
        # Few soak or cycle whole joints; bonds are what standards do it to.
        hard = self.pick(("cycled", "soaked")) if self.happens(0.1 if self.bond else 0.005) else ""
        rig, of_joint = random.normal(0, 0.12), {one.pk: random.normal(0, 0.1) for one in joints}
        first: dict[str, Series] = {}
        for at in range(self.drawer.size.series):
            setup = draft.setups[at % len(draft.setups)]
            joint = joints[at // len(draft.setups) % len(joints)]
            one = Series(
                study=draft.study,
                setup=setup,
                label=f"{joint.name}, {at + 1}"[:80],
                joint=joint,
                tests="bond" if self.bond else "joint",
                timber=timbers[int(self.happens(0.2))] if self.happens(0.98) else None,
                adhesive=None if joint.pk == "solid" else self.pick(self.words.adhesives),
                conditioning=hard if hard and at % 2 else lived,
                cure_hours=None if joint.pk == "solid" else 48.0,
            )
            self.sizes(one)
            control = first.setdefault(setup.label, one)
            if control is not one and self.happens(0.7):
                one.control = control
            level = self.drawer.level[joint.pk] + rig + of_joint[joint.pk] + random.normal(0, 0.08)
            draft.series.append(one)
            self.results(one, self.usual_n(one) * float(np.exp(level)))

    def sizes(self, one: Series) -> None:
        thickness, depth = self.member
        known = SIZES | {"member_thickness_mm": thickness, "member_depth_mm": depth}
        if self.bond:
            one.grain_a, one.grain_b = self.pick(("end", "side", "long")), self.pick(("side", "long"))
        left_out = "member_thickness_mm" if self.happens(WITHOUT_SIZE) else ""
        for name in dict.fromkeys([*one.joint.needs_dims.split(), "member_thickness_mm", "member_depth_mm"]):
            if name != left_out:
                _size(one, name, known[name])

    def usual_n(self, one: Series) -> float:
        """What solid wood of these sizes would take on this rig, roughly."""
        name = LENGTH.get(one.setup.loading_id, "arm_mm")
        arm_m = (getattr(one.setup, name) or 300.0) * ARM_OF[name] / 1000
        if self.action == "bending":
            glued_edge = one.joint.section_rule == "glued_edge"
            width, depth = (SIZES["bond_length_mm"], SIZES["bond_width_mm"]) if glued_edge else self.member
            rupture_mpa = (one.timber.mor_12_mpa if one.timber else None) or BENDING_MPA
            return rupture_mpa * width * depth**2 / 6 / 1000 / arm_m
        if self.action == "shear":
            return SHEAR_MPA * SIZES["bond_length_mm"] * SIZES["bond_width_mm"]
        return TWIST_NM / arm_m if self.action == "torsion" else PULL_N

    def results(self, one: Series, centre_n: float) -> None:
        """Specimens, or the mean that was published."""
        random, count = self.random, self.drawer.size.specimens
        sd = 0.14 * float(np.exp(random.normal(0, 0.25)))
        self.draft.specimens[one.label] = []
        if self.published:
            self.draft.summaries[one.label] = self.summary(one, centre_n, sd)
            return
        loads = centre_n * np.exp(random.normal(0, sd, count))
        loads[random.random(count) < SLIP] *= 4.448
        held = (random.random(count) < 0.25) if self.happens(HELD) else np.zeros(count, dtype=bool)
        places = random.choice(len(PLACES), count, p=PLACES_SHARE)
        void = count - 1 if count > 1 and self.happens(VOID) else -1
        self.draft.specimens[one.label] = [
            self.specimen(one, at, float(loads[at]), bool(held[at]), int(places[at]), at == void) for at in range(count)
        ]

    def specimen(self, one: Series, at: int, load: float, held: bool, place: int, void: bool) -> Specimen:
        about: dict[str, Any] = {"series": one, "label": f"{at + 1}", "position": at}
        if void:
            return Specimen(**about, outcome="void", void_reason="the clamp slipped")
        typed = f"{load:.1f}"
        about |= {"reading_typed": typed, "reading_unit": "N", "peak_load_n": float(typed)}
        if held:
            return Specimen(**about, outcome="held")
        code = "member" if one.joint_id == "solid" else PLACES[place]
        wood = float(place * 20) if code in ("bond_line", "wood_beside_bond") else None
        return Specimen(**about, failure_place=self.words.places.get(code or ""), wood_failure_pct=wood)

    def summary(self, one: Series, mean: float, sd: float) -> Summary:
        typed, spread = f"{mean:.0f}", "" if self.happens(0.4) else f"{mean * sd:.0f}"
        return Summary(
            series=one,
            quantity="force",
            mean_typed=f"{typed} N",
            mean_si=max(float(typed), 1.0),
            sd_typed=f"{spread} N" if spread else "",
            sd_si=max(float(spread), 1.0) if spread else None,
            n=None if self.happens(0.2) else int(self.random.integers(3, 20)),
        )


def _size(record: Setup | Series, name: str, value: float) -> None:
    """A length or a number, in SI and as somebody would have typed it."""
    setattr(record, name, value)
    record.typed[name] = f"{value:g} mm" if name.endswith("_mm") else f"{value:g}"
