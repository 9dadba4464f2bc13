"""What was typed, by record, each cell with its place."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from .findings import Noticed, Place

# A spreadsheet takes a text that begins with one of these for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_QUANTITY = re.compile(r"[+-]\s?\d[\d.,/ ]*[^\W\d_]*[°%³²]?")


class AsText(str):
    """A text that had an apostrophe before it, so that no program takes it for a formula; nor is it one here."""

    __slots__ = ()


def as_text(text: str) -> str:
    """A text as it is written into a spreadsheet: one that would be run as a formula gets an apostrophe before it.

    Examples
    --------
    >>> as_text("=1+1"), as_text("-5 mm"), as_text("'=1"), as_text("oak")
    ("'=1+1", '-5 mm', "''=1", 'oak')
    """
    return f"'{text}" if _would_run(text) else text


def from_text(text: str) -> str:
    """What `as_text` was given; as is what it leaves alone."""
    return AsText(text[1:]) if text.startswith("'") and _would_run(text[1:]) else text


def _would_run(text: str) -> bool:
    return text.lstrip("'").startswith(_FORMULA) and not _QUANTITY.fullmatch(text)


class Cell(NamedTuple):
    """One thing as typed.

    Parameters
    ----------
    text : str
        What was typed, without the blanks around it; never empty.
    place : Place
        Where.
    unit : str
        Unit named in the heading, for a number typed without one.
    """

    text: str
    place: Place
    unit: str = ""


@dataclass(slots=True)
class Row:
    """The cells of one record that were filled in.

    Parameters
    ----------
    record : str
        ``study``, ``setup``, ``series`` or ``specimen``.
    place : Place
        Where the record begins; its ``row`` is 0 for a record nobody typed.
    cells : dict of str to Cell
        By the column's name.
    blanks : mapping of str to Place
        Where things that were left blank could have been typed, by the column's name. A ``column`` alone
        (``row`` 0) stands for that column in this record's own row.
    """

    record: str
    place: Place
    cells: dict[str, Cell] = field(default_factory=dict)
    blanks: Mapping[str, Place] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """What was typed under this name; empty if nothing was."""
        cell = self.cells.get(name)
        return cell.text if cell else ""

    def where(self, name: str) -> Place:
        """Where this was typed, or would have been."""
        if name in self.cells:
            return self.cells[name].place
        blank = self.blanks.get(name)
        if blank is None:
            return self.place
        if blank.row or not blank.column:
            return blank
        return Place(self.place.sheet, self.place.row, blank.column)


@dataclass
class Rows:
    """A whole submission as typed.

    Parameters
    ----------
    study : Row
        The study; without cells if nothing was said of it.
    setups, series, specimens : list of Row
        In the order they were typed.
    decimal : str or None
        The decimal sign, if the file shows which one it uses.
    noticed : list of Noticed
        What was noticed while reading: headings nobody knows, rows that contradict each other.
    """

    study: Row
    setups: list[Row] = field(default_factory=list)
    series: list[Row] = field(default_factory=list)
    specimens: list[Row] = field(default_factory=list)
    decimal: str | None = None
    noticed: list[Noticed] = field(default_factory=list)

    def of(self, record: str) -> list[Row]:
        """All rows of one record."""
        return {
            "study": [self.study],
            "setup": self.setups,
            "series": self.series,
            "specimen": self.specimens,
        }[record]


def same_label(text: str) -> str:
    """A label as it is compared: without case and doubled spaces."""
    return " ".join(text.casefold().split())
