"""The statistics of the network: all joints through all studies at once."""

from __future__ import annotations

from functools import cache
from typing import cast

import numpy as np
import pandas as pd

from stats.inference import inconsistency, influence, mixed, network
from stats.inference.comparisons import Network

from .entry import Method, Part, by_code, chance, num, pct
from .studies import between

ARMS = pd.DataFrame(
    [
        ("A", "dowel", 7.60, 0.004),
        ("A", "half lap", 7.79, 0.005),
        ("B", "dowel", 7.45, 0.004),
        ("B", "mitre", 6.92, 0.006),
        ("C", "half lap", 7.80, 0.003),
        ("C", "mitre", 7.24, 0.005),
        ("D", "dowel", 7.52, 0.004),
        ("D", "mitre", 7.26, 0.005),
        ("E", "dowel", 7.66, 0.005),
        ("E", "half lap", 7.61, 0.004),
    ],
    columns=["study", "joint", "y", "v"],
)

Pair = tuple[float, float]


def networked() -> Part:
    """All joints through all studies."""
    return Part(
        "network",
        "All joints through all studies",
        "Every joint against every other at once, each study's own level taken out, so that a rig that reads high "
        "leaves "
        "the ratios alone. The examples take five studies of two joints each: dowel, half lap, mitre.",
        (*_fitted(), *_asked()),
    )


@cache
def _network() -> Network:
    return network.fit(ARMS, "dowel")


def _fitted() -> tuple[Method, ...]:
    found = _network()
    effects = ", ".join(f"{r.Index} {num(np.exp(r.estimate))} ({between(r.low, r.high)})" for r in
                        found.effects.itertuples())  # fmt: skip
    pairs = pd.DataFrame({"study": list("ABC"), "joint": ["half lap", "mitre", "mitre"],
                          "versus": ["dowel", "dowel", "half lap"], "y": [0.11, -0.47, -0.59],
                          "v": [0.009, 0.010, 0.008]})  # fmt: skip
    by_pairs = network.fit_contrasts(pairs, "dowel").relative("mitre", "dowel")
    return (
        by_code(
            "network-model",
            "The network",
            network.fit,
            "Joints that never met in one study are linked through those that did; what no chain of studies links is "
            "not "
            "compared.",
            (f"over dowel: {effects}; τ = {num((found.tau2 or 0.0) ** 0.5)}",),
            formulas=("y = a_study + d_joint + u + e",),
            symbols=(
                "y = mean log of a joint in a study",
                "a = the study's own level",
                "d = the joint's log strength over the reference's",
                "u = the joint's departure in this study, variance τ² / 2",
                "e = the series' own error",
            ),
        ),
        by_code(
            "network-contrasts",
            "The network from published ratios",
            network.fit_contrasts,
            "For studies that report ratios and not their series.",
            (f"three ratios of three studies: mitre over dowel {num(by_pairs.ratio)}",),
            source="the model of the network",
        ),
        by_code(
            "network-mixed",
            "A check from the specimens themselves",
            mixed.fit,
            "The same comparison from single specimens with random studies and series; a second look, not what pages "
            "show.",
            (_mixed(),),
        ),
    )


def _mixed() -> str:
    steps = np.tile([-0.08, 0.01, 0.07], len(ARMS))
    one = ARMS.loc[ARMS.index.repeat(3), ["study", "joint", "y"]].reset_index(drop=True)
    found = mixed.fit(one.assign(value=np.exp(one["y"] + steps)), "dowel")
    row = found.effects.loc["mitre"]
    ends = between(row["low"], row["high"])
    return f"three specimens a series: mitre over dowel {num(np.exp(row['estimate']))} ({ends})"


def _asked() -> tuple[Method, ...]:
    found = _network()
    parts, whole = found.split("mitre", "dowel"), found.inconsistency
    # The mitre and the dowel are compared both ways.
    direct, indirect, difference = (cast(Pair, one) for one in (parts.direct, parts.indirect, parts.difference))
    moved, shares = found.influence(), found.contributions("mitre", "dowel")
    ranks = found.ranking()
    most = moved.loc[moved["shift_in_se"].abs().idxmax()]
    return (
        by_code(
            "network-direct-indirect",
            "Direct against indirect",
            inconsistency.split,
            "What the studies that hold both joints say, and what all others say of the same two.",
            (
                f"mitre over dowel: direct {num(np.exp(direct[0]))}, indirect {num(np.exp(indirect[0]))}, "
                f"direct over indirect {num(np.exp(difference[0]))} (se of logs {num(difference[1])})",
            ),
        ),
        by_code(
            "network-inconsistency",
            "Whether designs disagree",
            inconsistency.design_by_treatment,
            "A test over all sets of joints that were tested together.",
            (f"Q = {num(whole.q)} on {whole.df}" + (f", {chance(whole.p)}" if whole.p is not None else ""),),
        ),
        by_code(
            "network-replicates",
            "Whether series of one joint in one study agree",
            inconsistency.replicates,
            "Against their own errors.",
            (_replicates(),),
            source="Cochran's Q, textbook",
        ),
        by_code(
            "network-influence",
            "What each study does to the answer",
            influence.shifts,
            "The whole network again without each study.",
            (f"without {most['study']} the {most['joint']} moves most, by a factor {num(np.exp(most['shift']))}",),
            source="Woodbury's identity",
        ),
        by_code(
            "network-shares",
            "How much each study tells",
            influence.shares,
            "Its share in the variance of one comparison.",
            (", ".join(f"{r.study} {pct(r.weight)}" for r in shares.itertuples()),),
            source="algebra of weighted least squares",
        ),
        by_code(
            "network-ranking",
            "Ranking",
            Network.ranking,
            "The mean probability of being stronger than another; a rank hides how large the differences are.",
            (", ".join(f"{r.joint} {pct(r.probability)}" for r in ranks.itertuples()),),
        ),
    )


def _replicates() -> str:
    two = pd.concat([ARMS, ARMS.iloc[[0]].assign(y=7.75)], ignore_index=True)
    found = network.fit(two, "dowel").replicates
    return f"a second series of dowels in study A at 7.75: Q = {num(found.q)} on {found.df}, {chance(found.p or 1.0)}"
