"""Several joints that share a load: read from an address, bounded side by side."""

from __future__ import annotations

from typing import Any

from django import forms

from stats.errors import StatsError
from stats.footing.numerals import plain
from stats.footing.units import ReadingError, read
from stats.practice.assembly import MOST_JOINTS, Sharing, share

from .asked import Asked, CountField, QuantityField, WordField

UNITS = ("N", "kN", "lbf", "kgf", "N·m", "ft·lbf", "in·lbf")
MODELS = {"lognormal": "lognormal", "weibull": "Weibull"}


class SharesField(forms.CharField):
    """Numbers with commas between them, one a joint."""

    def clean(self, value: Any) -> list[float] | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return [read(part, "number", decimal=".").si for part in plain(text).replace(";", ",").split(",")]
        except ReadingError as error:
            raise forms.ValidationError(f"{error} Write one number a joint, as in 2, 1, 1.") from None


class ShareAsked(Asked):
    """What one joint holds, how many share the load, and how they share it."""

    mean = QuantityField("number", 1e-3, 1e9, label="One joint holds, on average", initial="300")
    unit = WordField([(unit, unit) for unit in UNITS], label="Unit", initial="N")
    n = CountField(1, MOST_JOINTS, label="Joints that share the load", initial="4")
    cv = QuantityField(
        "number", 0.001, 1.0, label="Coefficient of variation", initial="0.15", help_text="Among joints made alike."
    )
    model = WordField(MODELS.items(), label="They follow", initial="lognormal")
    shares = SharesField(
        required=False,
        max_length=400,
        label="Shares by the statics of the frame",
        help_text="One number a joint, as in 2, 1, 1; alike where left empty.",
    )

    def answer(self) -> Sharing | None:
        """The bounds; None where something typed can't be used, which is then said."""
        if not self.is_valid():
            return None
        asked = self.cleaned_data
        missing = [name for name in ("mean", "n", "cv") if asked[name] is None]
        for name in missing:
            self.add_error(name, "This must be said.")
        if missing:
            return None
        try:
            return share(
                asked["mean"],
                asked["n"],
                cv=asked["cv"],
                model=asked["model"] or "lognormal",
                shares=asked["shares"],
                unit=asked["unit"] or "N",
            )
        except StatsError as error:
            self.blame(error)
            return None
