"""Several joints that share a load: read from an address, bounded side by side."""

from __future__ import annotations

from typing import Any

from django import forms

from stats.errors import StatsError
from stats.footing.numerals import plain
from stats.footing.reading_errors import UnknownUnit, WrongUnitKind
from stats.footing.unit_names import shown_name
from stats.footing.units import ReadingError, factor, read
from stats.practice.assembly import MOST_JOINTS, Sharing, share

from .asked import Asked, CountField, QuantityField, WordField

UNITS = ("N", "kN", "lbf", "kgf", "N·m", "ft·lbf", "in·lbf")
# What one joint holds is a force or a moment; a pound typed is one of force.
_KINDS = ("force", "moment")
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


class HeldField(QuantityField):
    """What one joint holds, with its unit or without one; clean to the number as typed and its unit, "" without one."""

    def clean(self, value: Any) -> tuple[float, str] | None:  # type: ignore[override]  # a pair, where the field that it is made from gives a number
        text = forms.CharField.clean(self, value)
        if not text:
            return None
        try:
            bare = read(text, "number")
        except ReadingError as error:
            return self._with_unit(text, error)
        return self.in_range(bare.si, text), ""

    def _with_unit(self, text: str, error: ReadingError) -> tuple[float, str]:
        """The same with a unit of force or of moment.

        Raises
        ------
        ValidationError
            If it is no quantity of either kind.
        """
        for kind in _KINDS:
            try:
                found = read(text, kind)
                unit = shown_name(found.unit, text, kind)
            except ReadingError:
                continue
            return self.in_range(found.si / factor(unit, kind), text), unit
        if isinstance(error, WrongUnitKind | UnknownUnit):
            raise forms.ValidationError(f"{text}: write a force or a moment, in one of {', '.join(UNITS)}.") from None
        raise forms.ValidationError(str(error)) from None


class SpreadField(QuantityField):
    """A coefficient of variation as people write it: ``0.15`` or ``15 %``; clean to a share of one."""

    def clean(self, value: Any) -> float | None:
        text = forms.CharField.clean(self, value)
        if not text:
            return None
        try:
            found = read(text, "percent", default_unit="%")
        except ReadingError as error:
            raise forms.ValidationError(f"{error} Write it as 0.15 or 15 %.") from None
        share = found.si / 100 if found.unit else found.si
        if share > self.high and not found.unit:
            raise forms.ValidationError(f"{text} would be {100 * share:g} %; write {text} % or {share / 100:g}.")
        return self.in_range(share, text)


class ShareAsked(Asked):
    """What one joint holds, how many share the load, and how they share it."""

    mean = HeldField(
        "number",
        1e-3,
        1e9,
        label="One joint holds, on average",
        initial="300",
        help_text="With its unit, such as 300 lbf or 120 N·m.",
    )
    unit = WordField(
        [(unit, unit) for unit in UNITS], label="Unit", initial="N", help_text="Of a number typed without one."
    )
    n = CountField(1, MOST_JOINTS, label="Joints that share the load", initial="4")
    cv = SpreadField(
        "number",
        0.001,
        1.0,
        label="Coefficient of variation",
        initial="15 %",
        help_text="Among joints made alike, such as 15 % or 0.15.",
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
        mean, unit = asked["mean"]
        try:
            return share(
                mean,
                asked["n"],
                cv=asked["cv"],
                model=asked["model"] or "lognormal",
                shares=asked["shares"],
                unit=unit or asked["unit"] or "N",
            )
        except StatsError as error:
            self.blame(error)
            return None
