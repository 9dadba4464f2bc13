"""What use takes off what a joint bears."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from stats.practice import factors
from stats.practice.factors import LASTING_S, Factor

from .entry import Method, anchor, by_code, num
from .solid import OAK


def taken_off() -> tuple[Method, ...]:
    """The factors between a joint as tested and a joint in use."""
    return _moisture(), _duration(), _chair(), _dowels(), _size(), _own()


def _factor(
    does: Callable[..., Factor],
    name: str,
    says: str,
    found: tuple[Factor, ...],
    formulas: tuple[str, ...] = (),
    symbols: tuple[str, ...] = (),
) -> Method:
    notes = {one.note for one in found}
    shared = notes.pop() if len(notes) == 1 else ""
    made = by_code(
        anchor("factor", does.__name__),
        name,
        does,
        says,
        tuple(f"{one.words}: × {num(one.value)}{'' if shared or not one.note else f' ({one.note})'}" for one in found),
        formulas=("R = R_0 · k", *formulas),
        symbols=("R_0, R = what the joint bears before and after, N·m or N", "k = the factor", *symbols),
        source=found[0].source,
    )
    return replace(made, mind=f"{shared[0].upper()}{shared[1:]}.") if shared else made


def _moisture() -> Method:
    return _factor(
        factors.moisture,
        "Taken off for moisture in use",
        "Damp wood is weaker than dry wood. Wood drier in use than in the test is not credited.",
        (factors.moisture(OAK, "mor", 8.0, 16.0), factors.moisture(OAK, "mor", 12.0, 8.0)),
        ("k = P(M_use) / P(M_test), at most 1",),
        (
            "P(M) = strength of the clear wood at M % moisture, as the adjustment for moisture has it",
            "M_use, M_test = moisture in use and in the tests, %",
        ),
    )


def _duration() -> Method:
    return _factor(
        factors.duration,
        "Taken off for a load that stays",
        "Wood bears a load for a moment that it doesn't bear for years. The test is taken to last five minutes.",
        tuple(factors.duration(seconds) for seconds in LASTING_S.values()),
        ("k = SL(t) / SL(t0), at most 1",),
        (
            "SL = strength that lasts for a time, as the adjustment for duration has it",
            "t, t0 = in use, in the test, s",
        ),
    )


def _chair() -> Method:
    return _factor(
        factors.repeated_chair,
        "Taken off for loading again and again: chairs",
        "What side chairs with mortise and tenon passed again and again, over what they bore once.",
        tuple(factors.repeated_chair(tenon) for tenon in factors.CHAIR_SHARES),
    )


def _dowels() -> Method:
    return _factor(
        factors.repeated_dowel,
        "Taken off for loading again and again: dowels",
        "The share of its static strength at which a joint of two dowels lasted so many loadings, on average.",
        tuple(factors.repeated_dowel(cycles) for cycles in (329, 1000, 10_000, 25_000, 100_000, 131_253)),
        ("k = read between the published means, straight in ln(cycles)",),
    )


def _size() -> Method:
    return _factor(
        factors.size_depth,
        "Taken off for a deeper member",
        "A deep member breaks at a lower stress than a shallow one. It goes on the way by the section alone, and can "
        "be turned off. A smaller piece is not credited.",
        (factors.size_depth(60.0, 50.0), factors.size_depth(100.0, 50.0), factors.size_depth(40.0, 50.0)),
        ("k = (d0 / d)^(1/9), at most 1",),
        ("d0, d = depth of the member tested and built, mm",),
    )


def _own() -> Method:
    return _factor(
        factors.own,
        "A factor of your own",
        "Above 0 and at most 1.5: you answer for it. There may be several; of every other factor only one.",
        (factors.own(0.6, "repeated loading, by your own judgement"),),
    )
