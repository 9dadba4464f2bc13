"""Why each size is asked goes by what is worked out from it."""

from __future__ import annotations

import pytest

from results.intake.columns import DIMENSIONS


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("tenon length", "The bonded area is worked out from it."),
        ("tenons", "The bonded area is worked out from it."),
        ("scarf ratio", "The bonded area is worked out from it."),
        ("fastener spacing", "It is the lever when the result is carried to another size."),
        ("tongue thickness", "It is kept, so that others see what was tested; strength isn't worked out from it."),
        ("member depth", "Strength in bending grows with its square."),
    ],
)
def test_size_says_what_is_worked_out_from_it(name, why):
    assert next(column.why for column in DIMENSIONS if column.name == name) == why
