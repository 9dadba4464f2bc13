"""What the seasons do across a joint."""

from __future__ import annotations

from typing import cast

from stats.interval import Interval
from stats.practice import movement as seasons_of
from stats.practice.movement import E_ACROSS_OVER_ALONG, TABLE_PCT, coefficient, cross_grain, freshness, movement, year

from . import lines
from .comparing import RULES
from .entry import Method, by_code, num
from .solid import OAK

# Of a made-up board; a timber's own stand on its page.
RADIAL, TANGENTIAL = 0.0015, 0.0035
WINTER, SUMMER = (20.0, 35.0), (24.0, 65.0)
# Humidity of a made-up room by the month, at 20 °C.
HUMIDITY = (35, 35, 40, 45, 50, 60, 65, 65, 55, 45, 40, 35)
_LETTERS = {
    "D": "width across the grain, mm",
    "C": "change of width for each percent of moisture, over the width, 1/%",
    "M_1": "moisture before, %",
    "M_2": "moisture after, %",
    "e": "modulus of elasticity across the grain over that along it, the largest",
    "E": "modulus of elasticity along the grain, MPa",
}


def seasons() -> tuple[Method, ...]:
    """Moisture from the air, movement from moisture, and what glue must hold."""
    return _coefficient(), _movement(), _cross_grain(), _year(), _freshness()


def _coefficient() -> Method:
    rows = (f"rings at {ring}°: C = {num(coefficient(RADIAL, TANGENTIAL, ring), '1/%')}" for ring in (90, 45, 0))
    return by_code(
        "movement-coefficient",
        "How much a board moves, by its rings",
        coefficient,
        "A quartersawn board moves radially, a flatsawn one tangentially, others between the two.",
        (f"C_R = {num(RADIAL, '1/%')}, C_T = {num(TANGENTIAL, '1/%')}: {'; '.join(rows)}",),
        formulas=("C = C_R · sin²α + C_T · cos²α",),
        symbols=(
            "C_R, C_T = radial and tangential change of width for each percent of moisture, over the width, 1/%",
            "C = the board's own, 1/%",
            "α = angle between the rings and the board's face, °",
        ),
        source="derived from geometry",
    )


def _movement() -> Method:
    within, beyond = movement(300.0, TANGENTIAL, 8.0, 12.0), movement(300.0, TANGENTIAL, 8.0, 16.0)
    return by_code(
        "movement",
        "How much a width moves",
        movement,
        f"Between two moistures of the wood. The coefficients hold from {TABLE_PCT[0]:g} to {TABLE_PCT[1]:g} %.",
        (*lines.worked(within.lines), f"until 16 %: {num(beyond.change_mm, 'mm')}. {' '.join(beyond.notes)}"),
        formulas=lines.formulas(within.lines),
        symbols=lines.symbols(within.lines, own=_LETTERS),
    )


def _cross_grain() -> Method:
    held = cross_grain(movement(100.0, TANGENTIAL, 12.0, 7.0), moe_gpa=OAK.moe_12_gpa,
                       tension_perp_mpa=OAK.tension_perp_12_mpa)  # fmt: skip
    least = f"with e = {E_ACROSS_OVER_ALONG[0]:g} it would be {num(cast(Interval, held.stress_mpa).low, 'MPa')}"
    return by_code(
        "movement-cross-grain",
        "What a glued cross-grain joint is forced to hold",
        cross_grain,
        "One member moves, the other doesn't, and the glue stands between them.",
        (*lines.worked(held.lines), least, f"free, the faces would part by {num(held.free_mm, 'mm')}", *held.notes),
        formulas=lines.formulas(held.lines),
        symbols=lines.symbols(held.lines, own=_LETTERS),
        source=f"{seasons_of.MOVEMENT_SOURCE}; {seasons_of.ACROSS_SOURCE}",
    )


def _year() -> Method:
    table = year([20.0] * 12, HUMIDITY, width_mm=300.0, coefficient_per_pct=TANGENTIAL, glued_pct=9.0)
    ends = [table.loc[table["change_mm"].idxmin()], table.loc[table["change_mm"].idxmax()]]
    rows = [
        f"{row['month']}: {row['rh_pct']:g} % humidity, {num(row['emc_pct'], '%')} moisture, "
        f"{num(row['change_mm'], 'mm', 2)}"
        for row in ends
    ]
    return by_code(
        "movement-year",
        "Movement over a year",
        year,
        "Each month's air gives the moisture that wood comes to, and that the movement since it was glued.",
        (f"300 mm glued at 9 %, in a room of 20 °C and {min(HUMIDITY)} to {max(HUMIDITY)} % humidity:", *rows),
        formulas=("M = moisture that wood comes to at t and h", "ΔD = D · C · (M - M_glued)"),
        symbols=(
            "t, h = temperature, °C, and relative humidity, %, of a month",
            "D, C = width, mm, and its coefficient, 1/%",
            "M, M_glued = moisture of a month and when it was glued, %",
            "ΔD = change of width since then, mm",
        ),
        source="Wood Handbook FPL-GTR-282, eq. 4-5, for the moisture; chapter 13 of FPL-GTR-190 for the movement",
    )


def _freshness() -> Method:
    found = freshness(["indoors", "cycled", "unknown", "climate"], [None, None, None, 5000])
    return by_code(
        "movement-freshness",
        "How much of the evidence has lived through seasons",
        freshness,
        "A series counts as seasoned if it was cycled, soaked or loaded again and again before it was broken.",
        (f"Four series, one cycled, one loaded 5 000 times, one that doesn't say: {found.words}",),
        formulas=("seasoned: conditioning is cycled or soaked, or load cycles are more than none",),
        symbols=("load cycles = loadings before the test",),
        source=RULES,
    )
