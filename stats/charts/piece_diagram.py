"""A piece as a free-body drawing: members, the worst joint, forces with their values, lengths with their names."""

from __future__ import annotations

from stats.charts.piece_scenes import SCENES, PieceScene
from stats.footing.units import show
from stats.practice.demand import Demand, find


def piece_diagram(demand: Demand, *, label: str = "", name: str = "piece") -> str:
    """Draw a piece with what acts on it.

    Parameters
    ----------
    demand : Demand
        From `stats.practice.demand.demand`.
    label : str, optional
        What the reader calls the piece, for the drawing's title. Escaped here.
    name : str, optional
        Word that sets the drawing's ids apart from others on one page.

    Returns
    -------
    str
        An ``<svg>`` element, 340 units wide, with title and description.

    Notes
    -----
    Loads are shown with their factors on. Nothing is to scale, and the drawing says so: what its lengths are stands on
    the dimension lines.

    Examples
    --------
    >>> from stats.practice.demand import demand
    >>> svg = piece_diagram(demand("arm", {"load_n": 450, "arm_mm": 300}), label="desk & shelf")
    >>> "F 450 N" in svg, "M 135 N·m" in svg, "desk &amp; shelf" in svg
    (True, True, True)
    """
    kind = find(demand.piece)
    scene = PieceScene(demand)
    words = SCENES[demand.piece](scene)
    notes = [_at_joint(demand), *_raised(demand), "Not to scale."]
    scene.pen.below(notes)
    title = f"{label}: {kind.name.lower()}" if label else kind.name
    told = ", ".join(f"{one.words} {show(demand.inputs[one.name], one.unit, 4)}" for one in kind.inputs)
    bound = "" if demand.determinate else f" {demand.assumption}"
    return scene.pen.to_svg(name, title, " ".join([*words, f"Given: {told}.", *notes]) + bound)


def _at_joint(demand: Demand) -> str:
    """What the worst joint feels, in words."""
    most = "" if demand.determinate else " at most"
    parts = [
        f"{what} {show(value, unit)}"
        for what, value, unit in (
            ("moment", demand.bending_nm, "N·m"),
            ("pull or thrust", demand.axial_n, "N"),
            ("force across", demand.shear_n, "N"),
        )
        if value
    ]
    return f"The joint, {demand.joint}, feels{most}: {', '.join(parts)}."


def _raised(demand: Demand) -> list[str]:
    on = [f"{name} {value:g}" for name, value in demand.factors.items() if value != 1]
    return [f"Loads raised by factors: {', '.join(on)}."] if on else []
