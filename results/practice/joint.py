"""Which joint of the book a piece is to have, and what that bears at the piece's sizes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django import forms
from django.http import QueryDict

from results.evidence.choices import ACTIONS
from results.models import AdhesiveClass, Joint, Timber
from results.models.alphabet import Alphabetical
from stats.errors import StatsError
from stats.footing.fields import DIM_FIELDS
from stats.practice import factors
from stats.practice.capacity import Capacity, capacity
from stats.practice.limit import Limit, next_shop
from stats.practice.sizes import LARGEST_MM, SMALLEST_MM, check_sizes

from .asked import Asked, CountField, QuantityField, WordField
from .strength import FOOTINGS, Strength, Wanted, solid_property, strength

LIMITS = {"95-75": (0.95, 0.75), "90-90": (0.90, 0.90)}
LIMIT_WORDS = {
    "95-75": "95 of 100, 75 % sure",
    "90-90": "90 of 100, 90 % sure",
}
SAME_SIZE = 0.02
"""A size off by less is the same."""
TABLE_MOISTURE_PCT = 12.0
"""Moisture of the strengths that a ratio to solid wood is of."""
REPEATED = {
    "chair": "mortise and tenon of a chair, sat in for years",
    "dowels": "two dowels, so many loadings",
}
MEMBERS = ("member_thickness_mm", "member_depth_mm")
WITH = {"with": "with", "without": "without"}
_LASTING = {"minutes": "ten minutes", "day": "a day", "month": "a month", "year": "a year", "decade": "ten years"}


NAMES = (
    *("joint", "timber", "adhesive", *DIM_FIELDS, "footing", "limit", "size_effect", "moisture_pct", "lasting"),
    *("repeated", "cycles", "own_factor", "flagged", "invented"),
)
"""Parameters of a joint beside ``action``."""


def _fields() -> dict[str, forms.Field]:
    joints = Joint.objects.exclude(pk="solid").order_by("family__position", "position")
    return {
        "joint": WordField(joints.values_list("pk", "name"), empty="choose a joint", label="Joint"),
        "timber": WordField(
            Timber.objects.order_by(Alphabetical()).values_list("pk", "name"), empty="choose a timber", label="Timber"
        ),
        "adhesive": WordField(AdhesiveClass.objects.values_list("pk", "name"), empty="any glue", label="Glue"),
        **{name: _size(name) for name in DIM_FIELDS},
        "footing": WordField(FOOTINGS.items(), empty="what fits best", label="Carried over"),
        "limit": WordField(LIMIT_WORDS.items(), initial="95-75", label="Lower limit: exceeded by"),
        "size_effect": WordField(WITH.items(), initial="with", label="Deeper members bear less stress"),
        "moisture_pct": QuantityField("percent", 2.0, 30.0, label="Moisture of the wood in use"),
        "lasting": WordField(_LASTING.items(), empty="only for a moment", label="The load stays, all in all"),
        "repeated": WordField(REPEATED.items(), empty="not taken off", label="Loaded again and again"),
        "cycles": CountField(329, 131_253, label="Loadings, for dowels"),
        "own_factor": QuantityField(
            "number", 0.01, 1.5, label="A factor of your own", help_text="What the strength is multiplied by."
        ),
        "flagged": WordField(WITH.items(), initial="with", label="Flagged specimens"),
        "invented": WordField(WITH.items(), empty="as everywhere here", label="Invented studies"),
    }


def _size(name: str) -> forms.Field:
    words = DIM_FIELDS[name].words.removeprefix("the ")
    label = words[:1].upper() + words[1:]
    if name.endswith("_count"):
        return CountField(1, 200, label=label)
    if name.endswith("_deg"):
        return QuantityField("angle", 0.1, 89.0, label=label)
    if name == "scarf_ratio":
        return QuantityField("number", 0.1, 100.0, label=label)
    return QuantityField("length", SMALLEST_MM, LARGEST_MM, label=label)


class JointAsked(Asked):
    """A joint of the book with the sizes it is to have, and what use takes off.

    Parameters
    ----------
    query : QueryDict
        The address's parameters.
    action : str
        What the joint feels, where the question says it; otherwise the parameter ``action`` does.
    beside : collection of str, optional
        Parameters that are read elsewhere.
    """

    def __init__(self, query: QueryDict, action: str = "", beside: Collection[str] = ()) -> None:
        self.said_action = action
        super().__init__(query, beside)

    def more_fields(self) -> dict[str, forms.Field]:
        action = WordField(ACTIONS.items(), label="What the joint feels", initial="bending")
        return {**({} if self.said_action else {"action": action}), **_fields()}

    @property
    def action(self) -> str:
        return self.said_action or self.cleaned_data["action"] or "bending"

    @cached_property
    def kind(self) -> Joint | None:
        """The joint chosen; None where none is, or what was typed is no joint."""
        return Joint.objects.filter(pk=self._word("joint")).first()

    @cached_property
    def timber(self) -> Timber | None:
        return Timber.objects.filter(pk=self._word("timber")).first()

    def _word(self, name: str) -> str:
        # What is in no vocabulary has its error at the field; NUL is refused by PostgreSQL even in a question.
        return self.data.get(name, "").replace("\0", "")

    @property
    def size_names(self) -> list[str]:
        """The sizes that say something about the joint chosen; of its members before one is."""
        return [name for name in (self.kind.dims if self.kind else MEMBERS) if name in DIM_FIELDS]

    @property
    def ready(self) -> bool:
        """Whether joint and timber were chosen, and all that was typed can be used."""
        return self.is_valid() and self.kind is not None and self.timber is not None

    @property
    def open(self) -> bool:
        """Whether a timber was chosen and the joint is yet to be."""
        return self.is_valid() and self.kind is None and self.timber is not None

    def wanted(self, joint: Joint | None = None) -> Wanted:
        """The question to the book, for the joint chosen or for another."""
        asked, kind = self.cleaned_data, joint or self.kind
        assert kind is not None and self.timber is not None
        return Wanted(
            joint=kind,
            timber=self.timber,
            action=self.action,
            adhesive=AdhesiveClass.objects.filter(pk=asked["adhesive"]).first() if asked["adhesive"] else None,
            footing=asked["footing"],
            flagged=asked["flagged"] != "without",
            invented={"with": True, "without": False}.get(asked["invented"]),
        )

    def sizes(self) -> dict[str, float]:
        """The sizes typed, of those that the joint has."""
        typed = {name: self.cleaned_data.get(name) for name in self.size_names}
        return {name: value for name, value in typed.items() if value is not None}

    def taken_off(self, joint: Joint) -> tuple[factors.Factor, ...]:
        """What use takes off a joint.

        Raises
        ------
        StatsError
            If a factor can't be had.
        """
        asked = self.cleaned_data
        assert self.timber is not None
        found = []
        if asked["moisture_pct"] is not None:
            prop = solid_property(joint, self.action)
            found.append(factors.moisture(self.timber.wood, prop, TABLE_MOISTURE_PCT, asked["moisture_pct"]))
        if asked["lasting"]:
            found.append(factors.duration(factors.LASTING_S[asked["lasting"]]))
        if asked["repeated"] == "chair":
            found.append(factors.repeated_chair())
        if asked["repeated"] == "dowels":
            if asked["cycles"] is None:
                raise StatsError("cycles (not given) must be said: how often the two dowels are loaded.")
            found.append(factors.repeated_dowel(asked["cycles"]))
        if asked["own_factor"] is not None:
            found.append(factors.own(asked["own_factor"]))
        return tuple(found)


@dataclass(frozen=True)
class Bears:
    """What a joint bears, and all that it rests on.

    Parameters
    ----------
    strength : Strength
        What the book holds.
    limit : Limit
        The lower limit drawn from it.
    capacity : Capacity
        At the piece's sizes.
    other_limit : Limit or None
        By the other way to the strength, where there is one.
    as_tested : tuple of str
        Names of the sizes that were not given and are those tested.
    """

    strength: Strength
    limit: Limit
    capacity: Capacity
    other_limit: Limit | None
    as_tested: tuple[str, ...]


@dataclass(frozen=True)
class Carrier:
    """Carries a joint's strength to any sizes: the same evidence, limit and factors each time."""

    joint: Joint
    action: str
    strength: Strength
    limit: Limit
    size_effect: bool
    taken_off: Sequence[factors.Factor]

    def to(self, sizes: Mapping[str, float]) -> Capacity:
        """The capacity at sizes of the joint; for one built as tested they say nothing."""
        tested = self.strength.tested
        built_as_tested = self.strength.footing == "at_joint"
        return capacity(
            self.limit,
            self.strength.footing,
            self.action,
            None if built_as_tested else sizes,
            area_rule=self.joint.area_rule or None,
            section_rule=self.joint.section_rule or None,
            tested_dims=None if built_as_tested or tested is None else tested.sizes,
            solid_mpa=self.strength.solid_mpa,
            size_effect=self.size_effect,
            factors=self.taken_off,
        )

    def sizes(self, typed: Mapping[str, float]) -> dict[str, float]:
        """The sizes typed; those not typed as they were tested."""
        tested = self.strength.tested
        return {**(tested.sizes if tested else {}), **typed}


def carrier(asked: JointAsked, joint: Joint | None = None) -> Carrier:
    """What carries the strength of the joint chosen, or of another, to any sizes.

    Raises
    ------
    TooThin
        If the evidence is too thin for a figure.
    StatsError
        If a choice can't be followed.
    """
    kind = joint or asked.kind
    assert kind is not None
    found = strength(asked.wanted(joint))
    limit = next_shop(found.evidence, *LIMITS[asked.cleaned_data["limit"] or "95-75"])
    with_size = asked.cleaned_data["size_effect"] != "without"
    return Carrier(kind, asked.action, found, limit, with_size, asked.taken_off(kind))


def bears(asked: JointAsked, carry: Carrier | None = None) -> Bears:
    """What the joint chosen bears at the sizes typed; by the carrier of that joint, where there is one already.

    Raises
    ------
    TooThin
        If the evidence is too thin for a figure.
    StatsError
        If a choice or a size can't be; the message names its field.
    """
    carry = carry or carrier(asked)
    typed = asked.sizes()
    if carry.strength.footing == "at_joint":
        _refuse_other_sizes(typed, carry.strength)
    sizes = carry.sizes(typed)
    as_tested = tuple(name for name in asked.size_names if name in sizes and name not in typed)
    if carry.strength.footing != "at_joint":
        check_sizes(sizes, as_tested)  # refused here, where it is known what was typed
    return Bears(
        strength=carry.strength,
        limit=carry.limit,
        capacity=carry.to(sizes),
        other_limit=_other_limit(carry.strength, carry.limit),
        as_tested=as_tested,
    )


def _refuse_other_sizes(typed: Mapping[str, float], found: Strength) -> None:
    """For a joint built exactly as tested, sizes that weren't.

    Raises
    ------
    StatsError
        Naming the first such size and what was tested.
    """
    tested = found.tested.sizes if found.tested else {}
    for name, value in typed.items():
        if name not in tested or abs(value - tested[name]) > SAME_SIZE * tested[name]:
            was = f"{tested[name]:.4g} {DIM_FIELDS[name].unit}".strip() if name in tested else "not told"
            raise StatsError(
                f"{name} ({value:.4g}) was {was} in the tests: for a joint built exactly as tested no other size "
                "holds. Carry it over another way, or leave the size empty."
            )


def _other_limit(found: Strength, limit: Limit) -> Limit | None:
    other: Any = found.network if found.route == "own" else found.own
    if other is None or other.why_thin():
        return None
    try:
        return next_shop(other, limit.coverage, limit.confidence)
    except StatsError:
        return None
