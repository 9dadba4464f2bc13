"""A plan made ready to be read: its form in parts, its tables, its sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.forms import BoundField
from django.urls import reverse

from results.models import AdhesiveClass, FailurePlace, Instrument, Joint, Loading, Timber
from results.models.setup import Setup
from results.models.vocabulary import Word
from results.practice.gaps import Gaps, Telling
from results.practice.plan import ACTION_WORDS, PlannedTest
from results.practice.plan_asked import JOINTS, MEMBER, PlanAsked
from results.practice.plan_document import FORM, Document, named_series, runs
from stats.charts.look import counted, low
from stats.footing.loading import LOADINGS
from stats.footing.units import KGF_N, LBF_N, show
from stats.practice.plan import Run

from . import tables
from .tables import Cell

# Turns that one column of a printed sheet holds; with more it gets a second.
TURNS_A_COLUMN = 22
_RIG = ("instrument", "full_scale")
_NEEDED_BY = {"ram_diameter_mm": ("jack_gauge",), "lever_ratio": ("lever_press",)}


@dataclass(frozen=True)
class Field:
    """One field of the form, and what is worth knowing of what it holds."""

    bound: BoundField
    remarks: list[str]


@dataclass(frozen=True)
class Part:
    """Fields that belong together."""

    title: str
    fields: list[Field]
    more: list[Field]

    @property
    def is_open(self) -> bool:
        """What is found fault with, or was filled in, is never hidden."""
        return any(one.bound.errors or one.remarks for one in self.more)


@dataclass(frozen=True)
class Choice:
    """One of the places for a joint to compare."""

    number: int
    chosen: str


class Form:
    """The form as the page shows it: only the lengths that the loading has, and only what the instrument needs."""

    def __init__(self, asked: PlanAsked, planned: PlannedTest | None) -> None:
        self.asked, self.planned = asked, planned
        self.unsaid = self._take_unsaid()
        self.joint = self._field("joint")
        families: dict[str, list[tuple[str, str]]] = {}
        rows = Joint.objects.order_by("family__position", "position", "code").select_related("family")
        for one in rows:
            families.setdefault(one.family.name, []).append((one.pk, one.name))
        self.families = list(families.items())
        given = list(dict.fromkeys(code for code in asked.data.getlist("joint") if code))
        places = min(max(len(given) + 1, 3), JOINTS[1])
        self.joints = [Choice(at + 1, given[at] if at < len(given) else "") for at in range(places)]
        self.what = self._part("Loading", ["tests", "loading", *self._needed()], self._optional())
        self.wood = self._part("Wood and glue", ["timber", "adhesive", *MEMBER])
        self.number = self._part("How many", ["ratio", "cv_pct", "power_pct", "afford", "controls"])
        self.rig = self._part("Rig", [*_RIG, *self._of_instrument()], ["rated_n", self._expect()])
        self.rig.more.extend(self._refused())
        self.order = self._part("Order and names", ["blocks", "seed"], ["title", "question", "workshop"])

    def _take_unsaid(self) -> list[tuple[str, str, str]]:
        """What a link left open, taken from the errors: whoever follows it has typed nothing wrong."""
        left = [name for name in self.asked.errors if name in self.asked.fields and name not in self.asked.asked]
        told = [one for one in self.faults if one[0] in {_id(name) for name in left}]
        for name in left:
            del self.asked.errors[name]
        return told

    @property
    def parts(self) -> list[Part]:
        return [self.what, self.wood, self.number, self.rig, self.order]

    @property
    def faults(self) -> list[tuple[str, str, str]]:
        """The field's id, its label and what is wrong, for a list above the form."""
        return [
            (_id(name), str(self.asked.fields[name].label), str(message))
            for name, messages in self.asked.errors.items()
            if name in self.asked.fields
            for message in messages
        ]

    def _refused(self) -> list[Field]:
        """What was asked for and refused, though its loading or instrument has no such field."""
        names = {"joint", "blocks", "seed", "title", "question", "workshop", "invented"}
        names |= {one.bound.name for part in (self.what, self.wood, self.number, self.rig) for one in part.fields}
        names |= {one.bound.name for part in (self.what, self.wood, self.number, self.rig) for one in part.more}
        return [self._field(name) for name in self.asked.errors if name in self.asked.fields and name not in names]

    def _needed(self) -> list[str]:
        shown = self.asked.lengths_shown
        needs = [name for name in shown if name in self._loading_needs()]
        return [*needs, *(name for name in ("arm_reference",) if name in shown)]

    def _optional(self) -> list[str]:
        needed = self._needed()
        return [name for name in self.asked.lengths_shown if name not in needed]

    def _loading_needs(self) -> tuple[str, ...]:
        return LOADINGS.get(self.asked.data.get("loading", ""), LOADINGS["cantilever_arm"]).needs

    def _of_instrument(self) -> list[str]:
        chosen = self.asked.data.get("instrument", "")
        return [name for name, codes in _NEEDED_BY.items() if chosen in codes]

    def _expect(self) -> str:
        return "expect_n" if self.asked.action in ("axial", "shear") else "expect_nm"

    def _part(self, title: str, names: Sequence[str], more: Sequence[str] = ()) -> Part:
        return Part(title, [self._field(name) for name in names], [self._field(name) for name in more])

    def _field(self, name: str) -> Field:
        return Field(self.asked[name], self.planned.about(name) if self.planned else [])


def _id(name: str) -> str:
    """The id of a field on the page; joints have a place each."""
    return f"id_{name}" if name != "joint" else "joint-1"


def both(newtons: float) -> str:
    """A force in newtons, and as it is read on scales."""
    return f"{show(newtons, 'N')} ({show(newtons / KGF_N, 'kgf')}, {show(newtons / LBF_N, 'lbf')})"


def groups_table(planned: PlannedTest) -> tables.Table:
    """The series to make, and what each is for."""
    rows = planned.groups
    columns: dict[str, Sequence[Any]] = {
        "Series": [one.label for one in rows],
        "Joint": [one.name for one in rows],
        "Specimens": [one.n for one in rows],
        "What for": [one.why or "in question" for one in rows],
    }
    return tables.of_columns(columns, "What to make", numeric={"Specimens"})


@dataclass(frozen=True)
class Loads:
    """What the rig will meet, and whether it will do: of a plan as it is asked for, or as it was lodged.

    Parameters
    ----------
    table : Table or None
        The loads to expect of each series, and where they are from; None where none can be foretold nor is told why.
    rigs : list of (str, str)
        Series, and whether the instrument reads it.
    arms : str
        What length of arm lets it read them all.
    unwritten : bool
        Whether the plan is from before such things were written down.
    """

    table: tables.Table | None
    rigs: list[tuple[str, str]]
    arms: str
    unwritten: bool

    @property
    def lacking(self) -> list[tuple[str, str]]:
        """Series that the instrument doesn't read well."""
        return [(name, words) for name, words in self.rigs if " reads them all" not in words]


def loads_of(written: Document) -> Loads:
    """Read back what a plan says of its loads and its rig."""
    names = named_series(written)
    series = written["series"]
    loads = [one.get("load_n") or None for one in series]
    columns: dict[str, Sequence[Any]] = {
        "Series": [names[one["label"]] for one in series],
        "Middling specimen": [both(load[1]) if load else "" for load in loads],
        "Weakest": [show(load[0], "N") if load else "" for load in loads],
        "Strongest": [show(load[2], "N") if load else "" for load in loads],
        "From": [one.get("load_from", "") for one in series],
    }
    told = any(loads) or any(columns["From"])
    return Loads(
        table=tables.of_columns(columns, "Loads to expect on the rig", numeric=set()) if told else None,
        rigs=[(names[one["label"]], one["rig"]) for one in series if one.get("rig")],
        arms=written.get("arms", ""),
        unwritten=written["form"] < FORM,
    )


def order_table(order: Iterable[Run], blocks: int) -> tables.Table:
    """Which specimen is tested when."""
    order = list(order)
    columns: dict[str, list[object]] = {"Turn": [Cell(str(run.position)) for run in order]}
    if blocks > 1:
        columns["Block"] = [run.block for run in order]
    columns["Specimen"] = [f"{run.series}{run.specimen}" for run in order]
    return tables.of_columns(columns, "Order of testing", numeric={"Block"})


def gaps_tables(found: Gaps) -> dict[str, tables.Table]:
    """What the book lacks: joints that were tested in no study or one, and pairs that one more study tells most by."""
    address = f"{reverse('plan:plan')}?"
    cells: dict[str, Sequence[Any]] = {
        "Joint": [one.name for one in found.cells],
        "Loaded in": [ACTION_WORDS[one.action] for one in found.cells],
        "Studies": [one.studies for one in found.cells],
        "Loaded otherwise": [counted(one.elsewhere, "study") for one in found.cells],
        "Test": [Cell("plan it", url=address + one.query) for one in found.cells],
    }
    pairs: dict[str, Sequence[Any]] = {
        "Joints": [f"{one.name} against {low(one.versus_name)}" for one in found.telling],
        "Studies of both": [one.studies for one in found.telling],
        "What it gains": [_gain(one) for one in found.telling],
        "Test": [Cell("plan it", url=address + one.query) for one in found.telling],
    }
    return {
        "cells": tables.of_columns(cells, "Tested in no study, or in one", numeric={"Studies"}),
        "pairs": tables.of_columns(
            pairs, "Two joints that one more study would tell most by", numeric={"Studies of both"}
        ),
    }


def _gain(one: Telling) -> str:
    if one.unlocks:
        return f"{counted(one.unlocks, 'comparison')} that can't be made now"
    return f"intervals narrower by {100 * one.gain:.1f} %"


@dataclass(frozen=True)
class Sheet:
    """A plan as its printed sheet shows it."""

    written: Document
    facts: list[tuple[str, str]]
    series: list[tuple[str, str, int, str, str]]
    loads: Loads
    columns: list[list[Run]]
    blocks: int
    places: list[str]


def sheet_of(written: Document) -> Sheet:
    """Read a plan back for its sheet."""
    joints = dict(Joint.objects.values_list("pk", "name"))
    order = list(runs(written))
    half = len(order) if len(order) <= TURNS_A_COLUMN else (len(order) + 1) // 2
    return Sheet(
        written=written,
        facts=facts_of(written),
        series=[
            (
                one["label"],
                joints.get(one["joint"], one["joint"]),
                one["n"],
                "control" if one["control"] else "",
                _to_expect(one.get("load_n")),
            )
            for one in written["series"]
        ],
        loads=loads_of(written),
        columns=[part for part in (order[:half], order[half:]) if part],
        blocks=written["blocks"],
        places=list(FailurePlace.objects.values_list("name", flat=True)),
    )


def _to_expect(load_n: Sequence[float] | None) -> str:
    """The loads of a series in a few words, for the sheet."""
    if not load_n:
        return "not foretold"
    low, typical, high = load_n
    return f"{both(typical)}; {show(low, 'N')} to {show(high, 'N')}"


def asked_again(written: Document) -> str:
    """The address's parameters that asked for a plan."""
    return urlencode([(str(name), str(value)) for name, value in written["asked"]])


def facts_of(written: Document) -> list[tuple[str, str]]:
    """What was planned beside the series, by name; what was not said is left out."""
    rows = [
        ("Loading", _name(Loading, written["loading"])),
        *((length_label(name), _length(name, said)) for name, said in written["lengths"].items()),
        ("Timber", _name(Timber, written["timber"])),
        ("Glue", _name(AdhesiveClass, written["adhesive"])),
        *((length_label(name), _length(name, said)) for name, said in written["sizes"].items()),
        ("Read on", _name(Instrument, written["instrument"])),
        ("It shows at most", written["full_scale"]),
        ("Ratio worth telling", f"{written['ratio']:g}"),
        ("Chance of telling it", f"{100 * written['power']:.0f} %"),
        ("Spread", f"{100 * written['cv']:.0f} %"),
    ]
    return [(name, text) for name, text in rows if text]


def length_label(name: str) -> str:
    """A length's name as people read it."""
    for ending in ("_mm", "_deg"):
        name = name.removesuffix(ending)
    label = {"leg_b": "second leg", "diagonal": "push angle", "frame_count": "frames"}.get(name, name)
    return label.replace("_", " ").capitalize()


def _length(name: str, said: dict[str, object]) -> str:
    typed, value = str(said["typed"]), said["si"]
    if name == "arm_reference":
        return f"to {dict(Setup.ArmReference.choices).get(str(value), value)}"
    if name.endswith("_mm") and isinstance(value, int | float):
        si = show(float(value), "mm", 4)
        return typed if typed.endswith("mm") else f"{typed} = {si}"
    return typed


def _name(model: type[Word], code: str) -> str:
    if not code:
        return ""
    return model._default_manager.filter(pk=code).values_list("name", flat=True).first() or code
