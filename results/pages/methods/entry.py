"""A method as its page shows it: what it says, its formula and symbols, an example worked by the code, its source."""

from __future__ import annotations

import csv
import fnmatch
import inspect
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.conf import settings

from results.pages.wording import exact, tidy
from stats.footing.fields import FIELDS
from stats.footing.step import Step
from stats.footing.units import show

CHECKED = settings.BASE_DIR / "fixtures" / "methods" / "checked.csv"


@dataclass(frozen=True)
class Check:
    """One row of what was checked: the test that does it, against what, and how far off it was."""

    part: str
    method: str
    source: str
    against: str
    test: str
    difference: str
    covers: tuple[str, ...]


@dataclass(frozen=True)
class Said:
    """A stretch of words, or of code."""

    text: str
    code: bool = False


@dataclass(frozen=True)
class Method:
    """One formula, rule or statistic.

    Parameters
    ----------
    anchor, name : str
        Where it stands on its page, and what it is called.
    says : str
        What it is for, in plain words.
    formulas : tuple of str
        The formula, as the code has it.
    symbols : tuple of str
        What the symbols mean, each with its unit.
    how : tuple of tuple of Said
        How it works, from the code's own notes.
    mind : str
        What to mind.
    sources : tuple of str
        On whose authority.
    example : tuple of str
        Lines of an example, computed by the code.
    code : str
        The function that does it.
    """

    anchor: str
    name: str
    says: str = ""
    formulas: tuple[str, ...] = ()
    symbols: tuple[str, ...] = ()
    how: tuple[tuple[Said, ...], ...] = ()
    mind: str = ""
    sources: tuple[str, ...] = ()
    example: tuple[str, ...] = ()
    code: str = ""

    @property
    def checks(self) -> tuple[Check, ...]:
        """The tests that hold it to something outside, or to its own written rule."""
        return tuple(one for one in checks() if any(fnmatch.fnmatch(self.anchor, cover) for cover in one.covers))


@dataclass(frozen=True)
class Part:
    """Methods that belong together, on one page."""

    code: str
    name: str
    says: str
    methods: tuple[Method, ...]


@cache
def checks() -> tuple[Check, ...]:
    """What each method was checked against, and how far from it it is."""
    with CHECKED.open(newline="", encoding="utf-8") as file:
        return tuple(
            Check(
                row["part"],
                row["method"],
                row["source"],
                row["checked_against"],
                row["test"],
                row["largest_relative_difference"],
                tuple(row["covers"].split()),
            )
            for row in csv.DictReader(file)
        )


def anchor(kind: str, code: str) -> str:
    """The name of a place on the page: ``loading-cantilever-arm``."""
    return f"{kind}-{re.sub('[^a-z0-9]+', '-', code.lower()).strip('-')}"


# What the code says of itself


def by_code(
    anchor: str,
    name: str,
    does: Callable[..., Any],
    says: str,
    example: Iterable[str],
    *,
    formulas: Iterable[str] = (),
    symbols: Iterable[str] = (),
    source: str = "",
) -> Method:
    """A method whose working and sources are those of the function that does it.

    Parameters
    ----------
    anchor, name, says
        As `Method` has them.
    does : callable
        The function; its notes and references are shown.
    example : iterable of str
        Lines computed by it.
    formulas, symbols : iterable of str
        Where its notes leave them out.
    source : str
        Where its docstring names none.
    """
    sections = _sections(inspect.getdoc(does) or "")
    # Some modules cite once for all their functions.
    module = _sections(inspect.getdoc(inspect.getmodule(does)) or "")
    references = _references(sections.get("References", "")) or _references(module.get("References", ""))
    return Method(
        anchor,
        name,
        says,
        tuple(formulas),
        tuple(symbols),
        tuple(_said(paragraph) for paragraph in _paragraphs(sections.get("Notes", ""))),
        sources=references or ((source,) if source else ()),
        example=tuple(example),
        code=f"{does.__module__}.{does.__qualname__}",
    )


def _sections(text: str) -> dict[str, str]:
    """The parts of a numpydoc docstring by their headings."""
    parts = re.split(r"^([A-Z][a-z]+)\n-{3,}\n", text, flags=re.M)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def _paragraphs(text: str) -> list[str]:
    """Paragraphs on one line each, without what only a contributor can look up."""
    paragraphs = [" ".join(one.split()) for one in re.split(r"\n\s*\n", text.strip())]
    return [
        re.sub(r" \((?:tests/[^)]*|see `[^`]*`)\)|[;,] (?:tests/[^)]*|see `[^`]*`)", "", one)
        for one in paragraphs
        if one
    ]


# What a docstring writes in plain letters, as a page writes it.
_SIGNS = (
    (r"\+-", "±"),
    (r"\bsqrt\(", "√("),
    (r"\bsum\(", "Σ("),
    (r">=", "≥"),
    (r"<=", "≤"),
    (r"\btau2\b", "τ²"),
    (r"\btau(?![a-z_])", "τ"),
    (r"\bsigma(?![a-z])", "σ"),
    (r"\bmu\b", "μ"),
    (r"\blambda\b", "λ"),
    (r"\^2\b", "²"),
    (r" \* ", " · "),
    (r"\[(\d)\]_", r"[\1]"),
)


def _said(paragraph: str) -> tuple[Said, ...]:
    """Words and formulas: what stands between backticks is code; references as they are numbered."""
    for plain, sign in _SIGNS:
        paragraph = re.sub(plain, sign, paragraph)
    parts = re.split(r"``(.+?)``|`([^`]+)`", paragraph)
    said = []
    for words, code, name in zip(parts[::3], [*parts[1::3], ""], [*parts[2::3], ""], strict=True):
        said += [Said(words), Said(code or name or "", True)]
    return tuple(one for one in said if one.text)


def _references(text: str) -> tuple[str, ...]:
    """One line a reference, its number kept."""
    numbered = re.split(r"^\.\. \[(\d)\] ", text.strip(), flags=re.M)
    if len(numbered) > 1:
        pairs = zip(numbered[1::2], numbered[2::2], strict=True)
        return tuple(f"[{number}] {' '.join(words.split())}" for number, words in pairs)
    # The next reference begins on a new line with its author and year.
    lines = re.split(r"(?<=\.)\n(?=[A-Z][^\n]{0,60}\(\d{4}\))", text.strip())
    return tuple(" ".join(one.split()) for one in lines if one.strip())


# Symbols and numbers

# What steps work out on their way, and what the whole book calls by one letter.
COMMON = {
    "F": "load on the rig, N",
    "M": "moment at the joint, N·m",
    "N": "pull along the joint, N",
    "V": "shear at the joint, N",
    "T": "torque at the joint, N·m",
    "H": "push along the rail of one frame, N",
    "A": "bonded area, mm²",
    "Z": "section modulus, mm³",
    "J": "polar second moment of one face, mm⁴",
    "σ": "nominal bending stress, MPa",
    "τ": "greatest shear stress on the glued face, MPa",
}


def symbols_of(steps: Iterable[Step], given: Mapping[str, Any], own: Mapping[str, str] = COMMON) -> dict[str, str]:
    """What the symbols of some steps mean: the fields whose values went in, or what `own` says.

    Parameters
    ----------
    steps : iterable of Step
        As the code gave them.
    given : mapping
        What it was given, by field; each value only once.
    own : mapping
        Meanings of symbols that stand for no field.

    Raises
    ------
    LookupError
        If a symbol's meaning can't be told.
    """
    found = {}
    for step in steps:
        for symbol, (value, unit) in step.inputs.items():
            fields = [n for n, v in given.items() if v == value and n in FIELDS and FIELDS[n].unit == unit]
            if len(fields) == 1:
                words = FIELDS[fields[0]].words.removeprefix("the ")
                found[symbol] = f"{words}, {unit}" if unit else words
            elif symbol in own:
                found[symbol] = own[symbol]
            else:
                raise LookupError(f"{symbol} = {value} {unit} of {step.formula!r} has no meaning here: {fields}.")
    return found


def spelled(symbols: Mapping[str, str]) -> tuple[str, ...]:
    """Symbols with their meanings, as they are shown."""
    return tuple(f"{symbol} = {meaning}" for symbol, meaning in symbols.items())


def put_in(step: Step) -> str:
    """What went into a step: ``a = 300 mm, φ = 10°``."""
    return ", ".join(f"{symbol} = {amount(value, unit)}" for symbol, (value, unit) in step.inputs.items())


def amount(value: Any, unit: str) -> str:
    """A number with its unit, lengths in all digits."""
    if not isinstance(value, int | float):
        return str(value)
    text = exact(value) if unit == "mm" else tidy(value)
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}".strip()


def num(value: Any, unit: str = "", digits: int = 3) -> str:
    """A result with its unit; whoever writes an example knows that what the code gives there is one number."""
    return show(float(value), unit, digits)


def numbers(values: Iterable[float], digits: int = 4) -> str:
    """Numbers in a row."""
    return ", ".join(show(float(value), "", digits) for value in values)


def pct(share: Any, digits: int = 2) -> str:
    """A share as a percentage."""
    return f"{float(f'{100 * float(share):.{digits}g}'):g} %"


def chance(p: Any) -> str:
    """A probability; below one in ten thousand only that."""
    return "p < 0.0001" if p < 1e-4 else f"p = {show(float(p), '', 2)}"
