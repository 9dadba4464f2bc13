"""Two joints of one's own study side by side before they are handed in."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from results.pages import submit_beside
from tests.factories import make_user

from .forms import form, post
from .shops import table

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
BESIDE = "Your series side by side"
# Kilograms read at 300 mm, as moments: g is 9.806 65 m/s² (NIST Special Publication 330, 2019).
MOMENT = 9.80665 * 0.3
LOADS = {"Butt": [40, 42, 39, 41], "Tenon": [118, 120, 125, 131]}


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


def test_who_tested_two_joints_sees_the_two_compared(client, owner):
    heading, *rows = table(post(client, form()), BESIDE)

    assert heading[:4] == ["Series", "moment at the joint, N·m", "95 % interval", "n"] and "Held" not in heading
    joint = heading.index("Joint")
    assert [(row[0], row[3], row[joint]) for row in rows] == [
        ("Butt", "4", "Glued butt"),
        ("Tenon", "4", "Blind mortise and tenon"),
    ]
    for row in rows:
        logs = np.log(np.array(LOADS[row[0]]) * MOMENT)
        low, high = stats.t.interval(0.95, logs.size - 1, logs.mean(), stats.sem(logs))
        told = dict(zip(heading, row, strict=True))
        assert float(told["moment at the joint, N·m"]) == pytest.approx(np.exp(logs.mean()), rel=5e-3)
        ends = [float(end) for end in told["95 % interval"].split(" to ")]
        assert ends == pytest.approx([np.exp(low), np.exp(high)], rel=5e-3)
        assert 0 < float(told["Ratio to solid wood"]) < 1


def test_what_held_counts_as_stronger_and_places_are_counted(client, owner):
    held = {"specimen__1__3__outcome": "held"}
    broke_at = {f"specimen__0__{row}__failure_place": "bond_line" for row in range(3)}

    heading, butt, tenon = table(post(client, form(**held, **broke_at)), BESIDE)

    assert tenon[heading.index("Held")] == "1"
    moment = heading.index("moment at the joint, N·m")
    as_read = np.exp(np.log(np.array(LOADS["Tenon"]) * MOMENT).mean())
    assert float(tenon[moment]) > as_read
    assert butt[heading.index("Most broke at")].endswith("(3)")


def test_more_than_anybody_compares_by_eye_are_not_listed(client, owner, monkeypatch):
    monkeypatch.setattr(submit_beside, "MOST", 1)

    assert BESIDE not in post(client, form()).content.decode()


@pytest.mark.parametrize(
    "changes",
    [
        {"series__1__tests": "bond"},  # a test of the glue line is no verdict on the joint beside it
        {"setup__arm": ""},  # nothing that could be compared
    ],
)
def test_what_is_not_alike_is_not_set_side_by_side(client, owner, changes):
    assert BESIDE not in post(client, form(**changes)).content.decode()
