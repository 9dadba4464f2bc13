"""Stored footings read back as frames; units stand in the column names, one row a series or a specimen."""

from __future__ import annotations

import numpy as np
import pandas as pd
from django.db.models import F

from results.models import Series, SeriesFooting, Specimen

from .choices import Choices

# Where a specimen keeps its value on each footing; at_joint is a moment or a force by the action.
_GRAINS = ["", *Series.Grain.values]
SPECIMEN_FIELD = {
    "peak_load": "peak_load_n",
    "stress": "stress_mpa",
    "ratio_solid": "ratio_solid",
    "ratio_solid_matched": "ratio_solid_matched",
    "ratio_control": "ratio_control",
}
SIZES = ("member_thickness_mm", "member_depth_mm", "bond_length_mm", "bond_width_mm")
SERIES_COLUMNS = {
    "series": F("series__label"),
    "study_id": F("series__study_id"),
    "study": F("series__study__title"),
    "workshop": F("series__study__workshop"),
    "invented": F("series__study__invented"),
    "setup_id": F("series__setup_id"),
    "setup": F("series__setup__label"),
    "loading": F("series__setup__loading_id"),
    "action": F("series__setup__loading__action"),
    "joint": F("series__joint_id"),
    "joint_name": F("series__joint__name"),
    "family": F("series__joint__family_id"),
    "tests": F("series__tests"),
    "timber": F("series__timber_id"),
    "timber_name": F("series__timber__name"),
    "adhesive": F("series__adhesive_id"),
    "adhesive_name": F("series__adhesive__name"),
    "grain_a": F("series__grain_a"),
    "grain_b": F("series__grain_b"),
    "control_id": F("series__control_id"),
    "control_joint": F("series__control__joint_id"),
    "control_joint_name": F("series__control__joint__name"),
    "conditioning": F("series__conditioning"),
    "summary_id": F("series__summary__id"),
    **{name: F(f"series__{name}") for name in SIZES},
}
STORED = ("unit", "n", "held", "sum_log", "sum_sq_log", "basis", "missing")
KEPT = ("kept_n", "kept_held", "kept_sum_log", "kept_sum_sq_log")


def specimen_field(footing: str, action: str) -> str:
    """The specimen's field that holds its value on a footing."""
    if footing == "at_joint":
        return "moment_nm" if action in ("bending", "torsion") else "force_n"
    return SPECIMEN_FIELD[footing]


def series_frame(choices: Choices) -> pd.DataFrame:
    """One row a series of accepted studies with its stored sums on the chosen footing.

    The choices of joint, timber and adhesive narrow the rows; action and kind of test don't, so that what they
    leave out can be counted.

    Returns
    -------
    DataFrame
        Columns of `SERIES_COLUMNS`, ``series_id``, ``n``, ``held``, ``sum_log``, ``sum_sq_log``, ``all_n``,
        ``missing`` (list of str), ``summary_only`` (bool), ``mean_log``, ``sd_log``.
    """
    rows = SeriesFooting.objects.filter(code=choices.footing, series__study__status="accepted")
    for field, chosen in (
        ("series__joint__in", choices.joints),
        ("series__timber__in", choices.timbers),
        ("series__adhesive__in", choices.adhesives),
    ):
        if chosen:
            rows = rows.filter(**{field: chosen})
    names = ["series_id", *STORED, *KEPT, *SERIES_COLUMNS]
    plain = ["series_id", *STORED, *KEPT]
    values = rows.order_by("series_id").values_list(*plain, *SERIES_COLUMNS.values())
    frame = pd.DataFrame.from_records(list(values), columns=names)
    for name in ("n", "sum_log", "sum_sq_log", *KEPT, *SIZES):
        frame[name] = frame[name].astype(float)
    frame["summary_only"] = frame.pop("summary_id").notna()
    frame["all_n"] = frame["n"]
    frame = _kinds(frame)
    frame["flagged"] = (frame["n"].fillna(0) + frame["held"]) - (frame["kept_n"].fillna(0) + frame["kept_held"])
    if not choices.flagged:
        for name in ("n", "held", "sum_log", "sum_sq_log"):
            frame[name] = frame[f"kept_{name}"]
    return with_logs(frame.drop(columns=list(KEPT)))


# What a joint went through that makes it another thing to average.
HARD_LIVES = {"cycled": "cycled between dry and damp", "soaked": "soaked"}


def _kinds(frame: pd.DataFrame) -> pd.DataFrame:
    """Tell apart what is never averaged as one joint: a bond by the grain of its faces, a soaked one from a dry.

    ``joint`` then names the kind (``butt+end-side``), ``joint_code`` the vocabulary's joint.
    """
    frame["joint_code"] = frame["joint"]
    both = (frame["grain_a"] != "") & (frame["grain_b"] != "")
    ordered = [sorted(pair, key=_GRAINS.index) for pair in zip(frame["grain_a"], frame["grain_b"], strict=True)]
    frame["faces"] = pd.Series(["-".join(pair) for pair in ordered], index=frame.index, dtype=object).where(both, None)
    for where, mark, words in (
        ((frame["tests"] == "bond") & both, frame["faces"], frame["faces"].fillna("") + " grain"),
        (
            frame["conditioning"].isin(HARD_LIVES),
            frame["conditioning"],
            frame["conditioning"].map(HARD_LIVES),
        ),
    ):
        frame.loc[where, "joint"] += "+" + mark[where].astype(str)
        frame.loc[where, "joint_name"] += ", " + words[where].astype(str)
    return frame


def with_logs(frame: pd.DataFrame) -> pd.DataFrame:
    """Add the mean and standard deviation of the logs from the stored sums.

    A summary with no stated count stores its sums as for one specimen, so it is read as one here.
    """
    n = frame["n"].fillna(1.0)
    mean = frame["sum_log"] / n.where(n > 0)
    squares = frame["sum_sq_log"] - n * mean**2
    spread = np.sqrt(squares.clip(lower=0) / (n - 1).where(n > 1))
    return frame.assign(mean_log=mean, sd_log=spread.where(spread > 1e-9))


def specimen_frame(series_ids: list[int], footing: str, action: str, *, flagged: bool) -> pd.DataFrame:
    """One row a specimen that has a value on the footing.

    Returns
    -------
    DataFrame
        ``specimen_id``, ``specimen``, ``series_id``, ``value``, ``outcome``, ``flagged``, ``failure_place``,
        ``failure_place_name``.
    """
    field = specimen_field(footing, action)
    rows = Specimen.objects.told().filter(**{f"{field}__isnull": False})
    if not flagged:
        rows = rows.filter(flagged=False)
    columns = {
        "id": "specimen_id",
        "label": "specimen",
        "series_id": "series_id",
        field: "value",
        "outcome": "outcome",
        "flagged": "flagged",
        "failure_place_id": "failure_place",
        "failure_place__name": "failure_place_name",
    }
    found: list[tuple] = []
    for start in range(0, len(series_ids), 10_000):  # SQLite takes only so many values in one query
        part = rows.filter(series_id__in=series_ids[start : start + 10_000])
        found += part.order_by("series_id", "position").values_list(*columns)
    return pd.DataFrame.from_records(found, columns=list(columns.values()))
