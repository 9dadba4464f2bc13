"""The matter of the page of one piece: its drawings, charts, tables and sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from django.forms import BoundField
from django.http import QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from results.practice import margin as margins
from results.practice.joint import JointAsked
from results.practice.piece import PieceAsked, Said, said
from results.practice.strength import FOOTINGS, NETWORK, OWN, ROUTES
from stats.charts.chart import Chart
from stats.charts.look import counted
from stats.charts.piece_diagram import piece_diagram
from stats.charts.piece_figures import leverage_curve, margin_over_size
from stats.errors import StatsError
from stats.footing.fields import DIM_FIELDS
from stats.footing.units import from_si, show
from stats.inference.planning import cv_from_sd_log
from stats.practice.demand import FACTORS, PIECES, Demand, demand
from stats.practice.leverage import leverage
from stats.practice.loads import KINDS
from stats.practice.margin import Improvement, Margin
from stats.practice.places import PLACE_OF, PLACES
from stats.practice.shops import TooThin

from . import piece_choice, piece_tables, piece_words, scale, tables
from .piece_choice import DIGITS
from .wording import beside, how_invented

_OF_JOINT = ("joint", "timber", "adhesive", "limit")
_OF_USE = (
    *("moisture_pct", "lasting", "repeated", "cycles", "own_factor"),
    *("footing", "size_effect", "flagged", "invented"),
)


@dataclass(frozen=True)
class Page:
    """What the page of a piece shows; `thin` or `refused` say why there is no margin."""

    of_piece: PieceAsked
    of_joint: JointAsked
    demand: Demand | None
    drawing: SafeString = field(default_factory=lambda: mark_safe(""))
    said: tuple[Said, ...] = ()
    answer: margins.Answer | None = None
    thin: tuple[str, ...] = ()
    fitting: tuple[margins.AtPlace, ...] = ()
    charts: dict[str, Chart] = field(default_factory=dict)
    tables: dict[str, tables.Table] = field(default_factory=dict)

    @property
    def units(self) -> dict[str, str]:
        """The units that results are said in beside SI."""
        return {**self.of_joint.units_typed, **self.of_piece.units_typed}

    @property
    def about(self) -> str:
        """Joint and timber, for the face of a chart."""
        return _about(self.of_joint)

    @property
    def how_invented(self) -> str:
        """How much of what it rests on is made up; nothing if none is."""
        behind = [self.answer.bears.strength] if self.answer else self.fitting
        return how_invented(flag for one in behind for flag in one.inventions)

    @property
    def wrong(self) -> bool:
        """Whether something typed can't be used."""
        return bool(self.of_piece.errors or self.of_joint.errors)

    @property
    def wrong_fields(self) -> list[tuple[str, str]]:
        """Where the page has each field that has an error, and its label."""
        shown = [*self.piece_fields, *self.factor_fields, *self.joint_fields, *self.size_fields, *self.use_fields]
        return [(field.id_for_label, str(field.label)) for field in shown if field.errors]

    @property
    def piece_fields(self) -> list[BoundField]:
        return [field for field in self.of_piece if field.name not in FACTORS]

    @property
    def joint_fields(self) -> list[BoundField]:
        return [self.of_joint[name] for name in _OF_JOINT]

    @property
    def use_fields(self) -> list[BoundField]:
        return [self.of_joint[name] for name in _OF_USE]

    @property
    def more_said(self) -> bool:
        """Whether something was said of its use, or of how it is carried over."""
        return any(self.of_joint.asked.get(name) or self.of_joint.errors.get(name) for name in _OF_USE)

    @property
    def factor_fields(self) -> list[BoundField]:
        return [self.of_piece[name] for name in FACTORS]

    @property
    def factors_said(self) -> bool:
        return any(self.of_piece.asked.get(name) for name in FACTORS)

    @property
    def preset_kind(self) -> str:
        """What the figure of the load to start from rests on."""
        return KINDS[self.of_piece.starting_load.kind] if self.of_piece.starting_load else ""

    @property
    def by_preset(self) -> bool:
        """Whether any load is the one to start from, and not typed over."""
        return any(one.where == "preset" for one in self.said)

    @property
    def taken(self) -> list[tuple[str, str]]:
        """What was taken by default, and its value."""
        return [
            (one.words, beside(one.value, one.unit, self.units) if one.unit else one.shown)
            for one in self.said
            if one.where == "taken"
        ]

    @property
    def piece_query(self) -> str:
        return self.of_piece.query()

    @property
    def compare_query(self) -> str:
        """The comparison of what there is of the joint chosen."""
        asked = self.of_joint
        choices = asked.wanted().choices(asked.cleaned_data["footing"] or "ratio_solid")
        return choices.query(joints=(asked.kind.pk,) if asked.kind else ())

    @property
    def other_route(self) -> str:
        """The way to the strength that was not taken."""
        route = self.answer.bears.strength.route if self.answer else ""
        return ROUTES[OWN if route == NETWORK else NETWORK]

    @property
    def as_tested(self) -> bool:
        """Whether the margin is of the sizes tested alone, none having been given."""
        return bool(self.answer and not self.of_joint.sizes())

    @property
    def built_of(self) -> list[tuple[str, str]]:
        """What the answer is for, in words: on paper the form is gone."""
        return piece_words.built_of(self.of_joint)

    @property
    def for_client(self) -> str:
        """What can be told somebody else of it; nothing before a joint and a timber are chosen."""
        if self.demand is None or not (self.answer or self.thin):
            return ""
        return piece_words.for_client(self.of_joint, self.demand, self.answer)

    @property
    def not_fitting(self) -> list[tuple[str, str]]:
        """Joints that fit and have no margin, and why."""
        return piece_choice.without(self.fitting)

    @property
    def place(self) -> str:
        """Where the piece's worst joint is."""
        return PLACES[PLACE_OF[self.demand.piece]] if self.demand else ""

    @property
    def by_readings(self) -> str:
        """Why a comparison shows another lower limit."""
        return piece_words.by_readings(self.answer.bears) if self.answer else ""

    @property
    def share_query(self) -> str:
        """The page of joints that share a load, begun with this joint's middling strength and spread."""
        if self.answer is None:
            return ""
        capacity, evidence = self.answer.bears.capacity, self.answer.bears.strength.evidence
        spread = cv_from_sd_log(evidence.within_sd or 0.0)
        mean, unit = scale.scaled(capacity.typical, capacity.unit), scale.readers(capacity.unit)
        return urlencode({"mean": f"{mean:.4g}", "unit": unit, "cv": f"{spread:.3g}", "n": 4})

    @property
    def size_fields(self) -> list[BoundField]:
        """The joint's sizes in the form."""
        return [self.of_joint[name] for name in self.of_joint.size_names]

    @property
    def joint_query(self) -> str:
        """The joint's own parameters, for the answers that take no piece."""
        return self.of_joint.query()

    @property
    def without_figure(self) -> list[tuple[str, str]]:
        """Changes that have no figure, and why."""
        changes = self.answer.changes if self.answer else ()
        return [(one.words, one.refused.removeprefix("No figure is given: ")) for one in changes if one.refused]

    @property
    def not_raising(self) -> list[tuple[str, str]]:
        """Changes that leave the margin as it is or lower it, what it would be, and what that rests on."""
        changes = self.answer.changes if self.answer else ()
        return [
            (one.words, f"{show(one.after, digits=DIGITS)}{_rests_on(one)}")
            for one in changes
            if not one.refused and not piece_tables.raises(one)
        ]

    @property
    def other_sizes(self) -> list[tuple[str, str]]:
        """Sizes typed for another joint: kept in the form, so that going back to it finds them."""
        names = [name for name in DIM_FIELDS if name not in self.of_joint.size_names]
        return [(name, str(self.of_joint.asked[name])) for name in names if self.of_joint.asked.get(name)]


def make(query: QueryDict, piece: str) -> Page:
    """Read an address and work out what its page shows."""
    of_piece, of_joint = margins.forms(query, piece)
    of_piece.spoken = of_joint.spoken = True
    found = of_piece.demand()
    ready = of_joint.ready  # says at its fields what can't be used
    if found is None:
        return Page(of_piece, of_joint, None)
    page: dict[str, Any] = {
        "drawing": mark_safe(piece_diagram(found)),  # made of numbers and of our own words
        "said": tuple(said(of_piece, found)),
    }
    if not ready:
        if of_joint.open:
            fitting = page["fitting"] = tuple(margins.at_place(of_joint, found))
            page["tables"] = {"fitting": piece_choice.table(fitting, of_piece, of_joint)}
        return Page(of_piece, of_joint, found, **page)
    try:
        answer = margins.answer(of_joint, found)
    except TooThin as thin:
        return Page(of_piece, of_joint, found, **page, thin=thin.reasons)
    except StatsError as error:
        of_joint.blame(error)
        return Page(of_piece, of_joint, found, **page)
    tested = answer.bears.strength.tested
    for name, value in (tested.sizes if tested else {}).items():  # what is taken where nothing is typed
        of_joint.fields[name].widget.attrs["placeholder"] = f"{value:.4g} {DIM_FIELDS[name].unit}".strip()
    return Page(
        of_piece,
        of_joint,
        found,
        **page,
        answer=answer,
        charts=_charts(answer, of_joint, found),
        tables=piece_tables.of_answer(answer, of_joint),
    )


def _about(asked: JointAsked) -> str:
    return f"{asked.kind} in {asked.timber.name.lower() if asked.timber else ''}"


def _charts(answer: margins.Answer, asked: JointAsked, asks: Demand) -> dict[str, Chart]:
    about = f"{_about(asked)}, {PIECES[asks.piece].name.lower()}"
    level = answer.margin.single.level
    charts = {
        one.name: margin_over_size(one.frame, size=one.words, about=about, level=level, length=scale.readers("mm"))
        for one in answer.over
    }
    capacity = answer.bears.capacity
    if capacity.action == "bending":
        bends = leverage(capacity.value, typical_nm=max(capacity.typical, capacity.value))
        charts["leverage"] = leverage_curve(bends, about=_about(asked), **scale.of_leverage())
    return charts


def _rests_on(change: Improvement) -> str:
    """What another joint's figure rests on; a change of sizes rests on what the joint itself does."""
    if not change.code.startswith("joint:"):
        return ""
    return f", by {counted(change.specimens or 0, 'specimen')} of {counted(change.shops or 0, 'shop')}"


def sentences(page: Page) -> list[str]:
    """What a margin says and what it rests on, a sentence each."""
    answer = page.answer
    if answer is None:
        return []
    strength, limit, margin = answer.bears.strength, answer.bears.limit, answer.margin
    single = margin.single
    chance = 100 * margin.chance_short
    rare = "less than 1" if chance < 1 else f"about {chance:.0f}"
    return [
        margin.words,
        *_in_their_unit(margin, page.units),
        f"Of 100 such joints made in another shop, {rare} would bear less than the piece asks; for "
        f"{100 * single.level:g} of 100 the margin lies from {show(single.low, digits=2)} to "
        f"{show(single.high, digits=2)}, a middling one has {show(margin.typical, digits=2)}.",
        *piece_words.reconciled(answer.bears.limit),
        f"It rests on {limit.specimens} specimens of {limit.shops} shops, {ROUTES[strength.route]}; carried over "
        f"{FOOTINGS[strength.footing]}. What is not known of the load is not in it.",
        *_sizes_said(answer),
        *_besides(page.demand, page.units),
    ]


def _in_their_unit(found: Margin, units: Mapping[str, str]) -> list[str]:
    """The two that a margin is of, as the reader's own units have them."""
    kind = "moment" if found.demand.unit == "N·m" else "force"
    if kind not in units:
        return []
    unit = units[kind]
    bears, asks = (show(from_si(one, kind, unit), unit) for one in (found.capacity.value, found.demand.value))
    return [f"In your units: the lower limit is {bears}, and the piece asks {asks}."]


def _sizes_said(answer: margins.Answer) -> list[str]:
    """Which section the margin is for, where the reader gave none."""
    dims = answer.bears.capacity.dims
    taken = [name for name in ("member_thickness_mm", "member_depth_mm") if name in answer.bears.as_tested]
    sizes = " × ".join(f"{dims[name]:.4g}" for name in taken if name in dims)
    return [f"It is for a member of {sizes} mm, as tested, since you gave none: say yours above."] if sizes else []


def _besides(asks: Demand | None, units: Mapping[str, str]) -> list[str]:
    """What else the joint feels, which is not set against anything."""
    if asks is None:
        return []
    others = [
        f"{words} {beside(value, unit, units)}"
        for action, words, value, unit in (
            ("bending", "a moment of", asks.bending_nm, "N·m"),
            ("axial", "a pull or thrust of", asks.axial_n, "N"),
            ("shear", "a force across of", asks.shear_n, "N"),
        )
        if value and action != asks.action
    ]
    what = "moment" if asks.action == "bending" else "pull"
    return [f"Only the {what} is set against it; the joint also feels {' and '.join(others)}."] if others else []


def doors(joint: str = "") -> list[dict[str, Any]]:
    """The kinds of piece, each with its drawing as it stands before anything is said of it but perhaps the joint."""
    asked = f"?{urlencode({'joint': joint})}" if joint else ""
    return [
        {
            "name": one.name,
            "joint": one.joint,
            "url": f"{reverse('piece:piece', args=[code])}{asked}",
            "drawing": mark_safe(piece_diagram(demand(code), name=f"piece-{code}")),
        }
        for code, one in PIECES.items()
    ]
