"""One step of a derivation: what was multiplied by what, and on whose authority."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Input = tuple[float | str | tuple[float, ...], str]
Factor = float | tuple[float, ...]

STATICS = "derived from statics"
GEOMETRY = "derived from geometry"


@dataclass(frozen=True)
class Step:
    """A factor with its formula, inputs and source.

    Parameters
    ----------
    name : str
        What the step does, in words.
    formula : str
        The formula, in the symbols of `inputs`' names.
    inputs : dict of str to (value, unit)
        What went in. A value may be a number, a word, or a tuple with one number a specimen.
    factor : float or tuple of float
        What the value before is multiplied by; a tuple has one factor a specimen.
    result_unit : str
        Unit of the value after the step.
    source : str
        Where the formula comes from.
    note : str
        An assumption or caution that goes with it, or "".
    """

    name: str
    formula: str
    inputs: Mapping[str, Input]
    factor: Factor
    result_unit: str
    source: str
    note: str = field(default="")

    def to_dict(self) -> dict[str, Any]:
        """The step as plain lists and numbers, fit for JSON."""
        return {
            "name": self.name,
            "formula": self.formula,
            "inputs": {
                key: [list(value) if isinstance(value, tuple) else value, unit]
                for key, (value, unit) in self.inputs.items()
            },
            "factor": list(self.factor) if isinstance(self.factor, tuple) else self.factor,
            "result_unit": self.result_unit,
            "source": self.source,
            "note": self.note,
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Step:
        """The step that `to_dict` wrote.

        Parameters
        ----------
        data : mapping
            As `to_dict` gives it, with or without its note.

        Returns
        -------
        Step
        """
        return cls(
            name=data["name"],
            formula=data["formula"],
            inputs={
                key: (tuple(value) if isinstance(value, list) else value, unit)
                for key, (value, unit) in data["inputs"].items()
            },
            factor=tuple(data["factor"]) if isinstance(data["factor"], list) else data["factor"],
            result_unit=data["result_unit"],
            source=data["source"],
            note=data.get("note", ""),
        )


def scalar_or_tuple(value: float | NDArray[np.float64]) -> Factor:
    """A factor as `Step` keeps it: one float where all specimens share it, else one a specimen.

    Parameters
    ----------
    value : float or ndarray, shape (n,)
        The factor [-].

    Returns
    -------
    float or tuple of float
    """
    array = np.asarray(value, dtype=float)
    if array.ndim == 0:
        return float(array)
    if array.size and bool(np.all(array == array[0])):
        return float(array[0])
    return tuple(float(v) for v in array)


def total_factor(steps: Iterable[Step]) -> float | NDArray[np.float64]:
    """Product of the steps' factors.

    Parameters
    ----------
    steps : iterable of Step
        In any order; without any the product is 1.

    Returns
    -------
    float or ndarray, shape (n,)
        An array if any factor varies by specimen.
    """
    product: float | NDArray[np.float64] = 1.0
    for step in steps:
        product = product * (np.array(step.factor) if isinstance(step.factor, tuple) else step.factor)
    return product
