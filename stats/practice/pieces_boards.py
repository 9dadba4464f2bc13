"""Statics of shelves and drawers."""

from __future__ import annotations

from stats.errors import StatsError
from stats.practice.piece import Piece, Statics, Values, length, load, newton_metres, shown
from stats.practice.pieces_seating import FIXED_ENDS
from stats.practice.working import Line

_SHELF = (
    load("line_load_n_m", "w", "the load for each metre of shelf", 400.0, unit="N/m", low=0.0),
    load("load_n", "F", "a load in the middle besides", 0.0, low=0.0),
    length("span_mm", "L", "between the uprights' faces", 800.0, 50.0, 4000.0),
)


def _shelf(v: Values) -> Statics:
    """Fixed ends take w·L²/12 and F·L/8; ends that turn freely take none."""
    spread = v["line_load_n_m"] * (v["span_mm"] / 1000) ** 2 / 12
    middle = newton_metres(v["load_n"], v["span_mm"]) / 8
    shear = v["line_load_n_m"] * v["span_mm"] / 2000 + v["load_n"] / 2
    lines = (
        Line("force across the joint", "V", "w · L / 2 + F / 2",
             shown(_SHELF, v, "line_load_n_m", "span_mm", "load_n"), shear, "N"),
        Line("moment from the spread load", "M_w", "w · L² / 12", shown(_SHELF, v, "line_load_n_m", "span_mm"), spread,
             "N·m", FIXED_ENDS),
        Line("moment from the load in the middle", "M_F", "F · L / 8", shown(_SHELF, v, "load_n", "span_mm"), middle,
             "N·m", FIXED_ENDS),
        Line("moment at the joint, at most", "M", "M_w + M_F", {"M_w": (spread, "N·m"), "M_F": (middle, "N·m")},
             spread + middle, "N·m", note="uprights taken as unable to turn"),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=spread + middle,
        axial_n=0.0,
        shear_n=shear,
        least=0.0,
        notes=(
            "A shelf usually sags too far long before it breaks: look at its stiffness as well.",
            "Books stay for years: see duration of load.",
        ),
    )


_DRAWER = (
    load("pull_n", "F", "the pull on the front", 386.0),
    length("width_mm", "b", "between the drawer's sides", 500.0, 50.0, 2000.0),
    length("offset_mm", "e", "from the middle of the front to the pull", 0.0, 0.0, 1000.0),
)


def _drawer(v: Values) -> Statics:
    """The nearer side takes most: F·c²·(3a + c)/b³ if the corners can't turn, F·c/b if they turn freely."""
    if v["offset_mm"] >= v["width_mm"] / 2:
        raise StatsError(
            f"offset_mm ({v['offset_mm']:g}) must be less than half of width_mm ({v['width_mm']:g}): the pull is on "
            "the front, between its sides."
        )
    near, far = v["width_mm"] / 2 - v["offset_mm"], v["width_mm"] / 2 + v["offset_mm"]
    axial = v["pull_n"] * far**2 * (3 * near + far) / v["width_mm"] ** 3
    bending = newton_metres(v["pull_n"], near) * (far / v["width_mm"]) ** 2
    where = {"a": (near, "mm"), "c": (far, "mm")} | shown(_DRAWER, v, "pull_n", "width_mm")
    lines = (
        Line("to the nearer side", "a", "b / 2 - e", shown(_DRAWER, v, "width_mm", "offset_mm"), near, "mm"),
        Line("to the farther side", "c", "b / 2 + e", shown(_DRAWER, v, "width_mm", "offset_mm"), far, "mm"),
        Line("moment at the corner, at most", "M", "F · a · c² / b²", where, bending, "N·m", FIXED_ENDS),
        Line("pull on the corner, at most", "N", "F · c² · (3 · a + c) / b³", where, axial, "N", FIXED_ENDS),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=bending,
        axial_n=axial,
        shear_n=0.0,
        least=v["pull_n"] * far / v["width_mm"],
        notes=(
            "A loaded drawer that is pulled to its stop, or slammed, loads its corners many times harder: that is what "
            "the dynamic factor is for.",
        ),
    )


PIECES = (
    Piece("shelf_fixed", "Shelf fixed at its ends", "shelf into the upright", "bending", _SHELF,
          "The uprights can't turn. Ends that turn freely would bring no moment, so the truth lies between.", False,
          _shelf),
    Piece("drawer_front", "Drawer front pulled", "front into the side", "axial", _DRAWER,
          "The bottom holds nothing, and the two corners take the pull between them as a beam on its ends does.", False,
          _drawer),
)  # fmt: skip
"""Shelves and drawers."""
