"""One cell to one value of the type and unit wanted, or a finding that says why not."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import URLValidator

from results import models
from stats.footing import units
from stats.footing.reading_errors import NoNumberFirst, ReadingError, UnitMissing, WrongUnitKind

from . import dates, plans, words
from .columns import Column
from .findings import DOUBT, ERROR, Noticed
from .limits import TEXT_LONGEST, range_of
from .not_known import REMEDY, is_not_known, may_be_not_known
from .rows import AsText, Row
from .signs import bad_sign, shown

UNITS = {
    "percent": "%",
    "hours": "h",
    "angle": "°",
    "density": "kg/m³",
    "rate": "mm/min",
    "count": "",
    "number": "",
}
_YES = {"yes", "y", "true", "1", "on", "x"}
_NO = {"no", "n", "false", "0", "off"}
_SHEET_DATE = re.compile(r"\d{4}-\d{2}-\d{2}( \d{2}:\d{2}:\d{2})?")
_URL = URLValidator(schemes=["http", "https"])


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number as typed and in SI.

    Parameters
    ----------
    text : str
        What was typed.
    unit : str
        Its unit, typed beside it or settled elsewhere.
    si : float
        In SI.
    bare : bool
        Whether the number was typed without its unit.
    """

    text: str
    unit: str
    si: float
    bare: bool = False

    @property
    def typed(self) -> str:
        """The text with its unit, for keeping."""
        return f"{self.text} {self.unit}".strip() if self.bare else self.text


class Values:
    """Reads the cells of a submission and collects what is wrong with them.

    Parameters
    ----------
    vocabularies : Words
        The vocabularies.
    decimal : str or None
        The decimal sign, if the file shows it.
    sheet : bool
        Whether it came from a sheet, where a text that begins with an equals sign is a formula.
    by : int, optional
        Number of the user who sends it, where that is known.
    """

    def __init__(self, vocabularies: words.Words, decimal: str | None, *, sheet: bool, by: int | None = None) -> None:
        self.words = vocabularies
        self.decimal = decimal
        self.sheet = sheet
        self.by = by
        self.noticed: list[Noticed] = []
        # Findings on lengths that were taken for millimetres, and would be usual ones in inches.
        self.maybe_inches: list[Noticed] = []

    def note(
        self,
        code: str,
        message: str,
        remedy: str = "",
        *,
        row: Row,
        column: str = "",
        severity: str = ERROR,
        **more: str,
    ) -> None:
        """Add a finding about a column of a row."""
        who = {"series": row.text("series"), "specimen": row.text("specimen")}
        if row.record in ("study", "setup"):
            who = {}
        self.noticed.append(
            Noticed(
                code,
                severity,
                message,
                remedy,
                record=row.record,
                field=column,
                value=row.text(column)[:200],
                place=row.where(column),
                **{**who, **more},
            )
        )

    def read(self, row: Row, column: Column, *, kind: str = "", unit: str | None = "") -> Any:
        """The value of one column of a row; None if it is blank or could not be read.

        Parameters
        ----------
        row : Row
            The record.
        column : Column
            Which column.
        kind : str
            Kind of quantity, where the column leaves it to the setup.
        unit : str or None
            Unit of a number typed without one; None if one was named that can't be read, which is told there and
            not again with every number.
        """
        cell = row.cells.get(column.name)
        if cell is None:
            if column.required:
                self.missing(row, column)
            return None
        bad = bad_sign(cell.text)
        if bad:
            self.note(
                "control-character",
                f"{_name(column)} {shown(cell.text)} holds a character that can't be kept ({bad}).",
                "Type it again; it often comes along when text is copied.",
                row=row,
                column=column.name,
            )
            return None
        if self.sheet and cell.text.startswith("=") and not isinstance(cell.text, AsText):
            self.note(
                "formula",
                f"{_name(column)} is a formula, {shown(cell.text)}; formulas aren't worked out here.",
                "Paste the value over it (paste special, values only).",
                row=row,
                column=column.name,
            )
            return None
        if is_not_known(column, cell.text):
            return None
        reader = getattr(self, f"_{column.kind}", None)
        if reader is not None:
            return reader(row, column, cell.text)
        return self._quantity(row, column, kind or column.kind, cell.unit or unit)

    def missing(self, row: Row, column: Column) -> None:
        example = f", such as {column.example}" if column.example else ""
        self.note(
            "missing",
            f"{_name(column)} is blank; it is needed. {column.help}",
            f"Fill it in{example}.",
            row=row,
            column=column.name,
        )

    def _text(self, row: Row, column: Column, text: str) -> str | None:
        most = _longest(column)
        text = text.replace("\r\n", "\n") if most == TEXT_LONGEST else " ".join(text.split())
        if len(text) > most:
            self.note(
                "too-long",
                f"{_name(column)} {shown(text)} has {len(text)} characters; {most} fit.",
                f"Shorten it to {most} characters{'' if column.name == 'notes' else '; notes hold more'}.",
                row=row,
                column=column.name,
            )
            return None
        if column.name == "source url":
            try:
                _URL(text)
            except ValidationError:
                self.note(
                    "not-a-url",
                    f"{_name(column)} {shown(text)} is no address.",
                    "Write it in full, beginning with https:// or http://.",
                    row=row,
                    column=column.name,
                )
                return None
        return text

    def _choice(self, row: Row, column: Column, text: str) -> str | None:
        code = words.choice(column, text)
        if code is None:
            self.note(
                "unknown-choice",
                f"{_name(column)} {shown(text)} is none of the choices.",
                f"Write {_either([code for code, _ in column.choices])}.",
                row=row,
                column=column.name,
            )
        return code

    def _word(self, row: Row, column: Column, text: str) -> Any:
        found = self.words.find(column.vocabulary, text)
        if len(found) == 1:
            return found[0]
        near = found or self.words.nearest(column.vocabulary, text)
        options = _either([f"{one.name} ({one.pk})" for one in near])
        if found:
            message, remedy = f"may mean {options}.", "Write one of these codes."
        else:
            message = "is not in the vocabulary."
            remedy = f"Choose a word from the {'template' if self.sheet else 'form'}'s list {column.name!r}."
            if near:
                remedy = f"Did you mean {options}?"
        self.note(
            "ambiguous-word" if found else "unknown-word",
            f"{_name(column)} {shown(text)} {message}",
            remedy,
            row=row,
            column=column.name,
        )
        return None

    def _plan(self, row: Row, column: Column, text: str) -> models.Plan | None:
        return plans.read_plan(self, row, column, text)

    def _yesno(self, row: Row, column: Column, text: str) -> bool | None:
        plain = text.casefold()
        if plain in _YES or plain in _NO:
            return plain in _YES
        self.note(
            "not-yes-or-no",
            f"{_name(column)} {shown(text)} is neither yes nor no.",
            "Write yes or no.",
            row=row,
            column=column.name,
        )
        return None

    def _date(self, row: Row, column: Column, text: str) -> str | None:
        text, said, why = text.removesuffix(" 00:00:00"), "", "is no date of this kind"
        try:
            said = dates.iso(text)
        except dates.EitherWay:
            why = "is one day where the month goes first, and another where the day does"
        except ValueError:
            pass  # said below
        if said < "1800":
            self.note(
                "not-a-date",
                f"{_name(column)} {shown(text)} {why}.",
                "Write 2025, March 2025, 2025-03 or 2025-03-14.",
                row=row,
                column=column.name,
            )
            return None
        if said > datetime.date.today().isoformat():
            self.note(
                "future-date",
                f"{_name(column)} {text!r} lies in the future.",
                "Check the year.",
                row=row,
                column=column.name,
                severity=DOUBT,
            )
        return said

    def _count(self, row: Row, column: Column, text: str) -> int | None:
        quantity = self._quantity(row, column, "number", "")
        if quantity is None:
            return None
        if quantity.si != int(quantity.si):
            self.note(
                "not-whole",
                f"{_name(column)} {shown(text)} must be a whole number.",
                f"Write {round(quantity.si)}, if that is meant.",
                row=row,
                column=column.name,
            )
            return None
        return int(quantity.si)

    def _quantity(self, row: Row, column: Column, kind: str, unit: str | None) -> Quantity | None:
        cell = row.cells[column.name]
        name = column.name
        if column.kind in UNITS:
            unit = unit or UNITS[column.kind]
        if _SHEET_DATE.fullmatch(cell.text):
            self.note(
                "date-in-number",
                f"{_name(column)} {cell.text!r} is a date; spreadsheets make one of 3/4 or 1-2.",
                "Set the cell's format to text and type it again, such as 0.75 in.",
                row=row,
                column=name,
            )
            return None
        try:
            reading = _read(cell.text, kind, unit or None, self.decimal)
        except ReadingError as error:
            if not (isinstance(error, UnitMissing) and unit is None):
                self._unreadable(row, column, error)
            return None
        limits = range_of(column.field, column.kind)
        si_unit = reading.si_unit
        if not limits.holds(reading.si):
            self.note(
                "out-of-range",
                f"{_name(column)} {shown(cell.text)} must be {limits.words(si_unit)}.",
                _zero_remedy(column) if reading.si == 0 else "Check the number and its sign.",
                row=row,
                column=name,
            )
            return None
        if limits.usual and reading.si and not limits.usual[0] <= reading.si <= limits.usual[1]:
            low, high = limits.usual
            self.note(
                "unusual",
                f"{_name(column)} {shown(cell.text)} is {units.show(reading.si, si_unit)}; "
                f"{low:g} to {high:g} {si_unit} is usual in a workshop.",
                "Check the number and its unit.",
                row=row,
                column=name,
                severity=DOUBT,
            )
            bare_mm = column.kind == "length" and not (reading.unit or cell.unit) and unit == "mm"
            if bare_mm and low <= reading.si * units.INCH_MM <= high:
                self.maybe_inches.append(self.noticed[-1])
        return Quantity(cell.text, reading.unit or unit or si_unit, reading.si, bare=not reading.unit)

    def _unreadable(self, row: Row, column: Column, error: ReadingError) -> None:
        text = row.text(column.name)
        found = str(error).removesuffix(error.hint).strip()
        quoted = repr(error.text)
        said = f"{_name(column)} {found}" if found.startswith(quoted) else ""
        remedy = error.hint
        if isinstance(error, WrongUnitKind) and column.kind == "reading":
            remedy += " If the setup's instrument shows something else, name that instrument."
        if isinstance(error, NoNumberFirst) and may_be_not_known(column):
            remedy += f" {REMEDY}"
        self.note(
            error.code,
            said or f"{_name(column)} {shown(text)}: {found}",
            remedy,
            row=row,
            column=column.name,
        )


@lru_cache(maxsize=10_000)
def _read(text: str, kind: str, unit: str | None, decimal: str | None) -> units.Reading:
    """A quantity; most of a sheet's cells say the same few things over and over."""
    return units.read(text, kind, default_unit=unit, decimal=decimal)


def _name(column: Column) -> str:
    return column.name[0].upper() + column.name[1:]


def _either(options: list[str]) -> str:
    return " or ".join([", ".join(options[:-1]), options[-1]] if len(options) > 1 else options)


def _longest(column: Column) -> int:
    if column.kind == "reading":
        return 60
    model = {"study": "Study", "setup": "Setup", "series": "Series", "specimen": "Specimen"}[column.record]
    if not column.field or (column.record, column.name) in (("specimen", "series"), ("series", "setup")):
        return 80
    if column.field == "control":
        return 80
    return getattr(models, model)._meta.get_field(column.field).max_length or TEXT_LONGEST


def _zero_remedy(column: Column) -> str:
    if column.kind == "reading":
        return "If the reading was lost, mark the specimen void and say why; don't write 0."
    return "Leave it blank if it isn't known."
