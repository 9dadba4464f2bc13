"""Statics of pieces that are pushed out of square."""

from __future__ import annotations

from stats.practice.piece import Piece, Statics, Values, count, length, load, newton_metres, shown
from stats.practice.working import Line

PORTAL = "portal method: no moment half-way along a member whose two ends turn alike"

_TABLE = (
    load("push_n", "H", "the sideways push at the top", 386.0),
    length("height_mm", "h", "from the floor to the apron's centre-line, or between the rails' centre-lines", 680.0,
           50.0, 2500.0),
    length("apron_mm", "L", "between the legs' centre-lines, along the push", 700.0, 50.0, 5000.0),
    count("legs", "n", "how many legs share the push", 4, 2),
    count("lower_rails", "r", "whether rails join the legs near the floor too: 1 for yes, 0 for no", 0, 0, 1),
)  # fmt: skip


def _table(v: Values) -> Statics:
    """Each leg takes H/n; with free feet its whole moment comes at the top, with a lower rail half of it."""
    share = v["push_n"] / v["legs"]
    halved = 2.0 if v["lower_rails"] else 1.0
    moment = newton_metres(share, v["height_mm"]) / halved
    shear = 2000.0 * moment / v["apron_mm"]
    formula = "V · h / 2" if v["lower_rails"] else "V · h"
    inputs = {"V": (share, "N")} | shown(_TABLE, v, "height_mm")
    note = "no moment half-way up the leg" if v["lower_rails"] else "no moment at a foot that stands on the floor"
    lines = (
        Line("share of one leg", "V", "H / n", shown(_TABLE, v, "push_n", "legs"), share, "N",
             note="joints taken as equal, so that they share alike"),
        Line("force across the joint", "V_a", "2 · M / L",
             {"M": (moment, "N·m")} | shown(_TABLE, v, "apron_mm"), shear, "N"),
        Line("moment at the joint", "M", formula, inputs, moment, "N·m", note=note),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=share,
        shear_n=shear,
        least=moment,
        notes=(
            "A table on a smooth floor slides before it racks; one dragged loaded, or with a foot against a sill, does "
            "not.",
            "Corner blocks and a top screwed down take part of this.",
        ),
    )


_BOOKCASE = (
    load("push_n", "H", "the sideways push at the top", 386.0),
    length(
        "height_mm", "h", "between the centre-lines of the lowest and the highest fixed shelf", 1800.0, 100.0, 4000.0
    ),
    length("width_mm", "L", "between the uprights' centre-lines", 800.0, 50.0, 3000.0),
    count("fixed_shelves", "m", "how many shelves are fixed at both ends, top and bottom counted", 3, 2, 12),
)


def _bookcase(v: Values) -> Statics:
    """Each storey's two uprights take H/2; a shelf between two storeys gets the end moments of both."""
    bays = v["fixed_shelves"] - 1
    spacing = v["height_mm"] / bays
    between = bays > 1
    divisor = 2.0 if between else 4.0
    moment = newton_metres(v["push_n"], spacing) / divisor
    shear = 2000.0 * moment / v["width_mm"]
    lines = (
        Line("between fixed shelves", "s", "h / (m - 1)", shown(_BOOKCASE, v, "height_mm", "fixed_shelves"), spacing,
             "mm", note="taken as evenly spaced"),
        Line("force across the joint", "V", "2 · M / L",
             {"M": (moment, "N·m")} | shown(_BOOKCASE, v, "width_mm"), shear, "N"),
        Line("moment at the joint", "M", f"H · s / {divisor:g}",
             shown(_BOOKCASE, v, "push_n") | {"s": (spacing, "mm")}, moment, "N·m", PORTAL,
             "a shelf between two storeys takes the uprights' ends above and below" if between else ""),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=0.0 if between else v["push_n"] / 2,
        shear_n=shear,
        least=0.0,
        notes=(
            "This is without a back. One that is glued or screwed on all round takes nearly all of it: then look at "
            "its fixings instead.",
            "Loose shelves on pegs hold nothing here and are not counted. Fix tall cases to the wall.",
        ),
    )


_DOOR = (
    load("weight_n", "W", "the door's own weight", 250.0, low=0.0),
    load("load_n", "P", "what hangs on its far edge", 200.0, low=0.0),
    length("width_mm", "b", "along the rails, from the hinge stile to the far stile", 800.0, 50.0, 5000.0),
    length("height_mm", "h", "between the centre-lines of the top and the bottom rail", 1200.0, 50.0, 4000.0),
    count("rails", "n", "how many rails", 2, 2, 6),
)


def _door(v: Values) -> Statics:
    """The far stile stays upright, so that each rail is fixed at the hinge stile and guided at the other."""
    moment = newton_metres(v["load_n"] / 2 + v["weight_n"] / 3, v["width_mm"]) / v["rails"]
    axial = (v["load_n"] / 2 + v["weight_n"] / 6) * v["width_mm"] / v["height_mm"]
    shear = (v["load_n"] + v["weight_n"]) / v["rails"]
    loads = shown(_DOOR, v, "load_n", "weight_n")
    lines = (
        Line("force across the joint", "V", "(P + W) / n", loads | shown(_DOOR, v, "rails"), shear, "N"),
        Line("pull on the top rail, thrust on the bottom one", "N", "(P / 2 + W / 6) · b / h",
             loads | shown(_DOOR, v, "width_mm", "height_mm"), axial, "N",
             note="what the joints' moments leave of the whole, P · b + W · b / 2"),
        Line("moment at the joint", "M", "(P / 2 + W / 3) · b / n", loads | shown(_DOOR, v, "width_mm", "rails"),
             moment, "N·m", "beam fixed at one end and guided at the other, weight spread along it"),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=axial,
        shear_n=shear,
        least=0.0,
        notes=(
            "This is without a brace. A brace up from the lower hinge corner, or a panel glued in all round, takes "
            "nearly all of it.",
            "Sag grows with time under the door's own weight: see duration of load.",
        ),
    )


_FRAME = (
    load("push_n", "H", "the push along the top rail", 386.0),
    length("height_mm", "h", "between the rails' centre-lines", 600.0, 20.0, 3000.0),
    length("width_mm", "b", "between the stiles' centre-lines", 400.0, 20.0, 3000.0),
)


def _frame(v: Values) -> Statics:
    """A closed frame of four alike corners, its lower rail held."""
    moment = newton_metres(v["push_n"], v["height_mm"]) / 4
    shear = 2000.0 * moment / v["width_mm"]
    lines = (
        Line("force across the joint", "V", "2 · M / b",
             {"M": (moment, "N·m")} | shown(_FRAME, v, "width_mm"), shear, "N"),
        Line("moment at each corner", "M", "H · h / 4", shown(_FRAME, v, "push_n", "height_mm"), moment, "N·m", PORTAL,
             "corners taken as equal"),
    )  # fmt: skip
    return Statics(
        lines,
        bending_nm=moment,
        axial_n=v["push_n"] / 2,
        shear_n=shear,
        least=0.0,
        notes=("Glass, or a panel glued in all round, takes nearly all of it; a panel loose in its groove nothing.",),
    )


PIECES = (
    Piece("table_racking", "Table pushed sideways", "apron into the leg", "bending", _TABLE,
          "The legs share the push alike, and their feet can turn on the floor.", True, _table),
    Piece("bookcase_racking", "Bookcase pushed sideways", "fixed shelf into the upright", "bending", _BOOKCASE,
          "Fixed shelves are evenly spaced, their joints alike, the lowest one stands firm, and there is no back. A "
          "back takes part or all of it, so this is the most the joint feels.", False, _bookcase),
    Piece("door_hung", "Hanging door or gate", "rail into the hinge stile", "bending", _DOOR,
          "The rails are alike and carry the weight evenly, both stiles stay upright, and there is no brace. A brace "
          "or a glued panel takes part or all of it, so this is the most the joint feels.", False, _door),
    Piece("frame_racked", "Cabinet door or picture frame pushed out of square", "corner of the frame", "bending",
          _FRAME,
          "The four corners are alike and nothing fills the frame. A filling takes part or all of it, so this is the "
          "most the joint feels.", False, _frame),
)  # fmt: skip
"""Pieces that are pushed out of square."""
