"""Frames as the tables of a page: formatted once, in one way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from stats.charts.chart import cell

# A long text gets a wide column; a brief one, such as an interval, is never broken over lines.
LONG, BRIEF = 32, 18


@dataclass(frozen=True)
class Cell:
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
    known = [name for name in frame if not (frame[name].isna() | (frame[name].astype(str) == "")).all()]
    frame = frame[known]
    numeric = {name: pd.api.types.is_numeric_dtype(frame[name]) for name in frame}
    urls = list(links) or [""] * len(frame)
    rows = [
        tuple(
            Cell(cell(value), numeric[name], url if i == 0 else "")
            for i, (name, value) in enumerate(zip(frame, row, strict=True))
        )
        for url, row in zip(urls, frame.itertuples(index=False, name=None), strict=True)
    ]
    return Table(caption, tuple(Cell(str(name), numeric[name]) for name in frame), tuple(rows))
