"""A figure as plain data: what plotly's script draws in a browser, and what `stats.charts.svg` draws without one."""

from __future__ import annotations

from typing import Any


class Figure:
    """Traces and a layout, in plotly's own words; plotly itself isn't needed to collect them.

    Attributes
    ----------
    data : list of dict
        One a trace, drawn in this order.
    layout : dict
        Axes, title, legend, shapes.

    Examples
    --------
    >>> fig = Figure()
    >>> fig.scatter(x=[1.0], y=[0.0], mode="markers", name="broke")
    >>> fig.update_xaxes(type="log")
    >>> fig.data[0]["type"], fig.layout["xaxis"]["type"]
    ('scatter', 'log')
    """

    def __init__(self) -> None:
        self.data: list[dict[str, Any]] = []
        self.layout: dict[str, Any] = {"xaxis": {}, "yaxis": {}, "shapes": [], "annotations": []}

    def scatter(self, **trace: Any) -> None:
        """Add marks, lines or texts."""
        self.data.append({"type": "scatter", **trace})

    def bar(self, **trace: Any) -> None:
        """Add bars."""
        self.data.append({"type": "bar", **trace})

    def vline(self, x: float, *, color: str, width: float = 1.5, dash: str = "solid") -> None:
        """Add a line up the whole chart at `x`."""
        line = {"color": color, "width": width, "dash": dash}
        self.layout["shapes"].append(
            {"type": "line", "xref": "x", "yref": "paper", "x0": x, "x1": x, "y0": 0, "y1": 1, "line": line}
        )

    def hline(self, y: float, *, color: str, width: float = 1.5, dash: str = "solid") -> None:
        """Add a line over the whole chart at `y`."""
        line = {"color": color, "width": width, "dash": dash}
        self.layout["shapes"].append(
            {"type": "line", "xref": "paper", "yref": "y", "x0": 0, "x1": 1, "y0": y, "y1": y, "line": line}
        )

    def update_layout(self, **changes: Any) -> None:
        """Change the layout, dicts within it part by part."""
        for name, value in changes.items():
            if isinstance(value, dict) and isinstance(self.layout.get(name), dict):
                self.layout[name] = {**self.layout[name], **value}
            else:
                self.layout[name] = value

    def update_xaxes(self, **changes: Any) -> None:
        """Set parts of the x axis."""
        self.update_layout(xaxis=changes)

    def update_yaxes(self, **changes: Any) -> None:
        """Set parts of the y axis."""
        self.update_layout(yaxis=changes)
