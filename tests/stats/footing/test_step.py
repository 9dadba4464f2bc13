from __future__ import annotations

import json

import numpy as np
import pytest

from stats.footing.step import Step, scalar_or_tuple, total_factor

CONSTANT = Step("lever arm", "M = F · a", {"a": (300.0, "mm"), "to": ("face", "")}, 0.3, "N·m", "statics")
VARYING = Step("moisture", "f(M)", {"M": ((8.0, 12.0), "%")}, (1.2, 1.0), "MPa", "handbook", "a note")


@pytest.mark.parametrize("step", [CONSTANT, VARYING], ids=["constant", "varying"])
def test_step_survives_json(step):
    assert Step.from_dict(json.loads(json.dumps(step.to_dict()))) == step


def test_total_factor_multiplies_steps():
    np.testing.assert_allclose(total_factor([CONSTANT, VARYING]), [0.36, 0.3])
    assert total_factor([CONSTANT]) == 0.3
    assert total_factor([]) == 1.0


def test_scalar_or_tuple_keeps_one_number_where_all_agree():
    assert scalar_or_tuple(2.0) == 2.0
    assert scalar_or_tuple(np.array([2.0, 2.0])) == 2.0
    assert scalar_or_tuple(np.array([2.0, 3.0])) == (2.0, 3.0)
