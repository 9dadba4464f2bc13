"""Questions in an address: quantities as people write them, and errors said at the field that has them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from typing import Any, cast
from urllib.parse import urlencode

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import QueryDict

from results.evidence.choices import nearest
from stats.charts.look import low
from stats.errors import StatsError
from stats.footing.unit_names import shown_name
from stats.footing.units import SI, ReadingError, read, show

_INCHES = re.compile(r"\d\s*(?:in|inch|inches|ft|foot|feet|\"|″|'|′)", re.I)
_UNIT = re.compile(r"[^\d\s.,/+\-½¼¾⅛⅜⅝⅞e]", re.I)


# The unit that a result is said in beside SI, by the unit typed; what isn't here is metric.
BESIDE = {
    "force": {"lbf": "lbf", "ozf": "lbf", "kip": "lbf", "kgf": "kgf"},
    "length": dict.fromkeys(("in", "ft", "yd", "thou"), "in"),
    "moment": {"ft·lbf": "ft·lbf", "in·lbf": "in·lbf", "in·ozf": "in·lbf", "kgf·m": "kgf·m", "kgf·cm": "kgf·m"},
}
CUSTOMARY = frozenset({"lbf", "in", "ft·lbf", "in·lbf"})


class QuantityField(forms.CharField):
    """A number with its unit, as people write it; clean to the unit that its name ends in.

    Parameters
    ----------
    kind : str
        Kind of quantity, a key of `stats.footing.units.SI`; "number" for what has no unit.
    low, high : float
        What is taken, ends included, in SI.
    unit : str, optional
        Unit of a number typed without one; the kind's own where not given.
    """

    def __init__(self, kind: str, low: float, high: float, *, unit: str = "", **kwargs: Any) -> None:
        self.kind, self.low, self.high, self.unit = kind, low, high, unit or SI[kind]
        widget = forms.TextInput(attrs={"size": 12, "autocomplete": "off"})
        super().__init__(required=kwargs.pop("required", False), max_length=60, widget=widget, **kwargs)

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            number = read(text, self.kind, default_unit=self.unit or None).si
        except ReadingError as error:
            raise forms.ValidationError(str(error)) from None
        return self.in_range(number, text)

    def in_range(self, number: float, text: str) -> float:
        """The number, if it is taken."""
        if not self.low <= number <= self.high:
            unit = SI[self.kind]
            low, high = (f"{end:,g}".replace(",", " ") for end in (self.low, self.high))
            raise forms.ValidationError(
                f"{text} is {show(number, unit, 4)}; {low} to {f'{high} {unit}'.strip()} is taken."
            )
        return number


class LineLoadField(QuantityField):
    """A load for each metre: ``400``, ``25 kg/m``, ``27 lb/ft``; clean to N/m."""

    def __init__(self, low: float, high: float, **kwargs: Any) -> None:
        super().__init__("force", low, high, **kwargs)

    def clean(self, value: Any) -> float | None:
        text, slash, per = forms.CharField.clean(self, value).rpartition("/")
        if not slash:
            return super().clean(per)
        try:
            metres = read(f"1 {per}", "length").si / 1000
        except ReadingError as error:
            raise forms.ValidationError(f"{value}: what the load is for each of must be a length. {error}") from None
        load = super().clean(text)
        return None if load is None else self.in_range(load / metres, value)


def _unit_typed(field: QuantityField, form: Asked, name: str) -> str:
    """The unit that somebody typed in a field, by its shown name; "" where there is none or it can't be read."""
    text = form.asked.get(name, "")
    if isinstance(field, LineLoadField):
        text = text.partition("/")[0]
    try:
        unit = read(text, field.kind, default_unit=field.unit or None).unit
    except ReadingError:
        return ""
    for one in (unit, unit.partition(" ")[0]):  # 2 ft 6 in has two units; lb ft is one
        try:
            return shown_name(one, text, field.kind) if one else ""
        except ReadingError:
            continue
    return ""


class CountField(forms.IntegerField):
    """A whole number in a range."""

    def __init__(self, low: int, high: int, **kwargs: Any) -> None:
        super().__init__(min_value=low, max_value=high, required=kwargs.pop("required", False), **kwargs)
        for code in ("invalid", "min_value", "max_value"):
            self.error_messages[code] = f"A whole number from {low} to {high} is taken."


class WordField(forms.ChoiceField):
    """One of some words; another is refused with the nearest."""

    def __init__(self, choices: Iterable[tuple[str, str]], *, empty: str | None = None, **kwargs: Any) -> None:
        rows = list(choices)
        super().__init__(
            choices=[("", empty), *rows] if empty is not None else rows,
            required=kwargs.pop("required", False),
            **kwargs,
        )

    @property
    def codes(self) -> list[str]:
        """What may be chosen, as it stands now: a form may give the field other choices."""
        return [str(code) for code, _ in cast(Iterable[tuple[Any, Any]], self.choices) if code]

    def validate(self, value: str) -> None:
        if not value and self.required:
            raise forms.ValidationError(f"This must be chosen; it is one of {', '.join(self.codes)}.")
        if value and not self.valid_value(value):
            raise forms.ValidationError(f"{value[:80]!r} is not known.{nearest(value, self.codes)}")


class Asked(forms.Form):
    """A form in an address, the same for a page and for the API.

    What was not given takes its field's initial value, so that an address without parameters asks for what the form
    shows. Unknown parameters, and one given twice, are refused.

    Parameters
    ----------
    query : QueryDict
        The address's parameters.
    beside : collection of str, optional
        Parameters that are read elsewhere.
    """

    # On a page people type as they speak: a load needs its unit there, and messages name what they see.
    spoken = False

    def __init__(self, query: QueryDict, beside: Collection[str] = ()) -> None:
        data = query.copy()
        super().__init__(data, label_suffix="", use_required_attribute=False)
        self.asked, self.beside = query, beside
        self.unknown: dict[str, str] = {}
        self.fields |= self.more_fields()
        for name, field in self.fields.items():
            if name not in query and field.initial is not None:
                data.setlist(name, field.initial if isinstance(field.initial, list) else [field.initial])

    def more_fields(self) -> dict[str, forms.Field]:
        """Fields beside those of the class, in their order."""
        return {}

    def clean(self) -> dict[str, Any]:
        for name, values in self.asked.lists():
            if name in self.beside:
                continue
            if name not in self.fields:
                self.unknown[name] = f"{name[:80]!r} is no parameter here.{nearest(name, {*self.fields, *self.beside})}"
                self.add_error(None, self.unknown[name])
            elif len(set(values)) > 1 and not isinstance(self.fields[name], forms.MultipleChoiceField):
                self.add_error(name, f"This may be given once only, not as {' and '.join(values[:3])}.")
        if self.spoken:
            self._refuse_bare()
        return self.cleaned_data

    def _refuse_bare(self) -> None:
        """Refuse a number without a unit where it would be taken for another: a load, or a length beside inches."""
        typed = {name: self.asked.get(name, "").strip() for name in self.fields}
        fields = {name: field for name, field in self.fields.items() if isinstance(field, QuantityField)}
        lengths = [typed[name] for name, field in fields.items() if field.kind == "length"]
        inches = any(_INCHES.search(text) for text in lengths)
        for name, field in fields.items():
            if not typed[name] or name in self.errors or _UNIT.search(typed[name]):
                continue
            if field.kind == "length" and inches:
                self.add_error(name, f"{typed[name]} has no unit, and others are in inches: write mm or in after it.")
            elif field.kind == "force":
                told = (
                    f"{typed[name]} has no unit: write N, lbf or kg after it; {typed[name]} kg is taken as its weight."
                )
                self.add_error(name, told)

    def blame(self, error: StatsError) -> None:
        """Say an error at the field that it names first, or above the form where it names none."""
        message = str(error)
        name = message.partition(" ")[0]
        self.add_error(name if name in self.fields else None, self._by_labels(message) if self.spoken else message)

    def _by_labels(self, message: str) -> str:
        """The same with each field's label in the place of its name."""

        def label(found: re.Match[str]) -> str:
            words = str(self.fields[found[0]].label)
            return words if not found.start() else low(words)

        names = "|".join(sorted(map(re.escape, self.fields), key=len, reverse=True))
        return re.sub(rf"\b(?:{names})\b", label, message)

    @property
    def units_typed(self) -> dict[str, str]:
        """Units to say results in beside SI, by their kind: those that were typed, and what goes with inches or pounds.

        A kind that was typed in SI has none.
        """
        typed: dict[str, str] = {}
        for name, field in self.fields.items():
            if isinstance(field, QuantityField) and field.kind in BESIDE and (unit := _unit_typed(field, self, name)):
                typed.setdefault(field.kind, BESIDE[field.kind].get(unit, ""))
        if CUSTOMARY & set(typed.values()):
            typed = {**dict(zip(BESIDE, ("lbf", "in", "ft·lbf"), strict=True)), **typed}
        return {kind: unit for kind, unit in typed.items() if unit}

    @property
    def faults(self) -> list[tuple[str, str, str]]:
        """Parameter, value and what is wrong with it, for an answer without a form; "" for the whole."""
        wrong = self.errors.get_json_data()  # reads the fields, and with them what is unknown
        found = [(name, self.asked.get(name, ""), message) for name, message in self.unknown.items()]
        for name, errors in wrong.items():
            whole = name == NON_FIELD_ERRORS
            messages = [one["message"] for one in errors]
            found += [
                ("" if whole else name, "" if whole else self.asked.get(name, ""), message)
                for message in messages
                if message not in self.unknown.values()
            ]
        return found

    def query(self, **changes: Any) -> str:
        """The address's parameters that ask for the same, or for the same with some changed; empty ones left out."""
        pairs = [(name, value) for name, values in self.asked.lists() if name in self.fields for value in values]
        pairs = [(name, value) for name, value in pairs if name not in changes and value != ""]
        return urlencode(pairs + [(name, value) for name, value in changes.items() if value not in (None, "")])
