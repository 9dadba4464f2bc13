"""A comparison in words that say no more than its numbers do."""

from __future__ import annotations

import pandas as pd

from stats.inference import sidebyside

# Below this the figure with and without flagged specimens reads the same.
SAME_WITHIN = 0.02


def sentences(ratios: pd.DataFrame, other: pd.DataFrame, *, flagged: bool) -> tuple[str, ...]:
    """One sentence or more for each ratio.

    Parameters
    ----------
    ratios : DataFrame
        From `stats.inference.sidebyside.ratios`.
    other : DataFrame
        The same the other way round about flagged specimens; empty where none is flagged.
    flagged : bool
        Whether `ratios` are with flagged specimens.

    Returns
    -------
    tuple of str
    """
    turned = {row.joint: row for row in other.itertuples()} if len(other) else {}
    said = []
    for row in ratios.dropna(subset=["ratio"]).itertuples():
        took = f"the {low(row.joint_name)} took {_figure(row)} what the {low(row.reference_name)} took."
        said.append(" ".join(part for part in (_where(row), took, _ahead(row), _turned(row, turned, flagged)) if part))
    return tuple(said)


def low(name: str) -> str:
    """A name as it stands inside a sentence."""
    return name[:1].lower() + name[1:]


def _figure(row) -> str:
    return f"{row.ratio:.2g} times (interval {row.low:.2g} to {row.high:.2g})"


def _where(row) -> str:
    if row.basis == sidebyside.APART:
        return "From different studies, with nothing in common but the footing,"
    if row.note == sidebyside.ONE_STUDY:
        return "In the one study that tested both,"
    if row.basis == sidebyside.THROUGH:
        return "From all studies together, though none tested both,"
    return f"From all studies together, {row.studies} of which tested both,"


def _ahead(row) -> str:
    if pd.notna(row.prediction_low):
        return f"The next shop should expect {row.prediction_low:.2g} to {row.prediction_high:.2g}."
    return "" if row.basis == sidebyside.APART else row.note


def _turned(row, turned: dict, flagged: bool) -> str:
    """The same figure the other way round about flagged specimens, where it differs."""
    other = turned.get(row.joint)
    if other is None or pd.isna(other.ratio) or abs(other.ratio / row.ratio - 1) < SAME_WITHIN:
        return ""
    return f"{'Without' if flagged else 'With'} flagged specimens it is {_figure(other)}."
