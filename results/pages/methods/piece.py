"""What a piece asks of its joint, and the part that holds all that is said of a piece of one's own."""

from __future__ import annotations

from stats.charts.look import low
from stats.practice import caution as cautions
from stats.practice import loads
from stats.practice.caution import ALWAYS, USES
from stats.practice.demand import FACTORS, PIECES, Demand, Piece, demand
from stats.practice.loads import KINDS, PRESETS

from . import lines
from .comparing import RULES
from .entry import Method, Part, Said, amount, anchor, by_code, num
from .piece_bears import carried
from .piece_factors import taken_off
from .piece_limit import limits
from .piece_margin import margins, shared
from .piece_seasons import seasons

# For each kind of piece, invented round numbers that between them show each form of its formulas.
GIVEN: dict[str, tuple[dict[str, float], ...]] = {
    "chair_leaned": (
        {"sitter_n": 1000, "tilt_deg": 20, "leg_mm": 400, "back_push_n": 400, "back_height_mm": 300, "sides": 2},
    ),
    "seat": ({"load_n": 1000, "span_mm": 400, "rails": 2},),
    "table_racking": (
        {"push_n": 400, "height_mm": 700, "apron_mm": 800, "legs": 4, "lower_rails": 0},
        {"push_n": 400, "height_mm": 700, "apron_mm": 800, "legs": 4, "lower_rails": 1},
    ),
    "shelf_fixed": ({"line_load_n_m": 400, "load_n": 200, "span_mm": 800},),
    "bookcase_racking": (
        {"push_n": 400, "height_mm": 1800, "width_mm": 800, "fixed_shelves": 4},
        {"push_n": 400, "height_mm": 1800, "width_mm": 800, "fixed_shelves": 2},
    ),
    "door_hung": ({"weight_n": 300, "load_n": 200, "width_mm": 800, "height_mm": 1200, "rails": 2},),
    "frame_racked": ({"push_n": 400, "height_mm": 600, "width_mm": 400},),
    "drawer_front": ({"pull_n": 200, "width_mm": 500, "offset_mm": 100},),
    "bed_rail": ({"load_n": 1000, "span_mm": 2000, "position_mm": 500},),
    "arm": ({"load_n": 500, "arm_mm": 300, "angle_deg": 10},),
}
_SET_AGAINST = {"bending": "the bending moment", "axial": "the pull"}


def pieces() -> Part:
    """All that is said of a piece of one's own."""
    found = [_demand(), *(_piece(code) for code in PIECES), *(_preset(code) for code in PRESETS)]
    found += [*limits(), *carried(), *taken_off(), *margins(), *shared(), *seasons()]
    found += [_caution(use) for use in USES]
    return Part(
        "piece",
        "A piece of your own",
        "What a piece asks of its worst joint, what a joint of the book gives at the piece's sizes, and how the two "
        "stand to each other: a number, never a verdict. The sizes, loads and strengths of the examples are made up.",
        tuple(found),
    )


def _demand() -> Method:
    plain, raised = demand("arm", GIVEN["arm"][0]), demand("arm", GIVEN["arm"][0], dynamic=1.5, misuse=1.2)
    line = raised.lines[0]
    return by_code(
        "demand",
        "What a piece asks of its worst joint",
        demand,
        "Loads go through the piece to the joint that fares worst. Two factors may raise every load; they are 1 "
        "unless you give your own, and no figure for them is offered.",
        (
            *lines.worked([line]),
            f"the moment at the joint is then {num(raised.value, raised.unit)}; without the factors "
            f"{num(plain.value, plain.unit)}",
        ),
        formulas=("F = F_0 · k_d · k_m, for every load",),
        symbols=(
            "F_0, F = a load before and after the factors, N or N/m",
            f"k_d = dynamic factor, 1 to 10, {FACTORS['dynamic']}",
            f"k_m = misuse factor, 1 to 10, {FACTORS['misuse']}",
        ),
    )


def _piece(code: str) -> Method:
    kind = PIECES[code]
    found = [demand(code, given) for given in GIVEN[code]]
    rows = [line for one in found for line in one.lines]
    return Method(
        anchor("piece", code),
        kind.name,
        f"The joint that fares worst: {kind.joint}. Of what it feels, {_SET_AGAINST[kind.action]} is set against what "
        f"it bears. {_decided(found[0])}",
        lines.formulas(rows),
        lines.symbols(rows, kind.inputs),
        how=tuple((Said(note),) for note in found[0].notes),
        mind=kind.assumption,
        sources=lines.sources(rows),
        example=tuple(line for one in found for line in (*_chosen(kind, one), *lines.worked(one.lines))),
        code="stats.practice.demand.demand",
    )


def _chosen(kind: Piece, found: Demand) -> tuple[str, ...]:
    """What tells one form of the formulas from another; nothing where there is one form only."""
    forms = GIVEN[kind.code]
    differ = [one for one in kind.inputs if len({given[one.name] for given in forms}) > 1]
    return tuple(f"With {one.symbol} = {found.inputs[one.name]:g}:" for one in differ)


def _decided(found: Demand) -> str:
    if found.determinate:
        return "Equilibrium alone gives it."
    least = num(found.least, found.unit) if found.least else f"0 {found.unit}"
    return f"Equilibrium alone doesn't give it: this is the most that the joint feels, and the least is {least}."


def _preset(code: str) -> Method:
    one = PRESETS[code]
    rows = []
    for piece, values in one.sets.items():
        by_name = {field.name: field for field in PIECES[piece].inputs}
        sets = ", ".join(f"{by_name[n].symbol} = {amount(value, by_name[n].unit)}" for n, value in values.items())
        found = demand(piece, values)
        # The other inputs are the piece's defaults.
        rows.append(f"{PIECES[piece].name}: {sets}; {found.lines[-1].name} {num(found.value, found.unit)}")
    kind = KINDS[one.kind]
    return Method(
        anchor("preset", code),
        f"A load to start from: {low(one.name)}",
        f"{kind[0].upper()}{kind[1:]}. It is a figure to start from and no requirement.",
        mind=one.note,
        sources=(one.source,),
        example=tuple(rows),
        code=f"{loads.__name__}.presets_for",
    )


def _caution(use: str) -> Method:
    found = cautions.caution(use)
    first = "It comes before everything else." if found.leads else "It stands beside the margin."
    return Method(
        anchor("caution", use),
        f"Said beside a piece: {USES[use]}",
        f"What goes with every capacity and margin of such a piece. {first}",
        sources=(RULES,),
        example=tuple(sentence for sentence in found.sentences if sentence not in ALWAYS or use == "own"),
        code=f"{cautions.__name__}.caution",
    )
