"""Different values by counting."""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference.counting import counted, numbered


@pytest.mark.parametrize("codes", [[3, 1, 3, 0], [7], [], [10**9, 3, 10**9]])
def test_codes_are_numbered_as_by_sorting(codes):
    found, plain = (
        numbered(np.array(codes, dtype=np.intp)),
        np.unique(np.array(codes, dtype=np.intp), return_inverse=True),
    )

    assert [part.tolist() for part in found] == [part.tolist() for part in plain]


@pytest.mark.parametrize("numbers", [[3.0, 1.0, 3.0], [2.5, 1.0, 2.5]])
def test_numbers_are_counted_whole_or_not(numbers):
    found, plain = counted(np.array(numbers)), np.unique(numbers, return_inverse=True)

    assert [part.tolist() for part in found] == [part.tolist() for part in plain]
