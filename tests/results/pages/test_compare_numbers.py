"""The numbers on the comparison page are the API's, and those of the statistics called on the API's CSV."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
import pytest

from stats.charts.chart import cell
from stats.inference import sidebyside

from .shops import a_shop, table

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def csv(client, address: str) -> pd.DataFrame:
    response = client.get(address)
    body = b"".join(response.streaming_content) if response.streaming else response.content
    return pd.read_csv(io.BytesIO(body))


@pytest.fixture
def four_shops():
    for title, rig in (("One", 0.9), ("Two", 1.0), ("Three", 1.15), ("Four", 1.3)):
        a_shop(title, rig=rig)


def by_joint(response, caption: str) -> dict[str, dict[str, str]]:
    heading, *rows = table(response, caption)
    return {row[0]: dict(zip(heading, row, strict=True)) for row in rows}


def test_page_shows_the_numbers_of_the_api(client, four_shops):
    page = client.get("/compare/")

    shown, ratios = by_joint(page, "The chart in numbers"), by_joint(page, "Each joint as a ratio to Glued butt")

    for row in csv(client, "/api/v1/compare.csv?table=groups").itertuples():
        assert shown[row.joint_name]["Geometric mean"] == cell(row.geometric_mean)
        assert shown[row.joint_name]["95 % interval"] == f"{cell(row.low)} to {cell(row.high)}"
        assert shown[row.joint_name]["Lower limit"] == cell(row.limit_5pct)
    (row,) = csv(client, "/api/v1/compare.csv?table=ratios").itertuples()
    assert ratios[row.joint_name]["Ratio"] == cell(row.ratio)
    assert (
        ratios[row.joint_name]["The next shop may find"] == f"{cell(row.prediction_low)} to {cell(row.prediction_high)}"
    )


def test_page_shows_what_the_statistics_give_on_the_api_s_csv(client, four_shops):
    specimens = csv(client, "/api/v1/specimens.csv")
    specimens["value"], specimens["log"] = specimens["ratio_solid"], np.log(specimens["ratio_solid"])
    series = (
        specimens.groupby(["series_id", "study_id", "joint"])["log"]
        .agg(n="size", mean_log="mean", sd_log="std")
        .reset_index()
        .assign(held=0, flagged=0, family="", joint_name=lambda frame: frame["joint"])
    )

    estimates = sidebyside.series_estimates(series, specimens)
    groups = sidebyside.groups(estimates, specimens).set_index("joint")
    (ratio,) = sidebyside.ratios(estimates, "butt").itertuples()

    page = client.get("/compare/")
    shown = by_joint(page, "The chart in numbers")
    for joint, name in (("butt", "Glued butt"), ("mt_blind", "Blind mortise and tenon")):
        assert shown[name]["Geometric mean"] == cell(groups.loc[joint, "geometric_mean"])
        assert shown[name]["95 % interval"] == f"{cell(groups.loc[joint, 'low'])} to {cell(groups.loc[joint, 'high'])}"
        assert shown[name]["Lower limit"] == cell(groups.loc[joint, "limit_5pct"])
    told = by_joint(page, "Each joint as a ratio to Glued butt")["Blind mortise and tenon"]
    assert (told["Ratio"], told["95 % interval"]) == (cell(ratio.ratio), f"{cell(ratio.low)} to {cell(ratio.high)}")
