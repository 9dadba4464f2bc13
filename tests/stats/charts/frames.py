"""Small frames as a comparison gives them, for the charts to draw."""

from __future__ import annotations

import numpy as np
import pandas as pd

NAN = float("nan")


def make_points(joints: dict[str, list[float]], **columns: object) -> pd.DataFrame:
    """A row a specimen, all in one series a joint."""
    rows = [
        {
            "specimen_id": 100 * i + k,
            "specimen": f"{joint}{k}",
            "series_id": i,
            "series": f"{joint} A",
            "study_id": 1,
            "study": "Rails into posts",
            "invented": True,
            "joint": joint,
            "joint_name": joint.title(),
            "value": value,
            "outcome": "broke",
            "flagged": False,
            "failure_place": "bond_line",
        }
        for i, (joint, values) in enumerate(joints.items())
        for k, value in enumerate(values)
    ]
    return pd.DataFrame(rows).assign(**columns)


def make_series(points: pd.DataFrame, **columns: object) -> pd.DataFrame:
    """A row a series, its geometric mean from the points."""
    grouped = points.groupby(
        ["series_id", "series", "study_id", "study", "joint", "joint_name"], as_index=False, sort=False
    )
    rows = grouped["value"].agg(n="size", geometric_mean=lambda v: np.exp(np.log(v).mean()))
    return rows.assign(summary_only=False, **columns)


def make_groups(points: pd.DataFrame) -> pd.DataFrame:
    """A row a joint; the interval is simply 10 % each way."""
    rows = []
    for (joint, name), part in points.groupby(["joint", "joint_name"], sort=False):
        mean = float(np.exp(np.log(part["value"]).mean()))
        rows.append(
            {
                "joint": joint,
                "joint_name": name,
                "studies": part["study_id"].nunique(),
                "series": part["series_id"].nunique(),
                "specimens": len(part),
                "held": int((part["outcome"] == "held").sum()),
                "flagged": int(part["flagged"].sum()),
                "geometric_mean": mean,
                "low": mean / 1.1,
                "high": mean * 1.1,
                "between_sd": NAN,
                "cv_pct": 12.0,
                "limit_5pct": 0.7 * mean,
                "note": "",
            }
        )
    return pd.DataFrame(rows)


def make_failures() -> pd.DataFrame:
    """Two joints, three places."""
    columns = ["joint", "joint_name", "place", "place_name", "n", "share", "geometric_mean"]
    rows = [
        ("butt", "Butt", "member", "member away from the joint", 1, 0.05, 0.2),
        ("butt", "Butt", "bond_line", "bond line", 19, 0.95, 0.12),
        ("dowel", "Dowels", "bond_line", "bond line", 5, 0.5, 0.31),
        ("dowel", "Dowels", "tenon_or_fastener", "tenon or fastener", 5, 0.5, 0.29),
    ]
    return pd.DataFrame(rows, columns=columns)


def make_ratios() -> pd.DataFrame:
    """Four joints against butt, one of them without a path."""
    rows = [
        ("dowel", "Dowels", "butt", "Butt", 2.5, 2.1, 2.98, 1.7, 3.7, 3, "same study", ""),
        ("mt", "Mortise", "butt", "Butt", 3.1, 2.4, 4.0, NAN, NAN, 0, "through other studies", ""),
        ("plate", "Plate", "butt", "Butt", 1.4, 0.9, 2.2, NAN, NAN, 0, "no study in common", ""),
        ("box", "Box joint", "butt", "Butt", NAN, NAN, NAN, NAN, NAN, 0, "no study in common", "no path"),
    ]
    columns = [
        "joint",
        "joint_name",
        "reference",
        "reference_name",
        "ratio",
        "low",
        "high",
        "prediction_low",
        "prediction_high",
        "studies",
        "basis",
        "note",
    ]
    return pd.DataFrame(rows, columns=columns)
