"""One number as it was given: what each check of a setting begins with, and how a message shows what is wrong."""

from __future__ import annotations

import math
from numbers import Real

import numpy as np


def scalar(value: object) -> float:
    """Give a value as a number.

    Parameters
    ----------
    value : object
        Whatever was given for a number.

    Returns
    -------
    float
        NaN for what is no number: text, true or false, nothing, a list. A check that asks for a range refuses it then.

    Examples
    --------
    >>> scalar(3), scalar("3"), scalar(True)
    (3.0, nan, nan)
    """
    if isinstance(value, float):  # nearly always, and quickest asked first
        return float(value)
    if isinstance(value, bool | np.bool_) or not isinstance(value, Real):
        return math.nan
    try:
        return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        return math.copysign(math.inf, value)


def said(value: object, form: str = "") -> str:
    """Give a value as a message shows it.

    Parameters
    ----------
    value : object
        Whatever was given for a number.
    form : str, optional
        How a number is written, as `format` takes it.

    Returns
    -------
    str
        What is no number as Python writes it, so that text and nothing at all are seen for what they are.

    Examples
    --------
    >>> said(0.25, "g"), said("0.25"), said(None)
    ('0.25', "'0.25'", 'None')
    """
    number = isinstance(value, Real) and not isinstance(value, bool)
    return format(value, form) if number else repr(value)
