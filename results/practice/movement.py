"""What the seasons do across a joint: read from an address, answered from the timbers' table and the book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from django import forms
from django.db.models import BooleanField, Count, ExpressionWrapper, Q
from django.http import QueryDict

from results.kept import once
from results.models import Joint, Series, Timber
from results.models.alphabet import Alphabetical
from stats.errors import MissingInputs, StatsError
from stats.footing.adjust import emc
from stats.practice import movement as seasons
from stats.practice.movement import CrossGrain, Freshness, Movement

from .asked import Asked, QuantityField, WordField

SAWN = {"flat": 0.0, "rift": 45.0, "quarter": 90.0}
SAWN_WORDS = {"flat": "flatsawn: it moves tangentially", "rift": "rift: half-way", "quarter": "quartersawn: radially"}
JULY = 6


class MovementAsked(Asked):
    """A board, the day it was glued, and the air of winter and summer."""

    width_mm = QuantityField("length", 1.0, 5000.0, label="Width across the grain", initial="100 mm")
    winter_c = QuantityField("temperature", -20.0, 60.0, label="Winter: air", initial="20 °C")
    winter_rh_pct = QuantityField("percent", 1.0, 99.0, label="Winter: humidity", initial="35 %")
    summer_c = QuantityField("temperature", -20.0, 60.0, label="Summer: air", initial="24 °C")
    summer_rh_pct = QuantityField("percent", 1.0, 99.0, label="Summer: humidity", initial="65 %")
    glued_pct = QuantityField(
        "percent", 1.0, 30.0, label="Moisture when glued", help_text="Half-way between the two where left empty."
    )

    def __init__(self, query: QueryDict) -> None:
        super().__init__(query)
        self.order_fields(["timber", "sawn", "width_mm", "glued_pct"])

    def more_fields(self) -> dict[str, forms.Field]:
        timbers = Timber.objects.filter(shrink_tangential_per_pct__isnull=False).order_by(Alphabetical())
        joints = Joint.objects.exclude(pk="solid")
        return {
            "timber": WordField(timbers.values_list("pk", "name"), label="Timber", initial="oak_northern_red"),
            "sawn": WordField(SAWN_WORDS.items(), label="The board is", initial="flat"),
            "joint": WordField(joints.values_list("pk", "name"), empty="any joint", label="Joint"),
        }

    @property
    def how_sawn(self) -> str:
        return SAWN_WORDS[self.cleaned_data["sawn"]].partition(":")[0]

    def answer(self) -> Season | None:
        """What the year does; None where something typed can't be used, which is then said."""
        if not self.is_valid():
            return None
        asked = self.cleaned_data
        optional = ("glued_pct", "joint")
        missing = [name for name in self.fields if asked[name] in (None, "") and name not in optional]
        for name in missing:
            self.add_error(name, "This must be said.")
        if missing:
            return None
        try:
            return _season(asked)
        except StatsError as error:
            self.blame(error)
            return None


@dataclass(frozen=True)
class Season:
    """What a year does to a board and to a glued cross-grain joint.

    Parameters
    ----------
    timber : Timber
        Of which wood.
    coefficient_per_pct : float
        Change of width for each percent of moisture, over the width [1/%].
    winter_pct, summer_pct, glued_pct : float
        Moisture contents [%].
    to_winter, to_summer : Movement
        From the day it was glued.
    cross_grain : CrossGrain
        At the end that is further off.
    year : DataFrame
        As `stats.practice.movement.year` has it.
    fresh : Freshness
        How much of the book's evidence has lived through seasons.
    """

    timber: Timber
    coefficient_per_pct: float
    winter_pct: float
    summer_pct: float
    glued_pct: float
    to_winter: Movement
    to_summer: Movement
    cross_grain: CrossGrain
    year: pd.DataFrame
    fresh: Freshness

    @property
    def ends(self) -> tuple[tuple[Movement, str], tuple[Movement, str]]:
        """What becomes of the width, and until when."""
        return (self.to_winter, "until winter"), (self.to_summer, "until summer")


def _season(asked: dict[str, Any]) -> Season:
    timber = Timber.objects.get(pk=asked["timber"])
    radial, tangential = timber.shrink_radial_per_pct, timber.shrink_tangential_per_pct
    if radial is None or tangential is None:
        raise MissingInputs([f"both coefficients of {timber.name}"], "movement over the seasons")
    per_pct = seasons.coefficient(radial, tangential, SAWN[asked["sawn"]])
    # Coldest in January and warmest in July, between them as a cosine goes.
    summer = (1 - np.cos(2 * np.pi * np.arange(12) / 12)) / 2
    air = [
        asked[f"winter_{name}"] + (asked[f"summer_{name}"] - asked[f"winter_{name}"]) * summer
        for name in ("c", "rh_pct")
    ]
    moisture = np.asarray(emc(air[0], air[1]))
    ends = float(moisture[0]), float(moisture[JULY])
    glued = asked["glued_pct"] if asked["glued_pct"] is not None else sum(ends) / 2
    moved = [seasons.movement(asked["width_mm"], per_pct, glued, end) for end in ends]
    # The end that is further off; where both are, the one that shrinks, which is what cracks.
    furthest = max(moved, key=lambda one: (round(abs(one.change_mm), 9), -one.change_mm))
    return Season(
        timber=timber,
        coefficient_per_pct=per_pct,
        winter_pct=ends[0],
        summer_pct=ends[1],
        glued_pct=glued,
        to_winter=moved[0],
        to_summer=moved[1],
        cross_grain=seasons.cross_grain(
            furthest, moe_gpa=timber.moe_12_gpa, tension_perp_mpa=timber.tension_perp_12_mpa
        ),
        year=seasons.year(*air, width_mm=asked["width_mm"], coefficient_per_pct=per_pct, glued_pct=glued),
        fresh=_freshness(asked["joint"]),
    )


def _freshness(joint: str) -> Freshness:
    """How the series of a joint, or of all, had lived; once for each state of the data."""
    return once(f"freshness {joint}", lambda: _counted(joint))


def _counted(joint: str) -> Freshness:
    rows = Series.objects.counting()
    rows = rows.filter(joint=joint) if joint else rows
    loaded = ExpressionWrapper(Q(cycles__gt=0), output_field=BooleanField())
    counts = rows.order_by().annotate(loaded=loaded).values_list("conditioning", "loaded").annotate(n=Count("pk"))
    pairs = [(kind, int(bool(again))) for kind, again, n in counts for _ in range(n)]
    return seasons.freshness([kind for kind, _ in pairs], [cycles for _, cycles in pairs])
