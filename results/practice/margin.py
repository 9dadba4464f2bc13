"""What a joint bears over what a piece asks, what would raise it most, and how it changes with a size."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd
from django.http import QueryDict

from results.models import Joint
from stats.errors import StatsError
from stats.footing.fields import DIM_FIELDS
from stats.practice import margin as set_against
from stats.practice.demand import Demand
from stats.practice.margin import Improvement, Margin
from stats.practice.places import PLACE_OF, PLACES, fits

from .joint import MEMBERS, NAMES, Bears, Carrier, JointAsked, bears, carrier
from .piece import PieceAsked
from .strength import levels

DEPTH = "member_depth_mm"
# The size that a margin is drawn over beside the member's depth: the first that the joint has.
LEADING = ("tenon_length_mm", "fastener_depth_mm", "slot_depth_mm", "spline_depth_mm", "bond_length_mm")
# A size is drawn from a half to twice what is planned.
SPAN, STEPS = (0.5, 2.0), 25
_OF_MEMBERS = ("member_thickness_mm", "member_depth_mm", "other_thickness_mm", "other_depth_mm")


@dataclass(frozen=True)
class Over:
    """The margin over one size.

    Parameters
    ----------
    name, words : str
        Which size.
    frame : DataFrame
        As `stats.practice.margin.over_size` has it.
    """

    name: str
    words: str
    frame: pd.DataFrame


@dataclass(frozen=True)
class Answer:
    """A margin with what stands beside it.

    Parameters
    ----------
    bears : Bears
        What the joint bears.
    margin : Margin
        Over what the piece asks.
    changes : tuple of Improvement
        What would raise it most first.
    over : tuple of Over
        The margin over the member's depth and over the joint's leading size, where it has them.
    place : str
        Where the piece's worst joint is, in words.
    left_out : tuple of Joint
        Joints that the book tells of and that aren't made at such a place.
    """

    bears: Bears
    margin: Margin
    changes: tuple[Improvement, ...]
    over: tuple[Over, ...]
    place: str
    left_out: tuple[Joint, ...]


@dataclass(frozen=True)
class AtPlace:
    """What a joint that fits would give there.

    Parameters
    ----------
    joint : Joint
    margin : Margin or None
    members : tuple of float or None
        Thickness and depth of its members [mm]: those typed, else those tested; None where they weren't told.
    specimens, shops : int
        Behind the margin.
    inventions : tuple of bool
        Of each series behind it, whether it is made up.
    why : str
        Why there is none.
    """

    joint: Joint
    margin: Margin | None = None
    members: tuple[float | None, ...] = ()
    specimens: int = 0
    shops: int = 0
    inventions: tuple[bool, ...] = ()
    why: str = ""


def forms(query: QueryDict, piece: str = "") -> tuple[PieceAsked, JointAsked]:
    """The two forms that a margin's address holds, each with its own parameters."""
    of_piece = PieceAsked(query, piece, beside=NAMES)
    action = of_piece.kind.action if of_piece.kind else "bending"
    # What is known to neither is refused once, by the piece's form.
    return of_piece, JointAsked(query, action, beside=tuple(query))


def answer(asked: JointAsked, demand: Demand) -> Answer:
    """Set what the joint chosen bears against what a piece asks.

    Raises
    ------
    TooThin
        If the evidence is too thin for a figure.
    StatsError
        If a choice or a size can't be; the message names its field.
    """
    carry = carrier(asked)
    found = bears(asked, carry)
    sizes = carry.sizes(asked.sizes())

    def of(sizes: set_against.Sizes) -> Margin:
        return set_against.margin(carry.to(sizes), demand)

    fixed = carry.strength.footing == "at_joint"
    place = PLACE_OF[demand.piece]
    kinds = _other_kinds(asked, carry.strength.footing)
    fitting = [one for one in kinds if fits(one.pk, place)]
    return Answer(
        bears=found,
        margin=set_against.margin(found.capacity, demand),
        changes=set_against.raise_most(of, sizes, () if fixed else None, _others(asked, demand, sizes, fitting)),
        over=() if fixed else _over(of, asked, sizes),
        place=PLACES[place],
        left_out=tuple(one for one in kinds if one not in fitting),
    )


def at_place(asked: JointAsked, demand: Demand) -> list[AtPlace]:
    """Every joint that fits where the piece's worst joint is, the highest lower limit first, those without one last."""
    kinds = Joint.objects.exclude(pk="solid").order_by("family__position", "position", "code")
    found = [_at_place(asked, demand, one) for one in kinds if fits(one.pk, PLACE_OF[demand.piece])]
    return sorted(found, key=lambda one: -one.margin.value if one.margin else np.inf)


def _at_place(asked: JointAsked, demand: Demand, joint: Joint) -> AtPlace:
    try:
        carry = carrier(asked, joint)
        sizes = carry.sizes(asked.sizes() if carry.strength.footing != "at_joint" else {})
        margin = set_against.margin(carry.to(sizes), demand)
    except StatsError as error:  # too thin among them
        return AtPlace(joint, why=str(error))
    members = tuple(sizes.get(name) for name in MEMBERS)
    return AtPlace(joint, margin, members, carry.limit.specimens, carry.limit.shops, carry.strength.inventions)


def _other_kinds(asked: JointAsked, footing: str) -> list[Joint]:
    """Every other joint that the book can tell of."""
    tested = list(levels(asked.wanted().choices(footing)))
    kinds = Joint.objects.filter(pk__in=tested).exclude(pk__in=["solid", asked.kind.pk if asked.kind else ""])
    return list(kinds.order_by("family__position", "position", "code"))


def _others(
    asked: JointAsked, demand: Demand, sizes: dict[str, float], kinds: Sequence[Joint]
) -> dict[str, Callable[[], Margin]]:
    """Other joints on the same members, their own sizes as they were tested."""
    members = {name: sizes[name] for name in _OF_MEMBERS if name in sizes}

    def work(joint: Joint) -> Margin:
        other: Carrier = carrier(asked, joint)
        return set_against.margin(other.to(other.sizes(members)), demand)

    return {joint.name: partial(work, joint) for joint in kinds}


def _over(of: set_against.MarginOf, asked: JointAsked, sizes: dict[str, float]) -> tuple[Over, ...]:
    leading = next((name for name in LEADING if name in sizes and name in asked.size_names), "")
    found = []
    for name in (DEPTH, leading):
        if name not in sizes:
            continue
        values = np.round(sizes[name] * np.linspace(*SPAN, STEPS), 1)
        try:
            frame = set_against.over_size(of, sizes, name, [float(value) for value in values])
        except StatsError:  # no size of that range can be built
            continue
        found.append(Over(name, DIM_FIELDS[name].words.removeprefix("the "), frame))
    return tuple(found)
