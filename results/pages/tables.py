"""Frames as the tables of a page: formatted once, in one way."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, NamedTuple

import pandas as pd
from django.utils.safestring import SafeString, mark_safe

from results.templatetags.english import in_english
from stats.charts.chart import cell
from stats.footing.units import show

from .headings import OF_NAMES, called, heading
from .in_language import figure, interval

# A long text gets a wide column; a brief one, such as an interval, is never broken over lines.
LONG, BRIEF = 32, 18


class Cell(NamedTuple):
    """One cell: its text, whether it is a number (set to the right) or how long, where it links to."""

    text: str
    number: bool = False
    url: str = ""

    @property
    def style(self) -> str:
        """The class that the style sheet knows it by; a long text needs a wide column."""
        return (
            "number" if self.number else "long" if len(self.text) > LONG else "brief" if len(self.text) < BRIEF else ""
        )


@dataclass(frozen=True)
class Table:
    """A table ready to be shown; the first cell of each row is its heading."""

    caption: str
    columns: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]
    # Whether the caption is in English, whatever language the page is in.
    english: bool = False

    @property
    def body(self) -> SafeString:
        """The rows in HTML: a page has thousands of cells, which the template's own loop would take its time over."""
        english = in_english()  # what is long is a sentence of the numbers, and these are in English
        return mark_safe("\n".join(f"<tr>{''.join(_cells(row, english))}</tr>" for row in self.rows))


def _cells(row: tuple[Cell, ...], english: str) -> Iterator[str]:
    for at, one in enumerate(row):
        text, style = escape(one.text), one.style
        if one.url:
            text = f'<a href="{escape(one.url)}">{text}</a>'
        if at:
            told = english if style == "long" else ""
            yield f'<td class="{style}"{told}>{text}</td>' if style else f"<td>{text}</td>"
        else:
            yield f'<th scope="row" class="long">{text}</th>' if style == "long" else f'<th scope="row">{text}</th>'


def of_frame(frame: pd.DataFrame, caption: str, *, links: Iterable[str] = ()) -> Table:
    """A frame as a table; columns without a single value are left out.

    Parameters
    ----------
    frame : DataFrame
        Columns named as a reader would.
    caption : str
        What the table shows.
    links : iterable of str
        Where the first cell of each row leads, in the rows' order.

    Returns
    -------
    Table
    """
    columns = {str(name): frame[name].tolist() for name in frame}
    numeric = {str(name) for name in frame if pd.api.types.is_numeric_dtype(frame[name])}
    numeric |= {name for name, values in columns.items() if values and all(_is_figure(value) for value in values)}
    return of_columns(columns, caption, numeric=numeric, links=links)


def in_digits(numbers: Iterable[float], digits: int) -> list[Cell]:
    """A column of numbers in so many significant digits, where the three that tables have would say too much."""
    return [Cell(figure(cell(number, digits)), number=True) for number in numbers]


def _is_figure(value: Any) -> bool:
    return isinstance(value, Cell) and value.number


def of_columns(
    columns: Mapping[str, Sequence[Any]], caption: str, *, numeric: Collection[str], links: Iterable[str] = ()
) -> Table:
    """Columns as a table, as `of_frame` makes one; for long ones, for which a frame would take longer.

    Parameters
    ----------
    columns : mapping of str to sequence
        All of one length; what is a cell already stays as it is.
    caption : str
    numeric : collection of str
        The columns that hold numbers.
    links : iterable of str
    """
    known = {name: values for name, values in columns.items() if not all(map(_blank, values))}
    rows = len(next(iter(columns.values()), ()))
    urls = list(links) or [""] * rows
    cells = [
        [_as_cell(value, name in numeric, url if at == 0 else "") for value, url in zip(values, urls, strict=True)]
        for at, (name, values) in enumerate(_named(known).items())
    ]
    told = zip(*cells, strict=True) if cells else ((),) * rows
    said, headings = heading(caption), tuple(Cell(heading(name), name in numeric) for name in known)
    return Table(said, headings, tuple(told), english=said == caption)


def _named(columns: Mapping[str, Sequence[Any]]) -> Mapping[str, Sequence[Any]]:
    """The columns with names of the vocabulary in the reader's language."""
    return {
        name: [called(value) if type(value) is str else value for value in values] if name in OF_NAMES else values
        for name, values in columns.items()
    }


def _as_cell(value: Any, number: bool, url: str) -> Cell:
    return value if isinstance(value, Cell) else Cell(_text(value), number, url)


def _blank(value: Any) -> bool:
    return value is None or value is pd.NA or value == "" or value != value


def _text(value: Any) -> str:
    """As `cell`, with the two that most cells are asked about first."""
    if type(value) is str:
        return interval(value) if " to " in value else value
    if type(value) is float:
        return figure(show(value)) if math.isfinite(value) else ""
    return cell(value)
