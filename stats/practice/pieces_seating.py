"""Statics of pieces that somebody sits or lies on."""

from __future__ import annotations

import math

from stats.errors import StatsError
from stats.practice.piece import Piece, PieceInput, Statics, Values, count, length, load, newton_metres, shown
from stats.practice.working import Line

FIXED_ENDS = "beam with fixed ends, from any table of beam formulas"

_CHAIR = (
    load("sitter_n", "W", "the sitter's weight", 1079.0),
    PieceInput("tilt_deg", "θ", "how far the rear legs lean back from upright", "°", 20.0, 0.0, 45.0),
    length("leg_mm", "l", "along the rear leg from the floor to the seat rail's centre-line", 400.0, 50.0, 1500.0),
    load("back_push_n", "F", "the push against the back", 330.0, low=0.0),
    length("back_height_mm", "h", "from the seat rail's centre-line up to the push on the back", 300.0, 10.0, 1500.0),
    count("sides", "n", "how many side frames share the load", 2, 1, 4),
)


def _chair(v: Values) -> Statics:
    """The leg stands on a force W/n; both it and the push on the back turn the post the same way about the rail."""
    slope = math.radians(v["tilt_deg"])
    sides = v["sides"]
    foot = newton_metres(v["sitter_n"] * math.sin(slope) / sides, v["leg_mm"])
    back = newton_metres(v["back_push_n"] / sides, v["back_height_mm"])
    lines = (
        Line("moment from the foot", "M_f", "W · sin θ · l / n",
             shown(_CHAIR, v, "sitter_n", "tilt_deg", "leg_mm", "sides"), foot, "N·m"),
        Line("moment from the back", "M_b", "F · h / n", shown(_CHAIR, v, "back_push_n", "back_height_mm", "sides"),
             back, "N·m"),
        Line("moment at the joint", "M", "M_f + M_b", {"M_f": (foot, "N·m"), "M_b": (back, "N·m")}, foot + back,
             "N·m", note="both turn the post the same way about the rail"),
    )  # fmt: skip
    along = abs(v["sitter_n"] * math.sin(slope) - v["back_push_n"]) / sides
    return Statics(
        lines,
        bending_nm=foot + back,
        axial_n=along,
        shear_n=v["sitter_n"] * math.cos(slope) / sides,
        least=foot + back,
        notes=(
            "With stretchers between the legs part of the moment goes round them: the joint feels less than this.",
            "The push on the back is taken at the angle of the post, and the legs as straight from floor to rail.",
        ),
    )


_SEAT = (
    load("load_n", "F", "the load on the seat", 1079.0),
    length("span_mm", "L", "between the legs' faces, along the rail", 400.0, 50.0, 4000.0),
    count("rails", "n", "how many rails share the load", 2),
)


def _seat(v: Values) -> Statics:
    """A rail with its load in the middle: F·L/8 at ends that cannot turn, none at ends that turn freely."""
    moment = newton_metres(v["load_n"] / v["rails"], v["span_mm"]) / 8
    shear = v["load_n"] / (2 * v["rails"])
    lines = (
        Line("force across the joint", "V", "F / (2 · n)", shown(_SEAT, v, "load_n", "rails"), shear, "N"),
        Line("moment at the joint, at most", "M", "F · L / (8 · n)", shown(_SEAT, v, "load_n", "span_mm", "rails"),
             moment, "N·m", FIXED_ENDS, "legs taken as unable to turn"),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=0.0,
        shear_n=shear,
        least=0.0,
        notes=(
            "Legs that give way at the floor let the rail's ends turn: then the joint feels less moment, and the rail "
            "more in its middle.",
            "A stool rocked or pushed sideways loads its joints as a table pushed sideways does.",
        ),
    )


_BED = (
    load("load_n", "F", "the weight on one rail", 1079.0),
    length("span_mm", "L", "between the posts' faces, along the rail", 1900.0, 200.0, 4000.0),
    length("position_mm", "a", "from the nearer post to the weight", 633.0, 1.0, 2000.0),
)


def _bed(v: Values) -> Statics:
    """A weight anywhere on a rail between posts that do not turn; its moment is largest a third of the way along."""
    if v["position_mm"] > v["span_mm"] / 2:
        raise StatsError(
            f"position_mm ({v['position_mm']:g}) must be at most half of span_mm ({v['span_mm']:g}): it runs from the "
            "nearer post."
        )
    far = v["span_mm"] - v["position_mm"]
    moment = newton_metres(v["load_n"], v["position_mm"]) * (far / v["span_mm"]) ** 2
    shear = v["load_n"] * far**2 * (3 * v["position_mm"] + far) / v["span_mm"] ** 3
    where = shown(_BED, v, "load_n", "position_mm", "span_mm") | {"b": (far, "mm")}
    lines = (
        Line("to the farther post", "b", "L - a", shown(_BED, v, "span_mm", "position_mm"), far, "mm"),
        Line("force across the joint", "V", "F · b² · (3 · a + b) / L³", where, shear, "N", FIXED_ENDS),
        Line("moment at the joint, at most", "M", "F · a · b² / L²", where, moment, "N·m", FIXED_ENDS,
             "posts taken as unable to turn"),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=0.0,
        shear_n=shear,
        least=0.0,
        notes=(
            "Somebody who sits down hard, or close to a post, puts nearly the whole weight across one joint.",
            "A bed pushed lengthwise racks its rails as well, and bed bolts that have worked loose carry no moment.",
        ),
    )


_ARM = (
    load("load_n", "F", "the load at the arm's end", 890.0),
    length("arm_mm", "a", "from the joint's face to the load", 300.0, 5.0, 4000.0),
    PieceInput("angle_deg", "φ", "how far the load leans from square to the arm", "°", 0.0, -80.0, 80.0),
)


def _arm(v: Values) -> Statics:
    slope = math.radians(v["angle_deg"])
    moment = newton_metres(v["load_n"] * math.cos(slope), v["arm_mm"])
    line = Line("moment at the joint", "M", "F · a · cos φ", shown(_ARM, v, "load_n", "arm_mm", "angle_deg"), moment,
                "N·m")  # fmt: skip
    return Statics(
        (line,),
        bending_nm=moment,
        axial_n=abs(v["load_n"] * math.sin(slope)),
        shear_n=v["load_n"] * math.cos(slope),
        least=moment,
    )


PIECES = (
    Piece("chair_leaned", "Chair leaned back on its rear legs", "side seat rail into the rear post", "bending", _CHAIR,
          "The front legs are off the floor, the sides share alike and there are no stretchers.", True, _chair),
    Piece("seat", "Stool or bench seat", "seat rail into the leg", "bending", _SEAT,
          "The load stands in the middle of the rails, which share it alike; the legs can't turn. Ends that turn "
          "freely would bring no moment, so the truth lies between.", False, _seat),
    Piece("bed_rail", "Bed rail", "side rail into the post", "bending", _BED,
          "One rail carries the weight, and the posts can't turn. Ends that turn freely would bring no moment, so the "
          "truth lies between.", False, _bed),
    Piece("arm", "Cantilevered arm", "where the arm meets what holds it", "bending", _ARM,
          "The arm's own weight is left out, and what holds it does not move.", True, _arm),
)  # fmt: skip
"""Pieces that somebody's weight rests on."""
