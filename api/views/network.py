"""Every joint against every other through the studies that link them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from results.evidence import Choices, linked
from results.evidence.linked_numbers import names_of, spread
from stats.inference.network import Network as Fitted

from ..formats import Table
from ..frames import about, alternatives, beside, plain, refusal, table_of
from .statistics import Statistic

_NUMBERS = (
    "studies",
    "series",
    "between_variance",
    "between_variance_low",
    "between_variance_high",
    "i_squared",
    "df",
    "scale",
    "inconsistency",
    "replicates",
)


def numbers(fitted: Fitted) -> dict[str, Any]:
    """What holds for the network as a whole."""
    between, routes, again = fitted.tau2_interval, fitted.inconsistency, fitted.replicates
    differ = spread(fitted)
    return {
        "studies": fitted.studies,
        "series": fitted.series,
        "between_variance": fitted.tau2,
        "between_variance_low": None if between is None else _finite(between.low),
        "between_variance_high": None if between is None else _finite(between.high),
        "i_squared": differ.i2 if differ else None,
        "df": fitted.df,
        "scale": fitted.scale,
        "inconsistency": {
            "q": routes.q,
            "df": routes.df,
            "p": routes.p,
            "q_within": routes.q_within,
            "df_within": routes.df_within,
        },
        "replicates": {"q": again.q, "df": again.df, "p": again.p},
        "notes": list(fitted.notes),
    }


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _effects(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    effects = fitted.effects.reset_index()
    effects["reference"] = fitted.reference
    return _as_ratios(effects, names, "reference").sort_values("ratio", ascending=False, ignore_index=True)


def _pairs(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    return _as_ratios(fitted.table(), names, "versus")


def _ranking(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    ranking = fitted.ranking()
    ranking.insert(1, "joint_name", ranking["joint"].map(names))
    return ranking


def _refused_pairs(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    return fitted.refused()


def _parts(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    parts = [
        {"part": number, "joint": joint, "joint_name": names[str(joint)]}
        for number, part in enumerate(fitted.components, 1)
        for joint in part
    ]
    return pd.DataFrame(parts, columns=["part", "joint", "joint_name"])


def _set_aside(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    return fitted.set_aside.rename(columns={"study": "study_id"})


SPLIT = (
    "joint",
    "joint_name",
    "versus",
    "versus_name",
    "direct_ratio",
    "direct_log_se",
    "indirect_ratio",
    "indirect_log_se",
    "direct_over_indirect",
    "p",
)


def _split(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    """Direct against indirect evidence on each pair that some study holds both joints of."""
    pairs = fitted.table()
    rows = []
    for joint, versus in pairs.loc[pairs["studies"] > 0, ["joint", "versus"]].itertuples(index=False):
        both = fitted.split(joint, versus)
        sides = [(np.exp(side[0]), side[1]) if side else (None, None) for side in (both.direct, both.indirect)]
        over = float(np.exp(both.difference[0])) if both.difference else None
        rows.append((joint, names[joint], versus, names[versus], *sides[0], *sides[1], over, both.p))
    frame = pd.DataFrame(rows, columns=SPLIT)
    numeric = list(SPLIT[4:])
    return frame.astype(dict.fromkeys(numeric, float))


def _influence(fitted: Fitted, names: dict[str, str]) -> pd.DataFrame:
    """What leaving out a study does to the ratio that it moves most."""
    found = fitted.influence()
    return pd.DataFrame(
        {
            "study_id": found["study"],
            "joint": found["joint"],
            "joint_name": found["joint"].map(names),
            "times": np.exp(found["shift"]),
            "log_shift": found["shift"],
            "shift_in_se": found["shift_in_se"],
            "disconnects": found["disconnects"],
        }
    )


def _as_ratios(logs: pd.DataFrame, names: dict[str, str], against: str) -> pd.DataFrame:
    frame = pd.DataFrame({"joint": logs["joint"], "joint_name": logs["joint"].map(names), against: logs[against]})
    frame[f"{against}_name"] = logs[against].map(names)
    for column, source in (
        ("ratio", "estimate"),
        ("low", "low"),
        ("high", "high"),
        ("prediction_low", "predict_low"),
        ("prediction_high", "predict_high"),
    ):
        if source in logs:
            # What a log this large stands for is endless; it is given as missing.
            frame[column] = np.exp(logs[source].where(logs[source].abs() < 700))
    frame["log_ratio"], frame["log_se"] = logs["estimate"], logs["se"]
    if "studies" in logs:
        frame["studies"] = logs["studies"]
    return frame


# The network's tables, each made when it is asked for; ratios are of geometric means, joint over reference or versus.
FRAMES: dict[str, Callable[[Fitted, dict[str, str]], pd.DataFrame]] = {
    "effects": _effects,
    "pairs": _pairs,
    "split": _split,
    "influence": _influence,
    "ranking": _ranking,
    "refused_pairs": _refused_pairs,
    "parts": _parts,
    "set_aside": _set_aside,
}


class Network(Statistic):
    """The network for a choice, with the same parameters as a comparison."""

    about = "Every joint against every other through all studies that link them, by network meta-analysis."
    name = "network"
    tables = tuple(FRAMES)

    def answer(self, choices: Choices, more: dict[str, Any]) -> dict[str, Any]:
        found = linked(choices)
        told = {**about(found.comparison), "refused": found.refused, "alternatives": alternatives(found.comparison)}
        if found.network is None:
            empty: dict[str, Any] = {name: [] for name in FRAMES}
            return {**told, **dict.fromkeys(_NUMBERS), "notes": [], **empty}
        names = names_of(found.comparison.arms)
        tables = {name: plain(make(found.network, names)) for name, make in FRAMES.items()}
        return {**told, **numbers(found.network), **tables}

    def table_of(self, table: str, choices: Choices, more: dict[str, Any]) -> Table:
        found = linked(choices)
        if found.network is None:
            raise refusal(found.comparison, found.refused)
        names = names_of(found.comparison.arms)
        return table_of(beside(found.comparison, FRAMES[table](found.network, names)))
