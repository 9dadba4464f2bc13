"""What the page of one piece says of its numbers beside other pages' numbers."""

from __future__ import annotations

from typing import Any, cast

from results.practice.joint import LIMITS, Bears, JointAsked
from results.practice.margin import Answer
from results.practice.strength import NETWORK
from stats.charts.look import counted, low
from stats.footing.units import show
from stats.practice.demand import PIECES, Demand
from stats.practice.limit import Limit


def by_readings(bears: Bears) -> str:
    """Why a comparison shows another lower limit of the same joint; "" where it shows none, or the same.

    A comparison's limit is always the first of `LIMITS`: beside another one there is nothing to explain.
    """
    other, limit, strength = bears.strength.by_readings, bears.limit, bears.strength
    if other is None or (limit.coverage, limit.confidence) != LIMITS["95-75"]:
        return ""
    ours, theirs = show(limit.value), show(other.value)
    if ours == theirs:
        return ""
    rests = f"{counted(limit.specimens, 'specimen')} of {counted(limit.shops, 'shop')}"
    read = f"{counted(other.specimens, 'specimen')} of {counted(other.studies, 'study')}"
    if strength.route == NETWORK:
        way = f"this one goes by way of {strength.beside.lower()}, which more shops tested"
    elif limit.specimens > other.specimens:
        way = "this one takes each shop's mean, so that studies which published no more than that count too"
    else:
        way = "this one takes each shop's mean, so that each shop counts once"
    return (
        f"This limit, {ours}, rests on {rests}. The comparison behind the link (and, over all timbers and glues, the "
        f"joint's page) shows {theirs} by another reckoning: it puts single readings together, the {read} that give "
        f"them; {way}. Neither is wrong; the lower one is the more careful."
    )


def reconciled(limit: Limit) -> list[str]:
    """Why the lower limit and what single joints bear don't meet, where the limit is the more careful."""
    stands_for, below = 100 * (1 - limit.coverage), 100 * limit.chance_below(limit.value)
    if below >= stands_for:
        return []
    few = "less than 1" if below < 1 else f"about {below:.2g}"
    return [
        f"These don't contradict each other: by the same tests {few} of 100 would bear less than the lower limit, and "
        f"not {stands_for:g} as it says, since it keeps some caution for how little was tested."
    ]


def built_of(asked: JointAsked) -> list[tuple[str, str]]:
    """What the answer is for: joint, timber and glue, and the sizes typed as they were typed."""
    if asked.kind is None or asked.timber is None:
        return []
    named = [name for name in asked.size_names if asked.asked.get(name)]
    typed = [(str(asked.fields[name].label), str(asked.asked[name])) for name in named]
    return [("Joint", asked.kind.name), ("Timber", asked.timber.name), ("Glue", _glue(asked)), *typed]


def for_client(asked: JointAsked, demand: Demand, answer: Answer | None) -> str:
    """The margin for somebody who will not read the page: what it is of, what it rests on, and what it is not.

    Without an answer, that the evidence is too thin for one.
    """
    timber = low(asked.timber.name) if asked.timber else ""
    what = f"{asked.kind} in {timber} with {_glue(asked)}, for {low(PIECES[demand.piece].name)}"
    asks = f"the piece asks {'' if demand.determinate else 'at most '}{show(demand.value, demand.unit)} of it"
    if answer is None:
        return (
            f"{what}: {asks}, and the tests in the book are too few to say what the joint bears. No margin can be "
            f"given. {_cautions(demand)}"
        )
    margin, limit, capacity = answer.margin, answer.bears.limit, answer.bears.capacity
    single = margin.single
    return (
        f"{what}: {asks}; by its lower limit ({limit.words}) the joint bears {show(capacity.value, capacity.unit)}, "
        f"{show(margin.value, digits=2)} times that. {100 * single.level:g} of 100 such joints would bear "
        f"{show(single.low, digits=2)} to {show(single.high, digits=2)} times that. It rests on "
        f"{_tests(answer.bears.strength.inventions)} of {counted(limit.specimens, 'specimen')} in "
        f"{counted(limit.shops, 'shop')}{_sizes(answer, asked)}. {_cautions(demand)}"
    )


def _glue(asked: JointAsked) -> str:
    return str(dict(cast(Any, asked.fields["adhesive"]).choices).get(asked.asked.get("adhesive") or "", "any glue"))


def _tests(inventions: tuple[bool, ...]) -> str:
    if not any(inventions):
        return "real tests"
    return "invented tests" if all(inventions) else "tests, some of them invented,"


def _cautions(demand: Demand) -> str:
    """That it certifies nothing; where others trust the piece, what they must be told first."""
    leads = f" {demand.caution.sentences[0]}" if demand.caution.leads else ""
    return (
        "This certifies nothing: the figures come from small samples that other people broke in their own shops."
        f"{leads}"
    )


def _sizes(answer: Answer, asked: JointAsked) -> str:
    return "" if asked.sizes() else "; sizes are those tested, not the piece's own"
