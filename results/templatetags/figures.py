"""Filters that show numbers with sensible digits, and derivations in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.translation import gettext

from results.pages import in_language, scale
from results.pages.wording import beside, exact, tidy
from stats.charts.chart import cell as cell_text
from stats.footing.units import show

register = template.Library()


@register.filter
def digits(value: Any, number: int = 3) -> str:
    """A number in so many significant digits; nothing for what is not known."""
    return in_language.figure(cell_text(value, number))


@register.filter
def quantity(value: float | None, unit: str) -> str:
    """A value with its unit, and beside it in the one that the reader chose; nothing for what is not known."""
    return "" if value is None else beside(value, unit, {})


@register.filter
def in_readers(value: float | None, unit: str) -> float | None:
    """A value of SI in the unit that the reader chose, for a table whose heading says which."""
    return None if value is None else scale.scaled(float(value), unit)


@register.filter
def readers_unit(unit: str) -> str:
    """The unit that the reader chose for one of SI."""
    return scale.readers(unit)


@register.simple_tag
def quantity_beside(value: float, unit: str, units: Mapping[str, str]) -> str:
    """A value in SI, and in the reader's own unit beside it, where they typed such units."""
    return beside(value, unit, units)


@register.filter
def count_of(number: int, word: str) -> str:
    """``3|count_of:"study"`` is "3 studies"."""
    return in_language.count_of(number, word)


@register.filter
def word_of(number: int, word: str) -> str:
    """``3|word_of:"study"`` is "studies"."""
    return in_language.word_of(number, word)


@register.filter
def vocabulary(name: str, where: str = "") -> str:
    """A name of the vocabulary in the reader's language; ``"inside"`` for one inside a sentence."""
    return in_language.inside(str(name)) if where == "inside" else in_language.named(str(name))


@register.filter
def step_inputs(step: Mapping[str, Any]) -> str:
    """What went into a step of a derivation: "a = 300 mm, φ = 10.0°"."""
    return ", ".join(f"{symbol} = {_input(value, unit)}" for symbol, (value, unit) in step.get("inputs", {}).items())


@register.filter
def step_factor(step: Mapping[str, Any]) -> str:
    """The factor of a step: a number, or that each specimen has its own."""
    factor: Any = step.get("factor")
    return "one for each specimen" if isinstance(factor, list) else f"× {show(factor, digits=4)}"


def _input(value: Any, unit: str) -> str:
    if isinstance(value, list):
        known = [v for v in value if isinstance(v, int | float)]
        return f"{show(min(known), unit)} to {show(max(known), unit)}" if known else "for each specimen"
    if isinstance(value, int | float):
        value = exact(value) if unit == "mm" else tidy(value)
    return f"{value} {unit}".strip()


@register.filter
def at(found: Mapping[Any, Any], key: Any) -> Any:
    """What a mapping holds for a key; 0 where it holds nothing."""
    return found.get(key, 0)


@register.filter
def few(names: list[str] | int, most: int = 4) -> str:
    """The first few names, and how many more there are."""
    if not names or isinstance(names, int):
        return ""
    shown = ", ".join(map(in_language.named, names[:most]))
    more = len(names) - most
    return gettext("%(names)s and %(more)s more") % {"names": shown, "more": more} if more > 0 else shown
