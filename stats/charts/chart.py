"""A chart together with its table twin and a sentence that says the same."""

from __future__ import annotations

import json
import math
from collections import namedtuple
from dataclasses import dataclass
from functools import lru_cache
from numbers import Integral, Real
from typing import Any

import pandas as pd

from stats.charts import svg
from stats.charts.figure import Figure
from stats.footing.units import show


@dataclass(frozen=True)
class Chart:
    """One drawing, for those who see it and those who don't.

    Parameters
    ----------
    drawing : Figure
        The drawing.
    table : pandas.DataFrame
        The same numbers, columns named as a reader would.
    summary : str
        What is drawn and what the marks and intervals mean.
    """

    drawing: Figure
    table: pd.DataFrame
    summary: str

    @property
    def figure(self) -> Any:
        """The drawing as a `plotly.graph_objects.Figure`, which refuses what plotly doesn't know."""
        import plotly.graph_objects as go

        return go.Figure(self.to_json())

    def to_json(self) -> dict[str, Any]:
        """The figure as plain dicts, lists and numbers.

        Returns
        -------
        dict
            With ``data`` and ``layout``, as the drawing script takes it.
        """
        plain: dict[str, Any] = json.loads(
            json.dumps({"data": self.drawing.data, "layout": self.drawing.layout}, allow_nan=False, default=_native)
        )
        return plain

    def to_svg(self, width: int = svg.WIDE, foot: str = "") -> str:
        """The drawing as an SVG that needs nothing else.

        Parameters
        ----------
        width : int, optional
            Width [px], 340 to 1600.
        foot : str, optional
            A last line, such as where the picture comes from.

        Returns
        -------
        str
            One ``svg`` element.
        """
        return svg.draw(self.drawing, width, self.summary, foot)

    def size(self, width: int = svg.WIDE, foot: str = "") -> tuple[int, int]:
        """Width and height of that SVG [px], without drawing it."""
        return svg.size(self.drawing, width, foot)


def _native(value: Any) -> Any:
    """A number of numpy's as Python's own."""
    return value.item()


def cell(value: object, digits: int = 3) -> str:
    """A table cell as text: counts whole, measures in significant digits, nothing for what is not known.

    Parameters
    ----------
    value : object
        What the cell holds.
    digits : int, optional
        Significant digits of a measure.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> cell(0.24318), cell(12), cell(float("nan")), cell("butt")
    ('0.243', '12', '', 'butt')
    """
    if value is None or value is pd.NA:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if type(value) is int:  # most are
        return f"{value:,}".replace(",", " ")
    if isinstance(value, Integral):
        return show(float(value), digits=max(len(str(abs(int(value)))), 1))
    if isinstance(value, Real):
        return show(float(value), digits=digits) if math.isfinite(value) else ""
    return str(value)


@lru_cache(maxsize=64)
def _row(columns: tuple[str, ...]) -> Any:
    return namedtuple("Row", columns)


def rows_of(frame: pd.DataFrame) -> list[Any]:
    """A frame's rows, each with its columns by name; the frame's own way makes a new class for them each time.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns named by words.

    Returns
    -------
    list of namedtuple

    Examples
    --------
    >>> [row.joint for row in rows_of(pd.DataFrame({"joint": ["butt", "dowel"], "n": [3, 5]}))]
    ['butt', 'dowel']
    """
    return list(map(_row(tuple(frame)), *(frame[name].tolist() for name in frame)))


def plain(values: Any) -> list[Any]:
    """A column as a plain list with None for what is not finite, so that a figure stays readable as JSON.

    Parameters
    ----------
    values : array-like
        Numbers.

    Returns
    -------
    list
        Floats or None.

    Examples
    --------
    >>> plain([1, float("nan")])
    [1.0, None]
    """
    told = values.tolist() if hasattr(values, "tolist") else values
    return [None if v is None or v is pd.NA or not math.isfinite(v) else float(v) for v in told]


def between(low: Any, high: Any) -> list[str]:
    """Intervals as a table shows them: "0.21 to 0.25", empty where an end is not known.

    Parameters
    ----------
    low, high : array-like
        Ends.

    Returns
    -------
    list of str

    Examples
    --------
    >>> between(pd.Series([0.2137, float("nan")]), pd.Series([0.25, 1.0]))
    ['0.214 to 0.250', '']
    """
    ends = zip(plain(low), plain(high), strict=True)
    return ["" if a is None or b is None else f"{show(a)} to {show(b)}" for a, b in ends]
