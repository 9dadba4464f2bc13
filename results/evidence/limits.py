"""Lower limits: the strength that most joints of a kind exceed, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast, get_args

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.inference import tolerance
from stats.inference.batches import basis_between_batches

from .choices import Choices
from .compare import Comparison, compare

MODELS: tuple[str, ...] = get_args(tolerance.Model)
BETWEEN = ("lognormal", "normal")  # models that allow for studies which differ
COLUMNS = [
    "joint",
    "joint_name",
    "studies",
    "specimens",
    "held",
    "limit",
    "method",
    "factor",
    "rank",
    "notes",
    "missing",
]
ONE_SAMPLE, BATCHES = "one sample", "studies that differ"


@dataclass(frozen=True)
class Limits:
    """One row a joint of a comparison: its lower limit, or why there is none."""

    comparison: Comparison
    coverage: float
    confidence: float
    model: str
    rows: pd.DataFrame


def limits(choices: Choices, coverage: float = 0.95, confidence: float = 0.75, model: str = "lognormal") -> Limits:
    """Give the lower limit of each joint that `compare` would show.

    Parameters
    ----------
    choices : Choices
        As for a comparison.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    model : str
        One of `MODELS`.

    Returns
    -------
    Limits

    Notes
    -----
    Specimens of one study are one sample. Over several studies the limit is for a joint of a further shop, with
    the studies as batches that differ; only the models of `BETWEEN` can give that, and held specimens then stand
    at the most they held, which errs on the safe side.
    """
    comparison = compare(choices)
    rows = [] if comparison.empty else [_row(name, part, coverage, confidence, model) for name, part in _by(comparison)]
    return Limits(comparison, coverage, confidence, model, pd.DataFrame(rows, columns=COLUMNS))


def _by(comparison: Comparison) -> list[tuple[Any, pd.DataFrame]]:
    """The specimens of each joint, strongest first as the comparison has them; none for published means."""
    points = dict(tuple(comparison.points.groupby("joint")))
    names = comparison.groups[["joint", "joint_name"]].itertuples(index=False)
    nothing = comparison.points.head(0)
    return [(name, points.get(name.joint, nothing)) for name in names]


def _row(name: Any, part: pd.DataFrame, coverage: float, confidence: float, model: str) -> dict[str, object]:
    broke = (part["outcome"] == "broke").to_numpy()
    studies = part["study_id"].nunique()
    about = {
        "joint": name.joint,
        "joint_name": name.joint_name,
        "studies": studies,
        "specimens": len(part),
        "held": int((~broke).sum()),
    }
    try:
        return {**about, **_limit(part, broke, studies, coverage, confidence, model)}
    except StatsError as error:
        return {**about, "limit": None, "notes": "", "missing": str(error)}


def _limit(
    part: pd.DataFrame, broke: np.ndarray, studies: int, coverage: float, confidence: float, model: str
) -> dict[str, object]:
    if not len(part):
        return {"limit": None, "notes": "", "missing": "single results; a published mean has no lowest ones."}
    values = part["value"].to_numpy(float)
    if studies == 1:
        found = tolerance.lower_limit(values, coverage, confidence, cast(tolerance.Model, model), broke=broke)
        return _found(found.value, ONE_SAMPLE, found.factor, found.rank, found.notes)
    if model not in BETWEEN:
        return {
            "limit": None,
            "notes": "",
            "missing": f"one sample: {studies} studies differ, and model {model} can't allow for that; "
            f"use {' or '.join(BETWEEN)}, or choose one study's timber.",
        }
    batches = basis_between_batches(values, part["study_id"].to_numpy(), coverage, confidence, cast(Any, model))
    return _found(batches.value, BATCHES, batches.factor, None, batches.notes)


def _found(
    value: float, method: str, factor: float | None, rank: int | None, notes: tuple[str, ...]
) -> dict[str, object]:
    return {
        "limit": value,
        "method": method,
        "factor": factor,
        "rank": rank,
        "notes": " ".join(notes),
        "missing": "",
    }
