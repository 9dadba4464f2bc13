"""What a network of studies says, in sentences; the statistic's name follows in brackets."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from results.evidence.linked_numbers import Pair, Spread
from stats.charts.look import low
from stats.footing.units import show
from stats.inference.comparisons import Network
from stats.inference.log_ratios import Contrast
from stats.interval import Interval

DOUBTFUL = 0.05
"""Below this probability a disagreement is called one."""
MOST_NAMED = 6


def tied(text: str) -> str:
    """A sentence whose figures are not broken over lines."""
    for loose in (" = ", " < ", " %"):
        text = text.replace(loose, loose.replace(" ", "\u00a0"))
    return text


def chance(p: float) -> str:
    """A probability as it is quoted."""
    return "p < 0.001" if p < 0.001 else f"p = {show(p, digits=2)}"


def ends(interval: Interval) -> str:
    return f"{100 * interval.level:g} % interval {show(interval.low)} to {show(interval.high)}"


def heterogeneity(spread: Spread | None) -> str:
    """How much studies differ, as a factor."""
    if spread is None:
        return (
            "Each ratio here rests on one study, so how much studies differ can't be seen, and the intervals hold for"
            " the rigs at hand only."
        )
    upper = f"{show(np.exp(spread.interval.high))}" if np.isfinite(spread.interval.high) else "any size"
    known = f"{100 * spread.interval.level:g} % interval of the factor {show(np.exp(spread.interval.low))} to {upper}"
    if spread.tau == 0:
        return (
            "Studies differ no more than the scatter of their own specimens explains (between-study standard deviation"
            f" of the log ratio τ = 0; {known}; I² = 0 %). With few studies a difference may still be there, unseen."
        )
    return (
        "The same two joints come out differently from study to study: in two studies of three their ratio lies within"
        f" a factor of about {show(spread.factor, digits=2)} of the mean, up or down (between-study standard deviation"
        f" of the log ratio τ = {show(spread.tau, digits=2)}; {known}). Of the spread between studies about"
        f" {100 * spread.i2:.0f} % is more than the scatter of their specimens explains (I² = {100 * spread.i2:.0f} %)."
    )


def inconsistency(fitted: Network) -> str:
    """Whether studies of different sets of joints obey one set of ratios."""
    found = fitted.inconsistency
    if found.p is None:
        return (
            "Whether the routes through the network agree can't be tested: no two joints are linked by studies of"
            " different sets of joints."
        )
    told = f"design-by-treatment test: Q = {show(found.q)}, df = {found.df}, {chance(found.p)}"
    if found.p < DOUBTFUL:
        return (
            f"Studies of different sets of joints do not agree on one set of ratios ({told}). Before quoting a ratio,"
            " look at what its direct and its indirect evidence say, and at the studies that move it most."
        )
    return (
        f"Studies of different sets of joints agree on one set of ratios as well as their errors let one expect"
        f" ({told}). With few studies only a large disagreement would show."
    )


def of_pair(pair: Pair, names: Mapping[str, str]) -> list[str]:
    """What is known of two joints, by which evidence, and what that means."""
    a, b = low(names[pair.joint]), low(names[pair.versus])
    direct, indirect, whole = pair.direct, pair.indirect, pair.network
    both = "one study that tested both" if whole.studies == 1 else f"{whole.studies} studies that tested both"
    if direct and indirect and pair.difference:
        told = f"{a} took {_times(direct)} what {b} took in the {both}"
        said = [f"{told[:1].upper()}{told[1:]}; through other joints it comes to {_times(indirect)}."]
        gap = pair.difference
        apart = f"direct is {show(gap.ratio)} times indirect, {chance(gap.p)}"
        if gap.p < DOUBTFUL:
            said.append(
                f"The two kinds of evidence disagree ({apart}): all together they give {_times(whole)}, an average of"
                " things that differ. Look at the studies below before quoting it."
            )
        else:
            said.append(
                f"The two kinds of evidence agree within their errors ({apart}), so they may be read together:"
                f" {_times(whole)}."
            )
    elif direct:
        said = [
            f"All that is known is direct: in the {both}, {a} took {_times(whole)} what {b} took. No chain of studies"
            " through other joints adds to that, so there is nothing to check it against."
        ]
    else:
        said = [
            f"No study tested both: {a} took {_times(whole)} what {b} took, going through other joints only (indirect)."
            " A study with both would check that."
        ]
    said.append(_apart(whole, a, b))
    if pair.note:
        said.append(pair.note)
    elif whole.prediction:
        near, far = np.exp([whole.prediction.low, whole.prediction.high])
        said.append(f"The next shop that tests both should expect {show(near)} to {show(far)}.")
    return said


def _times(contrast: Contrast) -> str:
    return f"{show(contrast.ratio)} times ({ends(contrast.ratio_interval)})"


def _apart(whole: Contrast, a: str, b: str) -> str:
    if whole.interval.low > 0:
        return f"The interval lies above 1: over all shops {a} is the stronger."
    if whole.interval.high < 0:
        return f"The interval lies below 1: over all shops {b} is the stronger."
    return "The interval holds 1: the two can't be told apart."


def of_influence(frame: pd.DataFrame, reference: str) -> list[str]:
    """Which study moves what, and which joints hang on one study."""
    if len(frame) == 1:
        return [f"Only “{frame['study'].iloc[0]}” tells on these ratios: there is no other study to set it against."]
    said = []
    if len(frame) == 2:
        first, second = frame["study"]
        said.append(
            f"Only two studies tell on these ratios, “{first}” and “{second}”. Without one, the other's own figure is"
            " all that is left; where the two differ, nothing here can say which is the odd one."
        )
    moved = frame[np.isfinite(frame["without"].astype(float))]
    if len(moved):
        top = moved.iloc[0]
        said.append(
            f"Leaving out “{top['study']}” moves a ratio most: {low(top['joint_name'])} to {low(reference)} goes from"
            f" {show(top['ratio'])} to {show(top['without'])}, by {show(top['shift_in_se'], digits=2)} of its standard"
            " errors (leave-one-out)."
        )
        if top["shift_in_se"] < 1:
            said.append("No study moves any ratio by as much as its standard error.")
    said += _resting(frame, reference)
    return said


def _resting(frame: pd.DataFrame, reference: str) -> list[str]:
    """The joints that hang on one study alone, study by study."""
    rows = frame[frame["rests"].map(len) > 0]
    said = [
        f"{listed(row.rests)} {'hangs' if len(row.rests) == 1 else 'hang'} on “{row.study}” alone: without it nothing"
        f" links {'it' if len(row.rests) == 1 else 'them'} to {low(reference)}."
        for row in rows.head(MOST_NAMED).itertuples()
    ]
    if len(rows) > MOST_NAMED:
        said.append(f"So do others on {len(rows) - MOST_NAMED} more studies.")
    return said


def listed(names: tuple[str, ...]) -> str:
    """Names as a sentence lists them, the first with its capital."""
    told = [names[0], *(low(name) for name in names[1:])]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"
