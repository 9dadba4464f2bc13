"""What a reader says of a piece, and what it asks of its worst joint."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict

from stats.errors import StatsError
from stats.footing.units import show
from stats.practice.caution import USES
from stats.practice.demand import FACTORS, LARGEST_FACTOR, PIECES, Demand, Piece, PieceInput, demand
from stats.practice.loads import PRESETS, LoadPreset, presets_for

from .asked import Asked, CountField, LineLoadField, QuantityField, WordField

_KINDS = {"N": "force", "mm": "length", "°": "angle"}


class PieceAsked(Asked):
    """A kind of piece with its sizes and loads.

    Parameters
    ----------
    query : QueryDict
        The address's parameters.
    piece : str
        A key of `PIECES`; where it is not said, the parameter ``piece`` says it.
    beside : collection of str, optional
        Parameters that are read elsewhere.
    """

    def __init__(self, query: QueryDict, piece: str = "", beside: Collection[str] = ()) -> None:
        self.said = piece
        self.kind: Piece | None = PIECES.get(piece or query.get("piece", ""))
        super().__init__(query, beside)
        chosen = PRESETS.get(query.get("preset", ""))
        by_load = chosen.sets.get(self.kind.code, {}) if chosen and self.kind else {}
        for one in self.kind.inputs if self.kind else ():
            if one.name in by_load:  # what is taken if nothing is typed
                self.fields[one.name].widget.attrs["placeholder"] = f"{by_load[one.name]:.4g} {one.unit}"

    def more_fields(self) -> dict[str, forms.Field]:
        rows = [] if self.said else [("piece", WordField(_names(), label="Kind of piece", required=True))]
        if self.kind is None:
            return dict(rows)
        presets = [(one.code, one.name) for one in presets_for(self.kind.code)]
        return {
            **dict(rows),
            **({"preset": WordField(presets, empty="your own load", label="Load to start from")} if presets else {}),
            **{one.name: _field(one) for one in self.kind.inputs},
            **{name: _factor(name, words) for name, words in FACTORS.items()},
            "use": WordField(USES.items(), label="The piece is", initial="own"),
        }

    @property
    def starting_load(self) -> LoadPreset | None:
        """The load that was chosen to start from."""
        fitting = presets_for(self.kind.code) if self.kind else ()
        return next((one for one in fitting if one.code == self.cleaned_data.get("preset")), None)

    def given(self) -> dict[str, Any]:
        """Sizes and loads by name: as typed, or else by the load to start from."""
        assert self.kind is not None
        by_preset = self.starting_load.sets[self.kind.code] if self.starting_load else {}
        typed = {one.name: self.cleaned_data.get(one.name) for one in self.kind.inputs}
        return {name: by_preset.get(name) if value is None else value for name, value in typed.items()}

    def demand(self) -> Demand | None:
        """What the piece asks of its worst joint; None where something typed can't be used, which is then said."""
        if not self.is_valid() or self.kind is None:
            return None
        asked = self.cleaned_data
        try:
            return demand(
                self.kind.code,
                self.given(),
                dynamic=asked["dynamic"] or 1.0,
                misuse=asked["misuse"] or 1.0,
                use=asked["use"] or "own",
            )
        except StatsError as error:
            self.blame(error)
            return None


@dataclass(frozen=True)
class Said:
    """One thing that a demand rests on: what it is, its value, and whether it was given.

    Parameters
    ----------
    words, unit : str
        What it is, and its unit.
    value : float
        In that unit.
    where : {"given", "preset", "taken"}
        Typed, by the load to start from, or taken by default.
    """

    words: str
    value: float
    unit: str
    where: str

    @property
    def shown(self) -> str:
        """The value with its unit; a count as it is."""
        return show(self.value, self.unit) if self.unit else f"{self.value:g}"


def said(form: PieceAsked, found: Demand) -> list[Said]:
    """All that the demand rests on, in the order of the form."""
    kind = PIECES[found.piece]
    by_preset = form.starting_load.sets[kind.code] if form.starting_load else {}

    def where(one: PieceInput) -> str:
        if form.cleaned_data.get(one.name) is not None:
            return "given"
        return "preset" if one.name in by_preset else "taken"

    return [Said(one.words, found.inputs[one.name], one.unit, where(one)) for one in kind.inputs]


def _names() -> list[tuple[str, str]]:
    return [(code, one.name) for code, one in PIECES.items()]


def _field(one: PieceInput) -> forms.Field:
    label = one.words[:1].upper() + one.words[1:]
    if one.whole:
        field: forms.Field = CountField(int(one.low), int(one.high), label=label)
        field.widget.attrs["placeholder"] = f"{one.default:g}"
        return field
    if one.unit == "N/m":
        field = LineLoadField(one.low, one.high, label=label)
    else:
        field = QuantityField(_KINDS[one.unit], one.low, one.high, label=label)
    field.widget.attrs["placeholder"] = f"{one.default:g} {one.unit}"
    return field


def _factor(name: str, words: str) -> forms.Field:
    field = QuantityField("number", 1.0, LARGEST_FACTOR, label=f"Factor, {name}", help_text=f"{words.capitalize()}.")
    field.widget.attrs["placeholder"] = "1"
    return field
