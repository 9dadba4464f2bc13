"""What a joint gives over what a piece asks, and what would raise it most."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.footing.units import show
from stats.interval import Interval
from stats.practice.capacity import Capacity
from stats.practice.demand import Demand
from stats.practice.working import Line
from stats.scalar import said, scalar


@dataclass(frozen=True)
class Margin:
    """A capacity over a demand.

    Parameters
    ----------
    value : float
        Lower limit of the capacity over the demand [-].
    upper : float
        The same by the way of carrying the capacity over that gives the most, where `value` is by the one that gives
        the least [-]; see `capacity.Capacity.upper`.
    typical : float
        A middling joint's capacity over the demand [-].
    single : Interval
        Where a further joint's capacity over the demand would lie.
    chance_short : float
        Chance that a further joint bears less than the demand.
    capacity, demand
        What it is made of.
    line : Line
        The working.
    words : str
        The margin in a sentence.
    """

    value: float
    upper: float
    typical: float
    single: Interval
    chance_short: float
    capacity: Capacity
    demand: Demand
    line: Line
    words: str


def margin(capacity: Capacity, demand: Demand) -> Margin:
    """Set what a joint gives against what a piece asks of it.

    Parameters
    ----------
    capacity : Capacity
        Of the joint, at the piece's sizes.
    demand : Demand
        Of the piece on that joint.

    Returns
    -------
    Margin
        A number, never a verdict.

    Raises
    ------
    StatsError
        If the two are of different actions.

    Notes
    -----
    The interval and the chance are those of single joints of the limit's scope; what is not known of the load is not in
    them.
    """
    if capacity.action != demand.action:
        raise StatsError(
            f"capacity ({capacity.action}) must be of the demand's action, {demand.action}: different actions are "
            "never set against each other."
        )
    low = capacity.single.low / demand.value
    value = capacity.value / demand.value
    inputs = {"R": (capacity.value, capacity.unit), "M": (demand.value, demand.unit)}
    return Margin(
        value=value,
        upper=capacity.upper / demand.value,
        typical=capacity.typical / demand.value,
        single=Interval(low, capacity.single.high / demand.value, capacity.single.level),
        chance_short=capacity.limit.chance_below(demand.value / capacity.per_footing),
        capacity=capacity,
        demand=demand,
        line=Line("margin", "n", "R / M", inputs, value, "", "definition"),
        words=_words(value, capacity, demand),
    )


def _words(value: float, capacity: Capacity, demand: Demand) -> str:
    gives = f"The lower limit ({show(capacity.value, capacity.unit)})"
    asks = f"what the piece asks ({show(demand.value, demand.unit)})"
    if value < 1:
        return f"{gives} is below {asks}: {show(value, digits=2)} times it."
    bound = "" if demand.determinate else ", which is the most that the joint feels"
    return f"{gives} is {show(value, digits=2)} times {asks}{bound}."


Sizes = Mapping[str, Any]
MarginOf = Callable[[Sizes], Margin]


@dataclass(frozen=True)
class Change:
    """Something to build differently.

    Parameters
    ----------
    code, words : str
        Code, and what it is.
    sizes : dict of str to float
        Sizes that take other values.
    """

    code: str
    words: str
    sizes: Mapping[str, float]


@dataclass(frozen=True)
class Improvement:
    """What a change does to the margin.

    Parameters
    ----------
    code, words : str
        What is changed.
    before, after : float
        Margin before and after [-]; `after` is NaN where it can't be had.
    after_upper : float
        After, by the way of carrying the capacity over that gives the most [-].
    gain : float
        Geometric mean of `after` and `after_upper` over that before [-], by which changes are ranked.
    refused : str
        Why there is no figure, or "".
    shops, specimens : int or None
        What the limit after it rests on; None without a figure.
    """

    code: str
    words: str
    before: float
    after: float
    after_upper: float
    gain: float
    refused: str = ""
    shops: int | None = None
    specimens: int | None = None


def usual_changes(dims: Sizes) -> tuple[Change, ...]:
    """The changes worth trying on a joint of these sizes.

    Parameters
    ----------
    dims : mapping
        Sizes of the joint [mm].

    Returns
    -------
    tuple of Change
        Members a fifth deeper and thicker, a tenon 10 mm longer and higher, one dowel, plate or screw more, a thicker
        dowel: those whose sizes are given.

    Examples
    --------
    >>> [one.words for one in usual_changes({"member_depth_mm": 60.0, "fastener_count": 2})]
    ['member 72 mm deep, not 60', '3 dowels, plates or screws, not 2']
    """
    steps: tuple[tuple[str, str, Callable[[float], float], str], ...] = (
        ("deeper", "member_depth_mm", lambda x: 1.2 * x, "member {new:g} mm deep, not {old:g}"),
        ("thicker", "member_thickness_mm", lambda x: 1.2 * x, "member {new:g} mm thick, not {old:g}"),
        ("longer_tenon", "tenon_length_mm", lambda x: x + 10, "tenon {new:g} mm long, not {old:g}"),
        ("higher_tenon", "tenon_depth_mm", lambda x: x + 10, "tenon {new:g} mm high, not {old:g}"),
        ("second_tenon", "tenon_count", lambda x: x + 1, "{new:g} tenons, not {old:g}"),
        ("one_more", "fastener_count", lambda x: x + 1, "{new:g} dowels, plates or screws, not {old:g}"),
        ("deeper_dowel", "fastener_depth_mm", lambda x: x + 10, "dowels {new:g} mm deep, not {old:g}"),
        ("thicker_dowel", "fastener_diameter_mm", lambda x: x + 2, "dowels of {new:g} mm, not {old:g}"),
        ("wider_apart", "fastener_spacing_mm", lambda x: x + 10, "dowels {new:g} mm apart, not {old:g}"),
    )
    changes = list(_both(dims))
    for code, name, step, words in steps:
        if dims.get(name) not in (None, ""):
            old = float(dims[name])
            new = float(f"{step(old):.4g}")
            changes.append(Change(code, words.format(old=old, new=new), {name: new}))
    return tuple(changes)


def _both(dims: Sizes) -> tuple[Change, ...]:
    """A deeper member with a larger tenon: where wood and glue are near each other neither alone helps."""
    names = ("member_depth_mm", "tenon_length_mm", "tenon_depth_mm")
    if any(dims.get(name) in (None, "") for name in names):
        return ()
    deep, long, high = (float(dims[name]) for name in names)
    sizes = {"member_depth_mm": 1.2 * deep, "tenon_length_mm": long + 10, "tenon_depth_mm": 1.2 * high}
    sizes = {name: float(f"{value:.4g}") for name, value in sizes.items()}
    words = "member {:g} mm deep, its tenon {:g} mm long and {:g} mm high".format(*sizes.values())
    return (Change("deeper_and_larger_tenon", words, sizes),)


def raise_most(
    margin_of: MarginOf,
    dims: Sizes,
    changes: Sequence[Change] | None = None,
    others: Mapping[str, Callable[[], Margin]] | None = None,
) -> tuple[Improvement, ...]:
    """Rank changes by what they do to the margin.

    Parameters
    ----------
    margin_of : callable
        Gives the margin at sizes of the joint; it may refuse.
    dims : mapping
        Sizes as planned [mm].
    changes : sequence of Change, optional
        What to try; `usual_changes` where not given.
    others : mapping of str to callable, optional
        Other joints by name, each giving its margin; it may refuse too.

    Returns
    -------
    tuple of Improvement
        The largest gain first; those without a figure last, with the reason.

    Notes
    -----
    A finite step, not a slope, since sizes come in steps. Where wood and glue would give different answers, both are
    shown, and their geometric mean ranks.
    """
    now = margin_of(dims)
    tries: list[tuple[str, str, Callable[[], Margin]]] = [
        (one.code, one.words, partial(margin_of, {**dims, **one.sizes}))
        for one in (usual_changes(dims) if changes is None else changes)
    ]
    tries += [(f"joint:{name}", f"{name} instead", work) for name, work in (others or {}).items()]
    found = [_improvement(code, words, now, work) for code, words, work in tries]
    return tuple(sorted(found, key=lambda one: (bool(one.refused), -one.gain if not one.refused else 0.0)))


def _improvement(code: str, words: str, now: Margin, work: Callable[[], Margin]) -> Improvement:
    try:
        then = work()
    except StatsError as error:
        return Improvement(code, words, now.value, np.nan, np.nan, np.nan, str(error))
    gain = float(np.sqrt(then.value * then.upper / (now.value * now.upper)))
    limit = then.capacity.limit
    return Improvement(
        code, words, now.value, then.value, then.upper, gain, shops=limit.shops, specimens=limit.specimens
    )


def slope(margin_of: MarginOf, dims: Sizes, name: str, step: float = 0.01) -> float:
    """How the margin grows with one size: percent for each percent.

    Parameters
    ----------
    margin_of : callable
        Gives the margin at sizes of the joint.
    dims : mapping
        Sizes as planned [mm].
    name : str
        Which size.
    step : float, optional
        Step, as a share of the size.

    Returns
    -------
    float
        d ln margin / d ln size, by a step either way; 2 for the depth of a section.

    Raises
    ------
    StatsError
        If the size is not among `dims`, or step not between 0 and 1.
    """
    if not 0.0 < scalar(step) < 1.0:
        raise StatsError(f"step ({said(step, 'g')}) must lie between 0 and 1: a share of the size.")
    if dims.get(name) in (None, ""):
        raise StatsError(f"name ({name!r}) must be one of the sizes given: {', '.join(dims)}.")
    ends = [margin_of({**dims, name: float(dims[name]) * (1 + sign * step)}).value for sign in (-1, 1)]
    return float(np.log(ends[1] / ends[0]) / np.log((1 + step) / (1 - step)))


def over_size(margin_of: MarginOf, dims: Sizes, name: str, values: Sequence[float]) -> pd.DataFrame:
    """The margin over a range of one size, as its chart draws it.

    Parameters
    ----------
    margin_of : callable
        Gives the margin at sizes of the joint.
    dims : mapping
        The other sizes [mm].
    name : str
        Which size.
    values : sequence of float
        Its values [mm].

    Returns
    -------
    DataFrame
        size_mm, margin, upper, typical, low, high (of a single joint), reason ("" or why there is none).

    Raises
    ------
    StatsError
        If no value gives a margin, there is none, or one is no number.
    """
    if not len(values):
        raise StatsError(f"values (none given) must hold a value of {name} or more.")
    unread = next((one for one in values if math.isnan(scalar(one))), None)
    if unread is not None:
        raise StatsError(f"values ({said(unread)}) must all be numbers.")
    rows = []
    for value in values:
        try:
            found = margin_of({**dims, name: float(value)})
        except StatsError as error:
            rows.append((float(value), *(np.nan,) * 5, str(error)))
            continue
        rows.append((float(value), found.value, found.upper, found.typical, found.single.low, found.single.high, ""))
    frame = pd.DataFrame(rows, columns=["size_mm", "margin", "upper", "typical", "low", "high", "reason"])
    if frame["margin"].isna().all():
        raise StatsError(f"{name} gives no margin at any of {len(rows)} values: {frame['reason'].iloc[0]}")
    return frame
