"""Charts of where a shop stands: its marks, the critical values, the table twin and the words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.charts.shops import mandel, z_scores
from stats.errors import StatsError
from stats.inference import interlab
from stats.inference.consistency import critical_h, critical_k

NAMES = {"butt": "Glued <butt>", "dowel": "Dowel"}


def scores(shops: int = 5) -> pd.DataFrame:
    """z-scores of two joints, as the numeric code has them."""
    parts = []
    for i, joint in enumerate(NAMES):
        y = [np.log(10.0 + i + 0.4 * k) for k in range(shops)]
        found = interlab.standing(y, [0.004] * shops, labels=[f"Shop {k}" for k in range(shops)])
        parts.append(found.assign(joint=joint, joint_name=NAMES[joint], shops=shops))
    return pd.concat(parts, ignore_index=True)


def consistency() -> pd.DataFrame:
    """h and k of two joints in six shops, the last of which scatters and reads high."""
    rng = np.random.default_rng(7)
    rows = [
        {"study": f"Shop {k}", "joint": joint, "y": 2.0 + 0.02 * k + (0.6 if k == 5 else 0.0) + wide * rng.normal()}
        for joint in NAMES
        for k in range(6)
        for wide in [0.2 if k == 5 else 0.05] * 4
    ]
    found = interlab.precision(pd.DataFrame(rows)).shops
    return found.assign(joint_name=found["joint"].map(NAMES))


def trace(chart, name: str) -> dict:
    return next(one for one in chart.to_json()["data"] if one.get("name") == name)


def test_z_scores_draw_this_shop_apart_from_the_others():
    rows = scores()

    chart = z_scores(rows, shop="Shop 4", about="ratio to solid wood")

    own, others = trace(chart, "this shop"), trace(chart, "other shops")
    assert own["x"] == pytest.approx(rows[rows["study"] == "Shop 4"]["z"].tolist())
    assert own["y"] == [0.0, 1.0] and len(others["x"]) == 8
    assert own["marker"]["symbol"] != others["marker"]["symbol"]
    lines = sorted(shape["x0"] for shape in chart.to_json()["layout"]["shapes"] if shape["xref"] == "x")
    assert lines == [-3, -2, 0, 2, 3]


def test_z_scores_have_a_table_with_the_same_numbers():
    rows = scores()

    table = z_scores(rows, shop="Shop 0").table

    own = rows[rows["study"] == "Shop 0"]
    assert table["z"].tolist() == own["z"].tolist()
    assert table["This ÷ others"].tolist() == pytest.approx(np.exp(own["y"] - own["assigned"]).tolist())
    assert table["Shops"].tolist() == [5, 5]


def test_mandel_draws_each_critical_value_at_its_joint():
    rows = consistency()

    h, k = (mandel(rows, which, shop="Shop 5") for which in ("h", "k"))

    critical = critical_h(6)
    assert trace(h, "critical value, 0.5 %")["x"] == pytest.approx([-critical, critical] * 2)
    assert trace(k, "critical value, 0.5 %")["x"] == pytest.approx([critical_k(3, 18)] * 2)
    assert trace(k, "critical value, 0.5 %")["y"] == [0.0, 1.0]


def test_mandel_says_on_how_many_joints_the_critical_value_is_passed():
    rows = consistency()
    own = rows[rows["study"] == "Shop 5"]
    beyond = int((own["h"].abs() > own["h_critical"]).sum())
    assert beyond == 2

    assert "passes the critical value on 2 of 2 joints" in mandel(rows, "h", shop="Shop 5").summary
    assert "passes the critical value on none of 2 joints" in mandel(rows, "h", shop="Shop 1").summary


def test_mandel_table_names_the_largest_of_the_others():
    rows = consistency()

    table = mandel(rows, "h", shop="Shop 1").table

    assert table["Largest of the other shops"].tolist() == rows[rows["study"] == "Shop 5"]["h"].tolist()


def test_single_specimen_has_no_k_and_no_mark():
    rows = consistency()
    rows.loc[(rows["study"] == "Shop 1") & (rows["joint"] == "butt"), ["k", "k_critical"]] = np.nan

    chart = mandel(rows, "k", shop="Shop 1")

    assert trace(chart, "this shop")["y"] == [1.0]
    assert len(trace(chart, "critical value, 0.5 %")["x"]) == 1


def test_names_are_shown_as_text():
    drawn = str(z_scores(scores(), shop="Shop 0").to_json())

    assert "<butt>" not in drawn and "Glued &lt;butt&gt;" in drawn


@pytest.mark.parametrize(
    "chart", [lambda rows: z_scores(rows, shop="Nobody"), lambda rows: mandel(rows, "h", shop="x")]
)
def test_shop_without_a_row_is_refused(chart):
    with pytest.raises(StatsError, match="rows holds nothing of shop"):
        chart(consistency())


def test_another_statistic_is_refused():
    with pytest.raises(StatsError, match=r"which \('g'\) must be h or k"):
        mandel(consistency(), "g", shop="Shop 1")


@pytest.mark.parametrize("width", [350, 760])
def test_charts_are_drawn_by_the_server(width):
    for chart in (z_scores(scores(), shop="Shop 0"), mandel(consistency(), "k", shop="Shop 0")):
        assert chart.to_svg(width).startswith("<svg")
